"""Learning: from what was seen, how this collector's DP rises and falls; or why that cannot be told.

Two things are not in a sawtooth that always goes between the same set points, and must be assumed: the floor (the
DP of clean cloth, which no pulse gets under) and how much less air the fan moves at a higher DP. Each is taken in
the middle of what is likely, and everything is reckoned at both ends as well.
"""

from enum import StrEnum
from statistics import median, quantiles
from typing import NamedTuple

from monitor.interpret.advice.drives import Drive, Usual, drives, usual
from monitor.interpret.advice.sawtooth import Replay, Teeth, replay
from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.settings import DAY_S, CleaningMode, CleaningSettings

#: Fewer usual cycles, or a shorter time, carry no advice (our choice).
LEAST_CYCLES, LEAST_S = 8, 3600.0
#: Cleaning that runs for more of the running time never comes to rest: that is a trouble, not a set point.
MOST_CLEANING = 0.92
#: The replay of the present set points may be so far off the measured cleanings a day (our choice).
MOST_ERROR = 0.15
#: No replay is better than this share, even where it meets the present figures by chance (our choice).
LEAST_DOUBT = 0.03
#: The DP of clean cloth over the lowest usual residual DP: likely, and both ends (our choice, no source).
FLOOR_SHARES = (0.5, 0.2, 0.8)
#: How much less air an inch of DP leaves: DP + c·Q² = P for a fan with a falling curve gives 1/(2·(P - DP)), so
#: 3 to 5 % at the 15 to 20 inH2O of an ordinary dust fan, and nothing where the flow is held (our choice).
DROOPS_INH2O = (0.03, 0.05, 0.0)


class Lack(StrEnum):
    """Why the data carries no advice."""

    NO_DP = "no_dp"
    FAN_STOPPED = "fan_stopped"
    TIMED = "timed"
    NO_CYCLES = "no_cycles"
    TOO_SHORT = "too_short"
    NEVER_ENDS = "never_ends"
    NOT_REPRODUCED = "not_reproduced"


class Seen(NamedTuple):
    """What a recording shows of one collector.

    Attributes:
        cycles: all of them, oldest first.
        readings: good readings of the DP.
        watched_s, running_s, cleaning_s: time in sight, with the fan on, under cleaning.
        noise_inh2o: standard deviation of a reading about what the DP really was.
        dip_psi: usual dip of the header at a pulse.
        pulses: rows pulsed in all.
        cleaning_level_inh2o: mean DP under cleaning; None where there was none.
        lows: for each cycle the lowest DP since the end of the one before; empty where that is not known.
    """

    cycles: tuple[Cycle, ...]
    readings: int
    watched_s: float
    running_s: float
    cleaning_s: float
    noise_inh2o: float = 0.0
    dip_psi: float | None = None
    pulses: float = 0.0
    lows: tuple[float, ...] = ()
    cleaning_level_inh2o: float | None = None


class Rates(NamedTuple):
    """How the cleaning goes, per day of running."""

    cleanings_d: float
    pulses_d: float
    cleaning_share: float


class Assumed(NamedTuple):
    """What cannot be measured: the floor, and the share of flow that an inch of DP costs."""

    floor_inh2o: float
    droop_inh2o: float


class Habits(NamedTuple):
    """How this collector's DP rises and falls.

    Attributes:
        drives: what drove it, cycle by cycle; ``left_out`` cycles were not usual or do not follow another.
        start_inh2o, stop_inh2o: the set points: those of the site file, or where none are, those seen.
        are_known: whether the site file says them.
        start_off_inh2o, stop_off_inh2o: how far from them cleaning really starts and stops.
        over_inh2o: how far the highest of a hundred peaks goes beyond the usual one.
        rise_inh2o_s, high_rise_inh2o_s: usual rise, and that of the dustiest tenth of the cycles.
        assumed: likely, then both ends (clean cloth low with a soft fan, clean cloth high with flow held).
        measured, replayed: the present set points as they were, and as this model has them.
        noise_inh2o: standard deviation of a reading.
        running_share: of the time in sight.
    """

    drives: tuple[Drive, ...]
    left_out: int
    start_inh2o: float
    stop_inh2o: float
    are_known: bool
    start_off_inh2o: float
    stop_off_inh2o: float
    over_inh2o: float
    rise_inh2o_s: float
    high_rise_inh2o_s: float
    assumed: tuple[Assumed, ...]
    measured: Rates
    replayed: Rates
    noise_inh2o: float
    running_share: float
    pulse_every_s: float

    @property
    def span_s(self) -> float:
        """Time of the usual cycles."""
        return sum(one.end_utc_s - one.begin_utc_s for one in self.drives)

    @property
    def error(self) -> float:
        """By which share the replayed cleanings a day are off the measured ones."""
        return self.replayed.cleanings_d / self.measured.cleanings_d - 1.0

    @property
    def doubt(self) -> float:
        """The share by which any replayed figure may be off, as far as the present set points tell."""
        pulses = self.replayed.pulses_d / max(1e-9, self.measured.pulses_d) - 1.0
        return max(LEAST_DOUBT, abs(self.error), abs(pulses))

    @property
    def is_short(self) -> bool:
        """Whether less than a week was seen: another week's dust may differ."""
        return self.span_s < 7 * DAY_S


def teeth(habits: Habits, start_inh2o: float, stop_inh2o: float, assumed: Assumed) -> Teeth:
    """Between what the DP would really go with these set points."""
    higher = (start_inh2o + stop_inh2o - habits.start_inh2o - habits.stop_inh2o) / 2.0
    return Teeth(
        start_inh2o + habits.start_off_inh2o,
        stop_inh2o + habits.stop_off_inh2o,
        assumed.floor_inh2o,
        habits.pulse_every_s,
        max(0.1, 1.0 - assumed.droop_inh2o * higher) ** 2,
    )


def rates(told: Replay) -> Rates:
    """What a replay comes to in a day of running."""
    days = max(told.span_s, 1e-9) / DAY_S
    return Rates(told.cleanings / days, told.pulses / days, told.cleaning_s / max(told.span_s, 1e-9))


def learn(settings: CleaningSettings, seen: Seen) -> Habits | Lack:
    """What this collector does, or why it cannot be told."""
    found = usual(seen.cycles, seen.lows)
    lack = _lack(settings, seen, found)
    if lack is not None:
        return lack
    habits = _habits(settings, seen, found)
    return Lack.NOT_REPRODUCED if abs(habits.error) > MOST_ERROR else habits


def _lack(settings: CleaningSettings, seen: Seen, found: list[Usual]) -> Lack | None:
    if not seen.readings:
        return Lack.NO_DP
    if seen.running_s < LEAST_S:
        return Lack.FAN_STOPPED if seen.watched_s >= 2 * LEAST_S else Lack.TOO_SHORT
    if settings.mode is CleaningMode.TIMED:
        return Lack.TIMED
    if seen.cleaning_s > MOST_CLEANING * seen.running_s:
        return Lack.NEVER_ENDS
    if len(found) < LEAST_CYCLES:
        return Lack.TOO_SHORT if found else Lack.NO_CYCLES
    return None


def _habits(settings: CleaningSettings, seen: Seen, found: list[Usual]) -> Habits:
    peaks = [one.cycle.peak_inh2o for one in found]
    peak, residual = median(peaks), median(one.cycle.residual_inh2o for one in found)
    rises = [one.rise_inh2o_s for one in found]
    floors = [share * residual for share in FLOOR_SHARES]
    driven = drives(found)
    stop_real = _real_stop(driven, peak, residual, floors[0], settings.pulse_every_s)
    known = settings.start_inh2o is not None and settings.stop_inh2o is not None
    start = settings.start_inh2o if known and settings.start_inh2o is not None else round(peak, 1)
    stop = settings.stop_inh2o if known and settings.stop_inh2o is not None else round(stop_real, 1)
    told = replay(driven, Teeth(peak, stop_real, floors[0], settings.pulse_every_s))
    return Habits(
        drives=driven,
        left_out=len(seen.cycles) - len(found),
        start_inh2o=start,
        stop_inh2o=stop,
        are_known=known,
        start_off_inh2o=peak - start,
        stop_off_inh2o=stop_real - stop,
        over_inh2o=max(0.0, quantiles(peaks, n=100)[-1] - peak),
        rise_inh2o_s=median(rises),
        high_rise_inh2o_s=quantiles(rises, n=10)[-1],
        assumed=tuple(Assumed(*one) for one in zip(floors, DROOPS_INH2O, strict=True)),
        measured=_measured(found),
        replayed=rates(told),
        noise_inh2o=seen.noise_inh2o,
        running_share=seen.running_s / seen.watched_s,
        pulse_every_s=settings.pulse_every_s,
    )


def _real_stop(driven: tuple[Drive, ...], peak: float, residual: float, floor: float, every_s: float) -> float:
    """The DP at which cleaning really stops: a pulse goes somewhat under it, and the residual is what is seen."""
    stop = residual
    for _ in range(3):
        told = replay(driven, Teeth(peak, stop, floor, every_s)).residual_inh2o
        if told is None:
            break
        stop = min(peak - 0.02, stop + residual - told)
    return stop


def _measured(found: list[Usual]) -> Rates:
    span_s = sum(one.cycle.end_s - one.before.end_s for one in found)
    return Rates(
        len(found) / span_s * DAY_S,
        sum(one.cycle.pulses for one in found) / span_s * DAY_S,
        sum(one.cycle.cleaning_s for one in found) / span_s,
    )
