"""Wording, alarm: one alarm as a message tells it: where, what, since when, what may be behind it, what first."""

import re
from collections.abc import Sequence

from monitor.report.trouble_names import NAMES
from monitor.tell.notation import figure
from monitor.tell.phone.message import Message, ToldAlarm
from monitor.tell.phone.wording_context import MessageContext
from monitor.tell.phone.wording_gsm import plain
from monitor.tell.phone.wording_times import by_the_clock
from monitor.tell.wording_causes import CHECKS, DEFERS, LIKELY, listed
from monitor.tell.wording_phone import is_phone
from monitor.tell.wording_phrases import amount

#: Where the evidence does not tell what the check will lead to (OSHA 29 CFR 1910.147, 1910.146; NFPA 660).
_CAUTION = "from outside only; before opening or entering anything: lock-out, confined space, combustible dust"
_CAUTION_LINK = "live terminals only by licensed people"

_FEWER = (
    (" reached the ", ", "),
    (" fell to the ", ", "),
    ("the loop current signals a failure, ", "loop failed "),
    ("its collectors cannot be seen", "collectors not seen"),
    (", usually ", ", usual "),
    (", filters not to blame", ""),
    (" or repeating old values", ""),
    (" on the filters", ""),
    (" with age", ""),
)


def where(alarm: ToldAlarm) -> str:
    """The collector, or the link."""
    if alarm.collector:
        return plain(alarm.collector, 60)
    if is_phone(alarm.link):
        return "phone"
    return f"link {plain(alarm.link, 60)}" if alarm.link else "site"


def found(alarm: ToldAlarm) -> str:
    """What the alarm found, with its value and set point, on one line."""
    return plain(alarm.what or alarm.text.removeprefix(f"{where(alarm)}: ") or "alarm", 300)


def found_briefly(alarm: ToldAlarm) -> str:
    """The same in fewer letters: ``DP 7.23 inH2O, high band 7``."""
    told = found(alarm)
    if alarm.setpoint is not None:
        told = told.replace(f" ({amount(alarm.setpoint, alarm.unit)})", f" {figure(alarm.setpoint)}")
    return _briefly(told)


def _briefly(told: str) -> str:
    for words, fewer in _FEWER:
        told = told.replace(words, fewer)
    return told


def since(alarm: ToldAlarm, message: Message, context: MessageContext) -> str:
    """``since 14:05``."""
    return f"since {by_the_clock(alarm.at_utc_s, message.at_utc_s, context.zone)}"


def behind(alarm: ToldAlarm) -> tuple[str, ...]:
    """What may be behind it, where to look first, and with what care: up to three lines."""
    if alarm.suspicions:
        look, caution, _ = CHECKS[alarm.suspicions[0].trouble]
        return (
            f"{plain(listed(alarm.suspicions), 600)}.",
            f"Check first: {look}",
            f"Caution: {caution}; {DEFERS}",
        )
    look = f"Check first: {plain(alarm.check)}" if alarm.check else ""
    care = "" if is_phone(alarm.link) else f"Caution: {_CAUTION if alarm.collector else _CAUTION_LINK}; {DEFERS}"
    return tuple(filter(None, (look, care)))


def cause_briefly(alarm: ToldAlarm) -> str:
    """The most likely cause by its name; empty where the evidence does not tell."""
    if not alarm.suspicions:
        return ""
    first = alarm.suspicions[0]
    return f"{'likely' if first.share >= LIKELY else 'possibly'} {_briefly(NAMES[first.trouble])}"


def check_briefly(alarm: ToldAlarm) -> str:
    """The very first place to look at."""
    look = CHECKS[alarm.suspicions[0].trouble].look if alarm.suspicions else plain(alarm.check)
    return f"check {re.split('[,;:]', look)[0]}" if look else ""


def names(people: Sequence[str], most: int = 200) -> str:
    """``anna``, ``anna and ben``, ``anna, ben and carl``."""
    known = [plain(one, 40) for one in people]
    if len(known) < 2:
        return plain("".join(known), most)
    return plain(f"{', '.join(known[:-1])} and {known[-1]}", most)
