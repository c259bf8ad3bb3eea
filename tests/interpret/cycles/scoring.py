"""Scoring: cycles that were found beside cycles that were."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.tracker import BEGIN, advance
from monitor.interpret.digest import Digest, Sample
from monitor.interpret.gathering import EMPTY, gather_many
from monitor.interpret.settings import CleaningSettings
from monitor.plant.telling import TrueCycle

EDGE_S = 300.0  #: At either end of a recording a cycle may be cut off, or not yet be sure.


@dataclass(slots=True)
class Score:
    """Counts and errors over any number of recordings."""

    true: int = 0
    found: int = 0
    told: int = 0
    false: int = 0
    peak: list[float] = field(default_factory=list)
    residual: list[float] = field(default_factory=list)
    begin: list[float] = field(default_factory=list)
    end: list[float] = field(default_factory=list)

    def add(self, other: "Score") -> None:
        """Take in another."""
        for name in ("true", "found", "told", "false"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        for name in ("peak", "residual", "begin", "end"):
            getattr(self, name).extend(getattr(other, name))

    @property
    def found_share(self) -> float:
        """Of the true ones."""
        return self.found / self.true if self.true else 1.0

    @property
    def false_share(self) -> float:
        """Of those that were told."""
        return self.false / self.told if self.told else 0.0


def digests_of(samples: Sequence[Sample], digest_s: float = 5.0) -> list[Digest]:
    """Gather them."""
    return gather_many(digest_s, EMPTY, *[list(column) for column in zip(*samples, strict=True)])[1]


def track(settings: CleaningSettings, digests: Iterable[Digest]) -> list[Cycle]:
    """Find the cycles."""
    state, cycles = BEGIN, []
    for digest in digests:
        state, cycle = advance(settings, state, digest)
        if cycle is not None:
            cycles.append(cycle)
    return cycles


def score(told: Sequence[Cycle], true: Sequence[TrueCycle], digests: Sequence[Digest], period_s: float) -> Score:
    """Compare; what nobody could have seen (edges, holes, broken off) counts neither way."""
    room_s = 2.0 * period_s
    blind = _blind(digests, period_s)
    result = Score(told=len(told))
    used: set[int] = set()
    for one in true:
        length_s = max(EDGE_S, one.end_s - one.begin_s)
        due = (
            one.finished
            and one.begin_s >= digests[0].begin_s + EDGE_S
            and one.end_s <= digests[-1].end_s - length_s
            and not any(begin < one.end_s + 60.0 and end > one.begin_s - 60.0 for begin, end in blind)
        )
        match = next(
            (
                n
                for n, cycle in enumerate(told)
                if cycle.begin_s <= one.end_s + room_s and cycle.end_s >= one.begin_s - room_s
            ),
            None,
        )
        result.true += due
        if match is None:
            continue
        used.add(match)
        result.found += due
        if due:
            _errors(result, told[match], one)
    result.false = len(told) - len(used)
    return result


def _errors(result: Score, cycle: Cycle, one: TrueCycle) -> None:
    result.peak.append(cycle.peak_inh2o - one.peak_inh2o)
    result.residual.append(cycle.residual_inh2o - one.residual_inh2o)
    result.begin.append(cycle.begin_s - one.begin_s)
    result.end.append(cycle.end_s - one.end_s)


def _blind(digests: Sequence[Digest], period_s: float) -> list[tuple[float, float]]:
    """The times without a good reading that are longer than 60 s and 3½ sample periods."""
    good = [digest for digest in digests if digest.good]
    longest = max(60.0, 3.5 * period_s)
    return [
        (before.end_s, after.begin_s) for before, after in pairwise(good) if after.begin_s - before.end_s > longest
    ]
