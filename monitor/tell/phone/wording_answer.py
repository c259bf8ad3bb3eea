"""Wording, answer: what somebody did with an alarm, so that nobody is called for it any more."""

from monitor.tell.phone.message import ToldAlarm
from monitor.tell.phone.wording_context import MessageContext
from monitor.tell.phone.wording_gsm import plain
from monitor.tell.phone.wording_times import by_the_clock

#: By what happened: before and behind the name of the alarm.
_DEEDS = {
    "acknowledged": ("acknowledged", ""),
    "shelved": ("shelved", ""),
    "taken_out_of_service": ("took", " out of service"),
    "cleared": ("cleared", ""),
}


def answer(by: str, what: str, alarm: ToldAlarm | None, context: MessageContext, now_utc_s: float) -> str:
    """``ben shelved DC-101 PDAH-101 until 14:00``; ``what`` names the alarm, or several."""
    happened = "acknowledged" if alarm is None else alarm.answered or "acknowledged"
    if happened == "removed":
        return f"{what} is no longer watched: the site file has changed"
    before, behind = _DEEDS.get(happened, _DEEDS["acknowledged"])
    until = ""
    if alarm is not None and alarm.answered_until_utc_s is not None:
        until = f" until {by_the_clock(alarm.answered_until_utc_s, now_utc_s, context.zone)}"
    return f"{by or 'somebody'} {before} {what}{behind}{until}"


def because(alarm: ToldAlarm | None) -> str:
    """Why, as that person said; empty where no reason was given."""
    return "" if alarm is None or not alarm.answered_why else f"because: {plain(alarm.answered_why, 120)}"
