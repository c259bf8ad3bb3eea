"""Warning trials: collectors of many kinds, healthy for weeks or with one trouble, drawn from a seed.

A trouble begins on the second day, when usual values have been learnt. Every third
collector has no cleaning signal, every fourth no header pressure; some are scanned every 10 or 30 s; one in eight
is cleaned by the clock. Healthy ones have load swings of a factor two and more, batches, weekend stops, night
stops, other set points half way, new filters on a Saturday, lost answers, coarse transmitters.
"""

import random
from typing import NamedTuple

from monitor.plant.build import Build, Cleaning, Cloth, Mode, Signal, Work
from monitor.plant.mishaps import Mishap, Way
from monitor.plant.trial import Change, Trial
from monitor.troubles import Sign, Trouble

DAY_S = 86_400.0


class Case(NamedTuple):
    """One trouble in one way, and the signs that would be right for it.

    Attributes:
        lasts_h: how long the trial goes on after its onset; a sign within it counts.
    """

    trouble: Trouble
    way: Way
    signs: tuple[Sign, ...]
    lasts_h: float = 12.0
    ramp_h: tuple[float, float] = (0.5, 3.0)

    @property
    def name(self) -> str:
        """Trouble and way."""
        return self.trouble.value + ("" if self.way is Way.PLAIN else f" ({self.way.value})")


_EFFECT, _OFTEN, _HEADER = Sign.CLEANING_WITHOUT_EFFECT, Sign.CLEANING_TOO_OFTEN, Sign.HEADER_NOT_RECOVERING
_STEP, _STILL = Sign.DP_STEPPED_DOWN, Sign.SIGNAL_STILL

CASES = (
    Case(Trouble.PULSES_DEAD, Way.PLAIN, (_EFFECT,)),
    Case(Trouble.HEADER_PRESSURE_LOST, Way.PLAIN, (_HEADER, _EFFECT)),
    Case(Trouble.HEADER_PRESSURE_LOST, Way.WEAK_SUPPLY, (_HEADER, _EFFECT)),
    Case(Trouble.MOISTURE, Way.PLAIN, (_EFFECT, _OFTEN)),
    Case(Trouble.BLINDING, Way.PLAIN, (_EFFECT, _OFTEN), 48.0, (12.0, 40.0)),
    Case(Trouble.HOPPER_BRIDGED, Way.PLAIN, (_EFFECT, _OFTEN)),
    Case(Trouble.OVER_CLEANING, Way.PLAIN, (_OFTEN,)),
    Case(Trouble.OVER_CLEANING, Way.FAST_TIMER, (_OFTEN,)),
    Case(Trouble.TORN_BAG, Way.PLAIN, (_STEP,)),
    Case(Trouble.TAP_PLUGGED, Way.SLOW, (_STILL,), 24.0, (4.0, 12.0)),
    Case(Trouble.TAP_PLUGGED, Way.FROZEN, (_STILL,)),
    Case(Trouble.TAP_PLUGGED, Way.ONE_LINE, (_STILL,), 24.0, (4.0, 12.0)),
    Case(Trouble.GATEWAY_FROZEN, Way.PLAIN, (_STILL,)),
    Case(Trouble.TAP_HOSE_OFF, Way.PLAIN, (_STEP, _STILL)),
    Case(Trouble.VALVE_DEAD, Way.PLAIN, (_EFFECT, _OFTEN)),
    Case(Trouble.DUCT_BLOCKED, Way.PLAIN, (_STEP,)),
    Case(Trouble.DUST_LOAD_UP, Way.PLAIN, (_OFTEN,)),
    Case(Trouble.FLOW_UP, Way.PLAIN, (_OFTEN,)),
    Case(Trouble.ZERO_DRIFT, Way.PLAIN, ()),
)


def build(source: random.Random) -> Build:
    """One collector, drawn."""
    mode = source.choice([Mode.ON_DEMAND] * 5 + [Mode.ROUNDS] * 2 + [Mode.TIMED])
    start = source.uniform(4.0, 6.0)
    cleaning = Cleaning(
        mode=mode,
        start_inh2o=start,
        stop_inh2o=start - source.uniform(0.7, 1.3),
        pause_s=source.choice([0.0, 60.0]) if mode is Mode.TIMED else 0.0,
        clean_down_pulses=source.choice([0, 0, 16]),
        shares_taps=source.random() < 0.5,
        recovery_s=source.uniform(1.5, 3.0),
    )
    return Build(
        cloth=Cloth(
            rows=source.choice([6, 8, 10, 12]),
            k2=source.uniform(12.0, 18.0),
            knocked_off=source.uniform(0.3, 0.45),
            age_d=source.uniform(20.0, 200.0),
        ),
        cleaning=cleaning,
        work=work(source),
        signal=signal(source),
    )


def work(source: random.Random) -> Work:
    """When it works, and how its load swings."""
    shift = source.choice([(1.0,), (1.0, 1.5, 0.75), (1.2, 0.6), (1.0, 0.7, 1.4, 0.9)])
    days, hours = source.choice([(7, (0.0, 24.0)), (7, (0.0, 24.0)), (5, (0.0, 24.0)), (6, (5.0, 22.0))])
    return Work(
        load_gr_ft3=source.uniform(1.5, 4.0),
        wander=source.uniform(0.1, 0.25),
        shifts=shift,
        batch_min=source.choice([0.0, 0.0, 0.0, 45.0]),
        batch_share=0.6,
        idle_share=0.3,
        days=days,
        from_h=hours[0],
        to_h=hours[1],
    )


def signal(source: random.Random) -> Signal:
    """How it is measured."""
    return Signal(
        turbulence=source.uniform(0.004, 0.012),
        slow_turbulence=source.uniform(0.003, 0.012),
        spike_inh2o=source.uniform(-0.8, 0.8),
        lag_s=source.choice([0.3, 0.5, 1.0, 3.0]),
        step_inh2o=source.choice([0.0006, 0.0031, 0.0031, 0.01, 0.05]),
        header=source.random() < 0.75,
        flow=source.random() < 0.3,
        fan=source.random() < 0.85,
        cleaning=source.random() < 0.67,
        lost_share=source.choice([0.0, 0.0, 0.003]),
    )


def _scan_s(source: random.Random) -> float:
    return source.choice([1.0, 1.0, 1.0, 2.0, 10.0, 30.0])


def healthy(seed: int, days: float = 10.0) -> Trial:
    """A collector in good order, from a Monday on."""
    source = random.Random(f"healthy/{seed}")
    made = build(source)
    changes = []
    if source.random() < 0.5 and made.cleaning.mode is not Mode.TIMED:
        up = source.choice([-0.5, 0.3, 0.5])
        cleaning = made.cleaning
        at_h = source.uniform(0.4, 0.7) * days * 24.0
        changes.append(
            Change(at_h=at_h, start_inh2o=cleaning.start_inh2o + up, stop_inh2o=cleaning.stop_inh2o + up)
        )
    if made.work.days == 5 and source.random() < 0.5:  # on Saturday, with the fan at rest
        changes.append(Change(at_h=132.0, new_filters=True))
    return Trial(
        name="healthy",
        seed=source.getrandbits(32),
        duration_s=days * DAY_S,
        every_s=_scan_s(source),
        first_dp_inh2o=made.cleaning.stop_inh2o,
        build=made,
        changes=tuple(sorted(changes, key=lambda one: one.at_h)),
    )


def troubled(case: Case, seed: int) -> Trial:
    """A collector in which that goes wrong on the second day."""
    source = random.Random(f"{case.name}/{seed}")
    made = build(source)
    from_h = source.uniform(26.0, 44.0)
    hours = made.work
    if hours.from_h > 0.0:  # in the working hours of its day
        from_h = from_h // 24 * 24 + source.uniform(hours.from_h + 1.0, hours.to_h - 3.0)
    mishap = Mishap(
        trouble=case.trouble,
        from_h=from_h,
        severity=source.random(),
        ramp_h=source.uniform(*case.ramp_h),
        way=case.way,
        row=source.randrange(12),
    )
    return Trial(
        name=case.name,
        seed=source.getrandbits(32),
        duration_s=(from_h + case.lasts_h) * 3600.0,
        every_s=_scan_s(source),
        first_dp_inh2o=made.cleaning.stop_inh2o,
        build=made,
        mishaps=(mishap,),
    )
