"""Stretch curve: what many samples say of the curve, and the first of them that may bring something.

The digests are those that ``curve.advance`` would have made sample by sample; each is taken in by itself.
"""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from monitor.interpret import curve
from monitor.interpret.curve import CurveState
from monitor.interpret.gathering import gather_many
from monitor.scan.settings import CollectorPlan
from monitor.words import Role


class Seen(NamedTuple):
    """What was read of one point at some rows.

    Attributes:
        rows: their places among all rows, rising.
        values: in engineering units, one for each.
    """

    rows: Sequence[int]
    values: Sequence[float]


class Read(NamedTuple):
    """The curve through some samples.

    Attributes:
        calm: how many samples come before one that may bring an event.
        state: the curve after all of them; worth something only where all are calm.
    """

    calm: int
    state: CurveState


def follow(
    plan: CollectorPlan,
    state: CurveState,
    at_s: Sequence[float],
    utc_s: Sequence[float],
    seen: Mapping[Role, Seen],
    before: Mapping[Role, float | None],
) -> Read:
    """Take in 1 sample or more of the DP.

    Args:
        plan: of the collector.
        state: its curve before them.
        at_s: the moments of the samples, scan clock.
        utc_s: the same as Unix seconds.
        seen: of each point that has numbers among the rows, the DP at least.
        before: of every other role's point, its last good value; None where it is not good.
    """
    if plan.curve is None:
        return Read(len(at_s), state)
    dp, length = seen[Role.DP], len(at_s)

    def column(role: Role) -> Sequence[float | None] | None:
        if role in seen:
            return _filled(seen[role], dp.rows, before.get(role))
        return None if before.get(role) is None else [before[role]] * length

    def answer(role: Role) -> Sequence[bool | None] | None:
        value = before.get(role)
        return None if value is None else [value == 1.0] * length

    gathered, digests = gather_many(
        plan.curve.digest_s,
        state.gathering,
        at_s,
        utc_s,
        dp.values,
        column(Role.HEADER_PRESSURE),
        column(Role.AIR_FLOW),
        answer(Role.FAN_RUNNING),
        answer(Role.CLEANING_ACTIVE),
    )
    for digest in digests:
        after = curve.take(plan.curve, state, digest)
        if _matters(plan, state, after):
            return Read(bisect_right(at_s, digest.end_s), after)
        state = after
    return Read(length, state._replace(gathering=gathered))


def _filled(seen: Seen, rows: Sequence[int], before: float | None) -> Sequence[float | None]:
    """The newest value at each of these rows."""
    if len(seen.rows) == len(rows) and seen.rows == rows:
        return seen.values
    filled: list[float | None] = []
    place, value = 0, before
    for row in rows:
        while place < len(seen.rows) and seen.rows[place] <= row:
            value = seen.values[place]
            place += 1
        filled.append(value)
    return filled


def _matters(plan: CollectorPlan, before: CurveState, after: CurveState) -> bool:
    """Whether it may raise an alarm, or tells of a new set of filters."""
    if before.ageing.since_utc_s != after.ageing.since_utc_s:
        return True
    return bool(plan.warnings) and before.signs != after.signs
