"""Whole: recordings through one site file, or through several at once, from the first row to the stories."""

from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import inf

from monitor.acquire.traces.headings import KnownPoints, Mapped
from monitor.acquire.traces.merging import in_groups, merged
from monitor.acquire.traces.trace import Chunk, Trace, TraceError
from monitor.rehearse.door import for_recorded
from monitor.rehearse.follower import Follower
from monitor.rehearse.remarks import remarks
from monitor.report.rehearsal import CollectorStory, Rehearsal
from monitor.site.plan import SitePlan
from monitor.words import PointId, Role


@dataclass(frozen=True, slots=True)
class Site:
    """A site file to rehearse; ``file`` is its name, for the reader."""

    file: str
    plan: SitePlan


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """How to rehearse.

    Attributes:
        since_utc_s, until_utc_s: which part of the recordings, Unix seconds.
        curve: read the curves too (cycles, filters, causes); without it only where an early warning is an alarm.
        exact: each row and each second for itself, instead of calm stretches at once.
        progress: is told how much is done, 0 to 1.
    """

    since_utc_s: float = -inf
    until_utc_s: float = inf
    exact: bool = False
    curve: bool = False
    progress: Callable[[float], None] = field(default=lambda _share: None)


def known_points(sites: Sequence[Site], mapped: tuple[Mapped, ...] = ()) -> KnownPoints:
    """The points that a recording may name: those of all the site files, the first one's tags first."""
    by_name: dict[str, PointId] = {}
    tags: dict[PointId, str] = {}
    for site in sites:
        for collector in site.plan.collectors.values():
            for role, point in collector.points.items():
                one = PointId(collector.name, role)
                by_name.setdefault(point.tag.casefold(), one)
                by_name.setdefault(f"{collector.name}.{role.value}".casefold(), one)
                tags.setdefault(one, point.tag)
    return KnownPoints(by_name, tags, sites[0].plan.pa_per_inh2o, mapped)


def rehearse(sites: Sequence[Site], traces: Sequence[Trace], wish: Wish) -> list[Rehearsal]:
    """Run the recordings through each of the site files, side by side, in one walk.

    Raises:
        TraceError: a recording is wrong, or holds nothing of the asked time.
    """
    groups = in_groups(traces)
    runs = [_Run(site, steps_of(traces), wish) for site in sites]
    for number, group in enumerate(groups):
        for chunk in merged(group):
            some = within(chunk, wish)
            for run in runs:
                run.follow(some)
            wish.progress((number + chunk.share) / len(groups))
            if chunk.utc_s[0] >= wish.until_utc_s:
                break
    return [run.told(traces) for run in runs]


def steps_of(traces: Sequence[Trace]) -> dict[PointId, float]:
    """How far the readings of each point lie apart; the widest where several recordings have it."""
    steps: dict[PointId, float] = {}
    for trace in traces:
        for column in trace.columns:
            steps[column.point] = max(steps.get(column.point, 0.0), column.step_s or 0.0)
    return steps


def within(chunk: Chunk, wish: Wish) -> Chunk:
    """The rows of a chunk that lie in the asked time."""
    first = bisect_left(chunk.utc_s, wish.since_utc_s)
    end = bisect_left(chunk.utc_s, wish.until_utc_s)
    if (first, end) == (0, len(chunk.utc_s)):
        return chunk
    return Chunk(
        chunk.utc_s[first:end],
        {point: cells[first:end] for point, cells in chunk.columns.items()},
        {point: [at - first for at in holes if first <= at < end] for point, holes in chunk.holes.items()},
        chunk.share,
    )


class _Run:
    """One site file on its way through the recordings."""

    def __init__(self, site: Site, steps_s: Mapping[PointId, float], wish: Wish) -> None:
        self._site = site
        self._steps_s = steps_s
        self._exact = wish.exact
        self._reads = wish.curve
        self._followers: dict[str, Follower] = {}
        self._begins_utc_s, self._ends_utc_s = inf, -inf

    def follow(self, chunk: Chunk) -> None:
        if not chunk.utc_s:
            return
        self._begins_utc_s = min(self._begins_utc_s, chunk.utc_s[0])
        self._ends_utc_s = max(self._ends_utc_s, chunk.utc_s[-1])
        for name in sorted({point.collector for point in chunk.columns}):
            follower = self._followers.get(name) or self._begin(name, chunk.utc_s[0])
            if follower is not None:
                follower.follow(chunk)

    def _begin(self, name: str, begins_utc_s: float) -> Follower | None:
        """Begin with a collector; None where there is no such one here, or no DP of it in the recordings."""
        plan = self._site.plan.collectors.get(name)
        if plan is None or PointId(name, Role.DP) not in self._steps_s:
            return None
        if not (self._reads or plan.warnings):
            plan = replace(plan, curve=None)
        steps = {point.role: step_s for point, step_s in self._steps_s.items() if point.collector == name}
        self._followers[name] = Follower(for_recorded(plan, steps), begins_utc_s, exact=self._exact)
        return self._followers[name]

    def told(self, traces: Sequence[Trace]) -> Rehearsal:
        if not self._followers:
            raise TraceError(
                f"Nothing to rehearse: the recordings hold no DP of a collector of {self._site.file} in that time."
            )
        stories: dict[str, CollectorStory] = {}
        for name in self._site.plan.collectors:
            if name in self._followers:
                story = self._followers[name].story(self._ends_utc_s)
                step_s = self._steps_s[PointId(name, Role.DP)] or None
                stories[name] = replace(story, sight=replace(story.sight, step_s=step_s))
        return Rehearsal(
            site=self._site.plan.name,
            file=self._site.file,
            begins_utc_s=self._begins_utc_s,
            ends_utc_s=self._ends_utc_s,
            collectors=stories,
            notes=tuple(remarks(self._site.plan, traces, self._steps_s)),
        )
