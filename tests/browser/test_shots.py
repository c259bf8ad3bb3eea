"""Every view at three sizes in both themes; CAKEWATCH_SHOTS=FOLDER leaves pictures of them there, to be looked at.

In the normal run a phone by day and a desk by night. With or without pictures: nothing is cut off at the side and
nothing complains.
"""

import os
import time
from pathlib import Path

import pytest

from tests.browser import past
from tests.browser.eyes import NOT_LIVE, Eyes, has_alarm, has_strip
from tests.browser.mill import HIGH, VERY_HIGH, Mill
from tests.browser.visit import DESK, PHONE, UNREACHABLE, WALL
from tests.rig.asking import by_http

SIZES = {"phone": PHONE, "desk": DESK, "wall": WALL}
SHOTS = os.environ.get("CAKEWATCH_SHOTS", "")
COUNT = 12
AREAS = ("Planer hall", "Sanding line", "Hog house")
WORK = ("planer 1", "planer 2", "rip saws", "finger jointer", "wide belt", "edge sander", "profile sander",
        "sweeping", "hog", "chip silo", "bark", "boiler feed")  # fmt: skip


def dressed(number):
    """What makes a collector look like one of a real mill."""
    return {
        "area": AREAS[number * len(AREAS) // COUNT],
        "description": WORK[number],
        "cleaning": {"start": "5 inH2O", "stop": "3.6 inH2O"},
    }


class Gallery:
    """A yard of twelve with a day behind them."""

    def __init__(self, rig):
        names = [f"DC-{101 + n}" for n in range(COUNT)]
        self.mill = Mill(
            rig, COUNT, dressed=dressed, before=lambda folder: past.fill(folder, names, time.time() - 1),
        )  # fmt: skip
        for n in range(COUNT):
            self.mill.set(101 + n, lambda n=n: past.register(n, time.time()))

    def trouble(self):
        """Alarms of three priorities, one acknowledged, one shelved, one signal gone."""
        self.mill.raise_it(103, VERY_HIGH, "PDAHH")
        self.mill.raise_it(107, HIGH)
        self.mill.raise_it(110, 400, "PDAL")
        self.mill.raise_it(102, HIGH)
        self.mill.device.refuses.add((6, 0))
        self.mill.rig.listener.await_event("PDT-106-BAD", "raised", 8)
        self._command("acknowledge", "PDAL-110")
        self._command("shelve", "PDAH-102", reason="hopper work", **{"for": "2 h"})

    def _command(self, what, tag, **more):
        asked = {"command_id": f"{what}-{tag}", "command": what, "tag": tag, "by": "anna"} | more
        assert by_http(self.mill.rig.http_port, asked)[0] == 200


def picture(eyes, name, *, whole=False):
    eyes.visit.until("() => document.getAnimations().every(one => one.playState !== 'running')")
    eyes.visit.no_sideways()
    eyes.page.mouse.move(0, 0)
    if SHOTS:
        Path(SHOTS).mkdir(parents=True, exist_ok=True)
        eyes.page.screenshot(path=Path(SHOTS) / f"{name}.png", full_page=whole)


#: Every canvas of this kind that is on the screen, or the only one wherever it is, has ink on it.
DRAWN = """
() => {
  const all = [...document.querySelectorAll("%s")];
  const there = all.length === 1 ? all : all.filter(one => {
    const box = one.getBoundingClientRect();
    return box.width > 0 && box.top < innerHeight && box.bottom > 0;
  });
  return all.length > 0 && there.every(one => one.width > 0 && one.height > 0
    && one.getContext("2d").getImageData(0, 0, one.width, one.height).data.some(byte => byte !== 0));
}
"""


def drawn(eyes):
    """Until the yard stands there, with the trends that are on the screen."""
    eyes.visit.until(f"() => document.querySelectorAll('article.strip').length === {COUNT}")
    eyes.visit.until(DRAWN % "article.strip canvas")


@pytest.mark.parametrize(
    ("size", "theme"),
    [
        ("phone", "light"),
        ("desk", "dark"),
        *(
            pytest.param(*both, marks=pytest.mark.long)
            for both in (("wall", "light"), ("wall", "dark"), ("phone", "dark"), ("desk", "light"))
        ),
    ],
)
def test_every_view_at_every_size(rig, visitors, size, theme):
    gallery = Gallery(rig)
    visit = visitors(gallery.mill.base, forgives=UNREACHABLE.pattern, color_scheme=theme, **SIZES[size])
    visit.page.add_init_script("try { localStorage.setItem('cakewatch.name', 'anna'); } catch {}")
    eyes = Eyes(visit).open()
    drawn(eyes)
    picture(eyes, f"{size}-{theme}-1-healthy")
    gallery.trouble()
    eyes.visit.until(has_alarm("PDAHH-103", "Urgent"))
    eyes.visit.until(has_strip("DC-102", "hopper work"))
    picture(eyes, f"{size}-{theme}-2-alarms")
    if size == "phone":
        picture(eyes, f"{size}-{theme}-2-alarms-whole", whole=True)
    eyes.collector("DC-103")
    eyes.button("Shelve PDAHH-103").wait_for()
    eyes.visit.until(DRAWN % "#main canvas")
    picture(eyes, f"{size}-{theme}-3-collector", whole=size == "phone")
    eyes.button("Shelve PDAHH-103").click()
    eyes.sheet.wait_for()
    picture(eyes, f"{size}-{theme}-4-sheet")
    eyes.page.keyboard.press("Escape")
    eyes.yard()
    drawn(eyes)
    gallery.mill.watch.kill()
    eyes.visit.until(NOT_LIVE, 12)
    picture(eyes, f"{size}-{theme}-5-not-live")
