"""Command fields: what may stand behind each key of a command, and the clause that says so where it does not."""

import json
import re
from datetime import datetime, timedelta
from typing import Any

from monitor.condition import units
from monitor.words import CommandKind

#: A larger command is not read; ours are about 200 bytes (our choice).
MOST_BYTES = 4096
LONGEST_ID = 64
LONGEST_NAME = 64
LONGEST_REASON = 200
#: No length of time is larger than a year, seconds; the site file's bound for shelving is far below.
LONGEST_FOR_S = 366 * 86400.0
KINDS = "one of " + ", ".join(kind.value for kind in CommandKind)

_ID = re.compile(r"[A-Za-z0-9._:-]+", re.ASCII)
# RFC 3339 §5.6; datetime.fromisoformat takes week dates and much else that is none.
_MOMENT = re.compile(
    r"(\d{4}-\d\d-\d\d)[Tt ](\d\d:\d\d:)(\d\d)(\.\d{1,9})?([Zz]|[+-](?:[01]\d|2[0-3]):[0-5]\d)", re.ASCII
)
_LENGTH = re.compile(r"(\d{1,9}(?:\.\d{1,9})?)\s*([A-Za-z]{1,12})", re.ASCII)
_SHOWN_AT_MOST = 40


class UnfitError(ValueError):
    """A clause that goes on from what it is about: "must be …"."""


def json_object(data: bytes) -> dict[str, Any]:
    """The one JSON object that these bytes are.

    Raises:
        UnfitError: too long, no JSON, another thing than an object, or one that has a key twice.
    """
    if len(data) > MOST_BYTES:
        raise UnfitError(f"must be at most {MOST_BYTES} bytes (found {len(data)}): send one command at a time")
    wanted = "must be one JSON object in UTF-8"
    try:
        found = json.loads(data.decode("utf-8"), object_pairs_hook=_once, parse_constant=_no_constant)
    except UnfitError:
        raise
    except UnicodeDecodeError:
        raise UnfitError(f"{wanted} (found bytes that are not UTF-8)") from None
    except json.JSONDecodeError as error:
        raise UnfitError(f"{wanted} (found none at line {error.lineno}, column {error.colno})") from None
    except RecursionError:
        raise UnfitError(f"{wanted} (found too many brackets in one another)") from None
    except ValueError:  # a whole number of more digits than Python is set to read
        raise UnfitError(f"{wanted} (found a very large number)") from None
    if not isinstance(found, dict):
        raise UnfitError(f"{wanted} (found {shown(found)})")
    return found


def kind(value: Any) -> CommandKind:
    """What is asked for."""
    if not isinstance(value, str) or value not in set(CommandKind):
        raise UnfitError(f"must be {KINDS}")
    return CommandKind(value)


def identifier(value: Any) -> str:
    """The sender's name for one command."""
    if not isinstance(value, str) or len(value) > LONGEST_ID or not _ID.fullmatch(value):
        raise UnfitError(f"must be letters, digits and . _ : - and at most {LONGEST_ID} of them")
    return value


def name(value: Any) -> str:
    """The name of a person or the tag of an alarm."""
    return _line(value, LONGEST_NAME)


def reason(value: Any) -> str:
    """Why something is asked for."""
    return _line(value, LONGEST_REASON)


def length_s(value: Any) -> float:
    """A length of time, seconds, above 0."""
    seconds = _seconds(value)
    if seconds is None or not 0 < seconds <= LONGEST_FOR_S:
        raise UnfitError('must be a length of time above 0, such as "30 min", or a number of seconds')
    return seconds


def moment_utc_s(value: Any) -> float:
    """The Unix seconds of an RFC 3339 moment."""
    wanted = "must be a moment with its offset as in RFC 3339, such as 2026-03-01T08:12:03Z"
    parts = _MOMENT.fullmatch(value) if isinstance(value, str) else None
    if parts is None:
        raise UnfitError(wanted)
    date, hour_minute, second, fraction, offset = parts.groups()
    # A leap second (RFC 3339 §5.7) is the last of its minute, and one more.
    is_leap = second == "60"
    zone = "+00:00" if offset in "Zz" else offset
    try:
        found = datetime.fromisoformat(f"{date}T{hour_minute}{'59' if is_leap else second}{zone}")
        return (found + timedelta(seconds=float(fraction or 0) + is_leap)).timestamp()
    except (ValueError, OverflowError):
        raise UnfitError(wanted) from None


def shown(value: Any) -> str:
    """What was found, short and fit to print."""
    match value:
        case str():
            flat = "".join(one if one.isprintable() else "?" for one in value)
            return f'"{flat}"' if len(flat) <= _SHOWN_AT_MOST else f'"{flat[:_SHOWN_AT_MOST]}…"'
        case bool():
            return "true" if value else "false"
        case int() | float():
            return f"{value:g}" if abs(value) < 1e15 else "a very large number"
        case list():
            return "a list"
        case dict():
            return "an object"
    return "null"


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise UnfitError("must have each key once (found one twice): leave one out")
    return found


def _no_constant(found: str) -> float:
    raise UnfitError(f"must be JSON, which has no {found}: write a number")


def _line(value: Any, longest: int) -> str:
    """One line that can be shown, logged and journaled as it is."""
    if not isinstance(value, str) or len(value) > longest or not value.isprintable() or not value.strip():
        raise UnfitError(f"must be one line of 1 to {longest} printable characters")
    return value.strip()


def _seconds(value: Any) -> float | None:
    if isinstance(value, int | float) and not isinstance(value, bool):
        # Compared before it is converted: JSON knows whole numbers that no float can hold.
        return float(value) if 0 < value <= LONGEST_FOR_S else None
    parts = _LENGTH.fullmatch(value.strip()) if isinstance(value, str) else None
    try:
        return None if parts is None else float(parts[1]) * _seconds_in(parts[2])
    except ValueError:
        return None


def _seconds_in(unit: str) -> float:
    """How long one of this unit is; ValueError for what is no unit of time."""
    return units.factor(unit, "s", pa_per_inh2o=1.0)
