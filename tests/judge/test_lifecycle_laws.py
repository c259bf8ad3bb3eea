"""What must hold of an alarm on any day: for every sequence of looks, commands, times and power cuts."""

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.daemon.snapshot import read_alarms, write_alarms
from monitor.judge.alarm import Alarm, Presence
from monitor.judge.lifecycle import advance, command, confirm, due_s, hold, pause, shelf_end_s
from monitor.judge.table import ACTIVE, HELD, WAITING, Trigger, look_up
from monitor.words import AlarmState, Cause, Instant, Removal, Shelf
from tests.judge.strategies import Held, Shelve, alarm_settings, days, full_days

UTC = 1_700_000_000.0
LATCHED = {AlarmState.LATCHED_UNACKNOWLEDGED, AlarmState.LATCHED_ACKNOWLEDGED}


def play(conf, day, alarm=None, start_s=0.0):
    """Live one day; yield (second, what, alarm before, alarm after, transitions)."""
    alarm, now_s = alarm or Alarm(), start_s
    for passed_s, what in day:
        now_s += passed_s
        now = Instant(now_s, UTC + now_s)
        before = alarm
        alarm, fired = act(conf, alarm, what, now)
        yield now_s, what, before, alarm, fired


def act(conf, alarm, what, now):
    """One step: something is seen, or held back, or a person acts."""
    match what:
        case Shelve(for_s):
            note = Shelf(now.mono_s + for_s, now.utc_s + for_s, "anna", "spare part is on its way", now.utc_s)
            return command(conf, alarm, Trigger.SHELVE, now, note)
        case Held(by):
            return hold(conf, alarm, by, now)
        case Trigger():
            note = Removal("ben", "being rebuilt", now.utc_s) if what is Trigger.REMOVE else None
            return command(conf, alarm, what, now, note)
        case _:
            return advance(conf, alarm, what, now)


@given(alarm_settings(), full_days)
def test_a_timer_never_ends_an_active_alarm(conf, day):
    for _, _, _, _, fired in play(conf, day):
        assert all(one.cause is not Cause.TIMER for one in fired if one.before in ACTIVE)


@given(alarm_settings(), full_days)
def test_every_transition_is_a_row_of_the_table_and_the_chain_has_no_gap(conf, day):
    state, kept = AlarmState.NORMAL, AlarmState.NORMAL
    for _, _, _, after, fired in play(conf, day):
        for one in fired:
            assert one.before is state
            rows = [look_up(state, trigger, latching=conf.latching, kept=kept) for trigger in Trigger]
            assert (one.state, one.happened, one.cause) in rows
            kept = state if one.happened == "suppressed" else AlarmState.NORMAL
            state = one.state
        assert (after.state, after.kept) == (state, kept)


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


@given(alarm_settings(), full_days, st.data())
def test_saving_and_restoring_between_any_two_steps_changes_nothing(conf, day, data):
    """What is written at the power cut and read after it lives on the same."""
    whole = [(one.happened, one.at) for *_, fired in play(conf, day) for one in fired]
    cut = data.draw(st.integers(0, len(day)))
    told, alarm, now_s = [], Alarm(), 0.0
    for now_s, _, _, alarm, fired in play(conf, day[:cut]):  # noqa: B007  the last ones are used below
        told += [(one.happened, one.at) for one in fired]
    (restored,) = read_alarms(write_alarms({"PDAH-101": alarm})).values()
    told += [(one.happened, one.at) for *_, fired in play(conf, day[cut:], restored, now_s) for one in fired]

    assert told == whole


# Halves and quarters add up exactly in binary; thirds would make a timer that is due at the end due after it.
@given(alarm_settings(), full_days, st.sampled_from([2, 4]))
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


@given(alarm_settings(), full_days)
def test_an_alarm_that_nothing_holds_shows_its_condition_and_one_that_is_held_announces_nothing(conf, day):
    for _, _, _, after, fired in play(conf, day):
        assert all(one.before not in HELD for one in fired if one.happened == "raised")
        if after.is_mute:
            assert after.state in HELD | WAITING
        else:
            assert (after.state in ACTIVE) == after.stands


@given(alarm_settings(), full_days)
def test_a_shelf_ends_when_it_was_promised_or_by_a_person(conf, day):
    until_s = None
    for now_s, _, _, after, fired in play(conf, day):
        for one in fired:
            if one.happened == "unshelved":
                assert one.note is not None
                assert one.cause is Cause.PERSON or one.at.mono_s == until_s
            if one.happened == "shelved":
                until_s = one.note.until_s
        assert shelf_end_s(after) > now_s
        assert (after.shelf is not None) == (after.state is AlarmState.SHELVED)


@given(alarm_settings(), full_days)
def test_what_is_out_of_service_stays_until_a_person_returns_it(conf, day):
    for _, what, before, after, fired in play(conf, day):
        if before.state is AlarmState.OUT_OF_SERVICE and what is not Trigger.RESTORE:
            assert after.state is AlarmState.OUT_OF_SERVICE
            assert after.removal == before.removal
            assert fired == ()


@given(alarm_settings(), full_days)
def test_a_hold_by_design_hides_nothing_that_waits_for_an_answer(conf, day):
    for _, what, _, _, fired in play(conf, day):
        if isinstance(what, Held):
            assert all(one.before not in WAITING for one in fired if one.happened == "suppressed")
        assert all(one.at.utc_s - one.at.mono_s == UTC for one in fired)


@given(alarm_settings(), full_days)
def test_one_occurrence_has_one_stamp_from_its_raising_to_its_end(conf, day):
    stamp = None
    for _, _, _, after, fired in play(conf, day):
        for one in fired:
            if one.happened == "raised" and stamp is None:
                stamp = one.at.utc_s
            assert one.raised_utc_s in (stamp, None)
            if one.happened == "cleared":
                stamp = None
        if after.raised_utc_s is None:
            stamp = None
        assert after.raised_utc_s == stamp


@given(alarm_settings(), full_days)
def test_when_every_hold_ends_the_alarm_is_what_its_condition_is(conf, day):
    """However the day went: back from every hold, and after one long look, nothing is hidden and nothing owed."""
    present = ([Presence.ABSENT] + [what for _, what in day if what in (Presence.PRESENT, Presence.ABSENT)])[-1]
    last = [(0.0, Held(None)), (0.0, Trigger.UNSHELVE), (0.0, Trigger.RESTORE), (0.0, present), (1000.0, present)]
    *_, (_, _, _, alarm, _) = play(conf, day + last)

    assert (alarm.state in ACTIVE) == alarm.stands == (present is Presence.PRESENT)
    assert (alarm.hold, alarm.shelf, alarm.removal, alarm.kept) == (None, None, None, AlarmState.NORMAL)


@given(alarm_settings(), days)
def test_by_readings_nothing_counts_that_the_next_reading_does_not_vouch_for(conf, day):
    """Looked at by readings alone, an alarm is told by a reading, after its on-delay between equal readings."""
    now_s, looked_s, alarm = 0.0, 0.0, Alarm(blind=True)
    vouched_s, last = 0.0, None
    for passed_s, what in day:
        if not isinstance(what, Presence):
            continue
        now_s += passed_s
        if what is last is Presence.PRESENT:
            vouched_s += now_s - looked_s
        elif what is Presence.ABSENT:
            vouched_s = 0.0
        alarm, fired = confirm(conf, alarm, what, Instant(now_s, UTC + now_s), looked_s)
        for one in fired:
            if one.happened == "raised":
                assert vouched_s >= conf.on_delay_s - 1e-9
                assert one.at.mono_s == now_s
        looked_s, last = now_s, what


@given(alarm_settings(), full_days, st.sampled_from([0.0, 1.0, 50.0]))
def test_a_pause_tells_nothing_however_often(conf, day, later_s):
    for now_s, _, _, alarm, _ in play(conf, day):
        once = pause(alarm, now_s)

        assert pause(once, now_s + later_s) == once
        assert (once.state, once.stands, once.hold) == (alarm.state, alarm.stands, alarm.hold)
