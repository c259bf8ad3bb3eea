"""Visit: one person before one browser window. Whatever the browser complains of fails the test.

A moment in the page is stamped there, by the machine's wall clock, when a MutationObserver sees that it holds:
polling from outside would measure itself.
"""

import contextlib
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import Browser, BrowserContext, CDPSession, ConsoleMessage, Page

PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}
DESK = {"viewport": {"width": 1440, "height": 900}}
WALL = {"viewport": {"width": 3840, "height": 2160}}

#: What Chromium itself writes on the console when a connection fails; told from faults of the page by this alone.
UNREACHABLE = re.compile(r"net::ERR_")

_WATCH = """
([name, from]) => {
  const holds = () => (%s)();
  window.__moments ??= {};
  delete window.__moments[name];
  const look = () => {
    if (window.__moments[name] || !holds()) return;
    const moment = window.__moments[name] = {at_ms: Date.now()};
    seen.disconnect();
    requestAnimationFrame(() => { moment.painted_ms = Date.now(); });
  };
  const seen = new MutationObserver(look);
  seen.observe(document, {subtree: true, childList: true, characterData: true, attributes: true});
  look();
}
"""

_TORN = """
() => [...document.querySelectorAll("button, a, summary")].filter(one => one.checkVisibility()).flatMap(one => {
  const texts = document.createTreeWalker(one, NodeFilter.SHOW_TEXT), torn = [];
  while (texts.nextNode()) {
    for (const word of texts.currentNode.data.matchAll(/\\p{L}+/gu)) {
      const place = document.createRange();
      place.setStart(texts.currentNode, word.index);
      place.setEnd(texts.currentNode, word.index + word[0].length);
      if (new Set([...place.getClientRects()].map(box => Math.round(box.top))).size > 1) torn.push(word[0]);
    }
  }
  return torn;
})
"""


@dataclass
class Visit:
    """A window.

    Attributes:
        forgives: patterns of console errors that this test brings about itself.
        complaints: everything else that the browser said was wrong.
    """

    page: Page
    base: str
    forgives: list[re.Pattern[str]] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def listen(self) -> None:
        """Hear every error of the console, every exception, every page that crashes."""
        self.page.on("console", self._console)
        self.page.on("pageerror", lambda error: self._complain(f"exception: {error}"))
        self.page.on("crash", lambda _: self._complain("the page crashed"))

    def forgive(self, pattern: str | re.Pattern[str]) -> None:
        """Take no notice of console errors like this from now on."""
        self.forgives.append(re.compile(pattern))

    def open(self, path: str = "/") -> "Visit":
        """Go to an address of the daemon."""
        self.page.goto(self.base + path)
        return self

    # ------------------------------------------------------------ moments stamped in the page

    def watch(self, name: str, holds: str) -> None:
        """From now on look out for the first moment at which this function (JavaScript, ``() => …``) is true."""
        self.page.evaluate(_WATCH % holds, [name, 0])

    def moment_s(self, name: str, within_s: float) -> float:
        """When it came, Unix seconds."""
        self.page.wait_for_function(
            "name => window.__moments?.[name]?.at_ms", arg=name, timeout=within_s * 1000, polling=50
        )
        return self.page.evaluate("name => window.__moments[name].at_ms", name) / 1000.0

    def painted_s(self, name: str) -> float:
        """When the frame after it came."""
        return self.until("name => window.__moments[name].painted_ms", 5, name) / 1000.0

    def until(self, holds: str, within_s: float = 10.0, arg: Any = None) -> Any:
        """Wait until this function is true in the page."""
        return self.page.wait_for_function(holds, arg=arg, timeout=within_s * 1000, polling=50).json_value()

    # ------------------------------------------------------------ what the browser knows

    @contextlib.contextmanager
    def devtools(self) -> Iterator[CDPSession]:
        """Chromium's own measuring."""
        session = self.page.context.new_cdp_session(self.page)
        try:
            yield session
        finally:
            session.detach()

    def no_sideways(self) -> None:
        """Nothing has to be scrolled sideways (WCAG 2.2, 1.4.10 reflow)."""
        wide, inner = self.page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
        assert wide <= inner, f"{wide} px of content in {inner} px"

    def no_torn_words(self) -> None:
        """No control has a word that goes on in the next line; wide enough is every one of them."""
        assert self.page.evaluate(_TORN) == []

    def _console(self, message: ConsoleMessage) -> None:
        if message.type != "error":
            return
        text = f"{message.text} ({message.location.get('url', '')})"
        if not any(pattern.search(text) for pattern in self.forgives):
            self._complain(f"console: {text}")

    def _complain(self, what: str) -> None:
        self.complaints.append(what)


class Visitors:
    """Opens windows, each in a fresh context; at the end none of them may have complained."""

    def __init__(self, browser: Browser) -> None:
        self._browser = browser
        self._visits: list[Visit] = []
        self._contexts: list[BrowserContext] = []

    def __call__(self, base: str, *, forgives: str = "", **how: Any) -> Visit:
        context = self._browser.new_context(**(DESK | how))
        context.set_default_timeout(10_000)
        self._contexts.append(context)
        return self.window(context, base, forgives)

    def window(self, context: BrowserContext, base: str, forgives: str = "") -> Visit:
        """Another window of the same person."""
        visit = Visit(context.new_page(), base, [re.compile(forgives)] if forgives else [])
        visit.listen()
        self._visits.append(visit)
        return visit

    def close(self) -> None:
        for context in self._contexts:
            context.close()
        said = [complaint for visit in self._visits for complaint in visit.complaints]
        assert not said, "\n".join(said)
