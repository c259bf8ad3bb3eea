"""Demo picture: the screen of one moment as an SVG file, for those who read about it before they start it."""

import io
import re
from pathlib import Path

from rich._export_format import CONSOLE_SVG_FORMAT
from rich.console import Console

from monitor.cli.demo_screen import screen
from monitor.cli.demo_view import DemoView

WIDTH = 100
HEIGHT = 46

#: The library's frame without the fonts it would fetch from elsewhere: a picture must not need the internet.
_FRAME = re.sub(r"(?s)@font-face \{\{.*?\}\}|<!--.*?-->", "", CONSOLE_SVG_FORMAT)


def save_picture(view: DemoView, file: Path) -> None:
    """Draw the view into the file, as it would stand on a terminal of 100 columns."""
    console = Console(record=True, width=WIDTH, height=HEIGHT, file=io.StringIO(), force_terminal=True)
    console.print(screen(view, width=WIDTH, height=HEIGHT))
    console.save_svg(str(file), title="cakewatch demo", code_format=_FRAME)
