"""Advice against the simulated plant: what was foretold, and what the same plant does with the new set points.

``python -m tests.interpret.advice.against_plant [first seed] [seeds]`` prints a line for each and all errors.
The plant is drawn anew for each seed: velocity, rows, dust, share knocked off, age, load and set points.
"""

import random
import sys
from dataclasses import replace
from statistics import median
from typing import NamedTuple

from monitor.interpret import gathering
from monitor.interpret.advice.advising import Advice, advise
from monitor.interpret.advice.bands import BandSetting, Quantity
from monitor.interpret.advice.learning import Lack, Seen
from monitor.interpret.air import count
from monitor.interpret.cycles import tracker
from monitor.interpret.settings import AirSettings, CurveSettings
from monitor.plant.trial import Build, Trial, cycles, shown

HOURS = 24.0
BANDS = (
    BandSetting("PDAH-101", True, Quantity.DAMPED, 6.0, 0.5, 30.0),
    BandSetting("PDAL-101", False, Quantity.DAMPED, 2.0, 0.5, 30.0),
)


class Real(NamedTuple):
    """What the plant really did, per day of running."""

    cleanings_d: float
    pulses_d: float
    cleaning_share: float
    in_band: float


class Result(NamedTuple):
    """One seed."""

    seed: int
    trial: Trial
    found: Advice | Lack
    real: Real | None = None

    @property
    def error(self) -> float:
        """Of the cleanings a day, a share."""
        return self.found.then.rates.cleanings_d / self.real.cleanings_d - 1.0

    @property
    def air_error(self) -> float:
        """Of the pulses, and so of the air, a share."""
        return self.found.then.rates.pulses_d / self.real.pulses_d - 1.0

    @property
    def band_error(self) -> float:
        """Of the share of time between stop and start."""
        return self.found.then.in_band - self.real.in_band


def drawn(seed: int, hours: float = HOURS) -> Trial:
    """A plant of its own."""
    dice = random.Random(f"advice/{seed}")
    build, velocity = Build(), dice.uniform(3.0, 6.0)
    stop, gap = dice.uniform(3.0, 4.5), dice.choice([0.4, 0.6, 1.0, 1.5, 2.0])
    return Trial(
        name="advice",
        seed=seed,
        duration_s=hours * 3600.0,
        first_dp_inh2o=stop + 0.1,
        build=replace(
            build,
            cloth=replace(
                build.cloth,
                rows=dice.choice([5, 8, 10, 14]),
                area_ft2=build.fan.flow_cfm / velocity,
                k2=dice.uniform(8.0, 25.0),
                knocked_off=dice.uniform(0.2, 0.5),
                settles_again=dice.uniform(0.0, 0.3),
                age_d=dice.uniform(20.0, 300.0),
            ),
            work=replace(build.work, load_gr_ft3=dice.uniform(1.0, 5.0), wander=dice.uniform(0.05, 0.3)),
            cleaning=replace(build.cleaning, start_inh2o=round(stop + gap, 1), stop_inh2o=round(stop, 1)),
        ),
    )


def curve_settings(trial: Trial) -> CurveSettings:
    """What a site file would say."""
    return CurveSettings(cleaning=trial.cleaning_settings, air=AirSettings(per_pulse_ft3=1.5))


def seen(trial: Trial) -> Seen:
    """The trial as the daemon would read it."""
    settings, whole, lows, unrests = curve_settings(trial), [], [], []
    gathered, tracked, counted, low, readings = gathering.EMPTY, tracker.BEGIN, count.BEGIN, 99.0, 0
    for one in shown(trial):
        gathered, digest = gathering.gather(settings.digest_s, gathered, one.sample)
        if digest is None:
            continue
        tracked, cycle = tracker.advance(settings.cleaning, tracked, digest)
        counted = count.advance(settings, counted, digest, tracked, cycle)
        readings += digest.good
        low = min(low, digest.mean_inh2o)
        unrests.append(digest.unrest)
        if cycle is not None:
            whole.append(cycle)
            lows.append(low)
            low = 99.0
    return Seen(
        tuple(whole),
        readings,
        counted.watched_s,
        counted.running_s,
        counted.cleaning_s,
        (median(unrests) / 2.0) ** 0.5,
        counted.dip_psi,
        counted.all_pulses,
        tuple(lows),
    )


def real(trial: Trial, start_inh2o: float, stop_inh2o: float) -> Real:
    """The same plant, the same dust, with these set points: what it does after the first hour."""
    cleaning = replace(trial.build.cleaning, start_inh2o=start_inh2o, stop_inh2o=stop_inh2o)
    moved = replace(trial, build=replace(trial.build, cleaning=cleaning), first_dp_inh2o=stop_inh2o + 0.1)
    done = [one for one in cycles(moved) if one.finished and one.begin_s > 3600.0]
    span_s = done[-1].end_s - done[0].end_s
    within = [
        stop_inh2o - 0.1 <= one.truth.dp_inh2o <= start_inh2o + 0.1
        for one in shown(replace(moved, every_s=5.0))
        if one.sample.at_s > 3600.0
    ]
    return Real(
        (len(done) - 1) / span_s * 86_400.0,
        sum(one.pulses for one in done[1:]) / span_s * 86_400.0,
        sum(one.end_s - one.begin_s for one in done[1:]) / span_s,
        sum(within) / len(within),
    )


def tried(seed: int, hours: float = HOURS) -> Result:
    """Advise on the plant of that seed, and set what was advised."""
    trial = drawn(seed, hours)
    found = advise(curve_settings(trial), seen(trial), BANDS, trial.build.signal.high_inh2o)
    if isinstance(found, Lack) or not found.moves_cleaning:
        return Result(seed, trial, found)
    return Result(seed, trial, found, real(trial, found.then.start_inh2o, found.then.stop_inh2o))


def line(one: Result) -> str:
    """One line for a person."""
    cleaning = one.trial.build.cleaning
    head = f"{one.seed:5} {cleaning.start_inh2o:.1f}/{cleaning.stop_inh2o:.1f}"
    if isinstance(one.found, Lack):
        return f"{head}  no advice: {one.found}"
    why = ",".join(one.found.setpoints.why)
    if one.real is None:
        return f"{head}  {why} (check {one.found.habits.error:+.3f})"
    then = one.found.then
    return (
        f"{head} -> {then.start_inh2o:.1f}/{then.stop_inh2o:.1f} {why} (check {one.found.habits.error:+.3f}): "
        f"cleanings a day {then.rates.cleanings_d:.0f}, really {one.real.cleanings_d:.0f} ({one.error:+.1%}); "
        f"pulses {then.rates.pulses_d:.0f} [{then.low.pulses_d:.0f} to {then.high.pulses_d:.0f}], really "
        f"{one.real.pulses_d:.0f} ({one.air_error:+.1%}); cleaning {then.rates.cleaning_share:.0%}, really "
        f"{one.real.cleaning_share:.0%}; in band {then.in_band:.1%}, really {one.real.in_band:.1%}"
    )


def summary(results: list[Result]) -> str:
    """The errors in all: median and worst."""
    moved = [one for one in results if one.real is not None]
    parts = [f"{len(results)} plants, {len(moved)} with new set points"]
    for name, errors in (
        ("cleanings a day", [one.error for one in moved]),
        ("pulses and air", [one.air_error for one in moved]),
        ("time in band", [one.band_error for one in moved]),
    ):
        sizes = [abs(error) for error in errors]
        parts.append(f"{name}: median error {median(sizes):.1%}, worst {max(sizes):.1%}")
    inside = [one.found.then.low.pulses_d <= one.real.pulses_d <= one.found.then.high.pulses_d for one in moved]
    parts.append(f"pulses within the told range: {sum(inside)} of {len(inside)}")
    return "\n".join(parts)


if __name__ == "__main__":
    first, many = (int(one) for one in (sys.argv[1:] + ["1", "30"][len(sys.argv) - 1 :]))
    found = []
    for number in range(first, first + many):
        found.append(tried(number))
        print(line(found[-1]), flush=True)
    print(summary(found))
