"""Held alarms, as the night shift reads them: nobody is warned, by whom or what, and how it ends."""

import pytest

from monitor.judge.alarm import Alarm
from monitor.tell.wording import sentence
from monitor.tell.wording_standing import standing_in_words
from monitor.words import AlarmState, Cause, Hold, HoldReason, Removal, Shelf
from tests.tell.journal import event

UNTIL = {"until_utc_s": 1_800_007_200.0, "reason": "filter change", "shelved_by": "anna"}
UNACK, NORMAL = AlarmState.UNACKNOWLEDGED, AlarmState.NORMAL
SHELVED, SUPPRESSED, REMOVED = (
    AlarmState.SHELVED,
    AlarmState.SUPPRESSED_BY_DESIGN,
    AlarmState.OUT_OF_SERVICE,
)


def said(happened, before, after, cause=Cause.PERSON, by=None, **facts):
    return sentence(
        event(happened=happened, state_before=before, state=after, cause=cause, by=by, facts=facts)
    ).removeprefix("DC-101: ")


def test_a_shelved_alarm_says_by_whom_until_when_and_why():
    assert said("shelved", UNACK, SHELVED, by="anna", **UNTIL) == (
        "PDAH-101 shelved by anna until 2027-01-15 10:00:00 UTC, because: filter change "
        "(it was active, not acknowledged); it warns nobody until then, and is announced again "
        "if it is still there at the end"
    )


@pytest.mark.parametrize(
    ("stands", "then"),
    [
        (True, "its condition is still there: it is announced again"),
        (False, "its condition is not there: nothing is announced"),
        (None, "should its condition be there, it is announced"),
    ],
)
def test_the_end_of_a_shelf_says_so_and_whether_the_alarm_is_announced_again(stands, then):
    assert said("unshelved", SHELVED, NORMAL, Cause.TIMER, **UNTIL, stands=stands) == (
        f"the shelving of PDAH-101 has come to its end (shelved by anna, because: filter change); {then}"
    )


def test_unshelving_names_both_people():
    assert said("unshelved", SHELVED, NORMAL, by="ben", **UNTIL, stands=False) == (
        "PDAH-101 unshelved by ben (shelved by anna, because: filter change); "
        "its condition is not there: nothing is announced"
    )


@pytest.mark.parametrize(
    ("why", "under", "now", "before"),
    [
        ("fan_stopped", None, "while the fan stands still", "while the fan stood still"),
        ("start_up", None, "while the fan starts up", "while the fan started up"),
        ("cleaning", None, "while cleaning is called for", "while cleaning was called for"),
        ("consequence", "PDAHH-101", "under PDAHH-101, which explains it", "under PDAHH-101"),
        ("consequence", None, "under another alarm, which explains it", "under another alarm"),
    ],
)
def test_what_is_held_back_by_design_says_under_what(why, under, now, before):
    facts = {"why": why, "under": under}

    assert said("suppressed", NORMAL, SUPPRESSED, Cause.DESIGN, **facts) == (
        f"PDAH-101 held back {now}: it warns nobody, and is still watched and recorded"
    )
    assert said("released", SUPPRESSED, UNACK, Cause.DESIGN, **facts) == (
        f"PDAH-101 is no longer held back (it was, {before}); "
        "it is active, not acknowledged: DP 7.23 inH2O, set point 7 inH2O"
    )


def test_out_of_service_says_who_and_why_both_times():
    assert said("taken_out_of_service", NORMAL, REMOVED, by="ben", reason="calibration") == (
        "PDAH-101 taken out of service by ben, because: calibration; "
        "it warns nobody until a person returns it to service"
    )
    assert said(
        "returned_to_service", REMOVED, NORMAL, by="anna", reason="calibration", taken_by="ben", stands=True
    ) == (
        "PDAH-101 returned to service by anna (taken out by ben, because: calibration); "
        "its condition is still there: it is announced again"
    )


def test_a_test_says_that_it_is_none():
    assert said("tested", NORMAL, NORMAL, by="shift-lead") == (
        "test of PDAH-101 by shift-lead: this is no alarm, nothing has to be done; the alarm itself is normal"
    )


def test_the_reason_of_a_bad_reading_is_not_taken_for_a_persons():
    assert "because" not in said("shelved", NORMAL, SHELVED, by="anna", reason="no_answer")


def test_a_long_reason_is_cut_and_stays_on_one_line():
    text = said("shelved", NORMAL, SHELVED, by="anna", reason="so\nmany words " * 40)

    assert "\n" not in text
    assert "…" in text
    assert len(text) < 300


@pytest.mark.parametrize("stands", [True, False])
def test_a_held_alarm_stands_in_words_with_everything_that_holds_it(stands):
    also = "; its condition is there" if stands else ""
    shelf = Shelf(10.0, 1_800_007_200.0, "anna", "filter change", 1_800_000_000.0)
    removal = Removal("ben", "calibration", 1_800_000_000.0)
    held = Hold(HoldReason.CONSEQUENCE, "PDAHH-101")

    assert standing_in_words(Alarm(state=SHELVED, stands=stands, shelf=shelf)) == (
        f"shelved by anna until 2027-01-15 10:00:00 UTC: filter change{also}"
    )
    assert standing_in_words(Alarm(state=REMOVED, stands=stands, removal=removal)) == (
        f"out of service by ben since 2027-01-15 08:00:00 UTC: calibration{also}"
    )
    assert standing_in_words(Alarm(state=SUPPRESSED, stands=stands, hold=held)) == (
        f"suppressed by design: held back under PDAHH-101, which explains it{also}"
    )


@pytest.mark.parametrize("state", AlarmState)
def test_every_state_has_words_even_where_nothing_else_is_known(state):
    assert standing_in_words(Alarm(state=state)).startswith(state.value.split("_")[0][:6]) or state in (
        AlarmState.UNACKNOWLEDGED,
        AlarmState.ACKNOWLEDGED,
        AlarmState.RETURNED_UNACKNOWLEDGED,
    )
