"""Recorded numbers enter the core as they stand, and time passes as it does live."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.condition.channel import AnalogChannel
from monitor.condition.registers import Encoding, RegisterFormat
from monitor.condition.scaling import LinearScaling
from monitor.rehearse.door import Door, for_recorded
from monitor.words import Instant, Quality, Reason, Role
from tests.rehearse.plants import UTC
from tests.scan.plans import DP, plan


def linear(**settings):
    return AnalogChannel(
        format=RegisterFormat(Encoding.FLOAT32), scaling=LinearScaling(0.01, 3.0, 4.01), **settings
    )


def at(second):
    return Instant(float(second), UTC + second)


def door(dp=DP, steps=None, *, exact=False):
    return Door(for_recorded(plan(dp=dp), steps or {}), UTC, exact=exact)


@given(st.floats(-50, 50))
def test_a_value_is_read_as_it_stands(value):
    one = door(linear())

    one.row(at(0), {Role.DP: value})

    assert one.state.readings[Role.DP].value == value


@pytest.mark.parametrize(
    ("value", "quality"), [(4.0, Quality.GOOD), (-1.0, Quality.UNCERTAIN), (10.5, Quality.UNCERTAIN)]
)
def test_a_loop_is_judged_by_the_current_that_belongs_to_the_value(value, quality):
    one = door()

    one.row(at(0), {Role.DP: value})

    assert one.state.readings[Role.DP].quality is quality
    assert one.state.readings[Role.DP].current_ma == pytest.approx(4 + 1.6 * value)


def test_a_loop_that_stays_at_a_failure_level_has_failed_after_four_seconds():
    one = door()
    for second in range(6):
        one.row(at(second), {Role.DP: -2.5})

    assert one.state.readings[Role.DP].reason is Reason.LOOP_FAILED_LOW


def test_rare_readings_turn_stale_and_stand_still_later():
    channel = replace(DP, frozen_after_s=60.0)
    recorded = for_recorded(plan(dp=channel), {Role.DP: 60.0}).points[Role.DP].channel

    assert (recorded.stale_after_s, recorded.frozen_after_s) == (180.0, 600.0)
    assert for_recorded(plan(dp=channel), {Role.DP: 1.0}).points[Role.DP].channel.stale_after_s == 5.0


@pytest.mark.parametrize("exact", [True, False])
def test_a_gap_raises_the_bad_signal_after_stale_and_its_own_delay(exact):
    one = door(exact=exact)
    for second in range(10):
        one.row(at(second), {Role.DP: 4.0})
    events = []
    while (tick := one.next_tick(3600.0)) is not None:
        events += one.tick(tick)

    # Stale after 5 s, raised 3 s later.
    assert [(event.tag, event.happened, event.at_utc_s - UTC) for event in events][:1] == [
        ("PDT-101-BAD", "raised", 18.0)
    ]


def test_a_quiet_year_without_data_costs_no_ticks():
    one = door()
    one.row(at(0), {Role.DP: 4.0})
    ticks = 0
    while (tick := one.next_tick(365 * 86400.0)) is not None:
        one.tick(tick)
        ticks += 1

    assert ticks < 20
