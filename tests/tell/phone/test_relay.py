"""Who is called when, and when it stops: callouts, steps, reminders, acknowledgements, returns."""

import pytest

from monitor.tell.phone import relay
from monitor.tell.phone.message import MessageKind
from monitor.tell.phone.settings import Rota, Route, Shift, Span
from monitor.tell.phone.taking import COMEBACK_S
from monitor.troubles import Suspicion, Trouble
from monitor.words import AlarmState, Cause, EventKind, Priority
from tests.tell.phone.relay_story import Story, person, settings, step

ANNA_THEN_BEN = (step(0, "anna"), step(600, "ben"))
URGENT, HIGH, LOW = Priority.URGENT, Priority.HIGH, Priority.LOW


def two(**more):
    return settings(person("anna"), person("ben"), steps=ANNA_THEN_BEN, **more)


def likely(trouble):
    return (Suspicion(trouble, 0.7),)


class TestOneMessageForOneCause:
    def test_alarms_of_one_collector_that_come_together_are_one_message(self):
        story = Story()
        story.raised("PDAH-101")
        story.until(10).raised("PDAHH-101")
        story.until(100)
        assert story.told() == [("anna", MessageKind.ALARM, ("PDAH-101", "PDAHH-101"))]
        assert story.got[0][0] == 15.5

    def test_an_urgent_alarm_waits_for_nothing_and_takes_along_what_was_gathered(self):
        story = Story()
        story.raised("PDAH-101")
        story.until(3).raised("PDAHH-101", priority=URGENT)
        story.until(4)
        assert story.told() == [("anna", MessageKind.ALARM, ("PDAHH-101", "PDAH-101"))]

    def test_what_follows_an_urgent_alarm_joins_it_and_is_told_after_the_gathering(self):
        story = Story()
        story.raised("PDAHH-101", priority=URGENT)
        story.until(5).raised("PDAH-101")
        story.until(100)
        assert [(second, kind) for (second, _), kind in zip(story.got, story.kinds(), strict=True)] == [
            (0.5, "alarm"),
            (20.5, "more"),
        ]

    def test_a_more_urgent_alarm_is_told_at_once_to_those_already_called(self):
        story = Story(settings(person("anna"), person("ben")))
        story.raised("PDAH-101", priority=LOW)
        story.until(100).raised("PDAHH-101")
        story.until(101)
        assert story.told()[2:] == [(name, MessageKind.MORE, ("PDAHH-101",)) for name in ("anna", "ben")]

    def test_alarms_of_different_collectors_are_told_each_by_itself(self):
        story = Story()
        story.raised("PDAH-101")
        story.raised("PDAH-201", "DC-201")
        story.until(100)
        assert len(story.told()) == 2

    @pytest.mark.parametrize(
        ("trouble", "other", "messages"),
        [
            (Trouble.HEADER_PRESSURE_LOST, "DC-102", 1),
            (Trouble.HEADER_PRESSURE_LOST, "DC-201", 2),
            (Trouble.FAN_STOPPED, "DC-102", 1),
            (Trouble.LOOP_OPEN, "DC-102", 1),
            (Trouble.GATEWAY_FROZEN, "DC-102", 1),
            (Trouble.GATEWAY_FROZEN, "DC-201", 2),
            (Trouble.TORN_BAG, "DC-102", 2),
        ],
    )
    def test_a_trouble_that_strikes_many_at_once_is_told_once(self, trouble, other, messages):
        story = Story()
        story.raised("PDAH-101", suspicions=likely(trouble))
        story.raised("PDAH-102", other, suspicions=likely(trouble))
        story.until(100)
        assert len(story.told()) == messages

    def test_alarms_behind_a_lost_link_join_its_alarm_while_it_stands(self):
        story = Story()
        story.raised("UA-L1", link="L1")
        story.until(5).raised("XA-101")
        story.raised("XA-201", "DC-201")
        story.until(100)
        assert [tags for _, _, tags in story.told()] == [("UA-L1", "XA-101"), ("XA-201",)]

    def test_consequences_are_counted_with_their_cause_and_never_told(self):
        story = Story()
        story.raised("UA-L1", link="L1")
        for tag in ("XA-101", "XA-102"):
            story.happened("suppressed", tag, facts={"why": "consequence", "under": "UA-L1"})
        story.happened(
            "released", "XA-102", facts={"why": "consequence", "under": "UA-L1"}, state=AlarmState.NORMAL
        )
        story.until(100)
        assert [(alarm.tag, alarm.explains) for alarm in story.got[0][1].alarms] == [("UA-L1", 1)]

    def test_alarms_of_different_routes_are_never_in_one_message(self):
        routes = (
            Route(name="bad", priorities=frozenset({URGENT}), steps=(step(0, "anna"),)),
            Route(name="rest", steps=(step(0, "ben"),)),
        )
        story = Story(settings(person("anna"), person("ben"), routes=routes))
        story.raised("PDAH-101")
        story.raised("PDAHH-101", priority=URGENT)
        story.until(100)
        assert sorted(story.told()) == [
            ("anna", MessageKind.ALARM, ("PDAHH-101",)),
            ("ben", MessageKind.ALARM, ("PDAH-101",)),
        ]


class TestWhoIsCalled:
    def test_the_next_step_comes_when_nobody_answers_and_says_who_was_called(self):
        story = Story(two())
        story.raised()
        story.until(601)
        assert story.told() == [
            ("anna", MessageKind.ALARM, ("PDAH-101",)),
            ("ben", MessageKind.ESCALATION, ("PDAH-101",)),
        ]
        assert story.got[1][1].called_before == ("anna",)

    def test_everybody_called_so_far_is_reminded(self):
        story = Story(two(route={"repeat_s": 900.0}))
        story.raised()
        story.until(15 + 2 * 900 + 1)
        assert story.kinds("anna") == ["alarm", "reminder", "reminder"]
        assert story.kinds("ben") == ["escalation", "reminder", "reminder"]

    def test_without_repetition_nobody_is_reminded(self):
        story = Story(two(route={"repeat_s": None}))
        story.raised()
        story.until(10_000)
        assert story.kinds() == ["alarm", "escalation"]

    @pytest.mark.parametrize(
        ("route", "event", "fits"),
        [
            ({}, {}, True),
            ({"priorities": frozenset({URGENT})}, {}, False),
            ({"priorities": frozenset({HIGH})}, {}, True),
            ({"areas": frozenset({"mill"})}, {}, True),
            ({"areas": frozenset({"yard"})}, {}, False),
            ({"collectors": frozenset({"DC-101"})}, {}, True),
            ({"areas": frozenset({"yard"}), "collectors": frozenset({"DC-101"})}, {}, True),
            ({"areas": frozenset({"yard"}), "collectors": frozenset({"DC-102"})}, {}, False),
            ({"areas": frozenset({"mill"})}, {"link": "L1"}, True),
            ({"areas": frozenset({"mill"})}, {"link": "L2"}, False),
            ({"collectors": frozenset({"DC-201"})}, {"link": "L2"}, True),
            ({}, {"link": "L9"}, True),
            ({"areas": frozenset({"mill"})}, {"collector": "DC-999"}, False),
        ],
    )
    def test_a_route_fits_by_priority_and_place(self, route, event, fits):
        story = Story(settings(person("anna"), route=route))
        story.raised(**event)
        assert bool(story.until(100).told()) is fits

    def test_the_first_route_that_fits_counts(self):
        routes = (Route(name="one", steps=(step(0, "ben"),)), Route(name="two", steps=(step(0, "anna"),)))
        story = Story(settings(person("anna"), person("ben"), routes=routes))
        story.raised()
        assert [name for name, _, _ in story.until(100).told()] == ["ben"]

    def test_the_rota_is_asked_at_the_moment_of_the_step(self):
        rota = Rota(
            name="r",
            shifts=(
                Shift(span=Span(from_s=0, until_s=12 * 3600 + 300), people=("anna",)),
                Shift(span=Span(from_s=12 * 3600 + 300, until_s=0), people=("ben",)),
            ),
        )
        own = settings(
            person("anna"),
            person("ben"),
            steps=(step(0, rotas=("r",)), step(600, rotas=("r",))),
            rotas={"r": rota},
        )
        story = Story(own)
        story.raised()
        assert [name for name, _, _ in story.until(700).told()] == ["anna", "ben"]

    def test_a_step_without_anybody_gives_way_to_the_next_at_once(self):
        story = Story(settings(person("anna"), steps=(step(0, rotas=("none",)), step(600, "anna"))))
        story.raised()
        assert story.until(20).kinds() == ["alarm"]

    def test_where_nobody_is_on_duty_the_alarm_is_unreached_until_somebody_is(self):
        rota = Rota(name="r", shifts=(Shift(span=Span(from_s=13 * 3600, until_s=0), people=("anna",)),))
        story = Story(settings(person("anna"), steps=(step(0, rotas=("r",)),), rotas={"r": rota}))
        story.raised()
        story.until(3500)
        assert relay.unreached(story.state) == (
            "nobody could be reached for PDAH-101 (DC-101, high): nobody is on duty by its route"
        )
        story.until(3661)
        assert (story.kinds(), relay.unreached(story.state)) == (["alarm"], "")

    def test_the_alarm_of_the_phone_itself_is_never_phoned(self):
        story = Story()
        story.raised("UA-PHONE", link="phone", priority=URGENT)
        assert not story.until(1000).offered


class TestItStopsAtOnce:
    @pytest.mark.parametrize("how", ["acknowledged", "shelved", "taken_out_of_service", "cleared", "removed"])
    def test_when_somebody_answers_nobody_else_is_called_and_those_told_hear_by_whom(self, how):
        story = Story(two())
        story.raised()
        story.until(100).happened(how, by="carl", cause=Cause.PERSON)
        story.until(5000)
        assert story.told() == [
            ("anna", MessageKind.ALARM, ("PDAH-101",)),
            ("anna", MessageKind.ACKNOWLEDGED, ("PDAH-101",)),
        ]
        assert (story.got[1][1].by, story.state.callouts) == ("carl", {})

    def test_the_one_who_acknowledged_is_not_told(self):
        story = Story(settings(person("anna"), person("ben")))
        story.raised()
        story.until(100).acknowledged(by="anna")
        assert (story.until(500).kinds("anna"), story.kinds("ben")) == (["alarm"], ["alarm", "acknowledged"])

    def test_it_goes_on_while_another_alarm_of_it_stands_and_the_acknowledgement_is_told_once(self):
        story = Story(two())
        story.raised("PDAH-101")
        story.raised("PDAHH-101")
        story.until(100).acknowledged("PDAH-101", by="carl")
        story.until(700).acknowledged("PDAHH-101", by="carl")
        story.until(5000)
        assert story.told() == [
            ("anna", MessageKind.ALARM, ("PDAH-101", "PDAHH-101")),
            ("ben", MessageKind.ESCALATION, ("PDAHH-101",)),
            ("anna", MessageKind.ACKNOWLEDGED, ("PDAH-101", "PDAHH-101")),
            ("ben", MessageKind.ACKNOWLEDGED, ("PDAH-101", "PDAHH-101")),
        ]

    def test_retries_that_are_outstanding_are_dropped(self):
        story = Story()
        story.dead = {("anna", "push")}
        story.raised()
        story.until(17).acknowledged(by="ben")
        attempts = len(story.offered)
        assert (len(story.until(5000).offered), story.state.boxes["anna"].errands) == (attempts, {})

    def test_who_gets_the_message_after_the_acknowledgement_hears_of_it_too(self):
        story = Story()
        story.took_s = 8.0
        story.raised()
        story.until(18).acknowledged(by="ben")
        assert story.until(100).kinds() == ["alarm", "acknowledged"]

    def test_an_alarm_before_anybody_was_called_and_acknowledged_calls_nobody(self):
        story = Story()
        story.raised()
        story.until(5).acknowledged()
        assert not story.until(1000).offered

    def test_an_alarm_raised_after_the_acknowledgement_begins_anew(self):
        story = Story(two())
        story.raised("PDAH-101")
        story.until(700).acknowledged(by="anna")
        story.raised("PDAHH-101")
        assert story.until(800).told()[-1] == ("anna", MessageKind.ALARM, ("PDAHH-101",))

    def test_what_is_held_back_by_design_calls_nobody_any_more(self):
        story = Story(two())
        story.raised()
        story.until(100).happened("suppressed", facts={"why": "fan_stopped"})
        assert story.until(5000).kinds() == ["alarm"]

    def test_what_is_released_unacknowledged_calls_again(self):
        story = Story()
        story.raised()
        story.until(100).happened("suppressed", facts={"why": "consequence", "under": "UA-L1"})
        story.until(200).happened("released", facts={"why": "consequence", "under": "UA-L1"})
        assert story.until(300).kinds() == ["alarm", "alarm"]

    def test_what_comes_back_acknowledged_calls_nobody(self):
        story = Story()
        story.happened("raised", state=AlarmState.ACKNOWLEDGED)
        assert not story.until(1000).offered


class TestReturns:
    def test_reminders_and_steps_stop_and_the_return_is_told_where_wanted(self):
        own = settings(person("anna"), person("ben", returns=False), route={"returns": True})
        story = Story(own)
        story.raised()
        story.until(100).returned()
        story.until(5000)
        assert (story.kinds("anna"), story.kinds("ben")) == (["alarm", "returned"], ["alarm"])

    def test_it_is_not_told_where_the_route_does_not_say_so(self):
        story = Story()
        story.raised()
        story.until(100).returned()
        assert story.until(5000).kinds() == ["alarm"]

    def test_it_is_told_when_all_are_back(self):
        story = Story(settings(route={"returns": True, "repeat_s": None}))
        story.raised("PDAH-101")
        story.raised("PDAHH-101")
        story.until(100).returned("PDAHH-101")
        assert story.until(200).kinds() == ["alarm"]
        story.returned("PDAH-101")
        assert story.until(300).told()[-1] == ("anna", MessageKind.RETURNED, ("PDAH-101", "PDAHH-101"))

    def test_an_alarm_that_nobody_ever_got_is_still_told_with_its_return(self):
        story = Story(settings(route={"returns": True}))
        story.raised()
        story.until(5).returned()
        story.until(1000)
        assert story.kinds() == ["alarm"]
        assert story.got[0][1].alarms[0].returned_utc_s == story.utc_s + 5

    def test_also_when_the_timer_has_cleared_it_meanwhile(self):
        story = Story()
        story.dead = {("anna", "push")}
        story.raised()
        story.until(20).returned()
        story.until(30).happened("cleared", cause=Cause.TIMER)
        story.until(40).dead.clear()
        assert (story.until(1000).kinds(), story.state.callouts) == (["alarm"], {})

    def test_it_goes_on_where_it_stopped_when_it_comes_back_soon(self):
        story = Story(two(route={"repeat_s": None}))
        story.raised()
        story.until(500).returned()
        story.until(2000).raised()
        assert story.until(2099).kinds("ben") == []
        assert story.until(2101).kinds("ben") == ["escalation"]
        assert story.kinds("anna") == ["alarm", "more"]

    def test_it_begins_anew_when_it_comes_back_late(self):
        story = Story(two(route={"repeat_s": None}))
        story.raised()
        story.until(700).returned()
        story.until(700 + COMEBACK_S + 1).raised()
        story.after(100)
        assert story.told()[-1] == ("anna", MessageKind.ALARM, ("PDAH-101",))
        assert len(story.state.callouts) == 1

    def test_a_return_that_is_acknowledged_is_over(self):
        story = Story()
        story.raised()
        story.until(100).returned()
        story.until(200).happened("cleared", by="ben", cause=Cause.PERSON)
        assert (story.until(300).kinds(), story.state.callouts) == (["alarm", "acknowledged"], {})


class TestTests:
    def asked(self, story, **facts):
        story.take(story.event("message_test_asked", None, None, kind=EventKind.SYSTEM, facts=facts, by="carl"))

    def test_one_through_every_channel_each_by_itself(self):
        story = Story(settings(person("anna", "push", "mail"), person("ben")))
        story.dead = {("anna", "push")}
        self.asked(story, to="anna")
        story.until(1000)
        assert sorted((one.person, one.channel, one.attempt) for _, one in story.offered) == [
            ("anna", "mail", 1),
            ("anna", "push", 1),
        ]
        assert [one.facts["why"] for one in story.events if one.happened == "not_notified"] == ["down"]

    def test_to_everybody(self):
        story = Story(settings(person("anna", "push", "mail"), person("ben")))
        self.asked(story, to="")
        assert story.until(10).kinds() == ["test"] * 3


class TestJournal:
    def test_every_attempt_is_journaled_with_its_outcome(self):
        story = Story(settings(person("anna", "push", "mail"), tries=1))
        story.dead = {("anna", "push")}
        event_id = story.raised()
        story.until(100)
        first, second = story.events
        assert (first.happened, second.happened) == ("not_notified", "notified")
        assert dict(second.facts) == {
            "message": "alarm",
            "ref": story.got[0][1].ref,
            "person": "anna",
            "channel": "mail",
            "attempt": 2,
            "took_s": 0.5,
            "alarms": event_id,
            "tags": "PDAH-101",
        }
        assert (second.kind, second.collector, second.priority) == (EventKind.SYSTEM, "DC-101", HIGH)

    def test_a_link_to_acknowledge_is_wanted_where_the_person_may_and_help_is_asked(self):
        own = settings(person("anna", links=True), person("ben"), route={"returns": True})
        story = Story(own)
        story.raised()
        story.until(100).returned()
        story.until(200)
        assert [(one.person, one.kind.value, one.link_wanted) for _, one in story.got] == [
            ("anna", "alarm", True),
            ("ben", "alarm", False),
            ("anna", "returned", False),
            ("ben", "returned", False),
        ]


def test_events_that_were_taken_before_change_nothing():
    story = Story()
    story.raised()
    assert relay.take(story.settings, story.state, story.taken[0], story.now) is story.state
