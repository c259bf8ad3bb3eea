"""Quiet hours, floods, and the hours at which all is well: who is left in peace, and what that may never cost."""

from datetime import UTC, datetime

import pytest

from monitor.tell.phone import relay
from monitor.tell.phone.message import MessageKind
from monitor.tell.phone.settings import AllWell, Span
from monitor.words import Priority
from tests.tell.phone.relay_story import NOON_UTC_S, Story, person, settings, step

HOUR = 3600
URGENT = Priority.URGENT
#: From 12:00 to 13:00; the stories begin at 12:00.
LUNCH = (Span(from_s=12 * HOUR, until_s=13 * HOUR),)


class TestQuietHours:
    def test_what_is_not_urgent_waits_for_their_end(self):
        story = Story(settings(person("anna", quiet=LUNCH)))
        story.raised()
        assert (story.until(HOUR - 1).kinds(), relay.unreached(story.state)) == ([], "")
        assert story.until(HOUR + 1).kinds() == ["alarm"]

    def test_what_is_urgent_does_not(self):
        story = Story(settings(person("anna", quiet=LUNCH)))
        story.raised(priority=URGENT)
        assert story.until(1).kinds() == ["alarm"]

    def test_an_urgent_alarm_takes_along_what_waits(self):
        story = Story(settings(person("anna", quiet=LUNCH)))
        story.raised()
        story.until(100).raised("PDAHH-101", priority=URGENT)
        assert story.until(101).told() == [("anna", MessageKind.ALARM, ("PDAHH-101", "PDAH-101"))]

    def test_what_is_answered_meanwhile_is_not_told_at_their_end(self):
        story = Story(settings(person("anna", quiet=LUNCH)))
        story.raised()
        story.until(100).acknowledged(by="ben")
        assert story.until(3 * HOUR).kinds() == []

    def test_what_came_meanwhile_is_one_message_for_one_cause(self):
        story = Story(settings(person("anna", quiet=LUNCH)))
        for number in range(5):
            story.until(number * 300).raised(f"PDAH-{number}")
        assert [len(tags) for _, _, tags in story.until(HOUR + 10).told()] == [5]

    def test_the_next_step_comes_at_its_time(self):
        own = settings(person("anna", quiet=LUNCH), person("ben"), steps=(step(0, "anna"), step(600, "ben")))
        story = Story(own)
        story.raised()
        assert [(one.person, second) for second, one in story.until(900).got] == [("ben", 600.5)]

    def test_who_sleeps_is_no_hope_for_another_who_cannot_be_reached(self):
        own = settings(
            person("anna"),
            person("ben", quiet=LUNCH),
            person("carl"),
            steps=(step(0, "anna", "ben"), step(3000, "carl")),
        )
        story = Story(own)
        story.dead = {("anna", "push")}
        story.raised()
        assert story.until(100).kinds("carl") == ["escalation"]

    @pytest.mark.parametrize(("priority", "kinds"), [(URGENT, ["alarm", "acknowledged"]), (Priority.HIGH, [])])
    def test_that_an_urgent_alarm_is_acknowledged_is_told_at_once(self, priority, kinds):
        story = Story(settings(person("anna", quiet=LUNCH)))
        story.raised(priority=priority)
        story.until(100).acknowledged(by="ben")
        assert story.until(200).kinds() == kinds

    def test_a_notice_of_what_was_told_before_waits(self):
        night = (Span(from_s=12 * HOUR + 60, until_s=13 * HOUR),)
        story = Story(settings(person("anna", quiet=night)))
        story.raised()
        story.until(100).acknowledged(by="ben")
        assert story.until(HOUR - 1).kinds() == ["alarm"]
        assert story.until(HOUR + 1).kinds() == ["alarm", "acknowledged"]


def storm(story, number, every_s=1.0, priority=Priority.HIGH, first=0):
    for one in range(first, first + number):
        story.raised(f"PDAH-{one}", f"DC-{one}", priority=priority)
        story.after(every_s)


class TestFlood:
    def own(self, **more):
        return settings(person("anna"), flood_messages=4, flood_window_s=600.0, route={"repeat_s": None}, **more)

    def test_what_is_beyond_is_put_together_with_a_count_when_the_window_allows(self):
        story = Story(self.own())
        storm(story, 20)
        story.until(500)
        assert story.kinds() == ["alarm"] * 4
        story.until(700)
        assert story.kinds() == ["alarm"] * 4 + ["held_back"]
        second, last = story.got[-1]
        assert (second, len(last.alarms), last.held_back) == (615.5, 5, 11)
        assert story.delivered_ids() == {event.event_id for event in story.taken}
        assert relay.figures(story.state, story.now).held_back == 16
        assert [one.facts["count"] for one in story.events if one.happened == "held_back_told"] == [16]

    def test_the_most_urgent_are_told_one_by_one(self):
        story = Story(self.own())
        storm(story, 10, priority=Priority.LOW)
        storm(story, 2, first=10)
        story.until(1500)
        held = [one for _, one in story.got if one.kind is MessageKind.HELD_BACK]
        assert [alarm.tag for alarm in held[0].alarms][:2] == ["PDAH-10", "PDAH-11"]

    def test_an_urgent_alarm_is_never_held_back(self):
        story = Story(self.own())
        storm(story, 20)
        story.raised("PDAHH-1", "DC-X", priority=URGENT)
        assert story.after(2).told()[-1] == ("anna", MessageKind.ALARM, ("PDAHH-1",))

    def test_what_is_answered_meanwhile_is_not_told(self):
        story = Story(self.own())
        storm(story, 20)
        for number in range(6, 20):
            story.acknowledged(f"PDAH-{number}", by="ben")
        story.until(2000)
        assert [one.tag for one in story.got[-1][1].alarms] == ["PDAH-4", "PDAH-5"]

    def test_an_urgent_alarm_that_is_repeated_often_does_not_keep_the_others_back(self):
        story = Story(settings(person("anna"), flood_messages=1, route={"repeat_s": 60.0}))
        story.raised("PDAHH-1", "DC-1", priority=URGENT)
        low = story.until(100).raised("PDAH-2", "DC-2", priority=Priority.LOW)
        assert low in story.until(200).delivered_ids()

    def test_a_single_one_is_told_as_it_is(self):
        story = Story(self.own())
        storm(story, 5)
        assert story.until(700).kinds() == ["alarm"] * 5

    def test_the_held_back_alarms_are_reminded_of_and_answered_like_others(self):
        story = Story(settings(person("anna"), flood_messages=2, route={"repeat_s": 3000.0}))
        storm(story, 6)
        story.until(800)
        assert story.kinds() == ["alarm", "alarm", "held_back"]
        for number in range(6):
            story.acknowledged(f"PDAH-{number}", by="ben")
        story.until(900)
        assert story.kinds("anna")[3:] == ["acknowledged"] * 2
        story.until(1600)
        assert story.kinds("anna")[3:] == ["acknowledged"] * 3
        assert len(story.got[-1][1].alarms) == 4


class TestAllWell:
    def own(self, *hours, **more):
        them = more.pop("them", (person("anna"),))
        return settings(
            *them, all_well=AllWell(at_s=tuple(int(one * HOUR) for one in hours), people=("anna",)), **more
        )

    def test_it_is_told_once_at_each_hour(self):
        story = Story(self.own(13, 18))
        story.until(0.1).until(24 * HOUR)
        assert [(round(second / HOUR, 1), one.kind) for second, one in story.got] == [
            (1.0, MessageKind.ALL_WELL),
            (6.0, MessageKind.ALL_WELL),
        ]

    def test_not_again_after_a_restart(self):
        story = Story(self.own(13))
        story.until(HOUR + 5).killed()
        story.until(HOUR + 10).killed()
        assert story.until(2 * HOUR).kinds() == ["all_well"]

    def test_not_at_the_first_start(self):
        story = Story(self.own(12))
        assert story.until(HOUR).kinds() == []

    @pytest.mark.parametrize(("down_h", "kinds"), [(0.5, ["all_well"]), (1.5, [])])
    def test_late_but_not_too_late_after_the_daemon_was_down(self, down_h, kinds):
        story = Story(self.own(13))
        story.until(HOUR - 10)
        story.utc_s += down_h * HOUR
        story.killed()
        assert story.after(20).kinds() == kinds

    @pytest.mark.parametrize(("month", "day", "hour"), [(3, 29, 2.5), (10, 25, 2.5), (3, 29, 3), (10, 25, 2)])
    def test_once_in_the_night_in_which_the_clock_is_changed(self, month, day, hour):
        evening = datetime(2026, month, day, tzinfo=UTC).timestamp() - 6 * HOUR
        story = Story(self.own(hour, time_zone="Europe/Berlin"), utc_s=evening)
        assert story.until(18 * HOUR).kinds() == ["all_well"]

    def test_a_clock_that_is_set_back_a_year_does_not_silence_it(self):
        story = Story(self.own(13))
        story.until(2 * HOUR)
        story.utc_s -= 365 * 86400
        assert story.until(50 * HOUR).kinds() == ["all_well"] * 3

    def test_who_is_quiet_is_not_told_afterwards(self):
        story = Story(self.own(12.5, them=(person("anna", quiet=LUNCH),)))
        assert story.until(5 * HOUR).kinds() == []


def test_the_stories_begin_at_noon():
    assert NOON_UTC_S % 86400 == 12 * HOUR
