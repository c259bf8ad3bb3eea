"""Rehearsal strip: the life of one alarm cut into so many columns, each with the gravest state it held in it."""

from collections.abc import Sequence
from itertools import groupby

from monitor.report.rehearsal import Change
from monitor.words import AlarmState

#: From what matters least to what matters most; a column shows the last of those that it holds.
GRAVITY: tuple[AlarmState, ...] = (
    AlarmState.NORMAL,
    AlarmState.OUT_OF_SERVICE,
    AlarmState.SHELVED,
    AlarmState.SUPPRESSED_BY_DESIGN,
    AlarmState.RETURNED_UNACKNOWLEDGED,
    AlarmState.LATCHED_ACKNOWLEDGED,
    AlarmState.LATCHED_UNACKNOWLEDGED,
    AlarmState.ACKNOWLEDGED,
    AlarmState.UNACKNOWLEDGED,
)
_RANK = {state: rank for rank, state in enumerate(GRAVITY)}

#: How a state stands in a chart of characters.
MARKS = {
    AlarmState.NORMAL: "·",
    AlarmState.OUT_OF_SERVICE: "×",
    AlarmState.SHELVED: "=",
    AlarmState.SUPPRESSED_BY_DESIGN: "░",
    AlarmState.RETURNED_UNACKNOWLEDGED: "▂",
    AlarmState.LATCHED_ACKNOWLEDGED: "▃",
    AlarmState.LATCHED_UNACKNOWLEDGED: "▄",
    AlarmState.ACKNOWLEDGED: "▓",
    AlarmState.UNACKNOWLEDGED: "█",
}


def strip(
    changes: Sequence[Change], begins_utc_s: float, ends_utc_s: float, columns: int
) -> tuple[AlarmState, ...]:
    """The gravest state in each of ``columns`` equal parts (1 or more) of that time."""
    width_s = max((ends_utc_s - begins_utc_s) / columns, 1e-9)
    ranks = [0] * columns
    for state, from_s, until_s in spans(changes, begins_utc_s, ends_utc_s):
        first = min(columns - 1, int((from_s - begins_utc_s) / width_s))
        last = min(columns - 1, max(first, int((until_s - begins_utc_s) / width_s - 1e-9)))
        for at in range(first, last + 1):
            ranks[at] = max(ranks[at], _RANK[state])
    return tuple(GRAVITY[rank] for rank in ranks)


def for_drawing(
    changes: Sequence[Change], begins_utc_s: float, ends_utc_s: float, columns: int
) -> list[tuple[AlarmState, float, float]]:
    """The stretches of ``spans`` for a drawing so many dots wide.

    Where they are more than can be told apart, the gravest state of each dot stands for it: a month of chattering
    must not become a file of megabytes.
    """
    found = spans(changes, begins_utc_s, ends_utc_s)
    if len(found) <= columns / 2:
        return found
    joined: list[tuple[AlarmState, float, float]] = []
    width_s, at = (ends_utc_s - begins_utc_s) / columns, 0
    for state, run in groupby(strip(changes, begins_utc_s, ends_utc_s, columns)):
        first, at = at, at + sum(1 for _ in run)
        if state is not AlarmState.NORMAL:
            joined.append((state, begins_utc_s + first * width_s, begins_utc_s + at * width_s))
    return joined


def spans(
    changes: Sequence[Change], begins_utc_s: float, ends_utc_s: float
) -> list[tuple[AlarmState, float, float]]:
    """Every stretch in which it was not normal: its state, from when and until when, Unix seconds."""
    ends = [change.at_utc_s for change in changes[1:]] + [ends_utc_s]
    found = [
        (change.state, max(change.at_utc_s, begins_utc_s), min(until_s, ends_utc_s))
        for change, until_s in zip(changes, ends, strict=False)
        if change.state is not AlarmState.NORMAL
    ]
    return [one for one in found if one[2] >= one[1]]
