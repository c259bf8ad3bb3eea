"""What people ask for: done once, by whoever may, on time, and told in the journal with the name."""

from dataclasses import replace

import pytest

from monitor.daemon import snapshot
from monitor.scan import judging
from monitor.scan.settings import CommandRules, PersonRights
from monitor.scan.state import MOST_ANSWERED
from monitor.scan.turn import begin
from monitor.words import AlarmState, AnswerCode, Cause, Command, CommandKind, Door, Instant
from tests.scan.asking import EVERYTHING, Shift, chained, link_alarm, rules
from tests.scan.plans import UTC, at, plan

ACK, CLEAR, SHELVE = CommandKind.ACKNOWLEDGE, CommandKind.CLEAR, CommandKind.SHELVE
SHELF = {"reason": "filter change", "for_s": 60.0}


def raised(*more, **rest):
    """A shift in which PDAH-101 has just been raised, at second 2."""
    return Shift(plan(), *more, **rest).dp(range(3), 7.5)


def test_an_acknowledgement_names_who_and_through_which_door():
    shift = raised()
    (event,) = shift.take(3, asked := shift_command(shift))

    assert (event.happened, event.by, event.cause) == ("acknowledged", "anna", Cause.PERSON)
    assert (event.facts["command_id"], event.facts["door"]) == (asked.command_id, "command_line")
    assert shift.answers[-1].code is AnswerCode.DONE
    assert shift.answers[-1].state is AlarmState.ACKNOWLEDGED


def shift_command(shift, kind=ACK, **more):
    given = {"command_id": "c-1", "by": "anna", "door": Door.COMMAND_LINE, "tag": "PDAH-101", **more}
    return Command(kind=kind, **given)


def test_the_same_command_twice_is_done_once_and_answered_the_same():
    shift = raised()
    first = shift.ask(3, ACK, command_id="c-1")
    again = shift.ask(4, ACK, command_id="c-1")

    assert [happened for _, happened in shift.story("PDAH-101")] == ["raised", "acknowledged"]
    assert (again.code, again.at_utc_s, again.repeated) == (first.code, first.at_utc_s, True)


def test_a_refused_command_that_comes_again_is_not_carried_out_later():
    """A clear that was refused because the alarm was active must not clear it once it has latched."""
    shift = raised()
    assert shift.ask(3, CLEAR, command_id="c-1").code is AnswerCode.STILL_ACTIVE
    shift.dp(range(4, 8), 4.0)
    assert shift.state_of("PDAH-101") is AlarmState.LATCHED_UNACKNOWLEDGED

    assert shift.ask(8, CLEAR, command_id="c-1").repeated
    assert shift.state_of("PDAH-101") is AlarmState.LATCHED_UNACKNOWLEDGED


def test_an_id_that_stands_for_another_command_is_refused():
    shift = raised()
    shift.ask(3, ACK, command_id="c-1")

    assert shift.ask(4, CLEAR, command_id="c-1").code is AnswerCode.ID_REUSED


def test_answered_commands_survive_a_restart():
    shift = raised()
    shift.ask(3, ACK, command_id="c-1")
    desk = snapshot.read_desk(snapshot.write_desk(shift.state.desk))
    shift.state = begin(shift.plan, at(4), shift.state.collectors, desk=desk)

    assert shift.ask(5, ACK, command_id="c-1").repeated


def test_only_so_many_answers_are_remembered():
    shift = raised()
    for number in range(MOST_ANSWERED + 50):
        shift.ask(3, ACK, command_id=f"n-{number}")

    assert len(shift.state.desk.answered) == MOST_ANSWERED


@pytest.mark.parametrize(
    ("sent_s", "code"),
    [
        (100.0, AnswerCode.DONE),
        (71.0, AnswerCode.DONE),
        (69.0, AnswerCode.LATE),
        (129.0, AnswerCode.DONE),
        (131.0, AnswerCode.CLOCKS_DIFFER),
        (float("nan"), AnswerCode.LATE),
    ],
)
def test_a_command_that_is_late_or_from_another_clock_is_refused(sent_s, code):
    shift = raised().dp(range(3, 101), 7.5)

    assert shift.ask(100, ACK, sent_utc_s=UTC + sent_s).code is code


def test_through_mqtt_a_command_must_say_when_it_was_sent():
    shift = raised(commands=rules(anna=EVERYTHING))

    assert shift.ask(3, ACK, door=Door.MQTT).code is AnswerCode.LATE
    assert shift.ask(3, ACK, door=Door.MQTT, sent_utc_s=UTC + 3).code is AnswerCode.DONE


@pytest.mark.parametrize("door", [Door.MQTT, Door.HTTP])
def test_beyond_the_machine_nothing_is_open_by_default(door):
    shift = raised()

    assert shift.ask(3, ACK, door=door, proven=True, sent_utc_s=UTC + 3).code is AnswerCode.UNKNOWN_PERSON


def test_a_person_may_do_what_the_site_file_says_through_the_doors_it_says():
    anna = PersonRights(may=frozenset({ACK}), doors=frozenset({Door.MQTT}))
    shift = raised(commands=CommandRules(people={"anna": anna}))
    by_mqtt = {"door": Door.MQTT, "sent_utc_s": UTC + 3}

    assert shift.ask(3, SHELVE, **by_mqtt, **SHELF).code is AnswerCode.NOT_ALLOWED
    assert shift.ask(3, ACK, door=Door.HTTP, proven=True).code is AnswerCode.NOT_ALLOWED
    assert shift.ask(3, ACK, **by_mqtt).code is AnswerCode.DONE


def test_the_machine_itself_may_be_restricted():
    shift = raised(commands=CommandRules(machine=frozenset({ACK})))

    assert shift.ask(3, SHELVE, **SHELF).code is AnswerCode.NOT_ALLOWED
    assert shift.ask(3, ACK).code is AnswerCode.DONE


@pytest.mark.parametrize(
    ("kind", "more", "code"),
    [
        (SHELVE, {"for_s": 60.0}, AnswerCode.REASON_MISSING),
        (SHELVE, {"for_s": 60.0, "reason": "  "}, AnswerCode.REASON_MISSING),
        (SHELVE, {"for_s": 60.0, "reason": "x" * 201}, AnswerCode.REASON_MISSING),
        (SHELVE, {"reason": "filter change"}, AnswerCode.END_MISSING),
        (SHELVE, {"reason": "filter change", "for_s": 0.0}, AnswerCode.END_MISSING),
        (SHELVE, {"reason": "filter change", "for_s": float("nan")}, AnswerCode.END_MISSING),
        (SHELVE, {"reason": "filter change", "for_s": 8 * 3600.0 + 1}, AnswerCode.TOO_LONG),
        (SHELVE, {"reason": "filter change", "for_s": float("inf")}, AnswerCode.TOO_LONG),
        (CommandKind.OUT_OF_SERVICE, {}, AnswerCode.REASON_MISSING),
        (CommandKind.UNSHELVE, {}, AnswerCode.NOT_IN_THAT_STATE),
        (CommandKind.RETURN_TO_SERVICE, {}, AnswerCode.NOT_IN_THAT_STATE),
        (CLEAR, {}, AnswerCode.STILL_ACTIVE),
        (ACK, {"tag": "PDAH-999"}, AnswerCode.UNKNOWN_ALARM),
        (ACK, {"tag": "PDAHH-101"}, AnswerCode.NOT_IN_THAT_STATE),
    ],
)
def test_what_is_incomplete_or_makes_no_sense_is_refused_and_changes_nothing(kind, more, code):
    shift = raised()
    before = shift.state.collectors

    assert shift.ask(3, kind, **more).code is code
    assert shift.state.collectors == before


def test_a_shelf_ends_on_time_and_what_still_stands_is_announced_again():
    shift = raised()
    shift.ask(3, SHELVE, reason="filter  change\n", for_s=10.0)
    shift.dp(range(4, 15), 7.5)

    assert shift.story("PDAH-101") == [(2, "raised"), (3, "shelved"), (13, "unshelved"), (13, "raised")]
    assert shift.alarm("PDAH-101").raised_utc_s == UTC + 2  # the same alarm, all the time


def test_a_shelf_ends_though_nothing_can_be_read():
    shift = raised()
    shift.ask(3, SHELVE, reason="filter change", for_s=10.0)
    shift.ticks(range(4, 15))

    assert (13, "unshelved") in shift.story("PDAH-101")


def test_what_went_while_it_was_shelved_comes_back_as_normal():
    shift = raised()
    shift.ask(3, SHELVE, **SHELF)
    shift.dp(range(4, 10), 4.0)
    answer = shift.ask(10, CommandKind.UNSHELVE)

    assert answer.state is AlarmState.NORMAL
    assert shift.story("PDAH-101")[-1] == (10, "unshelved")


def test_what_came_while_it_was_out_of_service_is_announced_when_it_returns():
    shift = Shift(plan()).dp(range(2), 4.0)
    shift.ask(2, CommandKind.OUT_OF_SERVICE, reason="set point under review")
    shift.dp(range(3, 100), 7.5)
    assert shift.state_of("PDAH-101") is AlarmState.OUT_OF_SERVICE
    assert shift.state.collectors["DC-101"].readings  # still measured

    answer = shift.ask(100, CommandKind.RETURN_TO_SERVICE)
    assert answer.state is AlarmState.UNACKNOWLEDGED
    assert shift.story("PDAH-101")[-2:] == [(100, "returned_to_service"), (100, "raised")]


def test_the_event_of_a_shelf_says_until_when_why_and_who():
    shift = raised()
    (event,) = shift.take(3, shift_command(shift, SHELVE, **SHELF))

    assert (event.by, event.facts["reason"], event.facts["until_utc_s"]) == ("anna", "filter change", UTC + 63)


def test_a_test_alarm_changes_no_state():
    shift = raised()
    before = shift.state.collectors
    (event,) = shift.take(3, shift_command(shift, CommandKind.TEST))

    assert (event.happened, event.tag, event.state) == ("tested", "PDAH-101", AlarmState.UNACKNOWLEDGED)
    assert shift.state.collectors == before


def test_silencing_answers_no_alarm():
    shift = raised()
    answer = shift.ask(3, CommandKind.SILENCE, tag="")

    assert answer.code is AnswerCode.DONE
    assert shift.said[-1] == (3, None, "silenced")
    assert shift.state_of("PDAH-101") is AlarmState.UNACKNOWLEDGED


def test_the_alarm_of_a_link_is_answered_like_any_other():
    shift = Shift(chained(), links=[link_alarm()]).link(0, False).ticks(range(1, 5))
    answer = shift.ask(5, ACK, tag="mill-gateway-LOST")

    assert answer.state is AlarmState.ACKNOWLEDGED
    assert shift.story("mill-gateway-LOST") == [(2, "raised"), (5, "acknowledged")]


def test_refusals_are_journaled_and_cannot_flood_the_journal():
    shift = raised()
    for number in range(100):
        shift.ask(3 + number / 10, ACK, tag="PDAH-999", command_id=f"n-{number}")
    told = [second for second, _, happened in shift.said if happened == "command_refused"]

    assert told == [3]
    events = shift.take(20, shift_command(shift, tag="PDAH-999", command_id="last"))
    assert events[0].facts["refused_meanwhile"] == 99


def test_a_command_acts_though_the_dp_was_never_read():
    shift = Shift(plan())
    answer = shift.ask(0, CommandKind.OUT_OF_SERVICE, reason="not yet connected")

    assert answer.state is AlarmState.OUT_OF_SERVICE


def test_a_reason_is_kept_as_one_line():
    shift = raised()
    shift.ask(3, SHELVE, reason=" filter\n change ", for_s=5.0)

    assert shift.alarm("PDAH-101").shelf.reason == "filter change"


def test_an_answer_that_was_remembered_says_the_same_of_state():
    shift = raised()
    first = shift.ask(3, ACK, command_id="c-1")

    assert replace(shift.ask(4, ACK, command_id="c-1"), repeated=False) == first


@pytest.mark.parametrize(
    ("may", "code"),
    [
        ({SHELVE}, AnswerCode.NOT_ALLOWED),
        ({SHELVE, ACK}, AnswerCode.NOT_ALLOWED),
        ({SHELVE, ACK, CLEAR}, AnswerCode.DONE),
    ],
)
def test_who_may_not_answer_a_latch_may_not_end_it_by_a_shelf(may, code):
    shift = raised(commands=CommandRules(machine=frozenset(may))).dp(range(3, 8), 4.0)
    assert shift.state_of("PDAH-101") is AlarmState.LATCHED_UNACKNOWLEDGED

    assert shift.ask(8, SHELVE, **SHELF).code is code


def test_a_person_named_for_the_command_line_may_what_the_file_says_there_alone():
    anna = PersonRights(may=EVERYTHING, doors=frozenset({Door.COMMAND_LINE}))
    shift = raised(commands=CommandRules(people={"anna": anna}, machine=frozenset()))

    assert shift.ask(3, ACK, by="ben").code is AnswerCode.NOT_ALLOWED
    assert shift.ask(3, ACK, door=Door.HTTP).code is AnswerCode.NOT_ALLOWED
    assert shift.ask(3, ACK).code is AnswerCode.DONE


def test_the_same_id_with_another_reason_or_time_is_another_command():
    shift = raised()
    shift.ask(3, SHELVE, command_id="c-1", **SHELF)

    assert (
        shift.ask(4, SHELVE, command_id="c-1", reason="filter change", for_s=7000.0).code is AnswerCode.ID_REUSED
    )


def test_a_shelf_ends_when_it_was_promised_though_the_power_was_cut_meanwhile():
    """Shelved for a minute; the clock of the watch stood still for an hour, that on the wall did not."""
    shift = raised()
    shift.ask(3, SHELVE, **SHELF)
    one = shift.state.collectors["DC-101"]
    later = Instant(4.0, UTC + 3600.0)
    again = judging.begin(shift.plan.collectors["DC-101"], later, one.watch.alarms)

    assert again.watch.alarms["PDAH-101"].shelf.until_s <= 4.0
    # And a board without a battery, in 1970 again, makes it no longer.
    old = judging.begin(shift.plan.collectors["DC-101"], Instant(4.0, 0.0), one.watch.alarms)
    assert old.watch.alarms["PDAH-101"].shelf.until_s == 63.0


def test_a_test_belongs_to_the_occurrence_it_falls_into():
    shift = raised()
    (event,) = shift.take(3, shift_command(shift, CommandKind.TEST))

    assert event.occurrence == f"PDAH-101@{UTC + 2:.3f}"
