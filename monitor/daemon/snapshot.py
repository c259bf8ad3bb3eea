"""Snapshot: what the judge must still know after a power cut, as text and back.

Alarms are written at every edge, windows (larger, slower) now and then; each collector has one text for either.
A text that cannot be understood is worth less than a running daemon: it is dropped, and the caller says so.
"""

import json
from collections.abc import Iterable, Mapping
from typing import Any

from monitor.daemon.snapshot_curve import curve_key
from monitor.interpret.window import Bucket, Window
from monitor.judge.alarm import Alarm, Timer
from monitor.judge.table import ACTIVE
from monitor.scan.context import UNKNOWN, Context
from monitor.scan.settings import PlantPlan
from monitor.scan.state import Answered, Desk
from monitor.words import AlarmState, Answer, AnswerCode, CommandKind, Hold, HoldReason, Removal, Shelf

#: Under which the answered commands are remembered.
DESK_KEY = "desk"

#: What the keys of the outlets begin with, up to a slash.
_OUTLETS = frozenset({"phone", "web"})


def alarms_key(collector: str) -> str:
    """Under which the alarms of a collector are remembered."""
    return f"alarms/{collector}"


def alarms_owner(key: str) -> str:
    """The collector whose alarms are remembered under this key; empty for any other key."""
    return key.removeprefix("alarms/") if key.startswith("alarms/") else ""


def windows_key(collector: str) -> str:
    """Under which the windows of a collector are remembered."""
    return f"windows/{collector}"


def context_key(collector: str) -> str:
    """Under which is remembered what fan and cleaning of a collector last did."""
    return f"context/{collector}"


def link_key(link: str) -> str:
    """Under which the alarm of a link is remembered, by its tag as the alarms of a collector are."""
    return f"link/{link}"


def link_owner(key: str) -> str:
    """The link whose alarm is remembered under this key; empty for any other key."""
    return key.removeprefix("link/") if key.startswith("link/") else ""


def keys_gone(old: PlantPlan, new: PlantPlan) -> list[str]:
    """The keys of the collectors and links that another site file no longer has."""
    collectors, links = set(old.collectors) - set(new.collectors), set(old.links) - set(new.links)
    return [key for name in collectors for key in _keys_of(name)] + [link_key(name) for name in links]


def keys_unknown(keys: Iterable[str], plan: PlantPlan) -> list[str]:
    """Those of these keys that belong to a collector or a link the site file does not have."""
    known = {key for name in plan.collectors for key in _keys_of(name)}
    known |= {link_key(name) for name in plan.links} | {DESK_KEY}
    return [key for key in keys if key not in known and not is_of_outlet(key)]


def is_of_outlet(key: str) -> bool:
    """Whether an outlet remembers something under this key: it is no collector's and no link's."""
    return key.partition("/")[0] in _OUTLETS


def _keys_of(collector: str) -> tuple[str, ...]:
    return alarms_key(collector), windows_key(collector), context_key(collector), curve_key(collector)


def lasting(context: Context) -> tuple[object, ...]:
    """What of a context is worth writing down when it changes: not how lately it was said."""
    return context.fan_runs, context.fan_started_s, context.cleans, context.cleaning_since_s


def write_context(context: Context) -> str:
    """What fan and cleaning last did, as JSON text."""
    # Python's JSON writes and reads the infinite second of what never happened.
    return json.dumps(context._asdict(), separators=(",", ":"))


def read_context(text: str) -> Context:
    """The context back from its text; ValueError where it is not such a text."""
    try:
        fields = json.loads(text)
        return UNKNOWN._replace(**{name: fields[name] for name in UNKNOWN._fields if name in fields})
    except (TypeError, KeyError, ValueError) as error:
        raise ValueError(f"not a snapshot of a context: {error}") from error


def write_desk(desk: Desk) -> str:
    """The answered commands, oldest first, as JSON text."""
    rows = [
        (
            one.kind,
            one.tag,
            one.by,
            one.answer.command_id,
            one.answer.code,
            one.answer.at_utc_s,
            one.answer.state,
            one.reason,
            one.for_s,
            one.collector,
            one.about_utc_s,
            one.action,
            one.person,
        )
        for one in desk.answered.values()
    ]
    return json.dumps(rows, separators=(",", ":"))


def read_desk(text: str) -> Desk:
    """The answered commands back from their text; ValueError where it is not such a text."""
    try:
        return Desk({row[3]: _answered(*row) for row in json.loads(text)})
    except (TypeError, KeyError, ValueError, IndexError) as error:
        raise ValueError(f"not a snapshot of commands: {error}") from error


def _answered(
    kind: str,
    tag: str,
    by: str,
    command_id: str,
    code: str,
    at_utc_s: float,
    state: str | None,
    *more: Any,
) -> Answered:
    answer = Answer(
        command_id=command_id,
        code=AnswerCode(code),
        text="",
        at_utc_s=float(at_utc_s),
        tag=tag,
        state=None if state is None else AlarmState(state),
    )
    return Answered(CommandKind(kind), tag, by, answer, *more[:6])


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
        "stands": alarm.stands,
        "kept": alarm.kept.value,
        "hold": alarm.hold,
        "shelf": alarm.shelf,
        "removal": alarm.removal,
    }


def _alarm(fields: dict[str, Any]) -> Alarm:
    state = AlarmState(fields["state"])
    hold, shelf, removal = fields.get("hold"), fields.get("shelf"), fields.get("removal")
    return Alarm(
        state=state,
        present=bool(fields["present"]),
        blind=bool(fields["blind"]),
        delay=_timer(fields["delay"]),
        returned=_timer(fields["returned"]),
        seen=bool(fields["seen"]),
        raised_utc_s=_optional(fields["raised_utc_s"]),
        since_utc_s=_optional(fields["since_utc_s"]),
        easing=_timer(fields.get("easing")),
        # Before alarms could be held, one stood exactly while it was active.
        stands=bool(fields.get("stands", state in ACTIVE)),
        kept=AlarmState(fields.get("kept", AlarmState.NORMAL)),
        hold=None if hold is None else Hold(HoldReason(hold[0]), str(hold[1])),
        shelf=None if shelf is None else Shelf(*shelf),
        removal=None if removal is None else Removal(*removal),
    )


def _timer(pair: list[float | None] | None) -> Timer | None:
    if pair is None:
        return None
    counted_s, since_s = pair
    return Timer(float(counted_s or 0.0), _optional(since_s))


def _optional(number: float | None) -> float | None:
    return None if number is None else float(number)
