"""Eyes: where things stand on the page. The one file of these tests that knows how the page is built.

Actions go by the names that a screen reader hears; only what has no name of its own goes by the page's classes.
"""

import re
from typing import Any

from playwright.sync_api import Locator, Page, expect

from tests.browser.visit import Visit

#: In every window before anything of the page runs; the page's own content policy does not reach it.
HELPERS = """
(() => {
  const shown = node => node && node.checkVisibility({visibilityProperty: true, opacityProperty: true});
  window.__strip = name => {
    const found = [...document.querySelectorAll("article.strip")].find(
      one => one.querySelector("h3 .name")?.textContent === name);
    return shown(found) ? found : null;
  };
  window.__alarm = tag => {
    const found = [...document.querySelectorAll("li.alarm")].find(
      one => one.querySelector(".tag")?.textContent === tag);
    return shown(found) ? found : null;
  };
  window.__banner = () => {
    const found = document.getElementById("banner");
    return shown(found) ? found.innerText : "";
  };
  window.__live = () => document.body.dataset.live === "yes"
    && document.getElementById("lamp-word")?.textContent === "Live" && !window.__banner();
})()
"""
LIVE = "() => window.__live?.()"
NOT_LIVE = "() => /not live/i.test(window.__banner?.() || '') && /^NOT LIVE/.test(document.title)"


def has_alarm(tag: str, *words: str) -> str:
    """A function for the page: this alarm is listed, visibly, with all of these words."""
    return f"() => {{ const text = window.__alarm?.('{tag}')?.innerText ?? ''; return {_all(words)} && text; }}"


def has_strip(name: str, *words: str) -> str:
    """The same of a collector in the yard."""
    return f"() => {{ const text = window.__strip?.('{name}')?.innerText ?? ''; return {_all(words)} && text; }}"


def _all(words: tuple[str, ...]) -> str:
    return "[" + ", ".join(repr(word) for word in words) + "].every(word => text.includes(word))"


class Eyes:
    """A window, and what a person finds in it."""

    def __init__(self, visit: Visit) -> None:
        self.visit = visit
        self.page: Page = visit.page
        self.page.add_init_script(HELPERS)

    def open(self, path: str = "/") -> "Eyes":
        """Come to the page, and wait until it is live."""
        self.visit.open(path)
        self.visit.until(LIVE, 15)
        return self

    def collector(self, name: str) -> "Eyes":
        """Go on to one collector."""
        self.page.get_by_role("link", name=re.compile(rf"^{name}\b")).first.click()
        self.visit.until(f"() => document.body.dataset.view === 'collector' && document.title.includes('{name}')")
        return self

    def yard(self) -> "Eyes":
        """Go back to all of them."""
        self.page.locator("a.home").click()
        self.visit.until("() => document.body.dataset.view === 'yard'")
        return self

    def button(self, name: str, **where: Any) -> Locator:
        """A button by its whole name."""
        return self.page.get_by_role("button", name=name, exact=True, **where)

    @property
    def sheet(self) -> Locator:
        """The sheet that is open."""
        return self.page.get_by_role("dialog")

    def says(self, words: str) -> None:
        """What the page answers to an action."""
        expect(self.page.locator("#toast")).to_contain_text(words, ignore_case=True)

    def focused(self) -> str:
        """The name of what has the keyboard."""
        return self.page.evaluate(
            "() => { const one = document.activeElement; return one.getAttribute('aria-label') || one.innerText"
            " || one.id || one.tagName; }"
        )
