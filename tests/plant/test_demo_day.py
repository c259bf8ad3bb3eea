"""The demonstration's whole day, judged by the real core in a moment: plant registers in, events out.

No sockets and no waiting: the site file, the plant's registers and the core are the same as in the live
demonstration; only the clock is turned by hand.
"""

from pathlib import Path

import pytest

from monitor.acquire.settings import Source
from monitor.cli.demo_stage import Ports, site_text
from monitor.plant.demo_plant import demo_plant
from monitor.plant.plant import Plant
from monitor.plant.server import input_registers
from monitor.scan import turn as scan
from monitor.scan.turn import Tick
from monitor.site.load import load
from monitor.site.plan import SitePlan
from monitor.words import Block, BlockRead, Event, Instant, Quality, Reason, Role, Slot, Table, UnitScan

MINUTE_S = 60.0


@pytest.fixture(name="plan")
def demo_plan(tmp_path: Path) -> SitePlan:
    file = tmp_path / "demo-site.yaml"
    file.write_text(site_text(Ports(http=9464, mqtt=1883, modbus=5020), tmp_path / "store"), encoding="utf-8")
    return load(file, {})


def words_of(plant: Plant, source: Source) -> tuple[int, ...]:
    device = next(one for one in plant.devices if one.unit_id == source.unit_id)
    signals = plant.signals(device.collector.name)
    tables = {
        Table.INPUT_REGISTER: input_registers(device, signals),
        Table.DISCRETE_INPUT: [int(signals.fan_running), int(signals.cleaning_active)],
        Table.COIL: [int(signals.cleaning_active)],
    }
    return tuple(tables[source.table][source.address : source.address + source.width])


def day(plan: SitePlan, seed: int, until_s: float) -> tuple[list[Event], list[dict]]:
    """Run the demonstration's day; returns the events and, for each scan, every collector's readings."""
    plant = demo_plant(seed)
    link = plan.links["mill-gateway"]
    start = Instant(0.0, 0.0)
    state = scan.begin(plan.plant, start)
    events: list[Event] = []
    seen: list[dict] = []
    at_s = 0.0
    while at_s < until_s:
        now = Instant(at_s, at_s)
        plant.advance_to(at_s)
        reads = tuple(
            BlockRead(
                Block(one.unit_id, one.table, one.address, one.width, (Slot(one.point, 0, one.width),)),
                now,
                words_of(plant, one),
            )
            for one in link.sources
        )
        for what in (UnitScan("mill-gateway", 1, reads), Tick()):
            outcome = scan.turn(plan.plant, state, what, now)
            state = outcome.onto(state)
            events += outcome.events
        seen.append({name: one.readings for name, one in state.collectors.items()})
        at_s += link.link.scan_period_s
    return events, seen


def told(events: list[Event], tag: str) -> list[tuple[str, float]]:
    return [(event.happened, event.at_utc_s / MINUTE_S) for event in events if event.tag == tag]


def test_the_demonstrations_site_file_is_an_example_to_follow(plan: SitePlan) -> None:
    assert plan.warnings == ()


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_alarm_is_raised_latches_and_is_cleared_by_the_timer_before_a_newcomer_leaves(
    plan: SitePlan, seed: int
) -> None:
    """At sixty times speed a plant minute is a second: all of it before real minute 1.8."""
    events, _ = day(plan, seed, 108 * MINUTE_S)
    story = told(events, "PDAH-101")
    assert [happened for happened, _ in story] == ["raised", "latched", "cleared"]
    assert 25.0 < story[0][1] < 39.0
    assert story[2][1] == pytest.approx(story[1][1] + 20.0, abs=0.1)
    assert story[2][1] < 75.0


def test_the_other_collectors_have_their_own_troubles_and_no_more(plan: SitePlan) -> None:
    events, _ = day(plan, 1, 119 * MINUTE_S)
    raised = {event.tag for event in events if event.happened == "raised"}
    assert raised == {"PDAH-101", "PDT-101-HEADER", "PDT-102-BAD", "PDAL-102"}
    assert next(happened for happened, _ in told(events, "PDT-102-BAD")) == "raised"


def test_what_explains_an_alarm_holds_it_back(plan: SitePlan) -> None:
    """DC-102's broken wire holds back its bands; DC-103's stop and start hold back its high band."""
    events, _ = day(plan, 1, 119 * MINUTE_S)
    held = {(event.tag, event.facts["why"]) for event in events if event.happened == "suppressed"}
    assert held == {
        ("PDAH-102", "consequence"),
        ("PDAL-102", "consequence"),
        ("PDAH-103", "fan_stopped"),
    }
    assert [happened for happened, _ in told(events, "PDAH-103")] == ["suppressed", "released"]


def test_every_reading_is_good_while_nothing_is_broken(plan: SitePlan) -> None:
    _, seen = day(plan, 1, 47 * MINUTE_S)
    for readings in seen[5:]:
        for of_one in readings.values():
            assert {reading.quality for reading in of_one.values()} == {Quality.GOOD}


def test_a_broken_wire_is_seen_as_what_it_is(plan: SitePlan) -> None:
    _, seen = day(plan, 1, 52 * MINUTE_S)
    dp = seen[-1]["DC-102"][Role.DP]
    assert (dp.quality, dp.reason, dp.value) == (Quality.BAD, Reason.LOOP_FAILED_LOW, None)


def test_readings_are_the_plants_in_engineering_units(plan: SitePlan) -> None:
    """What came through counts, words and units is what the instruments saw."""
    _, seen = day(plan, 1, 10 * MINUTE_S)
    plant = demo_plant(1)
    plant.advance_to(10 * MINUTE_S - 4.0)
    for name, readings in seen[-1].items():
        signals = plant.signals(name)
        assert readings[Role.DP].value == pytest.approx(signals.dp_inh2o, abs=0.002)
        assert readings[Role.HEADER_PRESSURE].value == pytest.approx(signals.header_psig, abs=0.06)
        if Role.AIR_FLOW in readings:
            assert readings[Role.AIR_FLOW].value == pytest.approx(signals.flow_cfm, abs=6.0)
