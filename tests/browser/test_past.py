"""The hours before the daemon's start are on the page, though it was open all the while."""

import time

from tests.browser import past
from tests.browser.eyes import Eyes
from tests.browser.mill import Mill
from tests.browser.visit import DESK

COUNT = 12
#: Of the pieces of the trend, those that have readings, on strips that are on the screen.
FILLED = """
() => [...document.querySelectorAll("article.strip")].filter(one => {
  const box = one.getBoundingClientRect();
  return box.top < innerHeight && box.bottom > 0;
}).map(one => (one.strip.trend?.low ?? []).filter(low => low !== null).length)
"""


def test_the_hours_before_a_restart_come_to_the_page_by_themselves(rig, visitors, record_property):
    names = [f"DC-{101 + n}" for n in range(COUNT)]
    mill = Mill(rig, COUNT, ready=False, before=lambda folder: past.fill(folder, names, time.time() - 1))
    eyes = Eyes(visitors(mill.base, **DESK)).open()
    began_s = time.monotonic()
    eyes.visit.until(
        f"() => {{ const filled = ({FILLED})(); return filled.length >= 4 && Math.min(...filled) > 70; }}", 30
    )
    record_property(
        "counts", f"trends of {COUNT} filled {time.monotonic() - began_s:.1f} s after the page was open"
    )
