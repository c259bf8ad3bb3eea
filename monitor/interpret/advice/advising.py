"""Advising: set points and bands for one collector, each tried out on what was recorded, before and after."""

from collections.abc import Sequence
from typing import NamedTuple

from monitor.interpret.advice import bands as band_rules
from monitor.interpret.advice import setpoints as point_rules
from monitor.interpret.advice.bands import BandAdvice, BandSetting, BandWhy, Normal
from monitor.interpret.advice.learning import Habits, Lack, Rates, Seen, learn, rates, teeth
from monitor.interpret.advice.sawtooth import Bend, Replay, replay
from monitor.interpret.advice.setpoints import Setpoints, Why
from monitor.interpret.air.figures import Basis, Use, per_pulse, use
from monitor.interpret.settings import CurveSettings

#: The running average of a sawtooth lies about its middle; so much of the swing it may be off (our choice).
_AVERAGE_SHARE = 0.25


class Outcome(NamedTuple):
    """What some set points come to, in a day of running.

    Attributes:
        start_inh2o, stop_inh2o: the set points.
        rates: cleanings, pulses, share of the time under cleaning.
        low, high: the same at both ends of what cannot be measured, the lowest and the highest of each figure, and
            further by as much as the replay of the present set points is off.
        in_band: share of the time in which the DP is between stop and start, 0 to 1.
        mean_inh2o, highest_inh2o: of the DP.
        air: what the pulses come to in a day of running.
    """

    start_inh2o: float
    stop_inh2o: float
    rates: Rates
    low: Rates
    high: Rates
    in_band: float
    mean_inh2o: float
    highest_inh2o: float
    air: Use


class Advice(NamedTuple):
    """Where set points and bands belong, and what comes of it.

    Attributes:
        setpoints: start and stop, with the reasons.
        bands: one for each that there is.
        now, then: the outcome of the present and of the advised set points, replayed on the same dust.
        timed: what timed cleaning of the same interval would come to.
        reachable_inh2o: the lowest DP that pulsing without a pause would bring in the dustiest tenth of the time.
        dusty_share, dusty_share_then: share of that time that is cleaning, now and then.
        basis: from where the air of a pulse is known; ``per_pulse_ft3`` that air.
        now_path, then_path: the line of the DP under either, bend by bend.
    """

    habits: Habits
    setpoints: Setpoints
    bands: tuple[BandAdvice, ...]
    now: Outcome
    then: Outcome
    timed: Use
    reachable_inh2o: float
    dusty_share: float
    dusty_share_then: float
    basis: Basis
    per_pulse_ft3: float | None
    now_path: tuple[Bend, ...]
    then_path: tuple[Bend, ...]

    @property
    def keeps_all(self) -> bool:
        """Whether everything is well as it is."""
        return self.setpoints.why == (Why.KEPT,) and not any(one.why for one in self.bands)

    @property
    def moves_cleaning(self) -> bool:
        """Whether start or stop is to be moved."""
        now, then = self.now, self.then
        return (now.start_inh2o, now.stop_inh2o) != (then.start_inh2o, then.stop_inh2o)

    @property
    def has_no_room(self) -> bool:
        """Whether something is wrong that no place keeps all rules for."""
        return Why.NO_ROOM in self.setpoints.why or any(BandWhy.NO_ROOM in one.why for one in self.bands)


def advise(
    settings: CurveSettings, seen: Seen, bands: Sequence[BandSetting], top_inh2o: float | None = None
) -> Advice | Lack:
    """What to set, or why that cannot be told.

    Args:
        settings: of the collector; set points that are not known are taken from the curve.
        seen: what was recorded.
        bands: the warning bands as they are.
        top_inh2o: end of what the transmitter shows; None where that is not known.
    """
    habits = learn(settings.cleaning, seen)
    if isinstance(habits, Lack):
        return habits
    limit = point_rules.limits(habits, settings.filters.change_out_inh2o, top_inh2o)
    points = point_rules.place(habits, limit)
    return _rehearsed(settings, seen, habits, points, bands, top_inh2o)


def _rehearsed(
    settings: CurveSettings,
    seen: Seen,
    habits: Habits,
    points: Setpoints,
    bands: Sequence[BandSetting],
    top_inh2o: float | None,
) -> Advice:
    each_ft3, basis = per_pulse(settings.air, seen.dip_psi)
    now_told = _replayed(habits, habits.start_inh2o, habits.stop_inh2o)
    then_told = _replayed(habits, points.start_inh2o, points.stop_inh2o)
    return Advice(
        habits=habits,
        setpoints=points,
        bands=band_rules.place_all(_normal(habits, points, then_told, top_inh2o), bands),
        now=_outcome(settings, habits, (habits.start_inh2o, habits.stop_inh2o), now_told, each_ft3),
        then=_outcome(settings, habits, points[:2], then_told, each_ft3),
        timed=use(settings, 86_400.0 / habits.pulse_every_s, each_ft3),
        reachable_inh2o=point_rules.reachable_inh2o(habits),
        dusty_share=point_rules.dusty_share(habits, habits.start_inh2o, habits.stop_inh2o),
        dusty_share_then=point_rules.dusty_share(habits, points.start_inh2o, points.stop_inh2o),
        basis=basis,
        per_pulse_ft3=each_ft3,
        now_path=now_told.path,
        then_path=then_told.path,
    )


def _replayed(habits: Habits, start_inh2o: float, stop_inh2o: float) -> Replay:
    between = teeth(habits, start_inh2o, stop_inh2o, habits.assumed[0])
    return replay(habits.drives, between, with_path=True)


def _outcome(
    settings: CurveSettings, habits: Habits, points: tuple[float, float], told: Replay, each_ft3: float | None
) -> Outcome:
    likely = rates(told)
    ends = [rates(replay(habits.drives, teeth(habits, *points, one))) for one in habits.assumed[1:]]
    return Outcome(
        start_inh2o=points[0],
        stop_inh2o=points[1],
        rates=likely,
        low=Rates(*(min(some) * (1.0 - habits.doubt) for some in zip(likely, *ends, strict=True))),
        high=Rates(*(max(some) * (1.0 + habits.doubt) for some in zip(likely, *ends, strict=True))),
        in_band=told.in_band_s / told.span_s,
        mean_inh2o=told.mean_inh2o,
        highest_inh2o=told.high_inh2o,
        air=use(settings, likely.pulses_d, each_ft3),
    )


def _normal(habits: Habits, points: Setpoints, told: Replay, top_inh2o: float | None) -> Normal:
    """Between what the DP will go when all is well; the noise by three standard deviations."""
    noise = 3.0 * habits.noise_inh2o
    residual = points.stop_inh2o if told.residual_inh2o is None else min(points.stop_inh2o, told.residual_inh2o)
    swing = points.start_inh2o - points.stop_inh2o
    return Normal(
        low_inh2o=residual - noise,
        high_inh2o=points.start_inh2o + max(0.0, habits.start_off_inh2o) + habits.over_inh2o + noise,
        residual_inh2o=points.stop_inh2o,
        average_low_inh2o=told.mean_inh2o - _AVERAGE_SHARE * swing,
        average_high_inh2o=told.mean_inh2o + _AVERAGE_SHARE * swing,
        swing_inh2o=swing,
        top_inh2o=top_inh2o,
    )
