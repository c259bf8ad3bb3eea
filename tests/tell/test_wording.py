"""Every sentence, as the night shift reads it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.judge.table import rows
from monitor.tell import wording
from monitor.tell.wording import reason_in_words, sentence, state_in_words
from monitor.words import AlarmState, Cause, Event, EventKind, Reason
from tests.tell.journal import event

BAND = {"condition": "band", "side": "above", "judged": "damped", "auto_clear_s": 1800.0}
BAD = {"condition": "bad_signal", "reason": "loop_failed_low", "detail": "3.5 mA", "auto_clear_s": 1800.0}
LOST = {"condition": "link_lost", "detail": "not connected"}
WORDS = st.sampled_from(["bad_signal", "link_lost", "band", "above", "below", "shelved", "consequence", "shelve"])
FACTS = [
    *("side", "judged", "reason", "detail", "auto_clear_s", "condition", "raised_utc_s", "on_delay_s", "after"),
    *("why", "under", "until_utc_s", "stands", "shelved_by", "taken_by", "command", "code", "door"),
]
LATCHED = AlarmState.LATCHED_UNACKNOWLEDGED


@pytest.mark.parametrize(
    ("happening", "text"),
    [
        pytest.param(
            event(facts=BAND),
            "DC-101: DP 7.23 inH2O reached the high band PDAH-101 (7 inH2O) and stayed there: "
            "alarm raised, priority high, since 2027-01-15 08:00:01 UTC; check first: "
            "compressed air, cleaning, hopper, from outside; do not open without lock-out",
            id="high raised",
        ),
        pytest.param(
            event(tag="PDAL-101", value=1.9, setpoint=2.0, facts={"side": "below", "judged": "residual"}),
            "DC-101: residual DP 1.9 inH2O fell to the low band PDAL-101 (2 inH2O) and stayed there: "
            "alarm raised, priority high, since 2027-01-15 08:00:01 UTC; check first: "
            "dust at the outlet (torn bag), cleaning too often, loose or open DP tubes",
            id="low residual raised",
        ),
        pytest.param(
            event(state_before=LATCHED, facts={**BAND, "on_delay_s": 10.0}),
            "DC-101: DP 7.23 inH2O reached the high band PDAH-101 (7 inH2O) and stayed there for 10 s: "
            "alarm raised again, priority high, since 2027-01-15 08:00:01 UTC; check first: "
            "compressed air, cleaning, hopper, from outside; do not open without lock-out",
            id="raised again",
        ),
        pytest.param(
            event(facts={**BAND, "on_delay_s": 10.0, "after": "shelved"}),
            "DC-101: DP 7.23 inH2O reached the high band PDAH-101 (7 inH2O): "
            "alarm raised again after being shelved, priority high, since 2027-01-15 08:00:01 UTC; check first: "
            "compressed air, cleaning, hopper, from outside; do not open without lock-out",
            id="raised after a shelf",
        ),
        pytest.param(
            event(facts={"raised_utc_s": 1_799_990_000.0}),
            "DC-101: DP 7.23 inH2O reached the band PDAH-101 (7 inH2O) and stayed there: alarm raised again, "
            "priority high, first raised 2027-01-15 05:13:20 UTC",
            id="the same alarm again",
        ),
        pytest.param(
            event(tag="PDT-101-BAD", value=None, setpoint=None, facts=BAD),
            "DC-101: DP cannot be trusted: the loop current signals a failure, low (3.5 mA): "
            "alarm PDT-101-BAD raised, priority high, since 2027-01-15 08:00:01 UTC; "
            "check first: loose or wet terminals, loop supply, then the transmitter",
            id="bad signal raised",
        ),
        pytest.param(
            event(happened="latched", state=LATCHED, value=6.7, facts=BAND),
            "DC-101: DP 6.7 inH2O is back inside PDAH-101 (7 inH2O): alarm latched until a person clears it "
            "or 30 min of normal have passed; nobody has acknowledged it yet",
            id="latched",
        ),
        pytest.param(
            event(happened="latched", state=LATCHED, value=6.7, seen=True, facts={"auto_clear_s": None}),
            "DC-101: DP 6.7 inH2O is back inside PDAH-101 (7 inH2O): alarm latched until a person clears it; "
            "acknowledged",
            id="latched without a timer, seen",
        ),
        pytest.param(
            event(happened="cleared", cause=Cause.TIMER, state=AlarmState.NORMAL, facts=BAND),
            "DC-101: PDAH-101 cleared by the timer 30 min after the return to normal; nobody had acknowledged it",
            id="cleared by the timer",
        ),
        pytest.param(
            event(happened="cleared", cause=Cause.PERSON, by="shift 2", seen=True, state=AlarmState.NORMAL),
            "DC-101: PDAH-101 cleared by shift 2",
            id="cleared by a person",
        ),
        pytest.param(
            event(happened="cleared", cause=Cause.PROCESS, value=6.7, seen=True, state=AlarmState.NORMAL),
            "DC-101: DP 6.7 inH2O is back inside PDAH-101 (7 inH2O): alarm cleared",
            id="cleared by the process",
        ),
        pytest.param(
            event(happened="returned", value=6.7, state=AlarmState.RETURNED_UNACKNOWLEDGED),
            "DC-101: DP 6.7 inH2O is back inside PDAH-101 (7 inH2O): alarm returned to normal; "
            "nobody has acknowledged it yet",
            id="returned",
        ),
        pytest.param(
            event(happened="acknowledged", by="shift 2", state=AlarmState.ACKNOWLEDGED, seen=True),
            "DC-101: PDAH-101 acknowledged by shift 2; it is active, acknowledged",
            id="acknowledged",
        ),
        pytest.param(
            event(happened="unlatched", state=AlarmState.RETURNED_UNACKNOWLEDGED),
            "DC-101: latch of PDAH-101 undone by a person; nobody has acknowledged it yet",
            id="unlatched",
        ),
        pytest.param(
            event(
                happened="removed", state_before=LATCHED, state=AlarmState.NORMAL, cause=Cause.SITE_FILE, facts={}
            ),
            "DC-101: PDAH-101 was taken out of the site file while it was latched, not acknowledged: alarm ended",
            id="removed",
        ),
        pytest.param(
            event(
                happened="latched", tag="PDT-101-BAD", state=LATCHED, value=4.0, facts={"condition": "bad_signal"}
            ),
            "DC-101: the DP signal can be trusted again (PDT-101-BAD): alarm latched until a person clears it; "
            "nobody has acknowledged it yet",
            id="bad signal latched",
        ),
        pytest.param(
            event(
                happened="removed",
                state_before=AlarmState.SHELVED,
                state=AlarmState.NORMAL,
                collector=None,
                link="mill",
                tag="mill-LOST",
                cause=Cause.SITE_FILE,
                facts={},
            ),
            "link mill: mill-LOST was taken out of the site file while it was shelved: alarm ended",
            id="removed while shelved",
        ),
        pytest.param(
            event(tag="mill-LOST", collector=None, link="mill", value=None, setpoint=None, facts=LOST),
            "link mill: its collectors cannot be seen (not connected): alarm mill-LOST raised, priority high, "
            "since 2027-01-15 08:00:01 UTC; check first: power of the gateway, its cable, its address",
            id="link alarm raised",
        ),
        pytest.param(
            event(
                tag="mill-LOST",
                collector=None,
                link="mill",
                value=None,
                setpoint=None,
                facts=LOST,
                happened="returned",
                state=AlarmState.RETURNED_UNACKNOWLEDGED,
            ),
            "link mill: its collectors can be seen again (mill-LOST): alarm returned to normal; "
            "nobody has acknowledged it yet",
            id="link alarm returned",
        ),
        pytest.param(
            event(
                tag="mill-LOST",
                collector=None,
                link="mill",
                happened="acknowledged",
                by="anna",
                state=AlarmState.ACKNOWLEDGED,
                facts=LOST,
            ),
            "link mill: mill-LOST acknowledged by anna; it is active, acknowledged",
            id="link alarm acknowledged",
        ),
        pytest.param(
            Event(kind=EventKind.SYSTEM, happened="silenced", at_utc_s=0, text="", by="anna"),
            "horn silenced by anna; every alarm stays as it is, and a new one sounds again",
            id="silenced",
        ),
        pytest.param(
            Event(
                kind=EventKind.LINK, happened="lost", at_utc_s=0, text="", link="mill", facts={"detail": "refused"}
            ),
            "link mill lost: its collectors cannot be seen (refused)",
            id="link lost",
        ),
        pytest.param(
            Event(kind=EventKind.LINK, happened="restored", at_utc_s=0, text="", link="mill"),
            "link mill is connected: its collectors can be seen",
            id="link restored",
        ),
        pytest.param(
            Event(kind=EventKind.SYSTEM, happened="stopped", at_utc_s=0, text=""),
            "the watch has stopped: nothing is watched until it is started again",
            id="stopped",
        ),
        pytest.param(
            Event(
                kind=EventKind.SYSTEM, happened="clock_set", at_utc_s=0, text="", facts={"detail": "by +3600 s"}
            ),
            "clock set (by +3600 s)",
            id="another system event",
        ),
        pytest.param(
            Event(kind=EventKind.SYSTEM, happened="started", at_utc_s=0, text="as written"),
            "as written",
            id="its own",
        ),
    ],
)
def test_each_event_reads_as_one_plain_sentence(happening, text):
    assert sentence(happening) == text


@pytest.mark.parametrize("row", list(rows()), ids=str)
def test_every_row_of_the_alarm_table_has_a_sentence_of_its_own(row):
    before, *_, step = row
    text = sentence(
        event(happened=step.happened, state_before=before, state=step.state, cause=step.cause, facts=BAND)
    )

    assert text.startswith("DC-101: ")
    assert "None" not in text
    assert "  " not in text
    assert "_" not in text
    assert step.happened in wording._ALARM_STORIES


def test_every_reason_and_every_state_has_words():
    assert all(reason_in_words(reason) for reason in Reason)
    assert all(state_in_words(state) for state in AlarmState)


@given(
    kind=st.sampled_from(EventKind),
    happened=st.text(max_size=20) | st.sampled_from([*wording._ALARM_STORIES, "silenced", "command_refused"]),
    cause=st.none() | st.sampled_from(Cause),
    facts=st.dictionaries(
        st.sampled_from(FACTS),
        st.one_of(st.none(), st.booleans(), st.floats(), st.integers(), st.text(max_size=10), WORDS),
    ),
    value=st.one_of(st.none(), st.floats()),
)
def test_no_fact_however_strange_keeps_an_event_from_being_told(kind, happened, cause, facts, value):
    assert isinstance(sentence(event(kind=kind, happened=happened, cause=cause, facts=facts, value=value)), str)
