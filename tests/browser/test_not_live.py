"""A frozen page never looks healthy: it says within ten seconds that it is not live, and comes back by itself."""

import os
import signal
import sqlite3
import time

import pytest

from tests.browser.eyes import LIVE, NOT_LIVE, Eyes, has_alarm
from tests.browser.mill import HIGH, Mill
from tests.browser.visit import UNREACHABLE
from tests.browser.wire import Wire

SAID_WITHIN_S = 10.0
BACK_WITHIN_S = 10.0

#: What is put before each figure and each state: nothing of them may be read as of now.
SAID_BEFORE = """
() => [...document.querySelectorAll("article.strip :is(.value, .state .word)")]
  .map(one => getComputedStyle(one, "::before").content)
"""

#: How each figure and each sign of a state looks, with what lies over it: text, colour, opacity, filters.
APPEARANCE = """
() => [...document.querySelectorAll("article.strip")].flatMap(strip => [".value", ".state .sign", ".state .word"]
  .map(which => {
    const node = strip.querySelector(which);
    let seen = 1, over = "", lined = "";
    for (let one = node; one; one = one.parentElement) {
      const style = getComputedStyle(one);
      seen *= Number(style.opacity);
      over += style.filter === "none" ? "" : style.filter;
      lined += style.textDecorationLine === "none" ? "" : style.textDecorationLine;
    }
    const style = getComputedStyle(node);
    return [strip.querySelector(".name").textContent + which, [style.color, style.fill, style.stroke,
      style.visibility, seen, over, lined].join(" ")];
  }))
"""


class Watched:
    """A mill, and a page on which everything looks healthy."""

    def __init__(self, rig, visitors, *, wire=False, **how):
        self.mill = Mill(rig, 4)
        self.wire = Wire(rig.field, rig.http_port) if wire else None
        base = self.mill.base if self.wire is None else f"http://127.0.0.1:{self.wire.port}"
        self.eyes = Eyes(visitors(base, forgives=UNREACHABLE.pattern, **how)).open()
        self.visit = self.eyes.visit
        self.healthy = self.look()
        assert len(self.healthy) == 12

    def look(self):
        return dict(self.eyes.page.evaluate(APPEARANCE))

    def watch(self):
        """Look out for the moment at which the page says it, and return this one."""
        self.visit.watch("not live", NOT_LIVE)
        return time.time()

    def must_say_so(self, since_s):
        said_s = self.visit.moment_s("not live", SAID_WITHIN_S + 5) - since_s
        assert said_s <= SAID_WITHIN_S
        # Colours may take a moment to fade.
        self.visit.until("() => document.getAnimations().every(one => one.playState !== 'running')")
        alike = [which for which, appears in self.look().items() if appears == self.healthy[which]]
        assert alike == [], "these look as healthy as when the page was live"
        assert all("was" in said.lower() for said in self.visit.page.evaluate(SAID_BEFORE))
        assert "last heard at" in self.visit.page.locator("#banner").inner_text()
        assert self.visit.page.evaluate("document.querySelector('#icon').href").endswith("icon-lost.svg")
        return said_s

    def must_come_back(self, since_s, holds=LIVE):
        self.visit.watch("back", LIVE)
        self.visit.watch("caught up", holds)
        back_s = self.visit.moment_s("back", BACK_WITHIN_S + 5) - since_s
        caught_up_s = self.visit.moment_s("caught up", BACK_WITHIN_S + 5) - since_s
        assert self.look().keys() == self.healthy.keys()
        return back_s, caught_up_s


def test_a_killed_daemon_is_told_within_ten_seconds_and_its_return_shows_what_happened(
    rig, visitors, record_property
):
    watched = Watched(rig, visitors)
    since_s = watched.watch()
    watched.mill.watch.kill()
    said_s = watched.must_say_so(since_s)
    watched.mill.set(102, HIGH)
    watched.visit.page.evaluate("() => { window.__sameWindow = true; }")
    watched.mill.watch.start()
    back_s, caught_up_s = watched.must_come_back(time.time(), has_alarm("PDAH-102", "High"))
    record_property(
        "counts", f"killed: said after {said_s:.2f} s; back {back_s:.2f} s, all of it {caught_up_s:.2f} s"
    )

    assert back_s <= BACK_WITHIN_S
    assert caught_up_s <= BACK_WITHIN_S
    assert watched.visit.page.evaluate("window.__sameWindow") is True, "the page was loaded anew"
    assert watched.visit.page.title().startswith("1 alarm")


def test_a_frozen_daemon_is_told_within_ten_seconds(rig, visitors, record_property):
    """Its sockets stay open; nobody closes anything."""
    watched = Watched(rig, visitors)
    since_s = watched.watch()
    os.kill(watched.mill.watch.pid, signal.SIGSTOP)
    said_s = watched.must_say_so(since_s)
    os.kill(watched.mill.watch.pid, signal.SIGCONT)
    back_s, _ = watched.must_come_back(time.time())
    record_property("counts", f"frozen: said after {said_s:.2f} s; back {back_s:.2f} s")

    assert back_s <= BACK_WITHIN_S


@pytest.mark.long
def test_a_network_that_swallows_everything_is_told_within_ten_seconds(rig, visitors, record_property):
    watched = Watched(rig, visitors, wire=True)
    since_s = watched.watch()
    watched.wire.stall()
    said_s = watched.must_say_so(since_s)
    watched.wire.flow()
    back_s, _ = watched.must_come_back(time.time())
    record_property("counts", f"network stalled: said after {said_s:.2f} s; back {back_s:.2f} s")

    assert back_s <= BACK_WITHIN_S


def test_a_phone_without_network_is_told_within_ten_seconds(rig, visitors, record_property):
    watched = Watched(rig, visitors)
    since_s = watched.watch()
    watched.visit.page.context.set_offline(True)
    said_s = watched.must_say_so(since_s)
    watched.visit.page.context.set_offline(False)
    back_s, _ = watched.must_come_back(time.time())
    record_property("counts", f"offline: said after {said_s:.2f} s; back {back_s:.2f} s")

    assert back_s <= BACK_WITHIN_S


def test_a_watcher_that_is_stuck_is_not_live_either(rig, visitors):
    """It beats, but says of itself that nothing moves: here the journal, which somebody else holds."""
    watched = Watched(rig, visitors)
    watched.watch()
    with sqlite3.connect(rig.folder / "journal.db", isolation_level=None) as other:
        other.execute("BEGIN IMMEDIATE")
        watched.mill.set(101, HIGH)
        watched.visit.moment_s("not live", 60)
        said = watched.visit.page.locator("#banner").inner_text()
        other.execute("ROLLBACK")
    watched.must_come_back(time.time(), has_alarm("PDAH-101", "High"))

    assert "stuck" in said


def test_nothing_can_be_done_from_a_page_that_is_not_live(rig, visitors):
    action = "Acknowledge PDAH-101"
    watched = Watched(rig, visitors)
    watched.mill.raise_it()
    watched.eyes.button(action).wait_for()
    watched.watch()
    watched.mill.watch.kill()
    watched.visit.moment_s("not live", SAID_WITHIN_S + 5)
    watched.eyes.button(action).click()

    watched.eyes.says("Not live")
