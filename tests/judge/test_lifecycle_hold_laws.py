"""What must hold on any day on which people shelve and take out of service, and the design holds back."""

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.daemon import snapshot
from monitor.judge.alarm import Alarm, Presence
from monitor.judge.lifecycle import (
    advance,
    command,
    command_between,
    confirm,
    due_s,
    hold,
    hold_between,
    pass_time,
    pause,
    shelf_end_s,
)
from monitor.judge.table import ACTIVE, HELD, WAITING, Trigger, look_up
from monitor.words import AlarmState, Cause, Hold, HoldReason, Instant, Removal, Shelf
from tests.judge.strategies import FREE, alarm_settings, full_days, shelves_s

UTC = 1_700_000_000.0
NORMAL, SHELVED, REMOVED = AlarmState.NORMAL, AlarmState.SHELVED, AlarmState.OUT_OF_SERVICE
SUPPRESSED = AlarmState.SUPPRESSED_BY_DESIGN


def note_for(trigger, now, shelf_s):
    until_s = now.mono_s + shelf_s
    notes = {
        Trigger.SHELVE: Shelf(until_s, UTC + until_s, "anna", "spare part", now.utc_s),
        Trigger.REMOVE: Removal("ben", "being rebuilt", now.utc_s),
    }
    return notes.get(trigger)


def step(conf, alarm, what, now, shelf_s):
    """What is seen, asked or held, at once."""
    if isinstance(what, Presence):
        return advance(conf, alarm, what, now)
    if isinstance(what, Trigger):
        return command(conf, alarm, what, now, note_for(what, now, shelf_s))
    return hold(conf, alarm, None if what == FREE else what, now)


def step_between(conf, alarm, what, now, shelf_s, looked_s):
    """The same of a band, which is seen at readings alone."""
    if isinstance(what, Presence):
        return confirm(conf, alarm, what, now, looked_s)
    if isinstance(what, Trigger):
        return command_between(conf, alarm, what, now, looked_s, note_for(what, now, shelf_s))
    return hold_between(conf, alarm, None if what == FREE else what, now, looked_s)


def play(conf, day, shelf_s, *, continuous=True, alarm=None, start_s=0.0):
    """Live one day; yield (now, what, alarm before, alarm after, transitions)."""
    alarm, now_s, looked_s = alarm or Alarm(), start_s, start_s
    for passed_s, what in day:
        now_s += passed_s
        now, before = Instant(now_s, UTC + now_s), alarm
        if continuous:
            alarm, fired = step(conf, alarm, what, now, shelf_s)
        else:
            alarm, fired = step_between(conf, alarm, what, now, shelf_s, looked_s)
        if isinstance(what, Presence):
            looked_s = now_s
        yield now, what, before, alarm, fired


def is_a_cause(what):
    return isinstance(what, Hold) and what.why is HoldReason.CONSEQUENCE


both_ways = st.booleans()


@given(alarm_settings(), full_days, shelves_s, both_ways)
def test_every_transition_is_a_row_of_the_table_and_the_chain_has_no_gap(conf, day, shelf_s, continuous):
    for _, _, before, after, fired in play(conf, day, shelf_s, continuous=continuous):
        state, kept = before.state, before.kept
        for one in fired:
            rows = [look_up(state, trigger, latching=conf.latching, kept=kept) for trigger in Trigger]
            assert one.before is state
            assert (one.state, one.happened, one.cause) in rows
            kept = state if one.state is SUPPRESSED else NORMAL
            state = one.state
        assert (after.state, after.kept) == (state, kept)


@given(alarm_settings(), full_days, shelves_s, both_ways)
def test_no_timer_ends_an_active_alarm_and_none_is_raised_under_a_hold(conf, day, shelf_s, continuous):
    for _, _, before, after, fired in play(conf, day, shelf_s, continuous=continuous):
        for one in fired:
            assert one.cause is not Cause.TIMER or one.before not in ACTIVE
        if before.hold is not None and after.hold is not None:
            assert "raised" not in [one.happened for one in fired]


@given(alarm_settings(), full_days, shelves_s, both_ways)
def test_what_nothing_holds_shows_its_condition_and_what_is_held_says_why(conf, day, shelf_s, continuous):
    for now, _, _, alarm, _ in play(conf, day, shelf_s, continuous=continuous):
        assert (alarm.shelf is not None) == (alarm.state is SHELVED)
        assert (alarm.removal is not None) == (alarm.state is REMOVED)
        if alarm.hold is None:
            assert alarm.state is not SUPPRESSED
            assert alarm.state in HELD or (alarm.state in ACTIVE) == alarm.stands
        else:
            assert alarm.state in HELD | WAITING
        if continuous:
            assert alarm.shelf is None or alarm.shelf.until_s > now.mono_s


@given(alarm_settings(), full_days, shelves_s, both_ways)
def test_out_of_service_is_left_by_a_person_only_and_a_shelf_at_its_end(conf, day, shelf_s, continuous):
    for now, what, before, after, fired in play(conf, day, shelf_s, continuous=continuous):
        if before.state is REMOVED and what is not Trigger.RESTORE:
            assert after.state is REMOVED
            assert fired == ()
        for one in fired:
            if one.happened == "unshelved" and one.cause is Cause.TIMER:
                assert before.shelf is not None
                assert before.shelf.until_s <= one.at.mono_s <= now.mono_s


@given(alarm_settings(), full_days, shelves_s, both_ways)
def test_an_occurrence_keeps_its_stamp_until_it_ends(conf, day, shelf_s, continuous):
    stamps, current = set(), None
    for _, _, _, alarm, fired in play(conf, day, shelf_s, continuous=continuous):
        for one in fired:
            if current is None and one.raised_utc_s is not None:
                stamps.add(one.raised_utc_s)
                current = one.raised_utc_s
                assert one.happened == "raised"
            assert one.raised_utc_s in (current, None)
            if one.happened == "cleared" or one.raised_utc_s is None:
                current = None
        current = alarm.raised_utc_s
        if alarm.state in ACTIVE | WAITING:
            assert alarm.raised_utc_s in stamps


@given(alarm_settings(), full_days, shelves_s, both_ways, st.data())
def test_a_restart_between_any_two_steps_changes_nothing(conf, day, shelf_s, continuous, data):
    cut = data.draw(st.integers(0, len(day)))
    alarm = Alarm()
    for _, _, _, alarm, _ in play(conf, day[:cut], shelf_s, continuous=continuous):  # noqa: B007  the last is used
        pass

    assert snapshot.read_alarms(snapshot.write_alarms({"PDAH-101": alarm})) == {"PDAH-101": alarm}


# Halves and quarters add up exactly in binary.
@given(alarm_settings(), full_days, shelves_s, st.sampled_from([2, 4]))
def test_looking_more_often_changes_nothing(conf, day, shelf_s, pieces):
    # What fell due unnoticed before a cause came happens under it: noticing it earlier is another day.
    day = [(passed_s, what) for passed_s, what in day if not is_a_cause(what)]
    whole = [(one.happened, round(one.at.mono_s, 6)) for *_, fired in play(conf, day, shelf_s) for one in fired]
    finer, seeing = [], Presence.BLIND
    for passed_s, what in day:
        finer += [(passed_s / pieces, seeing)] * (pieces - 1) + [(passed_s / pieces, what)]
        seeing = what if isinstance(what, Presence) else seeing
    fine = [(one.happened, round(one.at.mono_s, 6)) for *_, fired in play(conf, finer, shelf_s) for one in fired]

    assert fine == whole


@given(alarm_settings(), full_days, shelves_s, both_ways)
def test_normal_is_reached_when_the_process_is_normal_and_a_person_helps(conf, day, shelf_s, continuous):
    now, alarm = Instant(0.0, UTC), Alarm()
    for now, _, _, alarm, _ in play(conf, day, shelf_s, continuous=continuous):  # noqa: B007  the last is used
        pass
    help_out = [FREE, Presence.ABSENT, Trigger.UNSHELVE, Trigger.RESTORE, Trigger.ACKNOWLEDGE, Trigger.CLEAR]
    for what in [*help_out, *help_out]:
        now = Instant(now.mono_s + 1000.0, now.utc_s + 1000.0)
        alarm, _ = step(conf, alarm, what, now, shelf_s)

    assert alarm.state is NORMAL
    assert due_s(conf, alarm) == float("inf")


@given(alarm_settings(), full_days, shelves_s)
def test_what_a_person_asks_twice_is_done_once(conf, day, shelf_s):
    for now, _, _, alarm, _ in play(conf, day, shelf_s):
        for trigger in (Trigger.SHELVE, Trigger.UNSHELVE, Trigger.REMOVE, Trigger.RESTORE):
            once, _ = command(conf, alarm, trigger, now, note_for(trigger, now, shelf_s))
            if once.hold is not None or trigger is Trigger.RESTORE:
                continue  # what a design holds is asked again from where it holds it
            twice, fired = command(conf, once, trigger, now, note_for(trigger, now, shelf_s))
            assert (twice, fired) == (once, ())


@given(alarm_settings(), full_days, shelves_s, st.sampled_from([0.0, 1.0, 4.0]))
def test_between_two_readings_nothing_falls_due_but_the_end_of_a_shelf(conf, day, shelf_s, later_s):
    """However long after a reading: a command without a row, the same hold, and mere time leave all as it is."""
    now, alarm = Instant(0.0, UTC), Alarm()
    for now, what, _, alarm, _ in play(conf, day, shelf_s, continuous=False):
        if not isinstance(what, Presence):
            continue
        later = Instant(now.mono_s + later_s, now.utc_s + later_s)
        passed, fired = pass_time(conf, alarm, later, now.mono_s)
        if later.mono_s < shelf_end_s(alarm):
            assert (passed, fired) == (alarm, ())
        else:
            assert fired[0].happened == "unshelved"
        assert hold_between(conf, alarm, alarm.hold, now, now.mono_s)[1] == ()


@given(alarm_settings(), full_days, shelves_s, st.sampled_from([0.0, 1.0, 4.0]))
def test_a_pause_stops_every_clock_and_pausing_twice_is_pausing_once(conf, day, shelf_s, later_s):
    for now, _, _, alarm, _ in play(conf, day, shelf_s, continuous=False):
        paused = pause(alarm, now.mono_s)

        assert paused.blind
        assert all(timer is None or timer.since_s is None for timer in (paused.delay, paused.returned))
        assert pause(paused, now.mono_s + later_s) == paused
        assert (paused.state, paused.stands, paused.hold) == (alarm.state, alarm.stands, alarm.hold)


@given(alarm_settings(), full_days, shelves_s, both_ways)
def test_what_stood_before_its_shelf_and_stands_after_it_is_announced_again(conf, day, shelf_s, continuous):
    for _, _, before, after, fired in play(conf, day, shelf_s, continuous=continuous):
        if before.state is not SHELVED or after.state in HELD or not (before.stands and after.stands):
            continue
        assert [one.happened for one in fired][:2] == ["unshelved", "raised"]


def test_the_days_that_are_drawn_reach_every_state():
    """The laws above would hold of days on which nothing happens."""
    reached = set()

    @settings(derandomize=True)
    @given(alarm_settings(), full_days, shelves_s)
    def live(conf, day, shelf_s):
        reached.update(alarm.state for *_, alarm, _ in play(conf, day, shelf_s))

    live()

    assert reached == set(AlarmState)
