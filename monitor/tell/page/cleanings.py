"""Cleanings: the cleaning cycles in a piece of the history, found by the reader that reads the live curve."""

from collections.abc import Mapping, Sequence

from monitor.interpret.cycles import tracker
from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.gathering import EMPTY, gather_many
from monitor.interpret.settings import CurveSettings
from monitor.words import HistoryRow, Role

#: So long before the piece the reader begins, to learn what is usual there, seconds (our choice).
LEAD_S = 3 * 3600.0
#: In a wider span the pieces are too long to see a cleaning in, seconds.
WIDEST_S = 26 * 3600.0


def found(settings: CurveSettings, rows: Mapping[Role, Sequence[HistoryRow]], step_s: float) -> list[Cycle]:
    """Every whole cycle in these steps, oldest first.

    Of each step its last reading is taken, at its end, as a slower scan would have brought it.

    Args:
        settings: how the curve is read.
        rows: of the collector's points, oldest first; of the DP at least.
        step_s: length of a step.
    """
    dp = rows[Role.DP]
    at_s = [row.start_utc_s + step_s for row in dp]
    if not at_s:
        return []

    def figures(role: Role) -> list[float | None] | None:
        known = {row.start_utc_s: row.last for row in rows.get(role, ())}
        return None if not known else [known.get(row.start_utc_s) for row in dp]

    def answers(role: Role) -> list[bool | None] | None:
        known = figures(role)
        return None if known is None else [None if one is None else one == 1.0 for one in known]

    values = [None if row.bad and not row.good else row.last for row in dp]
    _, digests = gather_many(
        settings.digest_s,
        EMPTY,
        at_s,
        at_s,
        values,
        figures(Role.HEADER_PRESSURE),
        figures(Role.AIR_FLOW),
        answers(Role.FAN_RUNNING),
        answers(Role.CLEANING_ACTIVE),
    )
    state, cycles = tracker.BEGIN, []
    for digest in digests:
        state, cycle = tracker.advance(settings.cleaning, state, digest)
        if cycle is not None:
            cycles.append(cycle)
    return cycles
