"""Snapshot: what the judge must still know after a power cut, as text and back.

Alarms are written at every edge, windows (larger, slower) now and then; each collector has one text for either.
A text that cannot be understood is worth less than a running daemon: it is dropped, and the caller says so.
"""

import json
from collections.abc import Mapping
from typing import Any

from monitor.interpret.window import Bucket, Window
from monitor.judge.lifecycle import Alarm, Timer
from monitor.words import AlarmState


def alarms_key(collector: str) -> str:
    """Under which the alarms of a collector are remembered."""
    return f"alarms/{collector}"


def alarms_owner(key: str) -> str:
    """The collector whose alarms are remembered under this key; empty for any other key."""
    return key.removeprefix("alarms/") if key.startswith("alarms/") else ""


def windows_key(collector: str) -> str:
    """Under which the windows of a collector are remembered."""
    return f"windows/{collector}"


def write_alarms(alarms: Mapping[str, Alarm]) -> str:
    """All alarms of one collector as JSON text."""
    return json.dumps({tag: _alarm_fields(alarm) for tag, alarm in alarms.items()}, separators=(",", ":"))


def read_alarms(text: str) -> dict[str, Alarm]:
    """The alarms back from their text; ValueError where it is not such a text."""
    try:
        return {tag: _alarm(fields) for tag, fields in json.loads(text).items()}
    except (TypeError, KeyError, AttributeError, ValueError) as error:
        raise ValueError(f"not a snapshot of alarms: {error}") from error


def write_windows(windows: Mapping[str, tuple[float, Window]]) -> str:
    """Windows by name, each with its length in seconds, as JSON text.

    One window that serves under two names is written once; under the other stands the name of the first.
    """
    fields: dict[str, Any] = {}
    first: dict[tuple[float, int], str] = {}
    for name, (length_s, window) in windows.items():
        same = first.setdefault((length_s, id(window)), name)
        own = {"length_s": length_s, "closed": window.closed, "open": window.open}
        fields[name] = own if same == name else same
    # A bucket without a sample has an infinite lowest value; Python's JSON writes and reads "Infinity".
    return json.dumps(fields, separators=(",", ":"))


def read_window(text: str, name: str, length_s: float) -> Window:
    """One window back from its text, paused; empty where its length changed.

    Raises:
        ValueError: it is no such text.
    """
    try:
        everything = json.loads(text)
        fields = everything[name]
        if isinstance(fields, str):
            fields = everything[fields]
        if fields["length_s"] != length_s:
            return Window()
        closed = tuple(Bucket(*map(float, bucket)) for bucket in fields["closed"])
        filling = Bucket(*map(float, fields["open"]))
        return Window(
            closed=closed,
            closed_lowest=min((one.lowest for one in closed), default=float("inf")),
            closed_integral=sum(one.integral for one in closed),
            closed_s=sum(one.length_s for one in closed),
            open=filling,
            is_full=filling.until_s >= length_s - 1e-6,
        )
    except (TypeError, KeyError, AttributeError, ValueError) as error:
        raise ValueError(f"not a snapshot of windows: {error}") from error


def _alarm_fields(alarm: Alarm) -> dict[str, Any]:
    return {
        "state": alarm.state.value,
        "present": alarm.present,
        "blind": alarm.blind,
        "delay": alarm.delay,
        "returned": alarm.returned,
        "seen": alarm.seen,
        "raised_utc_s": alarm.raised_utc_s,
        "since_utc_s": alarm.since_utc_s,
        "easing": alarm.easing,
    }


def _alarm(fields: dict[str, Any]) -> Alarm:
    return Alarm(
        state=AlarmState(fields["state"]),
        present=bool(fields["present"]),
        blind=bool(fields["blind"]),
        delay=_timer(fields["delay"]),
        returned=_timer(fields["returned"]),
        seen=bool(fields["seen"]),
        raised_utc_s=_optional(fields["raised_utc_s"]),
        since_utc_s=_optional(fields["since_utc_s"]),
        easing=_timer(fields.get("easing")),
    )


def _timer(pair: list[float | None] | None) -> Timer | None:
    if pair is None:
        return None
    counted_s, since_s = pair
    return Timer(float(counted_s or 0.0), _optional(since_s))


def _optional(number: float | None) -> float | None:
    return None if number is None else float(number)
