"""Fall: a DP that comes down from a crest, followed until it has come to rest in a trough.

Whether a fall was a cleaning is for ``verdict.py`` to say.
"""

from typing import NamedTuple

from monitor.interpret.cycles.level import Level

REST_S = 40.0  #: So long without a new low, and the fall is over ...
REST_SHARE = 0.3  #: ... or this share of the fall so far: weak cleaning comes down slowly, with pauses ...
REST_MOST_S = 300.0  #: ... but never longer than this.
SLOW_S = 20.0  #: Levels further apart than that are few in a cycle.
LEAK_S = 900.0  #: What falls less than a suspicious amount in a quarter of an hour is no cleaning.


class Crest(NamedTuple):
    """The highest level of the filtration so far.

    Attributes:
        top: highest smoothed level; it sinks slowly, so that a slow decline is followed.
        at_s: last moment at which the DP was about there.
        since_s: since when it is watched.
    """

    top: float
    at_s: float
    since_s: float


class Fall(NamedTuple):
    """A fall from a crest.

    Attributes:
        begin_s, peak, begin_flow: its begin, the DP there and the flow.
        trough_s, low, trough_flow: where it came to so far.
        step: largest fall within some ten seconds of it, inH2O.
        gap_s: longest time between two levels in it.
        last_s, last, before: the newest level and the one before it.
        seen, seconds, sum: of the levels from the trough on: how many, their moments after it, themselves.
        recent: whether the filtration before it was seen for long enough.
    """

    begin_s: float
    peak: float
    begin_flow: float | None
    trough_s: float
    low: float
    trough_flow: float | None
    step: float
    gap_s: float
    last_s: float
    last: float
    before: float
    seen: int = 0
    seconds: float = 0.0
    sum: float = 0.0
    edge_s: float = 0.0

    @property
    def pulled(self) -> float:
        """By how much it fell so far."""
        return self.peak - self.low


def watch(crest: Crest | None, level: Level, suspicious: float) -> Crest:
    """Take in the newest level while the DP builds up; ``suspicious``: the fall that would be looked into."""
    now_s, value = level.times[-1], level.values[-1]
    if crest is None:
        return Crest(level.mean, now_s, now_s)
    top = crest.top
    if len(level.times) > 1:
        top -= suspicious * min(1.0, (now_s - level.times[-2]) / LEAK_S)
    top = max(top, level.mean)
    near = value >= top - min(0.3 * suspicious, 1.5 * level.noise + 0.01)
    return Crest(top, now_s if near else crest.at_s, crest.since_s)


def begin(crest: Crest, level: Level) -> Fall:
    """The fall that has just become suspicious, with what of it lies among the last levels."""
    times, values = level.times, level.values
    first = next((index for index, moment in enumerate(times) if moment > crest.at_s), len(times) - 1)
    peak, flow = _peak(crest, level, first)
    begin_s = crest.at_s
    if first > 0:
        begin_s += 0.5 * (times[first] - times[first - 1])
    start = values[first - 1] if first else peak
    fall = Fall(begin_s, peak, flow, times[first], start, flow, 0.0, 0.0, times[max(0, first - 1)], start, start)
    for index in range(first, len(times)):
        fall = follow(fall, times[index], values[index], level.flows[index], level.noise)
    return fall


def _peak(crest: Crest, level: Level, first: int) -> tuple[float, float | None]:
    """The DP at the crest: mean of what came just before, carried on by the usual rise."""
    values, times = level.values[max(0, first - 4) : first], level.times[max(0, first - 4) : first]
    if not values:
        return crest.top, None
    lag_s = crest.at_s - sum(times) / len(times)
    flows = [flow for flow in level.flows[max(0, first - 4) : first] if flow is not None]
    return (
        sum(values) / len(values) + max(0.0, level.rise) * lag_s,
        sum(flows) / len(flows) if flows else None,
    )


def follow(fall: Fall, now_s: float, value: float, flow: float | None, noise: float) -> Fall:
    """Take in one more level."""
    step = max(fall.step, (fall.before if now_s - fall.last_s < 8.0 else fall.last) - value)
    gap_s = fall.gap_s
    tolerance = max(0.05 * (fall.peak - value), 0.5 * noise)
    if value < fall.low - tolerance or fall.seen == 0:
        gap_s = max(gap_s, now_s - fall.last_s)
        return fall._replace(
            trough_s=now_s,
            low=value,
            trough_flow=flow,
            step=step,
            gap_s=gap_s,
            last_s=now_s,
            last=value,
            before=fall.last,
            seen=1,
            seconds=0.0,
            sum=value,
            edge_s=0.5 * (now_s - fall.last_s),
        )
    return fall._replace(
        step=step,
        last_s=now_s,
        last=value,
        before=fall.last,
        seen=fall.seen + 1,
        seconds=fall.seconds + now_s - fall.trough_s,
        sum=fall.sum + value,
    )


def is_over(fall: Fall, period_s: float, wait_s: float, noise: float) -> bool:
    """Whether the DP has come to rest, for ``wait_s`` at least, or goes up again for good."""
    rest_s = fall.last_s - fall.trough_s
    patience_s = max(REST_S, 2.0 * period_s, wait_s, REST_SHARE * (fall.trough_s - fall.begin_s))
    if rest_s >= min(patience_s, max(REST_MOST_S, 2.0 * period_s)):
        return True
    since, above = fall.seen - 1, fall.sum - fall.low
    if fall.gap_s > SLOW_S:  # so few samples in a cycle that one above the trough must do
        return since >= 1 and above > since * (fall.low + 0.25 * fall.pulled + 2.0 * noise)
    return since >= 2 and above > since * (fall.low + 0.5 * fall.pulled)


def residual(fall: Fall, rise: float) -> float:
    """The DP at the end of the fall: mean of what came after, carried back by the usual rise."""
    return (fall.sum - max(0.0, rise) * fall.seconds) / max(1, fall.seen)


def is_between_samples(fall: Fall, period_s: float) -> bool:
    """Whether it came down from one sample to the next, or to the one after that."""
    return fall.trough_s - fall.begin_s <= 1.6 * period_s
