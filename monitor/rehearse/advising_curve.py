"""Advising curve: the DP as it would have gone, with the noise as it was, through the real judge."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import isnan
from statistics import median

from monitor.acquire.traces.trace import CHUNK_ROWS, Cell, Chunk
from monitor.interpret.advice.learning import Habits
from monitor.interpret.advice.sawtooth import Bend
from monitor.interpret.settings import CurveSettings
from monitor.rehearse.advising_recorded import Recorded
from monitor.rehearse.door import for_recorded
from monitor.rehearse.follower import Follower
from monitor.report.rehearsal import CollectorStory
from monitor.scan.settings import CollectorPlan
from monitor.words import Failure, PointId, Reason, Role

#: A reading lies no further from its mean than so many standard deviations: what is more is a pulse or a fall.
_NOISE = 4.0
#: So far beyond where cleaning starts and stops a DP still looks usual, inH2O (our choice).
_BEYOND_INH2O = 0.3
_NOT_GOOD = Failure(Reason.NO_ANSWER, "not good in the recording")


def judged_on(
    plan: CollectorPlan, recorded: Recorded, path: Sequence[Bend], habits: Habits, shift_inh2o: float = 0.0
) -> CollectorStory:
    """What the judge makes of that curve.

    Args:
        plan: from ``door.for_recorded``, with the bands in question.
        recorded: what was; it stays wherever the path does not lead.
        path: bend by bend.
        habits: of the collector.
        shift_inh2o: how much higher the DP is on the path than it was: by so much is moved what looks usual and is
            not on the path (the first cycle, one after a hole). Whatever is out of the usual stays as it was.
    """
    usual = _Usual(habits, shift_inh2o)
    step_s = median(_gaps(recorded.utc_s)) if len(recorded.utc_s) > 1 else CurveSettings().digest_s
    widened = for_recorded(plan, dict.fromkeys(plan.points, step_s))
    follower = Follower(widened, recorded.utc_s[0], exact=False)
    for chunk in _chunks(plan, recorded, _Line(path), usual):
        follower.follow(chunk)
    return follower.story(recorded.utc_s[-1])


def _gaps(utc_s: Sequence[float]) -> list[float]:
    return [after - before for before, after in pairwise(utc_s[:2001])]


class _Usual:
    """What the DP of that collector usually is, and how unsteady."""

    def __init__(self, habits: Habits, shift_inh2o: float) -> None:
        self._most = _NOISE * habits.noise_inh2o
        self._low = habits.stop_inh2o + habits.stop_off_inh2o - _BEYOND_INH2O
        self._high = habits.start_inh2o + habits.start_off_inh2o + _BEYOND_INH2O
        self._shift = shift_inh2o

    def noise(self, off_inh2o: float) -> float:
        return max(-self._most, min(self._most, off_inh2o))

    def shifted(self, dp_inh2o: float, *, runs: bool) -> float:
        return float(dp_inh2o + self._shift) if runs and self._low <= dp_inh2o <= self._high else float(dp_inh2o)


class _Line:
    """The path, asked in the order of time."""

    def __init__(self, path: Sequence[Bend]) -> None:
        self._path = path
        self._at = 0

    def dp(self, utc_s: float) -> tuple[float, bool] | None:
        """The DP and whether it is being cleaned; None where the path does not lead."""
        path = self._path
        while self._at + 1 < len(path) and path[self._at + 1].utc_s <= utc_s:
            self._at += 1
        if self._at + 1 >= len(path) or path[self._at].utc_s > utc_s or path[self._at + 1].begins:
            return None
        here, there = path[self._at], path[self._at + 1]
        share = (utc_s - here.utc_s) / max(1e-9, there.utc_s - here.utc_s)
        return here.dp_inh2o + (there.dp_inh2o - here.dp_inh2o) * share, here.cleaning


def _chunks(plan: CollectorPlan, recorded: Recorded, line: _Line, usual: "_Usual") -> Iterator[Chunk]:
    for begin in range(0, len(recorded.utc_s), CHUNK_ROWS):
        numbers = range(begin, min(begin + CHUNK_ROWS, len(recorded.utc_s)))
        columns: dict[PointId, list[Cell]] = {PointId(plan.name, Role.DP): []}
        for role in (Role.FAN_RUNNING, Role.CLEANING_ACTIVE):
            if role in plan.points:
                columns[PointId(plan.name, role)] = []
        holes: list[int] = []
        for number in numbers:
            _row(plan.name, columns, recorded, number, line, usual)
            if isinstance(columns[PointId(plan.name, Role.DP)][-1], Failure):
                holes.append(number - begin)
        utc_s = [recorded.utc_s[number] for number in numbers]
        yield Chunk(utc_s, columns, {point: holes if point.role is Role.DP else [] for point in columns})


def _row(
    name: str,
    columns: dict[PointId, list[Cell]],
    recorded: Recorded,
    number: int,
    line: _Line,
    usual: "_Usual",
) -> None:
    last = recorded.last[number]
    there = None if isnan(last) or not recorded.runs(number) else line.dp(recorded.utc_s[number])
    cleans = recorded.cleans(number)
    if there is None:
        value: Cell = _NOT_GOOD if isnan(last) else usual.shifted(last, runs=recorded.runs(number))
    else:
        value, cleans = there[0] + usual.noise(last - recorded.mean[number]), there[1]
    columns[PointId(name, Role.DP)].append(value)
    for role, flag in ((Role.FAN_RUNNING, recorded.runs(number)), (Role.CLEANING_ACTIVE, cleans)):
        point = PointId(name, role)
        if point in columns:
            columns[point].append(float(flag))
