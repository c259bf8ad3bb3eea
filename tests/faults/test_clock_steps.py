"""The wall clock stepped by an hour to and fro while delays run: nothing is raised or cleared by it."""

import itertools
import time
from datetime import UTC, datetime

from tests.rig import sites
from tests.rig.waiting import until
from tests.rig.wall import Wall

HIGH, LOW = 8000, 4000
HOUR_S = 3600
ON_DELAY_S, AUTO_CLEAR_S = 3.0, 4.0
#: Ticks of 0.25 s, a scan, and a machine with other things to do.
SLACK_S = 1.5


def arrival_s(rig, tag, happened):
    rig.listener.await_event(tag, happened, 12)
    return next(
        one.at_s for one in rig.listener.of("events") if (one.json["tag"], one.json["happened"]) == (tag, happened)
    )


def test_steps_of_an_hour_raise_and_clear_nothing_and_delay_nothing(rig, tmp_path):
    wall = Wall(tmp_path)
    device = rig.field.device()
    for unit in (1, 2, 3):
        device.values[unit, 0] = LOW
    slow = sites.band(on_delay=f"{ON_DELAY_S} s", off_delay="1 h")
    latching = sites.band(auto_clear=f"{AUTO_CLEAR_S} s")
    calm = {"PDAH-103": sites.band(on_delay="1 min"), "PDAL-103": {"below": "1 inH2O", "on_delay": "1 min"}}
    rig.site(
        {"gateway": sites.link(device.port)},
        {
            "DC-101": sites.collector(101, "gateway", 1, 0, bands={"PDAH-101": slow}),
            "DC-102": sites.collector(102, "gateway", 2, 0, bands={"PDAH-102": latching}),
            "DC-103": sites.collector(103, "gateway", 3, 0, bands=calm),
        },
    )
    watch = rig.daemon(bent=True, **wall.environ)
    for name in ("DC-101", "DC-102", "DC-103"):
        rig.listener.await_good(name, 8)
    device.values[2, 0] = HIGH
    rig.listener.await_event("PDAH-102", "raised", 5)
    device.values[1, 0] = HIGH
    device.values[2, 0] = LOW
    began_s = time.monotonic()
    steps = itertools.cycle([HOUR_S, -HOUR_S, 0, -2 * HOUR_S, 30 * 365 * 86400, -40 * 365 * 86400])
    while time.monotonic() < began_s + max(ON_DELAY_S, AUTO_CLEAR_S) + SLACK_S:
        wall.set_off(next(steps))
        time.sleep(0.15)
        assert watch.health()[0] == 200
    raised_s, cleared_s = arrival_s(rig, "PDAH-101", "raised"), arrival_s(rig, "PDAH-102", "cleared")
    latched_s = arrival_s(rig, "PDAH-102", "latched")
    assert ON_DELAY_S - 0.1 <= raised_s - began_s <= ON_DELAY_S + SLACK_S
    assert AUTO_CLEAR_S - 0.1 <= cleared_s - latched_s <= AUTO_CLEAR_S + SLACK_S
    told = [(one["tag"], one["happened"]) for one in rig.listener.events(kind="alarm")]
    assert sorted(told) == [
        ("PDAH-101", "raised"), ("PDAH-102", "cleared"), ("PDAH-102", "latched"), ("PDAH-102", "raised"),
    ]  # fmt: skip
    qualities = {one.json["points"]["dp"]["quality"] for one in rig.listener.of("collectors/DC-103/state")[5:]}
    assert qualities == {"good"}
    wall.set_off(HOUR_S)
    device.values[2, 0] = HIGH
    stamped = rig.listener.await_event("PDAH-102", "raised", 5, rig.listener.last_seq())
    ahead_s = (datetime.fromisoformat(stamped["happened_at"]) - datetime.now(UTC)).total_seconds()
    assert abs(ahead_s - HOUR_S) < 10, "stamps follow the wall clock at once"
    until(lambda: watch.metric("cakewatch_outlet_backlog_events", outlet="mqtt") == 0, 8)
    rig.ledger().check()
    rig.listener.check()
