"""A day of the plant in which everything fails at random: nothing lost, nothing wrong, nothing that grows.

The normal run lives three quarters of an hour of it, by a seed; with CAKEWATCH_LONG all 24 hours.
CAKEWATCH_SEED chooses another day.
"""

import os
import time

import pytest

from tests.rig.rig import Rig
from tests.rig.small_disk import small_disk
from tests.soak.day import RANGE, Day

SEED = int(os.environ.get("CAKEWATCH_SEED", "7"))
IS_LONG = bool(os.environ.get("CAKEWATCH_LONG"))
HOURS = 24.0 if IS_LONG else 0.75
pytestmark = [pytest.mark.timeout(1800), *([pytest.mark.long] if IS_LONG else [])]

MOST_RSS_MB = 100.0
MOST_DESCRIPTORS = 60
#: What one life of the daemon may grow by once it has run for half a minute.
MOST_GROWTH_MB = 8.0
SETTLED_S = 30.0

#: The bounds that the house states for its queues; a day must stay far below.
BOUNDS = {
    "cakewatch_judge_waiting_inputs": 2_000,
    "cakewatch_journal_waiting_events": 1_000,
    "cakewatch_outlet_backlog_events": 5_000,
    "cakewatch_mqtt_in_flight_events": 20,
}
NEVER = ("cakewatch_judge_dropped_inputs_total", "cakewatch_journal_dropped_events_total")


class Meter:
    """Reads what the daemon costs and how long its queues are, once a second."""

    def __init__(self):
        self.most_rss_mb = 0.0
        self.most_descriptors = 0
        self.most = dict.fromkeys(BOUNDS, 0.0)
        self.most_growth_mb = 0.0
        self._next_s = 0.0
        self._life = (0, 0.0, None)  # pid, since when, megabytes once settled

    def __call__(self, day):
        now_s = time.monotonic()
        if now_s < self._next_s or day.watch.has_ended() or not day.watch.is_up():
            return
        self._next_s = now_s + 1.0
        rss_mb = day.watch.rss_mb()
        self.most_rss_mb = max(self.most_rss_mb, rss_mb)
        self.most_descriptors = max(self.most_descriptors, day.watch.descriptors())
        self._grow(day.watch.pid, now_s, rss_mb)
        for name in BOUNDS:
            self.most[name] = max(self.most[name], day.watch.metric(name) or 0.0)
        for name in NEVER:
            assert day.watch.metric(name) in (None, 0.0), name

    def _grow(self, pid, now_s, rss_mb):
        known, since_s, settled_mb = self._life
        if pid != known:
            self._life = (pid, now_s, None)
        elif settled_mb is None and now_s - since_s > SETTLED_S:
            self._life = (pid, since_s, rss_mb)
        elif settled_mb is not None:
            self.most_growth_mb = max(self.most_growth_mb, rss_mb - settled_mb)

    def check(self):
        assert self.most_rss_mb <= MOST_RSS_MB
        assert self.most_growth_mb <= MOST_GROWTH_MB
        assert self.most_descriptors <= MOST_DESCRIPTORS
        for name, bound in BOUNDS.items():
            assert self.most[name] <= bound, name

    def __str__(self):
        queues = ", ".join(f"{name.removeprefix('cakewatch_')} {most:.0f}" for name, most in self.most.items())
        return (
            f"most RSS {self.most_rss_mb:.0f} MB, growth {self.most_growth_mb:.1f} MB, "
            f"descriptors {self.most_descriptors}; longest queues: {queues}"
        )


def check_values(day):
    """Every number ever told was in that very register at some time; a bad reading told none."""
    seen = 0
    for message in day.rig.listener.heard:
        if not (message.topic.endswith("/state") and message.payload):
            continue
        state = message.json
        for role in ("dp", "header_pressure"):
            point = state["points"][role]
            device, register = day.places[state["collector"], role]
            assert (point["value"] is None) == (point["quality"] == "bad"), point
            if point["raw"] is not None:
                seen += 1
                assert int(point["raw"]) in device.served[register], f"{state['collector']} {role}: {point}"
                place = min(device.served[register]) // RANGE
                scale = 800 if role == "dp" else 50
                assert point["value"] == pytest.approx((point["raw"] - RANGE * place) / scale, abs=2e-3), point
    return seen


def test_a_day_in_which_everything_fails_loses_nothing_and_tells_nothing_wrong(tmp_path, record_property):
    with small_disk(tmp_path / "disk", mounted=True) as disk, Rig(tmp_path) as rig:
        rig.folder = disk.folder / "store"
        day, meter = Day(rig, disk, SEED), Meter()
        day.live(HOURS, kills_until_h=HOURS * 2 / 3, watching=meter)
        day.calm_down()
        ledger = rig.ledger(60)
        values = check_values(day)
        befell = ", ".join(f"{number} {name}" for name, number in sorted(day.befell.items()))
        record_property(
            "counts", f"seed {SEED}, {HOURS:g} h, {day.watch.starts} starts; {ledger.counts}; "
            f"{values} values checked; {meter}; befell: {befell}",
        )  # fmt: skip
        ledger.check()
        rig.listener.check()
        meter.check()
        assert day.watch.health()[0] == 200
        assert "Traceback" not in day.watch.log()
