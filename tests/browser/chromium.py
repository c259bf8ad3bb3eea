"""Chromium: the system's own browser without a screen. One that is missing is a failure, never a skipped test."""

import contextlib
from collections.abc import Iterator

from playwright.sync_api import Browser, sync_playwright

EXECUTABLE = "/usr/bin/chromium"
#: Without a sandbox because CI runs as root; nothing but our own page is opened. Without its errands in the
#: background, so that what is measured is the page.
ARGUMENTS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--js-flags=--expose-gc",
)


@contextlib.contextmanager
def running() -> Iterator[Browser]:
    """One browser process; every test opens a context of its own in it."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=EXECUTABLE, args=list(ARGUMENTS))
        try:
            yield browser
        finally:
            browser.close()
