"""Follower: walks one collector through the rows of a recording, and keeps what becomes of it."""

from bisect import bisect_left
from collections.abc import Mapping, Sequence

from monitor.acquire.traces.trace import Cell, Chunk
from monitor.rehearse.door import Door
from monitor.report.rehearsal import AlarmLine, CollectorStory, Sight
from monitor.report.rehearsal_curve import CurveKeeper
from monitor.report.rehearsal_log import RaisingLog
from monitor.scan.settings import CollectorPlan
from monitor.words import Event, Instant, Role

#: Rows tried at once: fewer where little comes of it, more where all goes well.
FEWEST, MOST = 16, 4096
#: So many rows are at most taken singly before a stretch is tried again.
LONGEST_WAIT = 16


class Follower:
    """One collector under one site file.

    Args:
        plan: from ``door.for_recorded``.
        begins_utc_s: the moment of the first row.
        exact: take each row and each second for itself.
    """

    def __init__(self, plan: CollectorPlan, begins_utc_s: float, *, exact: bool) -> None:
        self._plan = plan
        self._exact = exact
        self._door = Door(plan, begins_utc_s, exact=exact)
        self._log = RaisingLog()
        self._curve = CurveKeeper(begins_utc_s)
        self._sight = _SightKeeper(plan.points[Role.DP].channel.stale_after_s, begins_utc_s)
        self._size = FEWEST
        self._wait = self._waited = 0

    def follow(self, chunk: Chunk) -> None:
        """Take in the rows of a chunk."""
        begins = self._door.begins_utc_s
        at_s = [utc_s - begins for utc_s in chunk.utc_s]
        cells = {
            point.role: column for point, column in chunk.columns.items() if point.collector == self._plan.name
        }
        stops = _failures(self._plan.name, chunk)
        row, end = 0, len(at_s)
        while row < end:
            stop = stops[place] if (place := bisect_left(stops, row)) < len(stops) else end
            row += self._stretch(at_s, chunk.utc_s, cells, row, stop) or self._single(
                Instant(at_s[row], chunk.utc_s[row]), {role: column[row] for role, column in cells.items()}
            )

    def story(self, until_utc_s: float) -> CollectorStory:
        """What became of it, when the data ends at that moment."""
        self._pass_time(until_utc_s - self._door.begins_utc_s)
        self._see_dp(until_utc_s)
        return CollectorStory(
            name=self._plan.name,
            description=self._plan.description,
            alarms=tuple(_lines(self._plan, self._log)),
            raisings=self._log.raisings(),
            curve=self._curve.curve(),
            sight=self._sight.sight(until_utc_s),
            reading=self._plan.curve,
            read=None if self._plan.curve is None else self._door.state.curve,
        )

    def _stretch(
        self, at_s: list[float], utc_s: list[float], cells: Mapping[Role, list[Cell]], row: int, stop: int
    ) -> int:
        """Try many rows at once; how many it were."""
        if self._exact or stop - row < FEWEST:
            return 0
        if self._waited < self._wait:
            self._waited += 1
            return 0
        end = min(row + self._size, stop)
        some = {role: column[row:end] for role, column in cells.items()}
        taken = self._door.stretch(at_s[row:end], utc_s[row:end], some)
        self._learn(taken.rows, end - row)
        if taken.rows:
            self._curve.add(taken.utc_s, taken.damped)
            self._sight.see(taken.utc_s)
            if self._log.watches:
                self._log.see(min(taken.damped), max(taken.damped))
        return taken.rows

    def _learn(self, taken: int, tried: int) -> None:
        self._waited = 0
        self._wait = 0 if taken else min(LONGEST_WAIT, 2 * self._wait + 1)
        self._size = min(MOST, 2 * self._size) if taken == tried else max(FEWEST, self._size // 2)

    def _single(self, at: Instant, cells: Mapping[Role, Cell]) -> int:
        """One row through the core, after the time before it."""
        self._pass_time(at.mono_s)
        if cells.get(Role.DP) is not None:
            self._sight.see((at.utc_s,))
        self._take(self._door.row(at, cells))
        damped = self._see_dp(at.utc_s)
        if cells.get(Role.DP) is None:
            return 1
        if damped is None:
            self._sight.bad += 1
        else:
            self._curve.add((at.utc_s,), (damped,))
            self._log.see(damped, damped)
        return 1

    def _pass_time(self, until_s: float) -> None:
        while (at := self._door.next_tick(until_s)) is not None:
            self._take(self._door.tick(at))
            self._see_dp(at.utc_s)

    def _see_dp(self, utc_s: float) -> float | None:
        """Note whether the DP is in sight at that moment."""
        damped = self._door.damped_inh2o
        begun_s = self._sight.blind_since(utc_s, is_blind=damped is None)
        if begun_s is not None:
            self._curve.add_blind(begun_s, utc_s)
        return damped

    def _take(self, events: Sequence[Event]) -> None:
        for event in events:
            self._log.take(event)


class _SightKeeper:
    """Counts the readings of the DP, the gaps between them and the stretches without a good one."""

    def __init__(self, stale_after_s: float, begins_utc_s: float) -> None:
        self.bad = 0
        self._stale_after_s = stale_after_s
        self._samples = 0
        self._last_s = begins_utc_s
        self._gaps: list[float] = [0.0, 0.0, 0.0, 0.0]
        self._blind_s: float | None = None

    def see(self, utc_s: Sequence[float]) -> None:
        """Readings of the DP, none of them further apart than it takes to turn stale."""
        self._gap(utc_s[0])
        self._samples += len(utc_s)
        self._last_s = utc_s[-1]

    def _gap(self, utc_s: float) -> None:
        gap_s = utc_s - self._last_s
        if gap_s > self._stale_after_s:
            total_s, count, longest_s, longest_utc_s = self._gaps
            if gap_s > longest_s:
                longest_s, longest_utc_s = gap_s, self._last_s
            self._gaps = [total_s + gap_s, count + 1, longest_s, longest_utc_s]

    def blind_since(self, utc_s: float, *, is_blind: bool) -> float | None:
        """From when on it was blind up to now, since the last time this was asked; None where it was not."""
        before_s, self._blind_s = self._blind_s, utc_s if is_blind else None
        return before_s

    def sight(self, until_utc_s: float) -> Sight:
        """All of it, when the data ends at that moment."""
        self._gap(until_utc_s)
        self._last_s = until_utc_s
        total_s, count, longest_s, longest_utc_s = self._gaps
        return Sight(
            samples=self._samples,
            bad=self.bad,
            silent_s=total_s,
            gaps=int(count),
            longest_gap_s=longest_s,
            longest_gap_utc_s=longest_utc_s,
        )


def _failures(collector: str, chunk: Chunk) -> list[int]:
    """The rows in which the recording tells of a failure at that collector."""
    rows = {
        row
        for point, holes in chunk.holes.items()
        if point.collector == collector
        for row in holes
        if chunk.columns[point][row] is not None
    }
    return sorted(rows)


def _lines(plan: CollectorPlan, log: RaisingLog) -> list[AlarmLine]:
    """The alarms as they are set, with what became of them; the bad signal last."""
    bands = [
        AlarmLine(
            tag=band.alarm.tag,
            priority=band.alarm.priority,
            side=band.side.value,
            judged=band.judged.value,
            setpoint_inh2o=band.setpoint_inh2o,
            on_delay_s=band.alarm.on_delay_s,
            changes=tuple(log.changes.get(band.alarm.tag, ())),
        )
        for band in plan.bands
    ]
    bands += [
        AlarmLine(
            tag=alarm.tag,
            priority=alarm.priority,
            warning=sign.value,
            on_delay_s=alarm.on_delay_s,
            changes=tuple(log.changes.get(alarm.tag, ())),
        )
        for sign, alarm in plan.warnings.items()
    ]
    bad = plan.bad_signal
    changes = tuple(log.changes.get(bad.tag, ()))
    return [*bands, AlarmLine(tag=bad.tag, priority=bad.priority, on_delay_s=bad.on_delay_s, changes=changes)]
