"""Call: one cleaning as the cleaning signal or the dips of the header tell it, until its residual DP is known."""

from typing import NamedTuple

from monitor.interpret.cycles.level import Level

SETTLE_S = 30.0  #: The residual DP is the mean of so long after the end, carried back by the usual rise.
LOST_S = 120.0  #: Without a good reading for so long after the end nobody knows the residual DP.


class Call(NamedTuple):
    """One cleaning.

    Attributes:
        begin_s, peak, flow: its begin, the DP and the flow there.
        known: whether its begin and its peak were seen.
        by_signal: whether the cleaning signal tells it; else the dips of the header do.
        pulses: number of the dips before it.
        last_s: last moment at which it was called for.
        end_s: its end; None while it lasts.
        seen, seconds, sum: of the levels after it.
        whole: whether no reading of it was bad or missing.
    """

    begin_s: float
    peak: float
    flow: float | None
    known: bool
    by_signal: bool
    pulses: int
    last_s: float
    end_s: float | None = None
    seen: int = 0
    seconds: float = 0.0
    sum: float = 0.0
    whole: bool = True


def begin(level: Level, begin_s: float, *, by_signal: bool, pulses: int, known: bool) -> Call:
    """A cleaning begins at that moment."""
    pairs = [(moment, value) for moment, value in zip(level.times, level.values, strict=True) if moment <= begin_s]
    last = [pair for pair in pairs if begin_s - pair[0] <= SETTLE_S] or pairs[-1:]
    flows = [flow for flow in level.flows[-6:] if flow is not None]
    flow = sum(flows) / len(flows) if flows else None
    if not last:
        return Call(begin_s, 0.0, flow, False, by_signal, pulses, begin_s)
    lag_s = begin_s - sum([moment for moment, _ in last]) / len(last)
    peak = sum([value for _, value in last]) / len(last) + max(0.0, level.rise) * min(lag_s, 300.0)
    return Call(begin_s, peak, flow, known, by_signal, pulses, begin_s)


def settle(call: Call, now_s: float, value: float) -> Call:
    """Take in a level after its end."""
    end_s = call.end_s if call.end_s is not None else now_s
    if now_s < end_s:
        return call
    return call._replace(seen=call.seen + 1, seconds=call.seconds + max(0.0, now_s - end_s), sum=call.sum + value)


def is_settled(call: Call, now_s: float, period_s: float) -> bool:
    """Whether its residual DP is known."""
    if call.end_s is None:
        return False
    return call.seen >= 2 and now_s - call.end_s >= min(SETTLE_S, 3.0 * period_s + 15.0)


def residual(call: Call, rise: float) -> float:
    """The DP at its end."""
    return (call.sum - max(0.0, rise) * call.seconds) / max(1, call.seen)
