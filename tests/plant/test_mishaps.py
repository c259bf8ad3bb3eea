"""Each trouble shows its own physical signature, at its mildest and at its worst."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from statistics import fmean, median

import pytest

from monitor.plant.mishaps import Mishap, Way, bend, usual
from monitor.plant.trial import Build, Cleaning, Mode, Shown, Signal, Trial, Work, cycles, shown
from monitor.troubles import Trouble

HOUR_S = 3600.0
ONSET_H, END_H = 3.0, 7.0
ON_DEMAND = Build(signal=Signal(flow=True), work=Work(wander=0.05))
TIMED = Build(signal=Signal(flow=True), work=Work(wander=0.05), cleaning=Cleaning(mode=Mode.TIMED, pause_s=300.0))


@dataclass(frozen=True)
class Stretch:
    """What one part of a trial comes to."""

    seen: tuple[Shown, ...]

    def dp(self) -> list[float]:
        return [one.sample.dp_inh2o for one in self.seen if one.sample.dp_inh2o is not None]

    def true_dp(self) -> float:
        return fmean(one.truth.dp_inh2o for one in self.seen)

    def lowest_true(self) -> float:
        return min(one.truth.dp_inh2o for one in self.seen)

    def flow(self) -> float:
        return fmean(one.sample.flow_cfm or 0.0 for one in self.seen)

    def header(self) -> list[float]:
        return [one.sample.header_psi for one in self.seen if one.sample.header_psi is not None]

    def pulses(self) -> int:
        return self.seen[-1].truth.pulses - self.seen[0].truth.pulses

    def cleaning(self) -> float:
        return fmean(one.truth.cleaning for one in self.seen)

    def drag(self) -> float:
        return self.seen[-1].truth.residual_drag

    def dust(self) -> float:
        return fmean(one.truth.dust_lb_ft2 for one in self.seen)

    def noise(self) -> float:
        """Median step from one reading to the next while no pulse is about."""
        values = self.dp()
        return median(abs(after - before) for before, after in pairwise(values))

    def reasons(self) -> set[str]:
        return {one.reason.value for one in self.seen}


@lru_cache(maxsize=2)
def stretches(build: Build, mishap: Mishap, every_s: float = 5.0) -> tuple[Stretch, Stretch]:
    """What was before the mishap, and its last two hours."""
    trial = Trial(name="test", seed=3, duration_s=END_H * HOUR_S, every_s=every_s, build=build, mishaps=(mishap,))
    seen = tuple(shown(trial))
    before = tuple(one for one in seen if HOUR_S <= one.sample.at_s < ONSET_H * HOUR_S)
    during = tuple(one for one in seen if one.sample.at_s >= (END_H - 2.0) * HOUR_S)
    return Stretch(before), Stretch(during)


T = Trouble
Law = Callable[[Stretch, Stretch], bool]
# Rows of one trouble and way stand together, so that each trial is played once.
SIGNATURES: list[tuple[str, Build, Trouble, Way, Law]] = [
    ("residual drag is up", ON_DEMAND, T.BLINDING, Way.PLAIN, lambda b, d: d.drag() > 1.7 * b.drag()),
    ("lowest DP is up", TIMED, T.BLINDING, Way.PLAIN, lambda b, d: d.lowest_true() > 1.3 * b.lowest_true()),
    ("cleans longer", ON_DEMAND, T.MOISTURE, Way.PLAIN, lambda b, d: d.cleaning() > 2.0 * b.cleaning()),
    ("more dust stays", TIMED, T.MOISTURE, Way.PLAIN, lambda b, d: d.dust() > 1.3 * b.dust()),
    ("DP is down", TIMED, T.TORN_BAG, Way.PLAIN, lambda b, d: d.true_dp() < 0.97 * b.true_dp()),
    ("flow is up", TIMED, T.TORN_BAG, Way.PLAIN, lambda b, d: d.flow() > b.flow()),
    ("less dust to clean", ON_DEMAND, T.TORN_BAG, Way.PLAIN, lambda b, d: d.pulses() < b.pulses()),
    (
        "header is down",
        ON_DEMAND,
        T.HEADER_PRESSURE_LOST,
        Way.PLAIN,
        lambda b, d: max(d.header()) < 0.6 * median(b.header()),
    ),
    (
        "DP climbs",
        ON_DEMAND,
        T.HEADER_PRESSURE_LOST,
        Way.PLAIN,
        lambda b, d: d.true_dp() > 1.2 * b.true_dp(),
    ),
    (
        "header does not recover",
        ON_DEMAND,
        T.HEADER_PRESSURE_LOST,
        Way.WEAK_SUPPLY,
        lambda b, d: min(d.header()) < min(b.header()) - 5.0,
    ),
    (
        "one dip in eight is missing",
        TIMED,
        T.VALVE_DEAD,
        Way.PLAIN,
        lambda b, d: d.pulses() * 8 < b.pulses() * 7.5,
    ),
    ("one row fills up", TIMED, T.VALVE_DEAD, Way.PLAIN, lambda b, d: d.dust() > 1.1 * b.dust()),
    ("no valve opens", ON_DEMAND, T.PULSES_DEAD, Way.PLAIN, lambda _, d: d.pulses() == 0),
    ("header stands still", ON_DEMAND, T.PULSES_DEAD, Way.PLAIN, lambda _, d: min(d.header()) > 89.0),
    ("it calls without end", ON_DEMAND, T.PULSES_DEAD, Way.PLAIN, lambda _, d: d.cleaning() == 1.0),
    ("DP is low", ON_DEMAND, T.OVER_CLEANING, Way.PLAIN, lambda b, d: d.true_dp() < 0.7 * b.true_dp()),
    ("cake is thin", ON_DEMAND, T.OVER_CLEANING, Way.PLAIN, lambda b, d: d.dust() < 0.6 * b.dust()),
    ("pulses without end", TIMED, T.OVER_CLEANING, Way.FAST_TIMER, lambda b, d: d.pulses() > 2 * b.pulses()),
    ("flow falls", TIMED, T.DUCT_BLOCKED, Way.PLAIN, lambda b, d: d.flow() < 0.75 * b.flow()),
    ("DP falls with it", TIMED, T.DUCT_BLOCKED, Way.PLAIN, lambda b, d: d.true_dp() < 0.8 * b.true_dp()),
    ("no DP", ON_DEMAND, T.FAN_STOPPED, Way.PLAIN, lambda _, d: max(d.dp()) < 0.1),
    ("contact is off", ON_DEMAND, T.FAN_STOPPED, Way.PLAIN, lambda _, d: d.seen[-1].sample.fan is False),
    ("contact stays", ON_DEMAND, T.FAN_STOPPED, Way.BELT, lambda _, d: d.seen[-1].sample.fan is True),
    ("no flow", ON_DEMAND, T.FAN_STOPPED, Way.BELT, lambda b, d: d.flow() < 0.01 * b.flow()),
    ("more dust stays", TIMED, T.HOPPER_BRIDGED, Way.PLAIN, lambda b, d: d.dust() > 1.5 * b.dust()),
    (
        "cleans longer",
        ON_DEMAND,
        T.HOPPER_BRIDGED,
        Way.PLAIN,
        lambda b, d: d.cleaning() > 2.0 * b.cleaning(),
    ),
    ("noise is gone", ON_DEMAND, T.TAP_PLUGGED, Way.SLOW, lambda b, d: d.noise() < 0.3 * b.noise()),
    (
        "the sawtooth is gone",
        ON_DEMAND,
        T.TAP_PLUGGED,
        Way.FROZEN,
        lambda _, d: max(d.dp()) - min(d.dp()) < 0.1,
    ),
    (
        "plant is as it was",
        ON_DEMAND,
        T.TAP_PLUGGED,
        Way.FROZEN,
        lambda b, d: d.true_dp() > 0.95 * b.true_dp(),
    ),
    ("noise is up", ON_DEMAND, T.TAP_PLUGGED, Way.ONE_LINE, lambda b, d: d.noise() > 1.5 * b.noise()),
    ("reads nothing", ON_DEMAND, T.TAP_HOSE_OFF, Way.PLAIN, lambda _, d: abs(fmean(d.dp())) < 0.05),
    ("noise remains", ON_DEMAND, T.TAP_HOSE_OFF, Way.PLAIN, lambda _, d: d.noise() > 0.0),
    (
        "reads too much",
        ON_DEMAND,
        T.TAP_HOSE_OFF,
        Way.DIRTY_SIDE,
        lambda b, d: fmean(d.dp()) > d.true_dp() + 2.0,
    ),
    ("is below its zero", ON_DEMAND, T.TAP_HOSE_OFF, Way.CLEAN_SIDE, lambda _, d: max(d.dp()) < 0.0),
    ("reads too much", ON_DEMAND, T.ZERO_DRIFT, Way.UPWARD, lambda _, d: fmean(d.dp()) > d.true_dp() + 0.4),
    (
        "reads too little",
        ON_DEMAND,
        T.ZERO_DRIFT,
        Way.DOWNWARD,
        lambda _, d: fmean(d.dp()) < d.true_dp() - 0.4,
    ),
    ("no signal", ON_DEMAND, T.LOOP_OPEN, Way.PLAIN, lambda _, d: d.reasons() == {"loop_failed_low"}),
    ("signal comes and goes", ON_DEMAND, T.LOOP_OPEN, Way.INTERMITTENT, lambda _, d: len(d.reasons()) == 2),
    (
        "repeats exactly",
        ON_DEMAND,
        T.GATEWAY_FROZEN,
        Way.PLAIN,
        lambda _, d: len({*d.dp(), *d.header()}) == 2,
    ),
    ("all others too", ON_DEMAND, T.GATEWAY_FROZEN, Way.PLAIN, lambda _, d: d.seen[-1].others_alike == 3),
    ("more to clean", ON_DEMAND, T.DUST_LOAD_UP, Way.PLAIN, lambda b, d: d.pulses() > 1.4 * b.pulses()),
    ("more flow", TIMED, T.FLOW_UP, Way.PLAIN, lambda b, d: d.flow() > 1.1 * b.flow()),
    ("more DP", TIMED, T.FLOW_UP, Way.PLAIN, lambda b, d: d.true_dp() > 1.1 * b.true_dp()),
]


@pytest.mark.parametrize("severity", [0.0, 1.0])
@pytest.mark.parametrize(
    ("sign", "build", "trouble", "way", "law"),
    SIGNATURES,
    ids=[f"{trouble}-{way}-{sign}".replace(" ", "_") for sign, _, trouble, way, _ in SIGNATURES],
)
def test_each_trouble_shows_its_signature(
    sign: str, build: Build, trouble: Trouble, way: Way, law: Law, severity: float
) -> None:
    mishap = Mishap(trouble=trouble, from_h=ONSET_H, severity=severity, ramp_h=1.5, way=way, row=2, recovers=False)
    before, during = stretches(build, mishap)
    assert law(before, during), sign


def test_every_trouble_has_its_signature_here() -> None:
    assert {trouble for _, _, trouble, _, _ in SIGNATURES} == set(Trouble)


@pytest.mark.parametrize("trouble", list(Trouble))
def test_the_truth_names_the_trouble_from_its_onset_to_its_end(trouble: Trouble) -> None:
    mishap = Mishap(trouble=trouble, from_h=0.5, to_h=1.0)
    trial = Trial(name="test", duration_s=1.5 * HOUR_S, every_s=10.0, mishaps=(mishap,))
    for one in shown(trial):
        # A stride that ends with the onset is still without it.
        if abs(one.sample.at_s - 1800.0) > 0.1 and abs(one.sample.at_s - 3600.0) > 0.1:
            there = 1800.0 <= one.sample.at_s < 3600.0
            assert one.truth.troubles == ((trouble,) if there else ())


def test_what_holds_at_no_hour_bends_nothing() -> None:
    forces = usual(ON_DEMAND)
    for trouble in Trouble:
        bend(forces, Mishap(trouble=trouble, from_h=2.0, to_h=3.0), ON_DEMAND, 1.0)
    assert forces == usual(ON_DEMAND)


def test_a_duct_blocked_to_a_share_passes_that_share() -> None:
    """Severity 1 leaves 30 % of the flow, severity 0 leaves 70 %."""
    for severity, share in ((0.0, 0.70), (1.0, 0.30)):
        before, during = stretches(
            TIMED, Mishap(trouble=Trouble.DUCT_BLOCKED, from_h=ONSET_H, severity=severity, ramp_h=0.0), 10.0
        )
        assert during.flow() / before.flow() == pytest.approx(share, abs=0.04)


def test_a_moisture_upset_dries_out_in_its_last_third() -> None:
    mishap = Mishap(trouble=Trouble.MOISTURE, from_h=0.0, to_h=9.0, ramp_h=1.0)
    drags = []
    for hour in (2.0, 7.5, 8.9):
        forces = usual(ON_DEMAND)
        bend(forces, mishap, ON_DEMAND, hour)
        drags.append(forces.residual)
    assert drags[0] > drags[1] > drags[2] > 1.0


def test_taps_that_the_controller_shares_mislead_it() -> None:
    """Frozen above the stop point while cleaning, it never ends; frozen below the start point, it never begins."""
    build = Build(cleaning=Cleaning(shares_taps=True))
    mishap = Mishap(trouble=Trouble.TAP_PLUGGED, from_h=ONSET_H, way=Way.FROZEN)
    _, misled = stretches(build, mishap, 10.0)
    _, sound = stretches(Build(), mishap, 10.0)
    assert misled.cleaning() in (0.0, 1.0)
    assert 0.0 < sound.cleaning() < 1.0
    shared = cycles(Trial(name="test", seed=3, duration_s=END_H * HOUR_S, build=build, mishaps=(mishap,)))
    assert all(one.end_s <= ONSET_H * HOUR_S or not one.finished for one in shared)
