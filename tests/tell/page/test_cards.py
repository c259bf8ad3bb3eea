"""Cards: what the yard view says of one collector, whatever state it is in."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.condition.scaling import LinearScaling, LoopScaling
from monitor.judge.alarm import Alarm
from monitor.judge.table import ACTIVE, HELD, WAITING
from monitor.tell.page.cards import Beside, card, shape, values
from monitor.tell.page.scale import scale
from monitor.tell.page.standing import Standing, says, standing, worst_active
from monitor.words import AlarmState, Hold, HoldReason, Quality, Removal, Role, Shelf
from tests.tell import mill

PLAN = mill.plan()
HIGH, LOW, SIGNAL = "PDAH-101", "PDAL-101", "PDT-101-BAD"
SHELF = Shelf(2000.0, mill.NOW.utc_s + 600, "anna", "hopper work", mill.NOW.utc_s)


def alarm(state: AlarmState, *, stands: bool = False) -> Alarm:
    return Alarm(
        state=state,
        stands=stands or state in ACTIVE,
        since_utc_s=mill.NOW.utc_s,
        raised_utc_s=mill.NOW.utc_s,
        shelf=SHELF if state is AlarmState.SHELVED else None,
        removal=Removal("ben", "rebuilt", 0.0) if state is AlarmState.OUT_OF_SERVICE else None,
        hold=Hold(HoldReason.FAN_STOPPED) if state is AlarmState.SUPPRESSED_BY_DESIGN else None,
    )


def shown(dp=mill.GOOD, **alarms: Alarm):
    by_tag = {"high": HIGH, "low": LOW, "signal": SIGNAL}
    return mill.state(PLAN, dp, alarms={by_tag[name]: one for name, one in alarms.items()})


@pytest.mark.parametrize(
    ("state", "found"),
    [
        (shown(), Standing.NORMAL),
        (shown(dp=mill.BAD), Standing.BLIND),
        (shown(high=alarm(AlarmState.ACKNOWLEDGED)), Standing.ALARM),
        (shown(dp=mill.BAD, signal=alarm(AlarmState.UNACKNOWLEDGED)), Standing.ALARM),
        (shown(high=alarm(AlarmState.LATCHED_UNACKNOWLEDGED)), Standing.WAITING),
        (shown(dp=mill.BAD, high=alarm(AlarmState.LATCHED_ACKNOWLEDGED)), Standing.BLIND),
        (shown(high=alarm(AlarmState.SHELVED)), Standing.NORMAL),
        (shown(high=alarm(AlarmState.SHELVED, stands=True)), Standing.HELD),
        (shown(low=alarm(AlarmState.SUPPRESSED_BY_DESIGN, stands=True)), Standing.HELD),
    ],
)
def test_a_collector_stands_by_its_most_pressing_matter(state, found):
    assert standing(PLAN, state) is found
    assert card(PLAN, state, Beside())["state"] == found.value


def test_it_is_out_of_service_only_when_every_alarm_is():
    gone = alarm(AlarmState.OUT_OF_SERVICE)
    assert standing(PLAN, shown(high=gone, low=gone)) is Standing.NORMAL
    assert standing(PLAN, shown(high=gone, low=gone, signal=gone)) is Standing.OUT_OF_SERVICE


STATES = st.builds(alarm, st.sampled_from(list(AlarmState)), stands=st.booleans())


@given(high=STATES, low=STATES, signal=STATES, is_bad=st.booleans())
def test_no_card_looks_better_than_its_collector_is(high, low, signal, is_bad):
    state = shown(mill.BAD if is_bad else mill.GOOD, high=high, low=low, signal=signal)
    found, known = standing(PLAN, state), (high, low, signal)
    if found is Standing.NORMAL:
        assert not is_bad
        assert not any(one.state in ACTIVE | WAITING for one in known)
        assert not any(one.state in HELD and one.stands for one in known)
    assert (found is Standing.ALARM) == any(one.state in ACTIVE for one in known)
    told = card(PLAN, state, Beside())
    assert told["says"].endswith(".")
    assert "\n" not in told["says"]
    assert len(told["held"]) == sum(one.state in HELD for one in known)
    assert (told["worst"] is None) == (told["active"] == 0)
    assert told["worst"] == (None if worst_active(PLAN, state) is None else worst_active(PLAN, state).value)


def test_a_bad_dp_shows_no_figure_of_an_earlier_moment():
    told = card(PLAN, shown(dp=replace(mill.BAD, value=4.0, damped=4.0)), Beside(last_good_utc_s=5.0))
    assert (told["dp"]["value"], told["residual"], told["average"]) == (None, None, None)
    assert (told["dp"]["quality"], told["dp"]["last_good_utc_s"]) == ("bad", 5.0)
    assert values(shown(dp=mill.BAD))[:2] == (None, 2)


def test_the_figures_are_the_damped_ones_with_two_decimals():
    assert values(shown()) == (4.2, 0, round(mill.NOW.utc_s, 2), 3.1, 4.0)


def test_the_sentence_names_the_most_urgent_alarm_and_counts_the_others():
    state = shown(high=alarm(AlarmState.UNACKNOWLEDGED), low=alarm(AlarmState.ACKNOWLEDGED))
    assert says(PLAN, state) == ("DP high, set point 7 inH2O (PDAH-101): active, not acknowledged; and 1 more.")


def test_a_held_alarm_says_by_whom_and_until_when():
    (held,) = card(PLAN, shown(high=alarm(AlarmState.SHELVED, stands=True)), Beside())["held"]
    assert (held["tag"], held["how"], held["stands"]) == (HIGH, "shelved", True)
    assert held["until_utc_s"] == mill.NOW.utc_s + 600
    assert "anna" in held["says"]
    assert "hopper work" in held["says"]


def test_an_uncertain_dp_is_said():
    state = shown(dp=replace(mill.GOOD, quality=Quality.UNCERTAIN))
    assert "uncertain" in says(PLAN, state)


def test_the_shape_is_the_same_while_only_figures_move():
    first = shown()
    moved = shown(dp=replace(mill.GOOD, value=5.0, damped=5.0))
    assert shape(PLAN, first) == shape(PLAN, moved)
    assert shape(PLAN, first) != shape(PLAN, shown(dp=mill.BAD))
    assert shape(PLAN, first) != shape(PLAN, shown(high=alarm(AlarmState.ACKNOWLEDGED)))


def with_scaling(scaling, **changes):
    point = PLAN.points[Role.DP]
    channel = replace(point.channel, scaling=scaling, **changes)
    return replace(PLAN, points={**PLAN.points, Role.DP: replace(point, channel=channel)})


@pytest.mark.parametrize(
    ("plan", "ends"),
    [
        (with_scaling(LoopScaling(0, 27648, 0.0, 10.0)), (0.0, 10.0)),
        (with_scaling(LoopScaling(0, 27648, 10.0, -2.0)), (-2.0, 10.0)),
        (with_scaling(LinearScaling(), valid_low=-1.0, valid_high=15.0), (-1.0, 15.0)),
        (PLAN, (0.0, 8.75)),
        (replace(PLAN, bands=()), (0.0, 10.0)),
    ],
)
def test_the_gauge_spans_the_measuring_range_or_the_bands(plan, ends):
    assert tuple(scale(plan).values()) == ends
