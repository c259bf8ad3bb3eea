"""Rehearsal words: moments, lengths of time and numbers as a rehearsal's reader wants them, and its sentences."""

from collections.abc import Mapping
from datetime import UTC, datetime

from monitor.report.rehearsal import AlarmLine, Ending, Raising, Sight
from monitor.words import AlarmState

_ENDINGS: Mapping[Ending, str] = {
    Ending.PROCESS: "process",
    Ending.TIMER: "timer",
    Ending.PERSON: "person",
    Ending.DESIGN: "suppressed by design",
    Ending.RAISED_AGAIN: "raised again",
    Ending.WAITING: "not yet cleared",
    Ending.STILL_ACTIVE: "still active",
}

STATES: Mapping[AlarmState, str] = {
    AlarmState.NORMAL: "normal",
    AlarmState.UNACKNOWLEDGED: "active",
    AlarmState.ACKNOWLEDGED: "active, acknowledged",
    AlarmState.RETURNED_UNACKNOWLEDGED: "back to normal, not acknowledged",
    AlarmState.LATCHED_UNACKNOWLEDGED: "latched",
    AlarmState.LATCHED_ACKNOWLEDGED: "latched, acknowledged",
    AlarmState.SHELVED: "shelved",
    AlarmState.SUPPRESSED_BY_DESIGN: "suppressed by design",
    AlarmState.OUT_OF_SERVICE: "out of service",
}


def stamp(utc_s: float) -> str:
    """A moment to the second, in UTC (which the heading says): ``2026-03-01 08:12:03``."""
    return f"{datetime.fromtimestamp(utc_s, UTC):%Y-%m-%d %H:%M:%S}"


def duration(seconds: float) -> str:
    """A length of time: ``45 s``, ``13 min``, ``2 h 5 min``, ``3 d 4 h``."""
    if seconds < 119.5:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    if minutes < 120:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 48:
        return f"{hours} h" + (f" {minutes} min" if minutes else "")
    days, hours = divmod(hours, 24)
    return f"{days} d" + (f" {hours} h" if hours else "")


def figure(value: float | None) -> str:
    """A DP with two decimals; a dash where there is none."""
    return "–" if value is None else f"{value:.2f}"


def count(number: int, thing: str) -> str:
    """``1 alarm``, ``3 alarms``, ``no alarm``."""
    if number == 0:
        return f"no {thing}"
    return f"{number:,} {thing}" + ("" if number == 1 else "s")


def ending(one: Raising) -> str:
    """What ended a raising, and when where that was not its return."""
    words = _ENDINGS[one.ending]
    if one.ended_utc_s is None or one.ending in (Ending.PROCESS, Ending.DESIGN):
        return words
    return f"{words} {_after(one, one.ended_utc_s)}"


def back(one: Raising) -> str:
    """When it was active no longer; a dash where it still is."""
    return "–" if one.back_utc_s is None else _after(one, one.back_utc_s)


def _after(one: Raising, at_utc_s: float) -> str:
    """A moment beside that of the raising: the time alone on the same day, with the date on another."""
    same_day = stamp(at_utc_s)[:10] == stamp(one.raised_utc_s)[:10]
    return stamp(at_utc_s)[11 if same_day else 5 :]


def extreme(line: AlarmLine | None, one: Raising) -> str:
    """The highest DP while it was active, or the lowest for a low band; a dash for a bad signal."""
    if line is None or not line.side:
        return "–"
    return figure(one.lowest_inh2o if line.side == "below" else one.highest_inh2o)


def setting(line: AlarmLine) -> str:
    """How an alarm is set: ``at or above 7 inH2O for 60 s``."""
    if line.warning:
        return line.warning.replace("_", " ")
    if line.setpoint_inh2o is None:
        return f"signal bad for {duration(line.on_delay_s)}"
    quantity = {"residual": "residual DP ", "average": "average DP "}.get(line.judged, "")
    after = f" for {duration(line.on_delay_s)}" if line.on_delay_s else ""
    return f"{quantity}at or {line.side} {line.setpoint_inh2o:g} inH2O{after}"


def sight(name: str, seen: Sight) -> str:
    """How well the data let a collector be seen, in one or two sentences."""
    step = "" if seen.step_s is None else f", usually {seen.step_s:.3g} s apart"
    words = [f"{name}: {count(seen.samples, 'reading')} of the DP{step}."]
    if seen.gaps:
        words.append(
            f"No data for {duration(seen.silent_s)} in {count(seen.gaps, 'gap')}, the longest "
            f"{duration(seen.longest_gap_s)} from {stamp(seen.longest_gap_utc_s)}."
        )
    if seen.bad:
        words.append(f"{seen.bad:,} of them could not be trusted (bad in the data, out of range, frozen).")
    return " ".join(words)
