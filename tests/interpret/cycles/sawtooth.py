"""Sawtooth: a small collector of its own, drawn anew from each seed, that shows a curve and knows its cycles.

It shares nothing with monitor/plant, so that the tracker is not fitted to one simulation. Rows hang side by side,
DP = flow / mean(1 / S) + structure · flow², S = Se + K·W; on-demand cleaning between two set points, or rounds by
the clock. Units: flow is a share of the usual, dust is in inches of pressure that it costs.
"""

import random
from dataclasses import dataclass, field
from enum import StrEnum

from monitor.interpret.digest import Sample
from monitor.interpret.settings import CleaningMode, CleaningSettings
from monitor.plant.telling import TrueCycle


class Kind(StrEnum):
    """What makes this day hard to read."""

    PLAIN = "plain"
    NOISY = "noisy"
    CLOSE_POINTS = "close set points"
    LOAD_SWINGS = "load swings"
    FLOW_STEPS = "flow steps"
    FLOW_WANDERS = "flow wanders"
    FAN_STOPS = "fan stops"
    SPIKES = "pulse spikes"
    MISSING = "missing samples"
    HOLES = "holes"
    WEAK = "weak cleaning"
    TORN = "torn bag"
    HEADER_LOST = "header lost"
    DEAD_VALVE = "dead valve"
    ROUNDS = "timed rounds"
    QUICK = "short cycles"


@dataclass(slots=True)
class Day:
    """One stretch of seconds, as it was and as the instruments saw it."""

    kind: Kind
    settings: CleaningSettings
    dp: list[float] = field(default_factory=list)
    header: list[float] = field(default_factory=list)
    flow: list[float] = field(default_factory=list)
    fan: list[bool] = field(default_factory=list)
    cleaning: list[bool] = field(default_factory=list)
    cycles: list[TrueCycle] = field(default_factory=list)
    bad: list[tuple[float, float]] = field(default_factory=list)
    holes: list[tuple[float, float]] = field(default_factory=list)
    lost: float = 0.0

    def samples(
        self,
        period_s: int,
        *,
        signal: bool = False,
        header: bool = False,
        flow: bool = False,
        fan: bool = False,
        phase_s: int = 0,
    ) -> list[Sample]:
        """What is read every so many seconds."""
        dice = random.Random(f"{self.kind}/{period_s}/{len(self.dp)}/{self.dp[0]}")
        return [
            Sample(
                float(second),
                1.7e9 + second,
                None if self._is_bad(second) or dice.random() < self.lost else self.dp[second],
                self.header[second] if header else None,
                self.flow[second] if flow else None,
                self.fan[second] if fan else None,
                self.cleaning[second] if signal else None,
            )
            for second in range(phase_s % period_s, len(self.dp), period_s)
            if not any(begin <= second < end for begin, end in self.holes)
        ]

    def _is_bad(self, second: int) -> bool:
        return any(begin <= second < end for begin, end in self.bad)


def draw(kind: Kind, seed: int, hours: float = 6.0) -> Day:
    """A day of that kind; the same for the same seed."""
    return _Run(kind, seed).day(int(hours * 3600))


class _Run:
    """One collector while it runs."""

    def __init__(self, kind: Kind, seed: int) -> None:
        dice = self.dice = random.Random(f"sawtooth/{kind}/{seed}")
        self.kind = kind
        self.rows = dice.randint(4, 12)
        span = dice.uniform(0.25, 0.45) if kind is Kind.CLOSE_POINTS else dice.uniform(0.5, 1.3)
        self.start = dice.uniform(3.5, 6.5)
        self.stop = self.start - span
        self.structure = dice.uniform(0.0, 0.15) * self.start
        self.clean = (self.stop - self.structure) * dice.uniform(0.35, 0.75)
        quick = kind is Kind.QUICK
        minutes = dice.uniform(3.0, 6.0) if quick else dice.uniform(7.0, 45.0)
        self.load = span / (minutes * 60.0)
        self.pulse_every = dice.choice([3, 5, 6]) if quick else dice.choice([5, 8, 10, 10, 10, 12, 15])
        self.taken = dice.uniform(0.35, 0.7) if quick else dice.uniform(0.2, 0.6)
        if kind is Kind.WEAK:
            self.taken *= 0.35
        self.noise = dice.uniform(0.06, 0.15) if kind is Kind.NOISY else dice.uniform(0.005, 0.05)
        self.slow_noise = self.noise * dice.uniform(0.0, 0.8)
        self.noise_s = dice.uniform(4.0, 25.0)
        self.spike = dice.choice([-1, 1]) * (
            dice.uniform(0.3, 1.0) if kind is Kind.SPIKES else dice.uniform(0.0, 0.2)
        )
        self.lag = dice.uniform(0.2, 1.0)
        self.grain = dice.choice([0.001, 0.0025, 0.01, 0.02])
        self.dip = dice.uniform(8.0, 25.0)
        self.recovery = dice.uniform(1.5, 4.0)
        self.minutes = minutes
        self.dust = [
            (self.stop - self.structure - self.clean) * dice.uniform(0.85, 1.15) for _ in range(self.rows)
        ]
        self.dead = dice.randrange(self.rows) if kind is Kind.DEAD_VALVE else -1

    def day(self, seconds: int) -> Day:
        """Run it."""
        timed = self.kind is Kind.ROUNDS
        known = self.dice.random() < 0.5
        every = float(self.pulse_every) if self.dice.random() < 0.7 else 10.0
        day = Day(
            self.kind,
            CleaningSettings(
                mode=CleaningMode.TIMED if timed else CleaningMode.ON_DEMAND,
                start_inh2o=self.start if known and not timed else None,
                stop_inh2o=self.stop if known and not timed else None,
                pulse_every_s=every,
            ),
        )
        flow, load, fan, torn = self._happenings(day, seconds)
        self._simulate(day, seconds, flow, load, fan, torn, timed)
        return day

    def _happenings(self, day: Day, seconds: int) -> tuple[list[float], list[float], list[bool], float]:
        dice, kind = self.dice, self.kind
        flow, load, fan, torn = [1.0] * seconds, [1.0] * seconds, [True] * seconds, float("inf")
        if kind is Kind.LOAD_SWINGS:
            load = [max(0.0, 1.0 + 0.9 * w) for w in _wander(dice, seconds, dice.uniform(900, 4000))]
        if kind is Kind.FLOW_WANDERS:
            size = dice.uniform(0.03, 0.08)
            flow = [1.0 + size * w for w in _wander(dice, seconds, dice.uniform(1200, 4000))]
        if kind is Kind.FLOW_STEPS:
            level, at = 1.0, 0
            while at < seconds:
                until = at + int(dice.uniform(900, 4000))
                flow[at:until] = [level] * (min(until, seconds) - at)
                at, level = until, dice.uniform(0.75, 1.0)
        for begin, end in self._spells(seconds, 3, 300, 2400) if kind is Kind.FAN_STOPS else ():
            fan[begin:end] = [False] * (end - begin)
        if kind is Kind.TORN:
            torn = seconds * dice.uniform(0.2, 0.7)
        if kind is Kind.MISSING:
            day.lost = dice.uniform(0.02, 0.15)
            day.bad = [(b, b + dice.uniform(5, 45)) for b, _ in self._spells(seconds, 30, 5, 45)]
        if kind is Kind.HOLES:
            day.holes = [(float(b), float(e)) for b, e in self._spells(seconds, 6, 60, 2400)]
        return flow, load, fan, torn

    def _spells(self, seconds: int, number: int, shortest: int, longest: int) -> list[tuple[int, int]]:
        spells = []
        for _ in range(number):
            begin = int(self.dice.uniform(0.1, 0.95) * seconds)
            spells.append((begin, min(seconds, begin + int(self.dice.uniform(shortest, longest)))))
        return spells

    def _simulate(
        self,
        day: Day,
        seconds: int,
        flow_plan: list[float],
        load: list[float],
        fan: list[bool],
        torn_s: float,
        timed: bool,
    ) -> None:
        dice, rows, clean = self.dice, self.rows, self.clean
        dust, dp_seen, header, wander, speed, spike = self.dust, 0.0, 90.0, 0.0, 1.0, 0.0
        cleaning, row, pulse_due, begun, pulses, left, speed_lag = (
            False,
            0,
            0.0,
            None,
            0,
            0,
            dice.uniform(5.0, 20.0),
        )
        round_every = self.minutes * 60.0 + rows * self.pulse_every
        next_round = round_every * dice.random()
        lost_s = seconds * dice.uniform(0.3, 0.6) if self.kind is Kind.HEADER_LOST else float("inf")
        flow_now = flow_plan[0]
        keep = (1 - 1 / self.noise_s) if self.slow_noise else 0.0
        kick = self.slow_noise * (1 - keep * keep) ** 0.5
        peak = 0.0
        for second in range(seconds):
            speed += ((1.0 if fan[second] else 0.0) - speed) / speed_lag
            flow_now += (flow_plan[second] - flow_now) / 6.0
            flow = flow_now * speed
            drags = [clean + w for w in dust]
            opening = sum([1.0 / s for s in drags]) / rows
            if second > torn_s:
                opening *= 1.12
            cloth = flow / opening
            dp = cloth + self.structure * flow * flow
            step = self.load * load[second] * cloth
            dust = [w + step / s for w, s in zip(dust, drags, strict=True)]
            dp_seen += (dp - dp_seen) * self.lag
            was = cleaning
            if not fan[second]:
                cleaning = False
            elif timed:
                if second >= next_round:
                    cleaning, left, next_round = True, rows, next_round + round_every
                elif cleaning and left == 0 and second >= pulse_due:
                    cleaning = False
            else:
                cleaning = dp_seen > self.stop if cleaning else dp_seen >= self.start
            if cleaning and not was:
                begun, pulses, peak, pulse_due = second, 0, dp, second
            spike *= 0.2
            header += ((90.0 if second < lost_s else 0.0) - header) / (self.recovery if second < lost_s else 60.0)
            if cleaning and second >= pulse_due and (not timed or left > 0):
                pulse_due, left = second + self.pulse_every, left - 1
                if row != self.dead:
                    strength = max(0.0, min(1.0, (header - 30.0) / 30.0))
                    dust[row] *= 1.0 - self.taken * strength
                    header -= self.dip * header / 90.0
                    spike, pulses = self.spike * strength, pulses + 1
                row = (row + 1) % rows
            if was and not cleaning and begun is not None:
                day.cycles.append(TrueCycle(begun, second, peak, dp, pulses, fan[second]))
            wander = wander * keep + kick * dice.gauss(0, 1)
            shown = (
                dp_seen + flow * (wander + self.noise * dice.gauss(0, 1)) + spike * flow + 0.002 * dice.gauss(0, 1)
            )
            day.dp.append(round(shown / self.grain) * self.grain)
            day.header.append(header + 0.3 * dice.gauss(0, 1))
            day.flow.append(1e4 * flow * (1 + 0.01 * dice.gauss(0, 1)))
            day.fan.append(fan[second])
            day.cleaning.append(cleaning)
        if cleaning and begun is not None:
            day.cycles.append(TrueCycle(begun, seconds, peak, dp, pulses, False))


def _wander(dice: random.Random, seconds: int, every: float) -> list[float]:
    """A smooth walk between random points, standard deviation about 1."""
    every = int(every)
    points = [dice.gauss(0, 1) for _ in range(seconds // every + 2)]
    out = []
    for second in range(seconds):
        whole, part = divmod(second, every)
        share = part / every
        share = share * share * (3 - 2 * share)
        out.append(points[whole] + (points[whole + 1] - points[whole]) * share)
    return out
