"""The calm: which intervals, and until when, nothing can happen in; and when a sample lies inside."""

import math
from dataclasses import replace

import pytest

from monitor.judge.alarm import Alarm, Presence, Timer
from monitor.judge.calm import Bands, Range, Seen, Watch, is_calm, presence_of, settings_of, settled
from monitor.judge.settings import AlarmSettings, Band, Judged, Side
from monitor.words import AlarmState, Hold, HoldReason, Priority, Shelf

INF = math.inf
H, L, R, A, BAD = "PDAH-101", "PDAL-101", "PDAH-101R", "PDAH-101A", "PDT-101-BAD"


def alarm(tag, causes=()):
    return AlarmSettings(
        tag=tag,
        priority=Priority.HIGH,
        on_delay_s=5.0,
        off_delay_s=2.0,
        latching=False,
        auto_clear_s=None,
        causes=causes,
    )


def band(tag, side, setpoint, judged=Judged.DAMPED, causes=()):
    return Band(alarm=alarm(tag, causes), side=side, setpoint_inh2o=setpoint, deadband_inh2o=0.5, judged=judged)


BANDS = Bands(
    (
        band(H, Side.ABOVE, 7.0, causes=(BAD, A)),
        band(L, Side.BELOW, 2.0, causes=(BAD,)),
        band(R, Side.ABOVE, 5.0, Judged.RESIDUAL),
        band(A, Side.ABOVE, 6.0, Judged.AVERAGE, causes=(BAD,)),
    ),
    alarm(BAD),
)
NORMAL = {tag: Alarm() for tag in (H, L, R, A, BAD)}


def below(value):
    return math.nextafter(value, -INF)


def above(value):
    return math.nextafter(value, INF)


GOOD = Seen(4.0, 3.0, 3.5)


def calm(alarms=NORMAL, seen=GOOD, bands=BANDS, held=None):
    return settled(bands, alarms, seen, held or {})


def test_among_normal_alarms_the_calm_is_what_lies_inside_every_set_point():
    watch = calm()

    assert watch.ranges == (
        Range(0, above(2.0), below(7.0)),
        Range(1, -INF, below(5.0)),
        Range(2, -INF, below(6.0)),
    )
    assert (watch.due_s, watch.tick_due_s) == (INF, INF)


def test_a_condition_that_is_there_stays_so_beyond_its_deadband():
    watch = calm(NORMAL | {H: Alarm(present=True, stands=True, state=AlarmState.UNACKNOWLEDGED)})
    low = calm(NORMAL | {L: Alarm(present=True, stands=True, state=AlarmState.UNACKNOWLEDGED)})

    assert watch.ranges[0] == Range(0, 6.5, INF)
    assert low.ranges[0] == Range(0, -INF, 2.5)


@pytest.mark.parametrize("which", [0, 1, 2])
def test_what_is_not_seen_is_calm_as_long_as_it_is_not_seen(which):
    seen = Seen(*(None if index == which else 4.0 for index in range(3)))
    watch = calm(seen=seen)

    assert watch.ranges[which].low is None
    assert is_calm(watch, seen, 0.0)
    assert not is_calm(watch, Seen(4.0, 4.0, 4.0), 0.0)


@pytest.mark.parametrize("which", [0, 1, 2])
def test_what_is_seen_no_longer_is_not_calm(which):
    assert is_calm(calm(), Seen(4.0, 4.0, 4.0), 0.0) is True
    assert is_calm(calm(), Seen(*(None if index == which else 4.0 for index in range(3))), 0.0) is False


@pytest.mark.parametrize(
    ("damped", "is_inside"),
    [
        (above(2.0), True),
        (2.0, False),
        (below(7.0), True),
        (7.0, False),
        (1.0, False),
        (8.0, False),
        (math.nan, False),
    ],
)
def test_a_set_point_itself_is_not_calm(damped, is_inside):
    assert is_calm(calm(), Seen(damped, 3.0, 3.5), 0.0) is is_inside


@pytest.mark.parametrize("which", [1, 2])
def test_every_judged_quantity_counts(which):
    seen = [4.0, 3.0, 3.5]
    seen[which] = 6.5

    assert is_calm(calm(), Seen(*seen), 0.0) is False


def test_collectors_without_bands_watch_the_signal_alone():
    bands = Bands((), alarm(BAD))
    watch = calm({BAD: Alarm()}, bands=bands)

    assert watch.ranges == (Range(0, -INF, INF),)
    assert is_calm(watch, Seen(1e9, None, None), 0.0)
    assert not is_calm(watch, Seen(None, None, None), 0.0)


RUNNING = Alarm(present=True, delay=Timer(0.0, 10.0))


@pytest.mark.parametrize("tag", [H, L, R, A])
def test_the_calm_ends_when_the_first_delay_runs_out_and_time_alone_knows_nothing_of_a_band(tag):
    watch = calm(NORMAL | {tag: RUNNING})

    assert (watch.due_s, watch.tick_due_s) == (15.0, INF)


def test_the_calm_ends_exactly_then():
    watch = replace(calm(), due_s=15.0)

    assert is_calm(watch, GOOD, below(15.0)) is True
    assert is_calm(watch, GOOD, 15.0) is False


def test_of_several_delays_the_first_counts():
    later = Alarm(present=True, delay=Timer(0.0, 20.0))

    assert calm(NORMAL | {H: RUNNING, L: later}).due_s == 15.0
    assert calm(NORMAL | {H: later, L: RUNNING}).due_s == 15.0
    assert calm(NORMAL | {H: later, BAD: RUNNING}).due_s == 15.0


def test_the_bad_signals_delay_runs_out_by_time_alone():
    watch = calm(NORMAL | {BAD: RUNNING}, Seen(None, None, None))

    assert (watch.due_s, watch.tick_due_s) == (15.0, 15.0)


@pytest.mark.parametrize("tag", [H, A, BAD])
def test_every_shelf_runs_out_by_time_alone(tag):
    shelf = Shelf(30.0, 0.0, "anna", "spare part is on its way", 0.0)
    watch = calm(NORMAL | {tag: Alarm(state=AlarmState.SHELVED, shelf=shelf)})

    assert (watch.due_s, watch.tick_due_s) == (30.0, 30.0)


def test_what_is_held_from_outside_is_kept():
    held = {H: Hold(HoldReason.FAN_STOPPED)}

    assert calm(held=held).held == held
    assert Watch({}, (), 0.0, 0.0).held == {}


def test_causes_come_before_what_they_explain_and_the_bad_signal_has_no_band():
    order = [(settings.tag, None if band is None else band.alarm.tag) for settings, band in BANDS.causes_first]

    assert order == [(BAD, None), (R, R), (L, L), (A, A), (H, H)]


def test_the_settings_of_every_alarm_are_found_by_its_tag():
    assert settings_of(BANDS) == {one.alarm.tag: one.alarm for one in BANDS.bands} | {BAD: BANDS.bad_signal}


@pytest.mark.parametrize("present", [True, False])
@pytest.mark.parametrize("value", [None, math.nan])
def test_without_a_number_nothing_is_seen(present, value):
    assert presence_of(BANDS.bands[0], present, value) is Presence.BLIND


@pytest.mark.parametrize(
    ("which", "present", "value", "becomes"),
    [
        (0, False, below(7.0), False),
        (0, False, 7.0, True),
        (0, False, -INF, False),
        (0, True, 6.5, True),
        (0, True, below(6.5), False),
        (0, True, INF, True),
        (1, False, above(2.0), False),
        (1, False, 2.0, True),
        (1, False, INF, False),
        (1, True, 2.5, True),
        (1, True, above(2.5), False),
        (1, True, -INF, True),
    ],
)
def test_a_condition_comes_at_its_set_point_and_goes_beyond_its_deadband(which, present, value, becomes):
    seen = Presence.PRESENT if becomes else Presence.ABSENT

    assert presence_of(BANDS.bands[which], present, value) is seen


@pytest.mark.parametrize(("side", "setpoint"), [(Side.ABOVE, -3.0), (Side.BELOW, -3.0), (Side.ABOVE, 0.0)])
def test_a_set_point_may_be_below_zero(side, setpoint):
    one = band(H, side, setpoint)
    inside, outside = (below, above) if side is Side.ABOVE else (above, below)

    assert presence_of(one, False, inside(setpoint)) is Presence.ABSENT
    assert presence_of(one, False, setpoint) is Presence.PRESENT
    assert presence_of(one, False, outside(setpoint)) is Presence.PRESENT


@pytest.mark.parametrize(
    ("side", "setpoint", "deadband", "edge"), [(Side.ABOVE, 1.1, 0.2, 0.9), (Side.BELOW, 0.1, 0.2, 0.3)]
)
def test_the_edge_of_a_deadband_is_the_decimal_that_a_person_means(side, setpoint, deadband, edge):
    one = replace(band(H, side, setpoint), deadband_inh2o=deadband)

    assert presence_of(one, True, edge) is Presence.PRESENT


def test_a_deadband_is_exact_to_a_billionth_of_an_inch():
    one = replace(band(H, Side.ABOVE, 1.0), deadband_inh2o=1.4e-9)

    assert presence_of(one, True, 1.0 - 1e-9) is Presence.PRESENT
    assert presence_of(one, True, 1.0 - 1.2e-9) is Presence.ABSENT
    low = replace(one, side=Side.BELOW)
    assert presence_of(low, True, 1.0 + 1e-9) is Presence.PRESENT
    assert presence_of(low, True, 1.0 + 1.2e-9) is Presence.ABSENT
