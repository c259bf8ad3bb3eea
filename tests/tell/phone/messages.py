"""Messages of an invented plant, for the tests of their words."""

from datetime import UTC
from zoneinfo import ZoneInfo

from monitor.tell import wording
from monitor.tell.phone.message import Message, MessageKind, ToldAlarm
from monitor.tell.phone.wording_message import MessageContext, StandNow, trend_words
from monitor.troubles import Clue, Suspicion, Trouble
from monitor.words import Priority
from tests.tell.journal import event

#: 2027-01-15 08:00:00 UTC, a Friday; 09:00 in Warsaw.
NOW = 1_800_000_000.0
WARSAW = ZoneInfo("Europe/Warsaw")
LINK = "https://watch.aldermill.example/ack/k3F9xQ2mT7vLp0aZ8sWd1Y"
HEADER = (
    Suspicion(Trouble.HEADER_PRESSURE_LOST, 0.8, (Clue("header_low", 42.0, 90.0, "psi"), Clue("sawtooth_gone"))),
    Suspicion(Trouble.PULSES_DEAD, 0.1, (Clue("sawtooth_gone"),)),
)


def told(minutes_ago: float = 12, **changes) -> ToldAlarm:
    """A told alarm as the relay makes it of an event."""
    fields = {key: changes.pop(key) for key in ("returned_utc_s", "acknowledged_by") if key in changes}
    raised = event(at_utc_s=NOW - 60 * minutes_ago, **changes)
    return ToldAlarm(
        event_id=raised.event_id,
        tag=raised.tag,
        at_utc_s=raised.at_utc_s,
        priority=raised.priority,
        text=wording.sentence(raised),
        collector=raised.collector,
        link=raised.link,
        occurrence=raised.occurrence,
        value=raised.value,
        setpoint=raised.setpoint,
        unit=raised.unit or "",
        suspicions=raised.suspicions,
        what=wording.what_was_found(raised),
        check=wording.look_first(raised),
        **fields,
    )


def high(minutes_ago: float = 12, **changes) -> ToldAlarm:
    return told(minutes_ago, **({"suspicions": HEADER} | changes))


def bad_signal(**changes) -> ToldAlarm:
    facts = {"condition": "bad_signal", "reason": "loop_failed_low", "detail": "3.5 mA"}
    fields = {"collector": "DC-102", "tag": "PDT-102-BAD", "value": None, "setpoint": None, "facts": facts}
    return told(5, **(fields | {"priority": Priority.MEDIUM} | changes))


def link_lost(**changes) -> ToldAlarm:
    facts = {"condition": "link_lost", "detail": "not connected"}
    fields = {"collector": None, "link": "mill", "tag": "mill-LOST", "value": None, "setpoint": None}
    return told(3, **(fields | {"unit": None, "facts": facts} | changes))


def message(kind: MessageKind = MessageKind.ALARM, *alarms: ToldAlarm, **changes) -> Message:
    fields = {"ref": "k7f3q2m9", "kind": kind, "person": "anna", "channel": "push", "attempt": 1, "at_utc_s": NOW}
    return Message(**(fields | {"alarms": alarms or (high(),)} | changes))


def context(**changes) -> MessageContext:
    trend = trend_words(7.6, 7.3, 60, "inH2O")
    fields = {"site": "Alder Mill", "zone": UTC, "outlook": lambda _: trend, "stand": StandNow(collectors=24)}
    return MessageContext(**(fields | changes))
