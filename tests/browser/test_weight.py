"""The first view is light and soon of use on a slow phone; two hundred collectors stay smooth and do not grow."""

import os
from dataclasses import dataclass

import pytest

from tests.browser.eyes import Eyes
from tests.browser.mill import Mill
from tests.browser.scales import Load, heap_mb, nodes, scrolled, slow_phone, weighed
from tests.browser.visit import PHONE

FIRST_VIEW_KB = 100.0
USABLE_S = 1.0
LONG = bool(os.environ.get("CAKEWATCH_LONG"))

#: Every collector stands there with a figure, and what can be touched answers.
USABLE = """
() => document.querySelectorAll("article.strip").length === %d
  && [...document.querySelectorAll("article.strip .value")].every(one => /\\d/.test(one.textContent))
"""
_SINCE = """
(() => {
  const look = () => {
    if (window.__usableMs || !(%s)()) return;
    requestAnimationFrame(() => requestAnimationFrame(() => { window.__usableMs ??= performance.now(); }));
  };
  new MutationObserver(look).observe(document, {subtree: true, childList: true, characterData: true});
})()
"""


@dataclass(frozen=True)
class FirstView:
    """What came over the wire until it was of use, how long that took, and by how much the CPU was slowed."""

    load: Load
    usable_s: float
    slower: float


def first_view(visitors, base, count, *, slow):
    visit = visitors(base, **PHONE)
    visit.page.add_init_script(_SINCE % (USABLE % count))
    with visit.devtools() as session, weighed(session) as load:
        slower = slow_phone(session, visit.page) if slow else 1.0
        visit.open()
        usable_s = visit.until("() => window.__usableMs", 30) / 1000.0
    visit.page.close()  # nor does its stream disturb the next
    return FirstView(load, usable_s, slower)


def test_the_first_view_of_twenty_weighs_less_than_100_kb(rig, visitors, record_property):
    mill = Mill(rig, 20, breathing=True)
    load = first_view(visitors, mill.base, 20, slow=False).load
    each = ", ".join(
        f"{address.partition(mill.base)[2]} {size / 1000:.1f}" for address, size in sorted(load.by_address.items())
    )
    record_property("counts", f"first view of 20: {load.kilobytes:.1f} kB ({each})")

    assert load.kilobytes > 5.0, "next to nothing was counted"
    assert load.kilobytes <= FIRST_VIEW_KB


def test_it_is_of_use_within_a_second_on_a_slow_phone(rig, visitors, record_property):
    """The least disturbed of three: the machine of the tests does other work too."""
    mill = Mill(rig, 20, breathing=True)
    first_view(visitors, mill.base, 20, slow=False)  # the daemon's own first time
    views = [first_view(visitors, mill.base, 20, slow=True) for _ in range(3)]
    told = ", ".join(f"{view.usable_s:.2f} s (CPU / {view.slower:.1f})" for view in views)
    record_property("counts", f"usable on a slow phone after {told}")

    assert min(view.usable_s for view in views) <= USABLE_S


def test_two_hundred_collectors_stay_smooth(rig, visitors, record_property):
    mill = Mill(
        rig, 200, breathing=True, link={"scan_period": "1 s", "timeout": "1 s"}, mqtt={"state_period": "1 s"}
    )
    visit = visitors(mill.base)
    Eyes(visit).open()
    visit.until(USABLE % 200, 20)
    runs = [scrolled(visit.page, 10.0)] if LONG else [scrolled(visit.page, 2.5) for _ in range(3)]
    record_property("counts", f"200 collectors: {'; '.join(map(str, runs))}")
    least_disturbed = min(runs, key=lambda run: run.p95_ms)

    assert least_disturbed.median_ms <= 17.0, "60 frames a second"
    assert least_disturbed.p95_ms <= 50.0
    assert min(max(run.long_tasks_ms, default=0.0) for run in runs) <= 200.0


@pytest.mark.long
def test_ten_minutes_of_updates_do_not_grow_the_page(rig, visitors, record_property):
    mill = Mill(rig, 50, breathing=True)
    visit = visitors(mill.base)
    Eyes(visit).open()
    with visit.devtools() as session:
        visit.page.wait_for_timeout(20_000)
        before = heap_mb(session), nodes(session)
        visit.page.wait_for_timeout(600_000 if LONG else 30_000)
        after = heap_mb(session), nodes(session)
    record_property("counts", f"heap {before[0]:.2f} → {after[0]:.2f} MB, nodes {before[1]} → {after[1]}")

    assert after[0] <= before[0] * 1.2 + 0.5
    assert after[1] <= before[1] * 1.1 + 200
