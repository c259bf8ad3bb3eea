"""Cause trials: one collector, one trouble at a known hour, everything else drawn from the seed.

Seeds below 2000 are for finding rules, those from 2000 on for judging them. Beside the troubles there is one
change that is none: higher set points, for which no trouble may be named.
"""

import random
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import NamedTuple

from monitor.plant.build import Build, Work
from monitor.plant.mishaps import Mishap, Way
from monitor.plant.trial import Change, Trial
from monitor.troubles import Trouble
from tests.scenarios.loading import load

#: The set points were raised on purpose: an alarm, and nothing is wrong.
SET_POINTS = "set_points_changed"
CASES: tuple[str, ...] = (*(trouble.value for trouble in Trouble), SET_POINTS)


class Labelled(NamedTuple):
    """A trial, what is wrong in it, and from when on, seconds; the answer is None where nothing is."""

    trial: Trial
    answer: Trouble | None
    onset_s: float


class Course(NamedTuple):
    """How a trouble comes on: hours to its full size, hours watched, and the ways it may take."""

    ramp_h: tuple[float, float] = (0.0, 0.0)
    watched_h: float = 24.0
    ways: tuple[Way, ...] = (Way.PLAIN,)


COURSES: Mapping[Trouble, Course] = {
    Trouble.BLINDING: Course((240.0, 480.0), 480.0),
    Trouble.MOISTURE: Course((0.5, 4.0), 36.0),
    Trouble.TORN_BAG: Course(),
    Trouble.HEADER_PRESSURE_LOST: Course(ways=(Way.PLAIN, Way.WEAK_SUPPLY)),
    Trouble.VALVE_DEAD: Course(watched_h=72.0),
    Trouble.PULSES_DEAD: Course(),
    Trouble.OVER_CLEANING: Course(ways=(Way.PLAIN, Way.FAST_TIMER)),
    Trouble.DUCT_BLOCKED: Course((0.01, 6.0)),
    Trouble.FAN_STOPPED: Course(watched_h=1.0),
    Trouble.HOPPER_BRIDGED: Course((2.0, 12.0), 36.0),
    Trouble.TAP_PLUGGED: Course((6.0, 48.0), 72.0, (Way.SLOW, Way.FROZEN)),
    Trouble.TAP_HOSE_OFF: Course(ways=(Way.BOTH_SIDES, Way.DIRTY_SIDE, Way.CLEAN_SIDE)),
    Trouble.ZERO_DRIFT: Course((6.0, 72.0), 96.0),
    Trouble.LOOP_OPEN: Course(watched_h=2.0, ways=(Way.PLAIN, Way.INTERMITTENT)),
    Trouble.GATEWAY_FROZEN: Course(watched_h=6.0),
    Trouble.DUST_LOAD_UP: Course((0.2, 3.0), 36.0),
    Trouble.FLOW_UP: Course((0.01, 1.0), 24.0),
}


def labelled(case: str, seed: int) -> Labelled:
    """Return the trial of that case and seed."""
    source = random.Random(f"{seed}/{case}/causes")
    onset_h = source.uniform(30.0, 38.0)  # the second day, within the working hours of both sorts of days
    build = _build(source, seed, shifts=case == Trouble.ZERO_DRIFT or source.random() < 0.3)
    if case == SET_POINTS:
        raised = source.uniform(1.2, 2.0)
        cleaning = build.cleaning
        change = Change(
            at_h=onset_h, start_inh2o=cleaning.start_inh2o + raised, stop_inh2o=cleaning.stop_inh2o + raised
        )
        return Labelled(_trial(case, seed, build, onset_h + 24.0, changes=(change,)), None, onset_h * 3600.0)
    trouble = Trouble(case)
    course = COURSES[trouble]
    mishap = Mishap(
        trouble=trouble,
        from_h=onset_h,
        severity=source.random(),
        ramp_h=source.uniform(*course.ramp_h),
        way=source.choice(course.ways),
        row=source.randrange(24),
        recovers=False,
    )
    trial = _trial(case, seed, build, onset_h + course.watched_h, mishaps=(mishap,))
    return Labelled(trial, trouble, onset_h * 3600.0)


def _trial(case: str, seed: int, build: Build, hours: float, **more: tuple[Mishap | Change, ...]) -> Trial:
    return Trial(name=case, seed=seed, duration_s=hours * 3600.0, build=build, **more)


def _build(source: random.Random, seed: int, *, shifts: bool) -> Build:
    """A planer line of that seed with every companion, with rows, header, set points and hours of its own."""
    build = load("healthy_on_demand", seed).build
    start = source.uniform(4.5, 5.5)
    cleaning = replace(
        build.cleaning,
        start_inh2o=start,
        stop_inh2o=start - source.uniform(0.8, 1.3),
        header_psig=source.uniform(75.0, 95.0),
        pulse_every_s=source.choice((8.0, 10.0, 12.0)),
    )
    signal = replace(
        build.signal,
        header=True,
        flow=True,
        fan=True,
        cleaning=True,
        others=source.choice((0, 1, 3)),
        frozen_after_s=source.choice((None, 600.0)),
    )
    work: Callable[..., Work] = lambda **hours: replace(build.work, **hours)  # noqa: E731
    return replace(
        build,
        cloth=replace(build.cloth, rows=source.choice((6, 8, 10))),
        cleaning=cleaning,
        signal=signal,
        work=work(from_h=5.0, to_h=23.0) if shifts else build.work,
    )
