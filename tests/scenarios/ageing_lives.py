"""Ageing lives: sets of filters that age by laws of our own, a second bed beside the simulated plant's lives.

The plant's lives (``monitor.plant.life``) come from filter drag and the balance of cleaning. These come from four
plain laws and know nothing of drag: what a forecast learns on one bed must hold on the other. Over the law lie a
wandering that forgets itself within days to weeks, a weekly swing, noise, upsets that go by, weekends, shutdowns
and times in which nothing was read. The true date is the law's alone. All figures are invented, no source.
"""

import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.digest import Digest
from monitor.interpret.settings import FilterSettings
from monitor.plant.life import Life, life
from monitor.plant.life_shape import Shape

BEDS = ("plant", "bent", "own")
DAY_S = 86_400.0
START_UTC_S = 1_700_006_400.0  # midnight
STEP_S = 3600.0


class Law(StrEnum):
    """How the residual DP goes from new to the limit, as a share of the rise by a share of the life."""

    LINEAR = "linear"
    ACCELERATING = "accelerating"
    SLOWING = "slowing"
    TWO_SLOPES = "two_slopes"


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLife:
    """One of them; the fields are those of the plant's lives that a forecast is judged by."""

    seed: int
    law: Law
    digests: tuple[Digest, ...]
    cycles: tuple[Cycle | None, ...]
    limit_inh2o: float
    due_utc_s: float
    start_utc_s: float

    @property
    def filter_settings(self) -> FilterSettings:
        return FilterSettings(installed_utc_s=self.start_utc_s, change_out_inh2o=self.limit_inh2o)


def own_life(seed: int) -> OwnLife:
    """Live one life, a tenth past its end."""
    source = random.Random(f"{seed}/own life")
    law = source.choice(tuple(Law))
    shape = shape_of(law, source)
    new, rise = source.uniform(1.0, 2.5), source.uniform(1.5, 3.5)
    term_s = source.uniform(150.0, 700.0) * DAY_S
    digests, cycles, due_utc_s = [], [], math.inf
    for digest, cycle, run_s in lived(source, lambda share: new + rise * shape(share), rise, term_s):
        digests.append(digest)
        cycles.append(cycle)
        if run_s >= term_s:
            due_utc_s = min(due_utc_s, digest.end_utc_s - (run_s - term_s))
    return OwnLife(
        seed=seed,
        law=law,
        digests=tuple(digests),
        cycles=tuple(cycles),
        limit_inh2o=new + rise,
        due_utc_s=due_utc_s,
        start_utc_s=START_UTC_S,
    )


def lives_of(bed: str, seed: int) -> Life | OwnLife:
    """One life of that bed: ``plant``, ``bent`` (the plant's, on lines that are no power of time) or ``own``."""
    match bed:
        case "plant":
            return life(seed)
        case "bent":
            return life(seed, shape=(Shape.KNEE, Shape.STEPS)[seed % 2])
        case _:
            return own_life(seed)


def shape_of(law: Law, source: random.Random) -> Callable[[float], float]:
    """From 0 at the begin to 1 at the end of the life."""
    match law:
        case Law.LINEAR:
            return lambda share: share
        case Law.ACCELERATING:
            power = source.uniform(1.2, 2.5)
            return lambda share: share**power
        case Law.SLOWING:
            power = source.uniform(0.45, 0.85)
            return lambda share: share**power
        case Law.TWO_SLOPES:
            return two_slopes(source.uniform(0.2, 0.7), source.uniform(0.4, 3.0))


def two_slopes(knee: float, ratio: float) -> Callable[[float], float]:
    """One slope up to the knee, so many times of it after."""
    first = 1.0 / (knee + ratio * (1.0 - knee))
    return lambda share: first * (min(share, knee) + ratio * max(share - knee, 0.0))


def lived(
    source: random.Random, law: Callable[[float], float], rise: float, term_s: float
) -> Iterator[tuple[Digest, Cycle | None, float]]:
    """Show it hour by hour: digest, cycle, seconds of running."""
    wander_sd, noise_sd = source.uniform(0.01, 0.04) * rise, source.uniform(0.02, 0.06)
    forgets = math.exp(-STEP_S / (source.uniform(2.0, 15.0) * DAY_S))
    week, days_a_week = source.uniform(0.0, 0.05) * rise, source.choice((5, 6, 7, 7))
    wander, run_s, time_s, upset, upset_until_s, still_until_s, unseen_until_s = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    while run_s < 1.1 * term_s:
        time_s += STEP_S
        day = (time_s - STEP_S / 2) / DAY_S
        runs = int(day) % 7 < days_a_week and time_s >= still_until_s
        run_s += STEP_S if runs else 0.0
        wander = forgets * wander + math.sqrt(1 - forgets**2) * source.gauss(0.0, wander_sd)
        chance = source.random()
        if chance < 4 * STEP_S / (365 * DAY_S):
            upset, upset_until_s = source.uniform(0.1, 0.4), time_s + source.uniform(0.3, 8.0) * DAY_S
        elif chance < 6 * STEP_S / (365 * DAY_S):
            still_until_s = time_s + source.uniform(1.0, 12.0) * DAY_S
        elif chance < 10 * STEP_S / (365 * DAY_S):
            unseen_until_s = time_s + source.uniform(0.1, 6.0) * DAY_S
        if time_s < unseen_until_s:
            continue
        level = law(run_s / term_s) + wander + week * math.sin(2 * math.pi * day / 7)
        level *= 1.0 + (upset if time_s < upset_until_s else 0.0)
        yield *shown(source, level + source.gauss(0.0, noise_sd), time_s, runs), run_s


def shown(source: random.Random, residual: float, time_s: float, runs: bool) -> tuple[Digest, Cycle | None]:
    """One hour, as it is read."""
    mean = residual + 0.7 if runs else source.gauss(0.0, 0.01)
    digest = Digest(
        begin_s=time_s - STEP_S,
        end_s=time_s,
        end_utc_s=START_UTC_S + time_s,
        good=360,
        mean_inh2o=mean,
        lowest_inh2o=residual if runs else mean,
        highest_inh2o=residual + 1.4 if runs else mean,
        last_inh2o=mean,
        fan=runs,
    )
    if not runs:
        return digest, None
    end_s = time_s - source.uniform(0.0, STEP_S - 100.0)
    cycle = Cycle(
        end_s - 90.0, START_UTC_S + end_s - 90.0, end_s, START_UTC_S + end_s, residual + 1.4, residual, 2400.0
    )
    return digest, cycle
