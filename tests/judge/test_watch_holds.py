"""Who is held back under whom in one collector: link over bad signal over its bands, high-high over high, fan."""

import math
from dataclasses import replace

import pytest

from monitor.judge.alarm import Alarm, Timer
from monitor.judge.calm import Bands, Seen
from monitor.judge.settings import AlarmSettings, Band, Side
from monitor.judge.table import Trigger
from monitor.judge.watch import begin, blinded, explains, hold_back, look, tell, wait
from monitor.words import AlarmState, Cause, Hold, HoldReason, Instant, Priority, Removal, Shelf

NORMAL, UNACK, ACKED = AlarmState.NORMAL, AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED
SUPPRESSED, SHELVED, REMOVED = AlarmState.SUPPRESSED_BY_DESIGN, AlarmState.SHELVED, AlarmState.OUT_OF_SERVICE
BAD, HH, H = "PDT-101-BAD", "PDAHH-101", "PDAH-101"
LINK, FAN = Hold(HoldReason.CONSEQUENCE, "LINE-1-LOST"), Hold(HoldReason.FAN_STOPPED)


def alarm(tag, causes, on_delay_s=2.0, off_delay_s=1.0):
    return AlarmSettings(
        tag=tag,
        priority=Priority.HIGH,
        on_delay_s=on_delay_s,
        off_delay_s=off_delay_s,
        latching=False,
        auto_clear_s=20.0,
        causes=causes,
    )


def band(settings, setpoint):
    return Band(alarm=settings, side=Side.ABOVE, setpoint_inh2o=setpoint, deadband_inh2o=0.5)


# The consequence stands before its cause, as it may in a site file.
BANDS = Bands(
    (band(alarm(H, (BAD, HH)), 7.0), band(alarm(HH, (BAD,)), 9.0)), alarm(BAD, (), on_delay_s=3.0, off_delay_s=0.0)
)
LOW, HIGH, HIGH_HIGH, NOTHING = 4.0, 7.5, 9.5, None


def at(mono_s):
    return Instant(float(mono_s), 1_700_000_000.0 + mono_s)


def seen(damped):
    return Seen(damped, None, None)


class Days:
    """One collector lived second by second; ``said`` keeps (second, tag, what happened)."""

    def __init__(self, bands=BANDS):
        self.bands, self.watch, self.said = bands, begin(bands, {}), []
        self.saw, self.looked_s = None, None

    def take(self, watch_and_fired):
        self.watch, fired = watch_and_fired
        self.said += [(one.at.mono_s, one.tag, one.happened) for one in fired]
        return self

    def read(self, damped, *seconds):
        for second in seconds:
            self.take(look(self.bands, self.watch, seen(damped), at(second), self.looked_s))
            self.saw, self.looked_s = damped, None if damped is None else float(second)
        return self

    def wait(self, second):
        return self.take(wait(self.bands, self.watch, seen(self.saw), at(second), self.looked_s))

    def held(self, second, **held):
        held = {tag.replace("_", "-"): hold for tag, hold in held.items()}
        return self.take(hold_back(self.bands, self.watch, held, seen(self.saw), at(second), self.looked_s))

    def tell(self, second, tag, trigger, note=None):
        return self.take(tell(self.bands, self.watch, tag, trigger, at(second), self.looked_s, note))

    def state(self, tag):
        return self.watch.alarms[tag].state

    def since(self, second):
        return [one for one in self.said if one[0] >= second]


def shelf(until_s):
    return Shelf(float(until_s), 0.0, "anna", "spare part is on its way", 0.0)


# ---------------------------------------------------------------- high-high over high


def test_high_high_is_announced_alone_and_first_though_both_come_at_once():
    days = Days().read(HIGH_HIGH, 0, 1, 2)

    assert days.said == [(2, HH, "raised"), (2, H, "suppressed")]
    assert days.watch.alarms[H].hold == Hold(HoldReason.CONSEQUENCE, HH)
    assert days.watch.alarms[H].stands


def test_a_high_that_was_announced_goes_under_the_high_high_and_comes_back_as_it_was():
    days = Days().read(HIGH, 0, 1, 2).read(HIGH_HIGH, 3, 4, 5).read(HIGH, 6, 7)

    assert days.said == [
        (2, H, "raised"),
        (5, HH, "raised"),
        (5, H, "suppressed"),
        (7, HH, "returned"),
        (7, H, "released"),
    ]
    assert days.state(H) is UNACK


def test_a_high_that_outlives_its_high_high_is_announced_within_its_on_delay():
    days = Days().read(HIGH_HIGH, 0, 1, 2).read(HIGH, 3, 4, 5, 6)

    assert days.since(4) == [(4, HH, "returned"), (4, H, "released"), (6, H, "raised")]


def test_a_high_that_goes_with_its_high_high_is_never_announced():
    days = Days().read(HIGH_HIGH, 0, 1, 2).read(LOW, 3, 4, 5)

    assert [one for one in days.said if one[1] == H] == [(2, H, "suppressed"), (4, H, "released")]


def test_a_shelved_high_high_still_explains_and_one_out_of_service_does_not():
    days = Days().read(HIGH_HIGH, 0, 1, 2).tell(3, HH, Trigger.SHELVE, shelf(100))
    assert days.state(H) is SUPPRESSED

    days.tell(4, HH, Trigger.REMOVE, Removal("ben", "being rebuilt", 0.0))
    assert days.since(4) == [(4, HH, "taken_out_of_service"), (4, H, "released")]

    days.read(HIGH_HIGH, 5, 6)
    assert days.since(5) == [(6, H, "raised")]

    days.tell(7, HH, Trigger.RESTORE)
    assert days.since(7) == [(7, HH, "returned_to_service"), (7, HH, "raised"), (7, H, "suppressed")]


# ---------------------------------------------------------------- the bad signal over its bands


def test_a_bad_signal_holds_its_bands_and_lets_them_go_as_they_were():
    days = Days().read(HIGH, 0, 1, 2).read(NOTHING, 3, 6)
    assert days.since(3) == [(6, BAD, "raised"), (6, HH, "suppressed"), (6, H, "suppressed")]

    days.read(HIGH, 7)
    assert days.since(7) == [(7, BAD, "returned"), (7, HH, "released"), (7, H, "released")]
    assert (days.state(H), days.state(HH)) == (UNACK, NORMAL)


def test_time_alone_finds_the_signal_bad():
    days = Days().read(LOW, 0).read(NOTHING, 1).wait(3.9).wait(4)

    assert days.said == [(4, BAD, "raised"), (4, HH, "suppressed"), (4, H, "suppressed")]


def test_nothing_is_calm_before_the_first_look():
    watch = begin(BANDS, {})

    assert (watch.due_s, watch.tick_due_s, watch.ranges) == (-math.inf, -math.inf, ())
    assert watch.alarms[H] == watch.alarms[HH] == Alarm(blind=True)
    assert watch.alarms[BAD] == Alarm()


def test_a_hold_before_the_first_look_keeps_everything_uncalm():
    watch, fired = hold_back(BANDS, begin(BANDS, {}), {H: FAN}, seen(None), at(0))

    assert [(one.tag, one.happened) for one in fired] == [(H, "suppressed")]
    assert (watch.due_s, watch.tick_due_s, watch.ranges, watch.held) == (-math.inf, -math.inf, (), {H: FAN})


# ---------------------------------------------------------------- from outside: the link, the fan


def test_a_lost_link_explains_the_bad_signal_and_that_explains_nothing_aloud():
    days = Days().read(LOW, 0).held(1, PDT_101_BAD=LINK).read(NOTHING, 2, 5)
    assert days.said == [(1, BAD, "suppressed"), (5, HH, "suppressed"), (5, H, "suppressed")]
    assert days.watch.alarms[H].hold == Hold(HoldReason.CONSEQUENCE, BAD)

    days.held(10)
    # Still bad, but explained until now: it has its on-delay first, and explains nothing meanwhile.
    assert days.since(10)[0] == (10, BAD, "released")
    assert {one[1:] for one in days.since(10)[1:]} == {(HH, "released"), (H, "released")}

    days.wait(13)
    assert days.since(13)[0] == (13, BAD, "raised")


def test_a_link_that_answers_again_at_once_is_never_followed_by_its_transmitters():
    days = Days().read(LOW, 0).held(1, PDT_101_BAD=LINK).read(NOTHING, 2, 5).held(10).read(LOW, 11, 12)

    assert [one for one in days.said if one[2] == "raised"] == []
    assert {days.state(tag) for tag in (BAD, HH, H)} == {NORMAL}


def test_a_stopped_fan_holds_what_it_is_told_to_hold_and_vouches_for_nothing_under_it():
    days = Days().read(HIGH_HIGH, 0, 1, 2).held(3, PDAHH_101=FAN)

    # Under a stopped fan the high-high means nothing, so it explains the high no longer.
    assert days.since(3) == [(3, HH, "suppressed"), (3, H, "released")]
    assert days.watch.alarms[HH].hold == FAN


def test_a_hold_from_outside_goes_before_a_cause():
    days = Days().read(HIGH_HIGH, 0, 1, 2).held(3, PDAH_101=FAN)

    assert days.watch.alarms[H].hold == FAN
    assert days.since(3) == []


def test_the_same_holds_again_change_nothing():
    days = Days().read(LOW, 0).held(1, PDAH_101=FAN)
    before = days.watch
    days.held(2, PDAH_101=FAN)

    assert days.watch is before


def test_a_hold_outside_ends_between_two_readings_and_the_on_delay_counts_from_there():
    days = Days().read(LOW, 0).held(1, PDAH_101=FAN).read(HIGH, 2, 9).held(9.5).read(HIGH, 10, 11, 11.5)

    assert days.since(9) == [(9.5, H, "released"), (11.5, H, "raised")]


@pytest.mark.parametrize(
    ("cause", "does"),
    [
        (Alarm(stands=True, state=UNACK), True),
        (Alarm(stands=True, state=SHELVED), True),
        (Alarm(stands=True, state=SUPPRESSED, hold=LINK), True),
        (Alarm(stands=True, state=SUPPRESSED, hold=FAN), False),
        (Alarm(stands=True, state=REMOVED), False),
        (Alarm(stands=False, state=NORMAL), False),
        (Alarm(stands=False, state=AlarmState.RETURNED_UNACKNOWLEDGED), False),
    ],
)
def test_what_stands_and_is_meant_explains(cause, does):
    assert explains(cause) is does


# ---------------------------------------------------------------- people, shelves, restarts, order


def test_a_person_reaches_no_alarm_that_is_not_there():
    with pytest.raises(KeyError):
        tell(BANDS, begin(BANDS, {}), "PDAH-999", Trigger.ACKNOWLEDGE, at(0))


def test_after_a_command_everything_is_looked_at_again():
    days = Days().read(HIGH, 0, 1, 2).tell(3, H, Trigger.ACKNOWLEDGE)

    assert days.state(H) is ACKED
    assert (days.watch.due_s, days.watch.tick_due_s, days.watch.ranges) == (-math.inf, -math.inf, ())


def test_a_command_counts_for_a_band_only_what_the_last_look_saw():
    days = Days().read(HIGH, 0, 1, 2).read(LOW, 3).tell(50, H, Trigger.ACKNOWLEDGE)

    assert days.since(3) == [(50, H, "acknowledged")]
    assert days.watch.alarms[H].delay == Timer(0.0, 3.0)


def test_a_command_to_the_bad_signal_counts_up_to_its_moment():
    days = Days().read(LOW, 0, 2).read(NOTHING, 2).tell(3, BAD, Trigger.ACKNOWLEDGE).wait(4.9).wait(5)
    days.looked_s = 2.0
    days.tell(6, BAD, Trigger.ACKNOWLEDGE)

    assert [one for one in days.said if one[1] == BAD] == [(5, BAD, "raised"), (6, BAD, "acknowledged")]


def test_a_command_that_ends_a_cause_lets_its_consequences_go():
    removal = Removal("ben", "being rebuilt", 0.0)
    days = Days().read(LOW, 0).read(NOTHING, 1, 4).tell(5, BAD, Trigger.REMOVE, removal)

    assert days.since(5)[0] == (5, BAD, "taken_out_of_service")
    assert {one[1:] for one in days.since(5)[1:]} == {(HH, "released"), (H, "released")}


def test_a_shelf_ends_by_time_alone_at_the_next_tick():
    days = Days().read(HIGH, 0, 1, 2).tell(3, H, Trigger.SHELVE, shelf(20)).read(HIGH, 4).wait(19.9).wait(20)

    assert days.since(3) == [(3, H, "shelved"), (20, H, "unshelved"), (20, H, "raised")]


def test_a_shelf_of_the_bad_signal_ends_by_time_alone_too():
    days = Days().read(LOW, 0).tell(1, BAD, Trigger.SHELVE, shelf(20)).read(LOW, 2).wait(20)

    assert days.since(1) == [(1, BAD, "shelved"), (20, BAD, "unshelved")]


def test_what_fell_due_earlier_is_told_earlier():
    days = Days().read(HIGH, 0, 1, 2).tell(3, BAD, Trigger.SHELVE, shelf(9)).tell(3, H, Trigger.SHELVE, shelf(8))
    _, fired = look(BANDS, days.watch, seen(LOW), at(20), 2.0)

    assert [(one.at.mono_s, one.tag) for one in fired] == [(8, H), (8, H), (9, BAD)]


def test_a_look_after_too_long_counts_nothing_of_the_time_between():
    days = Days().read(HIGH, 0)
    days.watch = blinded(BANDS, days.watch, 0.0)
    days.looked_s = None
    days.read(HIGH, 100, 101)

    assert days.said == []
    assert days.read(HIGH, 102).said == [(102, H, "raised")]


def test_blinded_stops_the_clocks_of_every_band_and_no_other():
    days = Days().read(HIGH_HIGH, 0, 1)
    watch = blinded(BANDS, days.watch, 0.5)

    assert watch.alarms[H].delay == watch.alarms[HH].delay == Timer(0.5, None)
    assert watch.alarms[BAD] == days.watch.alarms[BAD]
    assert (watch.due_s, watch.tick_due_s, watch.ranges, watch.held) == (-math.inf, -math.inf, (), days.watch.held)


def test_what_held_an_alarm_from_outside_is_remembered_and_what_a_cause_held_is_found_again():
    outside = Alarm(state=SUPPRESSED, hold=FAN)
    by_cause = Alarm(state=SUPPRESSED, hold=Hold(HoldReason.CONSEQUENCE, HH))
    by_link = Alarm(state=SUPPRESSED, hold=LINK)

    watch = begin(BANDS, {H: outside, HH: by_cause, BAD: by_link, "PDAL-1": Alarm()})

    assert watch.held == {H: FAN, BAD: LINK}
    assert (watch.alarms[HH], watch.alarms[BAD]) == (by_cause, by_link)
    assert "PDAL-1" not in watch.alarms


def test_a_cause_that_the_site_file_no_longer_has_holds_nothing():
    high, _ = BANDS.bands
    days = Days(Bands((replace(high, alarm=replace(high.alarm, causes=(BAD, "PDAHHH-101"))),), BANDS.bad_signal))

    assert days.read(HIGH, 0, 1, 2).said == [(2, H, "raised")]


def test_every_transition_of_the_design_says_by_whom():
    watch = begin(BANDS, {})
    fired = []
    for second in (0, 1, 2):
        watch, done = look(BANDS, watch, seen(HIGH_HIGH), at(second), float(max(0, second - 1)))
        fired += done

    assert [(one.cause, one.note) for one in fired] == [
        (Cause.PROCESS, None),
        (Cause.DESIGN, Hold(HoldReason.CONSEQUENCE, HH)),
    ]


def test_without_a_look_before_the_moment_of_the_step_is_meant():
    before = Days().read(HIGH, 0).watch
    looked, _ = look(BANDS, before, seen(LOW), at(5))
    shelved, _ = tell(BANDS, before, H, Trigger.SHELVE, at(5), None, shelf(9))
    ended, fired = wait(BANDS, shelved, seen(HIGH), at(9))
    held, _ = hold_back(BANDS, before, {H: LINK}, seen(HIGH), at(5))

    assert looked.alarms[H].delay is None
    assert shelved.alarms[H].delay == Timer(5.0, 5.0)
    assert [one.happened for one in fired] == ["unshelved"]
    assert ended.alarms[H].delay == Timer(9.0, 9.0)
    assert held.alarms[H].delay == Timer(5.0, 5.0)


def test_a_hold_between_two_readings_counts_for_a_band_only_what_the_last_look_saw():
    before = Days().read(HIGH, 0).watch
    explained, _ = hold_back(BANDS, before, {H: LINK}, seen(HIGH), at(5), 1.0)
    _, fired = hold_back(BANDS, before, {H: FAN}, seen(HIGH), at(5), 0.0)

    assert explained.alarms[H].delay == Timer(1.0, 1.0)
    # Its on-delay of two seconds is over, if anybody had looked.
    assert [one.happened for one in fired] == ["suppressed"]


def test_a_hold_counts_for_the_bad_signal_up_to_its_moment():
    before = Days().read(LOW, 0).read(NOTHING, 1).watch
    _, fired = hold_back(BANDS, before, {BAD: FAN}, seen(NOTHING), at(5), 0.0)

    assert [(one.at.mono_s, one.happened) for one in fired if one.tag == BAD] == [(4, "raised"), (5, "suppressed")]


def test_a_command_counts_for_the_bad_signal_up_to_its_moment():
    before = Days().read(LOW, 0).read(NOTHING, 1).watch
    watch, _ = tell(BANDS, before, BAD, Trigger.SHELVE, at(3), 0.0, shelf(9))

    assert watch.alarms[BAD].delay == Timer(2.0, 3.0)
