"""Measuring: the events of a journal → the figures of a period. Earlier events say what stood at its start.

Windows (10 minutes, an hour, a day) roll for peaks, floods and chattering; where hours or days are counted, they
are counted off from the start of the period, so that no time zone has a say.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable

from monitor.judge.performance import summing
from monitor.judge.performance.figures import AlarmFigures, Coverage, Nuisance, Unseen
from monitor.judge.performance.span import Span
from monitor.judge.performance.summing import FLEETING_S, STALE_S, Tagged
from monitor.judge.performance.tracks import Held, Step, Stretch, Tracks, Wait
from monitor.judge.performance.watching import LastTrace, Watching, no_trace
from monitor.judge.table import HELD
from monitor.words import Event, EventKind, Priority


class Measure:
    """Takes the events of a journal in their order; ``figures`` then says what came of them.

    Args:
        period: what is asked for, Unix seconds.
        operators: among whom the alarms are shared evenly, 1 or more.
        last_trace: when something was last recorded before a moment, for daemons that ended without a word.
    """

    def __init__(self, period: Span, operators: int = 1, last_trace: LastTrace = no_trace) -> None:
        self._period = period
        self._operators = operators
        self._tracks = Tracks()
        self._watching = Watching(last_trace)
        self._places: dict[str, str] = {}
        self._raised: defaultdict[str, list[float]] = defaultdict(list)
        self._by_priority: Counter[Priority] = Counter()
        self._brief: list[tuple[str, float]] = []
        self._active: list[Tagged] = []
        self._waits: list[tuple[str, Wait]] = []
        self._held: list[tuple[str, Held]] = []
        self._unseen: list[Unseen] = []
        self._refused: Counter[str] = Counter()
        self._tested = 0

    def take(self, event: Event) -> None:
        """One more event; what comes after the period is passed over."""
        self._watching.take(event)
        if event.at_utc_s >= self._period.end_utc_s:
            return
        step = self._tracks.take(event)
        inside = event.at_utc_s >= self._period.start_utc_s
        if event.kind is EventKind.ALARM and event.tag is not None:
            self._places[event.tag] = event.collector or event.link or ""
            self._end(event.tag, step)
            if inside:
                self._count(event, event.tag, step)
        elif inside and event.happened == "command_refused":
            self._refused[str(event.facts.get("code") or "unknown")] += 1
            # Of a flood of them only one in a while is journaled, with how many there were in between.
            meanwhile = event.facts.get("refused_meanwhile")
            if isinstance(meanwhile, int) and meanwhile > 0:
                self._refused["not told one by one"] += meanwhile

    def _end(self, tag: str, step: Step) -> None:
        """What ended may have begun long before the period."""
        if step.stretch is not None and step.stretch.until_utc_s - step.stretch.since_utc_s > STALE_S:
            self._active.append(Tagged(tag, Span(step.stretch.since_utc_s, step.stretch.until_utc_s)))
        if step.held is not None:
            self._held.append((tag, step.held))

    def _count(self, event: Event, tag: str, step: Step) -> None:
        self._tested += event.happened == "tested"
        if step.raised:
            self._raised[tag].append(event.at_utc_s)
            if event.priority is not None:
                self._by_priority[event.priority] += 1
        if step.wait is not None:
            self._waits.append((tag, step.wait))
        if step.stretch is not None and _is_brief(step.stretch):
            self._brief.append((tag, step.stretch.since_utc_s))
        if step.unseen:
            raised_utc_s = event.facts.get("raised_utc_s")
            known_utc_s = float(raised_utc_s) if isinstance(raised_utc_s, float | int) else None
            self._unseen.append(Unseen(tag, self._places[tag], known_utc_s, event.at_utc_s))

    def figures(self, alive_until_utc_s: float | None = None) -> AlarmFigures:
        """What came of it all; call it once, after the last event.

        Args:
            alive_until_utc_s: up to when the daemon is known to have watched; None for now.
        """
        self._end_what_stands()
        for stamps in self._raised.values():
            stamps.sort()  # the clock may have been set back
        tracks, period = list(self._tracks.standing.values()), self._period
        coverage = self._coverage(alive_until_utc_s)
        chattering, fleeting = summing.chattering_and_fleeting(self._raised, self._brief, self._places)
        return AlarmFigures(
            coverage=coverage,
            operators=self._operators,
            load=summing.load(self._raised, self._places, dict(self._by_priority), coverage, self._operators),
            nuisance=Nuisance(
                chattering=chattering,
                fleeting=fleeting,
                standing=summing.standing(tracks, period.end_utc_s),
                stale_day=summing.stale_day(self._active, period),
            ),
            answers=summing.answers(self._waits, tracks, self._unseen),
            holds=summing.holds(self._held, tracks, period),
            refused=dict(self._refused),
            tested=self._tested,
        )

    def _end_what_stands(self) -> None:
        end_utc_s = self._period.end_utc_s
        for track in self._tracks.standing.values():
            if track.active_since_utc_s is not None:
                self._active.append(Tagged(track.tag, Span(track.active_since_utc_s, end_utc_s)))
            if track.state in HELD:
                self._held.append((track.tag, Held(track.state, track.since_utc_s, end_utc_s)))

    def _coverage(self, alive_until_utc_s: float | None) -> Coverage:
        return Coverage(
            period=self._period,
            watched=self._watching.spans(self._period, alive_until_utc_s),
            ends_unsaid=sum(self._period.holds(gap.end_utc_s) for gap in self._watching.ends_unsaid),
            known_from_utc_s=self._watching.first_utc_s,
        )


def _is_brief(stretch: Stretch) -> bool:
    return (
        stretch.was_raised and stretch.by_process and 0 <= stretch.until_utc_s - stretch.since_utc_s < FLEETING_S
    )


def measure(
    events: Iterable[Event],
    period: Span,
    *,
    operators: int = 1,
    last_trace: LastTrace = no_trace,
    alive_until_utc_s: float | None = None,
) -> AlarmFigures:
    """The figures of a period, from all events of a journal in their order. See ``Measure``."""
    taking = Measure(period, operators, last_trace)
    for event in events:
        taking.take(event)
    return taking.figures(alive_until_utc_s)
