"""What becomes of a message whose channel fails: tries, the next channel, the next person; and restarts."""

import pytest

from monitor.tell.phone import relay
from monitor.tell.phone.message import MessageKind, Sent
from monitor.tell.phone.settings import Person
from monitor.words import Priority
from tests.tell.phone.relay_story import Story, person, settings, step

ANNA_THEN_BEN = (step(0, "anna"), step(600, "ben"))
URGENT = Priority.URGENT


def attempts(story, since_s=0.0):
    return [(second, one.person, one.channel) for second, one in story.offered if second >= since_s]


def two(**more):
    return settings(person("anna", "push", "mail"), person("ben"), steps=ANNA_THEN_BEN, **more)


class TestFailures:
    def test_a_channel_is_tried_with_doubling_pauses_then_the_next(self):
        story = Story(two())
        story.dead = {("anna", "push")}
        story.raised(priority=URGENT)
        story.until(500)
        assert attempts(story) == [
            (0.0, "anna", "push"),
            (5.5, "anna", "push"),
            (16.0, "anna", "push"),
            (16.5, "anna", "mail"),
        ]
        assert {one.ref for _, one in story.offered} == {story.offered[0][1].ref}
        assert [one.attempt for _, one in story.offered] == [1, 2, 3, 4]

    def test_after_all_channels_the_next_step_comes_at_once(self):
        story = Story(two())
        story.dead = {("anna", "push"), ("anna", "mail")}
        story.raised(priority=URGENT)
        story.until(500)
        assert [second for second, name, _ in attempts(story) if name == "ben"] == [33.0]
        assert story.kinds() == ["escalation"]

    def test_when_nobody_can_be_reached_it_is_said_and_tried_on_until_somebody_is(self):
        story = Story(two())
        story.dead = {("anna", "push"), ("anna", "mail"), ("ben", "push")}
        story.raised(priority=URGENT)
        story.until(3000)
        assert relay.unreached(story.state) == (
            "nobody could be reached for PDAH-101 (DC-101, urgent): tried anna, ben; last: down"
        )
        assert story.happenings().count("nobody_reached") == 1
        story.dead = {("anna", "push"), ("anna", "mail")}
        story.until(3000 + 301)
        assert (relay.unreached(story.state), story.kinds()) == ("", ["escalation"])
        assert story.happenings()[-2:] == ["notified", "reached_again"]

    def test_nobody_reached_ends_with_the_acknowledgement(self):
        story = Story()
        story.dead = {("anna", "push")}
        story.raised()
        story.until(1000).acknowledged(by="ben")
        assert relay.unreached(story.state) == ""
        count = len(story.offered)
        assert len(story.until(5000).offered) == count

    def test_a_dead_channel_costs_the_full_tries_once_and_not_every_message_anew(self):
        story = Story(settings(person("anna", "push", "mail"), flood_messages=100))
        story.dead = {("anna", "push")}
        for number in range(30):
            story.until(number * 20).raised(f"PDAH-{number}", f"DC-{number}", priority=URGENT)
        story.until(700)
        assert len(story.told()) == 30
        pushes = [second for second, _, channel in attempts(story) if channel == "push"]
        assert len(pushes) <= 3 + 7
        late = [second - 20 * (int(one.alarms[0].tag[5:])) for second, one in story.got]
        assert max(late[3:]) <= 1.5

    def test_a_channel_that_works_again_takes_what_waits_at_once(self):
        story = Story(settings(flood_messages=100))
        story.dead = {("anna", "push")}
        for number in range(10):
            story.raised(f"PDAH-{number}", f"DC-{number}", priority=URGENT)
        story.until(1000).dead.clear()
        story.until(1300)
        seconds = [second for second, _ in story.got]
        assert len(seconds) == 10
        assert max(seconds) - min(seconds) <= 10 * 0.5

    def test_a_hanging_channel_holds_neither_another_channel_nor_another_person(self):
        story = Story(settings(person("anna", "push"), person("ben")))
        story.gateway = lambda one, now_s: Sent(one.person == "ben", 10.0 if one.person == "anna" else 0.1, "")
        for number in range(8):
            story.until(number * 2).raised(f"PDAH-{number}", f"DC-{number}", priority=URGENT)
        story.until(20)
        assert [round(second - 2 * int(one.alarms[0].tag[5:]), 1) for second, one in story.got] == [0.1] * 8

    def test_one_message_at_a_time_is_on_its_way_through_a_channel(self):
        story = Story(settings(flood_messages=100))
        story.took_s = 3.0
        for number in range(5):
            story.raised(f"PDAH-{number}", f"DC-{number}", priority=URGENT)
        assert [second for second, _, _ in attempts(story.until(100))] == [0.0, 3.0, 6.0, 9.0, 12.0]

    def test_the_most_urgent_goes_first_where_messages_wait(self):
        story = Story()
        story.took_s = 10.0
        story.raised("PDAH-1", "DC-1", priority=Priority.LOW)
        story.raised("PDAH-2", "DC-2", priority=Priority.LOW)
        story.until(16).raised("PDAH-3", "DC-3", priority=URGENT)
        assert [tags for _, _, tags in story.until(100).told()] == [("PDAH-1",), ("PDAH-3",), ("PDAH-2",)]

    def test_a_notice_is_given_up_at_last(self):
        story = Story(settings(person("anna"), person("ben")))
        story.raised()
        story.until(100).dead = {("ben", "push")}
        story.acknowledged(by="anna")
        story.until(5000)
        assert story.state.boxes["ben"].errands == {}


class TestRestart:
    def test_what_was_on_its_way_is_offered_again_under_the_same_ref(self):
        story = Story()
        story.raised()
        story.until(15.2)
        assert [one.attempt for _, one in story.offered] == [1]
        story.killed()
        (_, first), (_, second) = story.offered
        assert (second.ref, second.attempt, second.alarms) == (first.ref, 2, first.alarms)

    def test_from_nothing_the_same_events_make_the_same_ref(self):
        story = Story()
        story.raised("PDAH-101")
        story.raised("PDAHH-101")
        story.until(60).killed(written=False)
        story.until(120)
        assert len(story.got) == 2
        assert len({one.ref for _, one in story.got}) == 1

    def test_steps_and_reminders_go_on(self):
        story = Story(two())
        story.raised()
        story.until(300).killed()
        assert story.until(601).kinds() == ["alarm", "escalation"]

    def test_who_got_a_message_at_the_moment_of_the_end_hears_of_the_acknowledgement(self):
        story = Story()
        story.took_s = 8.0
        story.raised()
        story.until(18).acknowledged(by="ben")
        story.killed()
        assert story.until(100).kinds() == ["acknowledged"]

    def test_who_is_gone_is_called_no_more_and_others_are(self):
        story = Story(two())
        story.dead = {("anna", "push"), ("anna", "mail")}
        story.raised()
        story.until(20)
        story.settings = settings(person("ben"), route={"name": "new"})
        count = len(story.offered)
        story.killed().until(100)
        assert {one.person for _, one in story.offered[count:]} == {"ben"}
        assert story.told() == [("ben", MessageKind.ALARM, ("PDAH-101",))]

    def test_without_a_route_that_fits_nobody_is_called_any_more(self):
        story = Story()
        story.raised()
        story.until(20).settings = settings(routes=())
        story.killed()
        assert (story.until(5000).kinds(), story.state.callouts) == (["alarm"], {})

    def test_the_texts_hold_everything(self):
        story = Story(two(route={"returns": True}))
        story.dead = {("anna", "push")}
        story.raised("PDAH-101")
        story.raised("UA-L2", link="L2")
        story.until(18)
        again = relay.whole(relay.parts(story.state))
        assert relay.parts(again) == relay.parts(story.state)
        assert (again.callouts, again.lanes, again.seq) == (
            story.state.callouts,
            story.state.lanes,
            story.state.seq,
        )
        assert (again.by_tag, again.by_cause) == (story.state.by_tag, story.state.by_cause)
        assert {name: box.errands for name, box in again.boxes.items()} == {
            name: box.errands for name, box in story.state.boxes.items() if box.errands
        }

    def test_only_what_changed_is_written_and_what_is_over_is_removed(self):
        story = Story()
        story.raised("PDAH-101")
        story.raised("PDAH-102", "DC-102")
        story.until(20)
        before = story.state
        story.acknowledged("PDAH-101", by="anna")
        written = relay.changes(before, story.state)
        assert set(written) == {"phone", "phone/callout/r-1"}
        assert written["phone/callout/r-1"] is None

    @pytest.mark.parametrize(
        "texts", [{"phone": "{"}, {"phone": '{"seq": "x"}'}, {"phone/callout/x": '{"key": "x"}'}, {"phone": "[]"}]
    )
    def test_texts_that_cannot_be_understood_are_refused(self, texts):
        with pytest.raises(ValueError):
            relay.whole(texts)

    def test_what_a_later_version_added_is_passed_over(self):
        story = Story()
        story.raised()
        texts = relay.parts(story.state)
        newer = {key: text[:-1] + ',"colour":"red"}' for key, text in texts.items()}
        assert relay.whole(newer).callouts == story.state.callouts


def test_figures_count_what_is_open_and_what_waits():
    story = Story(settings(person("anna"), person("ben")))
    story.dead = {("anna", "push")}
    story.raised()
    story.until(115)
    assert relay.figures(story.state, story.now) == (1, 1, 100.0, 0)


def test_beyond_the_most_callouts_the_oldest_is_ended_and_that_is_journaled(monkeypatch):
    monkeypatch.setattr(relay, "MOST_CALLOUTS", 3)
    story = Story()
    for number in range(5):
        story.until(number).raised(f"PDAH-{number}", f"DC-{number}")
    story.until(100)
    assert [one.facts["tags"] for one in story.events if one.happened == "callout_given_up"] == [
        "PDAH-0",
        "PDAH-1",
    ]
    assert len(story.state.callouts) == 3


def test_a_person_without_channels_gives_way_to_the_next():
    story = Story(settings(Person(name="anna", channels=()), person("ben"), steps=ANNA_THEN_BEN))
    story.raised(priority=URGENT)
    assert story.until(1).kinds() == ["escalation"]
