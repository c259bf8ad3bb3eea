"""Level: where the DP is, free of pulse spikes, how restless it is, and how fast it usually rises.

All scales are learned from the curve itself, by medians in a stream: a figure goes up a little when what came is
above it and down a little when it is below. A cleaning, short as it is beside the filtration, hardly moves them.
"""

from typing import NamedTuple

from monitor.interpret.digest import Digest

SMOOTH_S = 30.0  #: Levels are means over so long: cleaning seldom takes less, cake builds up much slower.
MOST = 6  #: ... and over so many digests at most.
QUICK_TO_LEARN = 12  #: The first digests move the scales fast.
LEAST_NOISE = 0.003  #: inH2O; no loop is quieter (12 bits of a span of 10 inH2O).
FALL_SHARE = 0.5  #: A step down by more than that of all the last levels' range is a cleaning, no noise.
SPIKE_S = 20.0  #: Digests further apart than that are not compared to find spikes.
HOLE_S = 60.0  #: Without a good reading for so long (or 3½ sample periods) nobody knows what happened.
HOLE_PERIODS = 3.5


class Level(NamedTuple):
    """What is known of the DP as such.

    Attributes:
        at_s: end of the newest digest with a good reading; None before the first.
        period_s: from sample to sample; 0 while that is not known.
        times, values, flows: of the last digests, at most twice ``MOST``: middle, DP without extremes, flow.
        mean: of the values of the last ``SMOOTH_S``.
        noise: standard deviation of such means, inH2O.
        rise: how fast the DP usually rises, inH2O/s.
        learned: digests from which the scales were learned, up to ``QUICK_TO_LEARN``.
        raw, raw_s: newest readings of digests of few readings, and the moment of the newest.
    """

    at_s: float | None = None
    period_s: float = 0.0
    times: tuple[float, ...] = ()
    values: tuple[float, ...] = ()
    flows: tuple[float | None, ...] = ()
    mean: float = 0.0
    noise: float = 0.02
    rise: float = 0.0
    learned: int = 0
    raw: tuple[float, ...] = ()
    raw_s: float = 0.0


NOTHING = Level()


def is_hole(level: Level, digest: Digest) -> bool:
    """Whether too long nothing good was read before this digest to know what happened."""
    if level.at_s is None:
        return True
    away_s = digest.begin_s - level.at_s
    return away_s < 0.0 or away_s > max(HOLE_S, HOLE_PERIODS * level.period_s)


def forget(level: Level) -> Level:
    """The same after a hole: the scales stay, what the DP was does not."""
    return level._replace(times=(), values=(), flows=(), raw=())


def follow(level: Level, digest: Digest, *, quiet: bool) -> Level:
    """Take in a digest that has a good reading; ``quiet``: the scales may be learned from it."""
    at_s, period_s, times, values, flows, mean, noise, rise, learned, raw, raw_s = level
    middle = 0.5 * (digest.begin_s + digest.end_s)
    value, raw, shown_s = _without_extremes(digest, middle, raw, raw_s)
    if at_s is None or not times:
        return Level(
            digest.end_s,
            period_s,
            (middle,),
            (value,),
            (digest.flow_cfm,),
            value,
            noise,
            rise,
            learned,
            raw,
            middle,
        )
    period_s = _period(period_s, (digest.end_s - at_s) / digest.good)
    if shown_s <= times[-1]:
        return level._replace(at_s=digest.end_s, period_s=period_s, raw=raw, raw_s=middle)
    span = _span(shown_s - times[-1])
    times = (*times, shown_s)[-2 * MOST :]
    values = (*values, value)[-2 * MOST :]
    mean = sum(values[-span:]) / min(span, len(values))
    if quiet and len(values) >= 2 * span:
        step = mean - sum(values[-2 * span : -span]) / span
        if step > FALL_SHARE * (min(values) - max(values)):
            noise, rise = _learn(level, step, times[-1] - times[-1 - span])
            learned = min(QUICK_TO_LEARN, learned + 1)
    return Level(
        digest.end_s,
        period_s,
        times,
        values,
        (*flows, digest.flow_cfm)[-2 * MOST :],
        mean,
        noise,
        rise,
        learned,
        raw,
        middle,
    )


def _span(spacing_s: float) -> int:
    """How many digests make a mean."""
    return min(MOST, max(1, int(SMOOTH_S / max(spacing_s, 1e-3))))


def _period(period_s: float, seen_s: float) -> float:
    """Samples that are missing make it seem longer now and then, nothing makes it seem shorter."""
    if period_s <= 0.0 or seen_s <= period_s:
        return seen_s
    return period_s + 0.05 * (min(seen_s, 2.0 * period_s) - period_s)


def _without_extremes(
    digest: Digest, middle: float, raw: tuple[float, ...], raw_s: float
) -> tuple[float, tuple[float, ...], float]:
    """A level without pulse spikes (each is one reading), what is kept for the next one, and the level's moment.

    Of many readings the highest and the lowest are left out; of few, the median of three digests is taken, which
    is a level of the middle one. Where samples come rarely, both would take the cleaning for a spike.
    """
    if digest.good >= 4:
        extremes = digest.lowest_inh2o + digest.highest_inh2o
        return (digest.good * digest.mean_inh2o - extremes) / (digest.good - 2), (), middle
    raw = (*raw, digest.mean_inh2o)[-3:]
    if len(raw) < 3 or middle - raw_s > SPIKE_S:
        return digest.mean_inh2o, raw, middle
    return sorted(raw)[1], raw, raw_s


def _learn(level: Level, step: float, elapsed_s: float) -> tuple[float, float]:
    """Move the noise and the rise towards a step from one mean to the next."""
    gain = 0.05 if level.learned >= QUICK_TO_LEARN else 0.3
    off = step - level.rise * elapsed_s
    # The median of |off| is 0.67·√2 standard deviations of one mean, near enough 1.
    noise = level.noise * (1.0 + gain) if abs(off) > level.noise else level.noise / (1.0 + gain)
    nudge = gain * level.noise / max(elapsed_s, 1e-3)
    return max(LEAST_NOISE, noise), level.rise + (nudge if off > 0.0 else -nudge)
