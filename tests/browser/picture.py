"""Picture: the page as the README shows it, a desk at night beside a phone by day.

python -m tests.browser.picture [FILE]        without FILE: fixtures/pictures/page.png
"""

import base64
import io
import json
import sys
import tempfile
import urllib.request
from pathlib import Path

from PIL import Image

from tests.browser.chromium import running
from tests.browser.eyes import Eyes, has_alarm, has_strip
from tests.browser.mill import Mill
from tests.browser.test_shots import Gallery, drawn
from tests.browser.visit import Visitors
from tests.rig.rig import Rig
from tests.rig.waiting import until

FILE = Path(__file__).parents[2] / "fixtures" / "pictures" / "page.png"
#: Every pixel is paid for by everybody who clones.
MOST_BYTES = 150_000
DESK = {"viewport": {"width": 1180, "height": 760}, "color_scheme": "dark"}
PHONE = {"viewport": {"width": 360, "height": 760}, "color_scheme": "light", "has_touch": True, "is_mobile": True}
_SIDE_BY_SIDE = """<body style="margin:0;display:flex;gap:20px;background:#808890;padding:20px;width:max-content">
{}</body>"""


def main() -> None:
    """Put up the mill with its troubles, look at it twice, and leave the picture."""
    file = Path(sys.argv[1]) if len(sys.argv) > 1 else FILE
    with tempfile.TemporaryDirectory() as folder, Rig(Path(folder)) as rig, running() as browser:
        gallery, visitors = Gallery(rig), Visitors(browser)
        until(lambda: looked_back(gallery.mill), 60)
        desk, phone = (Eyes(visitors(gallery.mill.base, **size)).open() for size in (DESK, PHONE))
        drawn(desk)
        gallery.trouble()
        shots = [shot(desk), shot(phone)]
        visitors.close()
        together(browser, shots, file)
    print(f"{file}: {file.stat().st_size} bytes")
    assert file.stat().st_size <= MOST_BYTES


def looked_back(mill: Mill) -> bool:
    """Whether the hours before the daemon's start are there, with cleanings found in them."""
    with urllib.request.urlopen(f"{mill.base}/api/v1/trends", timeout=5) as answer:
        trends = json.load(answer)["collectors"]
    return all(any(trends[name]["cleanings"]) for name in mill.names[:4])


def shot(eyes: Eyes) -> bytes:
    """What this window shows once the troubles are told."""
    eyes.visit.until(has_alarm("PDAHH-103", "Urgent"))
    eyes.visit.until(has_strip("DC-102", "hopper work"))
    drawn(eyes)
    return eyes.page.screenshot(animations="disabled")


def together(browser, shots: list[bytes], file: Path) -> None:
    """Both side by side."""
    pictures = "".join(f'<img src="data:image/png;base64,{base64.b64encode(one).decode()}">' for one in shots)
    page = browser.new_page(viewport={"width": 1600, "height": 800})
    page.set_content(_SIDE_BY_SIDE.format(pictures), wait_until="load")
    whole = Image.open(io.BytesIO(page.locator("body").screenshot())).convert("RGB")
    page.close()
    few_colours = whole.quantize(128, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    few_colours.save(file, optimize=True)


if __name__ == "__main__":
    main()
