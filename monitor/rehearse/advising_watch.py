"""Advising watch: one collector through a recording, read as live: conditioned, gathered, its cycles found."""

from array import array
from collections.abc import Mapping, Sequence
from math import inf, nan, sqrt
from statistics import median

from monitor.acquire.traces.trace import Cell, Chunk
from monitor.condition import channel
from monitor.interpret import gathering
from monitor.interpret.advice.learning import Seen
from monitor.interpret.air import count
from monitor.interpret.cycles import tracker
from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.digest import Digest
from monitor.interpret.settings import CurveSettings
from monitor.rehearse.advising_recorded import Recorded
from monitor.scan.settings import CollectorPlan
from monitor.words import Failure, Instant, Quality, Reading, Role

_ANALOG = (Role.DP, Role.HEADER_PRESSURE, Role.AIR_FLOW)
#: The unrest of so many digests says what the noise is.
_MOST_UNRESTS = 20_000


class Watcher:
    """Reads one collector.

    Args:
        plan: from ``door.for_recorded``.
        begins_utc_s: the moment of the first row.
    """

    def __init__(self, plan: CollectorPlan, begins_utc_s: float) -> None:
        self.plan = plan
        self._begins_utc_s = begins_utc_s
        self._settings = plan.curve or CurveSettings()
        self._states = {role: channel.start(point.channel) for role, point in plan.points.items()}
        self._gathering = gathering.EMPTY
        self._tracker = tracker.BEGIN
        self._count = count.BEGIN
        self._cycles: list[Cycle] = []
        self._lows: list[float] = []
        self._low = inf
        self._level = (0.0, 0)
        self._unrests: list[float] = []
        self._readings = 0
        self._utc_s, self._last, self._mean = array("d"), array("f"), array("f")
        self._flags = bytearray()

    def follow(self, chunk: Chunk) -> None:
        """Take in the rows of a chunk."""
        cells = {point.role: rows for point, rows in chunk.columns.items() if point.collector == self.plan.name}
        if Role.DP not in cells:
            return
        rows = [at for at, cell in enumerate(cells[Role.DP]) if cell is not None]
        utc_s = [chunk.utc_s[at] for at in rows]
        at_s = [moment - self._begins_utc_s for moment in utc_s]
        fan = self._read(Role.FAN_RUNNING, cells, rows, utc_s, None)
        read = {role: self._read(role, cells, rows, utc_s, fan) for role in (*_ANALOG, Role.CLEANING_ACTIVE)}
        self._gathering, digests = gathering.gather_many(
            self._settings.digest_s,
            self._gathering,
            at_s,
            utc_s,
            read[Role.DP] or [None] * len(rows),
            read[Role.HEADER_PRESSURE],
            read[Role.AIR_FLOW],
            _yes_or_no(fan),
            _yes_or_no(read[Role.CLEANING_ACTIVE]),
        )
        for digest in digests:
            self._take(digest)

    def seen(self) -> Seen:
        """All that was seen."""
        return Seen(
            cycles=tuple(self._cycles),
            readings=self._readings,
            watched_s=self._count.watched_s,
            running_s=self._count.running_s,
            cleaning_s=self._count.cleaning_s,
            noise_inh2o=sqrt(median(self._unrests) / 2.0) if self._unrests else 0.0,
            dip_psi=self._count.dip_psi,
            pulses=self._count.all_pulses,
            lows=tuple(self._lows),
            cleaning_level_inh2o=self._level[0] / self._level[1] if self._level[1] else None,
        )

    def recorded(self) -> Recorded:
        """The curve as it was, digest by digest."""
        return Recorded(self._utc_s, self._last, self._mean, self._flags)

    def _read(
        self,
        role: Role,
        cells: Mapping[Role, list[Cell]],
        rows: Sequence[int],
        utc_s: Sequence[float],
        fan: Sequence[float | None] | None,
    ) -> list[float | None] | None:
        """The good readings of one point at those rows; None where it is not there."""
        if role not in cells or role not in self.plan.points:
            return None
        how, state, column = self.plan.points[role].channel, self._states[role], cells[role]
        values: list[float | None] = []
        for number, (row, moment) in enumerate(zip(rows, utc_s, strict=True)):
            cell = column[row]
            at = Instant(moment - self._begins_utc_s, moment)
            if cell is None:
                values.append(values[-1] if values and role not in _ANALOG else None)
                continue
            if isinstance(cell, Failure):
                state, reading = channel.fail(how, state, cell, at)
            else:
                runs = None if fan is None or fan[number] is None else fan[number] == 1.0
                # The cell stands as a register word would; ``for_recorded`` has seen to that.
                state, reading = channel.advance(how, state, (cell,), at, runs)  # type: ignore[arg-type]  # as it stands
            values.append(_good(reading))
        self._states[role] = state
        return values

    def _take(self, digest: Digest) -> None:
        settings = self._settings
        self._tracker, cycle = tracker.advance(settings.cleaning, self._tracker, digest)
        self._count = count.advance(settings, self._count, digest, self._tracker, cycle)
        self._readings += digest.good
        if cycle is not None:
            self._cycles.append(cycle)
            self._lows.append(self._low)
            self._low = inf
        if digest.good and digest.fan is not False:
            self._low = min(self._low, digest.mean_inh2o)
            if self._tracker.cleaning_since_s is not None:
                self._level = (self._level[0] + digest.mean_inh2o, self._level[1] + 1)
        if digest.good > 1 and len(self._unrests) < _MOST_UNRESTS and self._tracker.cleaning_since_s is None:
            self._unrests.append(digest.unrest)
        self._utc_s.append(digest.end_utc_s)
        self._last.append(digest.last_inh2o if digest.good else nan)
        self._mean.append(digest.mean_inh2o if digest.good else nan)
        self._flags.append((digest.fan is not False) + 2 * bool(digest.cleaning))


def _good(reading: Reading) -> float | None:
    return reading.value if reading.quality is Quality.GOOD else None


def _yes_or_no(values: Sequence[float | None] | None) -> list[bool | None] | None:
    return None if values is None else [None if value is None else value == 1.0 for value in values]
