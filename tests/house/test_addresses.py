"""The README's table of addresses is the one that routes, judges and describes: generated, and held here.

python -m tests.house.test_addresses        writes it anew
"""

import re
from pathlib import Path

from monitor.tell.web_openapi import markdown
from tests.tell.visiting import everything

PAGE = Path(__file__).parents[2] / "README.md"
BLOCK = re.compile(r"(?<=<!-- addresses: generated -->\n\n).*?(?=\n\n<!-- end -->)", re.DOTALL)


def test_the_readme_shows_the_table_of_addresses_that_the_server_has():
    found = BLOCK.search(PAGE.read_text(encoding="utf-8"))

    assert found is not None, "README.md has lost its marker for the table of addresses"
    assert found.group() == markdown(everything())


def write() -> None:
    """Write the table anew."""
    text = PAGE.read_text(encoding="utf-8")
    PAGE.write_text(BLOCK.sub(lambda _: markdown(everything()), text), encoding="utf-8")


if __name__ == "__main__":
    write()
