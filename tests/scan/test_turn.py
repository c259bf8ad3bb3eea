"""One turn of the core: words in, judged events out; the same inputs always give the same outcome."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.daemon import snapshot
from monitor.judge.settings import Judged, Side
from monitor.scan import judging
from monitor.scan.settings import PlantPlan
from monitor.scan.turn import Tick, begin, turn
from monitor.words import AlarmState, Cause, Command, CommandKind, Door, LinkChange, Quality, Reason, Role
from tests.scan.plans import DP, LINK, at, band, dp_scan, plan


class Day:
    """Runs inputs through the core and keeps what was said."""

    def __init__(self, *plans):
        self.plan = PlantPlan(collectors={one.name: one for one in plans})
        self.state = begin(self.plan, at(0))
        self.said = []

    @property
    def states(self):
        return self.state.collectors

    def take(self, second, what):
        outcome = turn(self.plan, self.state, what, at(second))
        self.state = outcome.onto(self.state)
        self.said += [(round(e.at_utc_s - at(0).utc_s, 3), e.tag or e.link, e.happened) for e in outcome.events]
        return outcome.events

    def dp(self, *steps, collector="DC-101"):
        for second, value in steps:
            self.take(second, dp_scan(second, value, collector))
        return self


def test_a_high_dp_is_raised_latched_and_cleared_by_its_timer():
    day = Day(plan()).dp((0, 4.5), (1, 7.2), (2, 7.2), (3, 7.2), (4, 6.0), (5, 6.0))
    for second in range(6, 30):
        day.dp((second, 6.0))

    assert day.said == [(3, "PDAH-101", "raised"), (5, "PDAH-101", "latched"), (25, "PDAH-101", "cleared")]


def test_an_event_carries_the_figures_of_its_moment():
    day = Day(plan()).dp((0, 7.2), (1, 7.3))
    (event,) = day.take(2, dp_scan(2, 7.4))

    assert (event.collector, event.tag, event.value, event.setpoint, event.unit) == (
        "DC-101",
        "PDAH-101",
        7.4,
        7.0,
        "inH2O",
    )
    assert event.state is AlarmState.UNACKNOWLEDGED
    assert event.cause is Cause.PROCESS
    assert event.at_utc_s == at(2).utc_s


def test_an_alarm_is_raised_by_the_reading_that_confirms_it_and_tells_that_one():
    day = Day(plan()).dp((0, 7.2), (1, 7.3))
    (raised,) = day.take(2.5, dp_scan(2.5, 7.4))

    assert (raised.happened, raised.value, raised.at_utc_s) == ("raised", 7.4, at(2.5).utc_s)


def test_time_between_two_readings_counts_only_if_both_see_the_same():
    """The delay would have run out at 2; what was seen at 2.5 does not bear it out."""
    day = Day(plan()).dp((0, 7.2), (1, 7.3), (2.5, 4.5), (4, 4.5))

    assert day.said == []


def test_a_request_that_hangs_raises_nothing():
    """Crossed at 0, last seen at 1, then no word for a minute: nobody saw it hold for the on-delay."""
    patient = plan(dp=replace(DP, stale_after_s=65.0))
    day = Day(patient).dp((0, 7.2), (1, 7.2))
    for second in range(2, 62):
        day.take(second, Tick())
    day.dp((62, Reason.NO_ANSWER), (63, 7.2), (63.5, 7.2))
    assert day.said == []

    day.dp((64, 7.2))
    assert day.said == [(64, "PDAH-101", "raised")]


def test_a_machine_that_stood_still_counts_for_no_delay():
    day = Day(plan(bands=(band("PDAH-101", Side.ABOVE, 7.0, on_delay_s=10.0),)))
    day.dp((0, 7.2), (1, 7.2), (2, 7.2), (3, 7.2), (23, 7.2), (26, 7.2), (29, 7.2))
    assert day.said == []

    day.dp((30, 7.2))
    assert day.said == [(30, "PDAH-101", "raised")]


def test_a_signal_that_is_good_for_moments_only_is_a_bad_signal():
    """One reading gets through each second and the next request fails: neither alarm may starve."""
    day = Day(plan())
    for second in range(6):
        day.dp((second, 7.2), (second + 0.001, Reason.NO_ANSWER))

    # Three seconds bad, three thousandths counted back, and again as many to make up for them.
    assert day.said[0] == (3.007, "PDT-101-BAD", "raised")


def test_a_signal_that_is_lost_now_and_then_is_none():
    day = Day(plan())
    for second in range(0, 200, 5):
        day.dp((second, 4.5), (second + 3, Reason.NO_ANSWER), (second + 4, 4.5))

    assert day.said == []


def test_no_answer_becomes_a_bad_signal_alarm_and_holds_the_rest():
    day = Day(plan()).dp((0, 7.2), (1, 7.2), (2, 7.2))
    for second in range(3, 60):
        day.dp((second, Reason.NO_ANSWER))

    assert day.said == [(2, "PDAH-101", "raised"), (6, "PDT-101-BAD", "raised")]
    assert day.states["DC-101"].readings[Role.DP].value is None


def test_silence_without_any_failure_grows_stale():
    day = Day(plan()).dp((0, 4.5))
    for second in range(1, 12):
        day.take(second, Tick())

    reading = day.states["DC-101"].readings[Role.DP]
    assert (reading.quality, reading.reason, reading.value) == (Quality.BAD, Reason.STALE, None)
    assert day.said == [(9, "PDT-101-BAD", "raised")]


def test_a_band_needs_readings_not_ticks():
    day = Day(plan()).dp((0, 7.2))
    for second in (1, 2, 3):
        day.take(second, Tick())
    assert day.said == []

    day.dp((4, 7.2))
    assert day.said == [(4, "PDAH-101", "raised")]


def test_a_low_band_that_nobody_acknowledged_waits_as_returned():
    day = Day(plan()).dp((0, 1.5), (1, 1.5), (2, 1.5), (3, 4.0), (4, 4.0))

    assert day.said == [(2, "PDAL-101", "raised"), (4, "PDAL-101", "returned")]


def test_the_residual_band_ignores_the_sawtooth_and_sees_what_cleaning_leaves():
    residual = band("PDAH-101R", Side.ABOVE, 5.0, judged=Judged.RESIDUAL, on_delay_s=0.0)
    day = Day(plan(bands=(residual,)))
    for second in range(200):  # peaks far above 5, cleaned down to 4
        day.dp((second, 6.0 if second % 20 < 18 else 4.0))
    assert day.said == []

    for second in range(200, 400):  # cleaning no longer gets below 5.5
        day.dp((second, 6.0 if second % 20 < 18 else 5.5))
    assert [(tag, what) for _, tag, what in day.said] == [("PDAH-101R", "raised")]


def test_a_stopped_fan_does_not_fill_the_residual_with_zeros():
    day = Day(plan(with_fan=True, bands=()))
    for second in range(100):
        day.take(second, dp_scan(second, 4.5, fan=1))
    for second in range(100, 300):
        day.take(second, dp_scan(second, 0.0, fan=0))

    assert day.states["DC-101"].residual_inh2o == 4.5


def test_one_collector_never_touches_another():
    day = Day(plan(), plan("DC-102", "102"))
    before = day.states["DC-102"]
    day.dp((0, 7.5), (1, 7.5), (2, 7.5))

    assert day.states["DC-102"] is before


def test_words_of_a_collector_that_is_gone_are_passed_over():
    day = Day(plan())
    events = day.take(0, dp_scan(0, 7.5, collector="DC-999"))

    assert events == ()
    assert list(day.states) == ["DC-101"]


def test_a_link_change_is_an_event_of_its_own():
    (event,) = Day(plan()).take(1, LinkChange(LINK, False, at(1), "connection refused"))

    assert (event.link, event.happened, event.facts["detail"]) == (LINK, "lost", "connection refused")


inputs = st.lists(
    st.tuples(
        st.sampled_from([0.0, 0.5, 1.0, 1.0, 3.0, 10.0]),
        st.one_of(
            st.sampled_from([1.5, 4.5, 6.9, 7.2, 9.5, Reason.NO_ANSWER, Reason.EXCEPTION_CODE]),
            st.just(Tick()),
            st.sampled_from([CommandKind.ACKNOWLEDGE, CommandKind.CLEAR]),
        ),
    ),
    max_size=60,
)


def asked(kind, now_s, tag="PDAH-101"):
    return Command(command_id=f"{kind}-{now_s}", kind=kind, by="anna", door=Door.COMMAND_LINE, tag=tag)


def input_of(what, now_s):
    if isinstance(what, CommandKind):
        return asked(what, now_s)
    return what if isinstance(what, Tick) else dp_scan(now_s, what)


def feed(day, story, start_s=0.0):
    now_s = start_s
    for passed_s, what in story:
        now_s += passed_s
        day.take(now_s, input_of(what, now_s))
    return now_s


@given(inputs)
def test_replay_equals_live(story):
    live, again = Day(plan()), Day(plan())
    feed(live, story)
    feed(again, story)

    assert again.said == live.said
    assert again.states == live.states


@given(inputs, st.data())
@settings(max_examples=200)
def test_no_power_cut_loses_a_latch_or_shortens_a_delay(story, data):
    """Killed after any input it goes on from its snapshot, on a clock that stood still meanwhile."""
    cut = data.draw(st.integers(0, len(story)))
    day = Day(plan())
    now_s = feed(day, story[:cut])
    before = day.states["DC-101"].watch.alarms
    text = snapshot.write_alarms(before)

    again = judging.begin(plan(), at(now_s), snapshot.read_alarms(text))
    day.state = begin(day.plan, at(now_s), {"DC-101": again})
    day.take(now_s, Tick())
    after = day.states["DC-101"].watch.alarms

    for tag, alarm in before.items():
        if tag != "PDT-101-BAD":  # nothing is read yet: that one may only be on its way
            assert after[tag].state is alarm.state
            assert after[tag].seen == alarm.seen
            if alarm.delay is not None:
                assert after[tag].delay.stopped(now_s).counted_s == alarm.delay.stopped(now_s).counted_s


@given(inputs)
def test_the_on_delay_is_never_shortened_by_anything_that_was_not_seen(story):
    """Independent bookkeeping: only time between two neighbouring good readings, both high, counts."""
    day, held_s, was_high, good_at_s, now_s = Day(plan()), 0.0, False, None, 0.0
    for passed_s, what in story:
        now_s += passed_s
        if isinstance(what, float):
            high = what >= (6.8 if was_high else 7.0)
            near = good_at_s is not None and now_s - good_at_s <= DP.stale_after_s
            held_s = 0.0 if not high else held_s + (now_s - good_at_s if near and was_high else 0.0)
            was_high, good_at_s = high, now_s
        elif isinstance(what, Reason):
            good_at_s = None
        if isinstance(what, CommandKind):
            events = day.take(now_s, asked(what, now_s))
        else:
            events = day.take(now_s, what if isinstance(what, Tick) else dp_scan(now_s, what))
        raised = [event for event in events if event.tag == "PDAH-101" and event.happened == "raised"]
        assert not raised or (isinstance(what, float) and held_s >= 2.0 - 1e-9)


@given(inputs)
def test_a_snapshot_of_alarms_comes_back_as_it_was(story):
    day = Day(plan())
    feed(day, story)
    alarms = day.states["DC-101"].watch.alarms

    assert snapshot.read_alarms(snapshot.write_alarms(alarms)) == alarms


def test_a_changed_band_keeps_its_tags_alarm():
    day = Day(plan()).dp((0, 7.5), (2, 7.5))
    wider = replace(plan(), bands=(band("PDAH-101", Side.ABOVE, 8.0),))
    state = judging.begin(wider, at(3), day.states["DC-101"].watch.alarms)

    assert state.watch.alarms["PDAH-101"].state is AlarmState.UNACKNOWLEDGED
