"""WCAG: what axe-core finds against WCAG 2.0, 2.1 and 2.2, levels A and AA, in the view that stands.

axe cannot judge everything; keyboard, reflow and words beside colours have tests of their own.
"""

from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

_OPTIONS: dict[str, Any] = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    # Off in axe itself unless asked for, though it is 2.5.8 of WCAG 2.2 AA.
    "rules": {"target-size": {"enabled": True}},
    "resultTypes": ["violations", "passes"],
}


def violations(page: Page) -> list[str]:
    """One line for each fault: rule, element, what axe says of it."""
    found = Axe().run(page, options=_OPTIONS).response
    # Whatever keeps axe from looking must not look like a clean page.
    assert len(found["passes"]) > 5, f"axe looked at next to nothing: {[one['id'] for one in found['passes']]}"
    return [
        f"{fault['id']}: {' '.join(map(str, node['target']))}: {_says(node)}"
        for fault in found["violations"]
        for node in fault["nodes"]
    ]


def _says(node: dict[str, Any]) -> str:
    return "; ".join(check["message"] for way in ("any", "all", "none") for check in node[way])
