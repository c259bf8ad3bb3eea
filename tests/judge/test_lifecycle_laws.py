"""What must hold of an alarm on any day: for every sequence of looks, commands, times and power cuts."""

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.judge.alarm import Alarm, Presence
from monitor.judge.lifecycle import advance, command, due_s
from monitor.judge.table import ACTIVE, Trigger, look_up
from monitor.words import AlarmState, Cause, Instant
from tests.judge.strategies import alarm_settings, days

UTC = 1_700_000_000.0
LATCHED = {AlarmState.LATCHED_UNACKNOWLEDGED, AlarmState.LATCHED_ACKNOWLEDGED}


def play(conf, day, alarm=None, start_s=0.0):
    """Live one day; yield (second, what, alarm before, alarm after, transitions)."""
    alarm, now_s = alarm or Alarm(), start_s
    for passed_s, what in day:
        now_s += passed_s
        now = Instant(now_s, UTC + now_s)
        before = alarm
        if isinstance(what, Trigger):
            alarm, fired = command(conf, alarm, what, now)
        else:
            alarm, fired = advance(conf, alarm, what, now)
        yield now_s, what, before, alarm, fired


@given(alarm_settings(), days)
def test_a_timer_never_ends_an_active_alarm(conf, day):
    for _, _, _, _, fired in play(conf, day):
        assert all(one.cause is not Cause.TIMER for one in fired if one.before in ACTIVE)


@given(alarm_settings(), days)
def test_every_transition_is_a_row_of_the_table_and_the_chain_has_no_gap(conf, day):
    state = AlarmState.NORMAL
    for _, _, _, after, fired in play(conf, day):
        for one in fired:
            assert one.before is state
            triggers = [look_up(one.before, trigger, latching=conf.latching) for trigger in Trigger]
            assert any(row and (row.state, row.happened) == (one.state, one.happened) for row in triggers)
            state = one.state
        assert after.state is state


@given(alarm_settings(), days)
def test_the_on_delay_is_never_shortened(conf, day):
    """Independent bookkeeping: seconds of sight with the condition present, without a break by its absence."""
    held_s, seeing, last_s = 0.0, None, 0.0
    for now_s, what, _, _, fired in play(conf, day):
        for one in fired:
            if one.happened == "raised":
                so_far_s = held_s + (one.at.mono_s - last_s if seeing is Presence.PRESENT else 0.0)
                if one.at.mono_s == now_s and what is Presence.PRESENT and seeing is not Presence.PRESENT:
                    so_far_s = held_s
                assert so_far_s >= conf.on_delay_s - 1e-9
        if seeing is Presence.PRESENT:
            held_s += now_s - last_s
        if isinstance(what, Presence):
            seeing = what
            if what is Presence.ABSENT:
                held_s = 0.0
        last_s = now_s


@given(alarm_settings(), days)
def test_a_latch_ends_only_by_a_person_or_by_its_own_full_time(conf, day):
    latched_at_s = None
    for _, _, _, _, fired in play(conf, day):
        for one in fired:
            if one.before in LATCHED and one.state is AlarmState.NORMAL:
                assert one.cause in (Cause.PERSON, Cause.TIMER)
                if one.cause is Cause.TIMER:
                    assert one.at.mono_s - latched_at_s >= conf.auto_clear_s - 1e-9
            if one.happened == "latched":
                latched_at_s = one.at.mono_s


@given(alarm_settings(), days)
def test_while_blind_only_a_person_changes_anything(conf, day):
    for _, what, before, _, fired in play(conf, day):
        if before.blind:
            assert all(one.cause is Cause.PERSON or what is not Presence.BLIND for one in fired)


@given(alarm_settings(), days, st.data())
def test_saving_and_restoring_between_any_two_steps_changes_nothing(conf, day, data):
    """A remembered alarm is its fields: rebuilt from them, it lives on the same."""
    whole = [(one.happened, one.at) for *_, fired in play(conf, day) for one in fired]
    cut = data.draw(st.integers(0, len(day)))
    told, alarm, now_s = [], Alarm(), 0.0
    for now_s, _, _, alarm, fired in play(conf, day[:cut]):  # noqa: B007  the last ones are used below
        told += [(one.happened, one.at) for one in fired]
    restored = Alarm(**{name: getattr(alarm, name) for name in Alarm.__slots__})
    told += [(one.happened, one.at) for *_, fired in play(conf, day[cut:], restored, now_s) for one in fired]

    assert told == whole


# Halves and quarters add up exactly in binary; thirds would make a timer that is due at the end due after it.
@given(alarm_settings(), days, st.sampled_from([2, 4]))
def test_looking_more_often_changes_nothing(conf, day, pieces):
    """Each step of time is cut into equal pieces in which the same thing is seen as before."""
    whole = [(one.happened, round(one.at.mono_s, 6)) for *_, fired in play(conf, day) for one in fired]
    finer, seeing = [], Presence.ABSENT
    for passed_s, what in day:
        finer += [(passed_s / pieces, seeing)] * (pieces - 1) + [(passed_s / pieces, what)]
        seeing = what if isinstance(what, Presence) else seeing
    fine = [(one.happened, round(one.at.mono_s, 6)) for *_, fired in play(conf, finer) for one in fired]

    assert fine == whole


@given(alarm_settings(), days)
def test_a_running_delay_always_ends_if_the_plant_stays_as_it_is(conf, day):
    """Neither delay can wait for ever: one long look later nothing is due any more."""
    now_s, alarm = 0.0, Alarm()
    for now_s, _, _, alarm, _ in play(conf, day):  # noqa: B007  the last ones are used below
        pass
    seen = Presence.PRESENT if alarm.present else Presence.ABSENT
    for later_s in (now_s, now_s + 1000.0):
        alarm, _ = advance(conf, alarm, seen, Instant(later_s, UTC + later_s))

    assert due_s(conf, alarm) == float("inf")
    assert (alarm.state in ACTIVE) == alarm.present


@given(alarm_settings(), days)
@settings(max_examples=50)
def test_acknowledging_twice_is_acknowledging_once(conf, day):
    for now_s, _, _, alarm, _ in play(conf, day):
        now = Instant(now_s, UTC + now_s)
        once, _ = command(conf, alarm, Trigger.ACKNOWLEDGE, now)
        twice, fired = command(conf, once, Trigger.ACKNOWLEDGE, now)

        assert twice == once
        assert fired == ()
