"""Judge: 30 days of one-second samples of one collector through the judge, and through the whole of a turn.

The samples are a cleaning sawtooth (between 4 and 5 inH2O, a few minutes long) with some turbulence, a few hours
each day with a DP that climbs over the high set points and back, and a lost signal now and then.
"""

import math
import random
import time
from collections.abc import Iterator, Sequence

from monitor.condition.channel import AnalogChannel
from monitor.condition.registers import Encoding, RegisterFormat
from monitor.condition.scaling import LoopScaling
from monitor.interpret.settings import TrendSettings
from monitor.judge import watch
from monitor.judge.calm import Bands, Seen
from monitor.judge.settings import AlarmSettings, Band, Judged, Side
from monitor.scan import turn as scan
from monitor.scan.settings import CollectorPlan, PlantPlan, PointPlan
from monitor.words import (
    Block,
    BlockRead,
    Failure,
    Instant,
    PointId,
    Priority,
    Reason,
    Role,
    Slot,
    Table,
    UnitScan,
)
from tests.benchmarks.figures import Figure

DAY_S = 86_400
BAR_S = 10.0
_NO_ANSWER = Failure(Reason.NO_ANSWER, "no answer within 1 s")


def run(*, quick: bool) -> Iterator[Figure]:
    """Judge the samples; yields how long a month took."""
    days = 3 if quick else 30
    samples = _month(days)
    seconds, happened = _through_judge(samples)
    note = f"{len(samples):,} samples, {happened} transitions, {seconds / len(samples) * 1e6:.2f} µs a sample"
    if quick:
        note += f"; {days} days times {30 // days}"
    yield Figure(what="30 days through the judge", value=seconds * 30 / days, unit="s", bar=BAR_S, note=note)
    days = 1 if quick else 5
    samples = samples[: days * DAY_S]
    seconds, happened = _through_turns(samples)
    note = f"{days} days times {30 // days}; {happened} events, {seconds / len(samples) * 1e6:.1f} µs a sample"
    yield Figure(what="30 days from register words to events", value=seconds * 30 / days, unit="s", note=note)


def _month(days: int) -> list[float | None]:
    """One DP a second, inH2O; None where the signal is lost."""
    dice = random.Random(1)
    samples: list[float | None] = []
    for second in range(days * DAY_S):
        hour = second % DAY_S / 3600
        climb = 5.2 * math.sin((hour - 10) / 2 * math.pi) if 10 < hour < 12 else 0.0
        samples.append(4 + second % 240 / 240 + climb + dice.gauss(0, 0.05))
    for _ in range(days):
        at = dice.randrange(len(samples) - 120)
        samples[at : at + 120] = [None] * 120
    return samples


def _alarm(tag: str, priority: Priority = Priority.HIGH) -> AlarmSettings:
    return AlarmSettings(
        tag=tag, priority=priority, on_delay_s=15.0, off_delay_s=15.0, latching=True, auto_clear_s=1800.0
    )


def _band(tag: str, side: Side, setpoint: float, judged: Judged = Judged.DAMPED) -> Band:
    return Band(alarm=_alarm(tag), side=side, setpoint_inh2o=setpoint, deadband_inh2o=1.2, judged=judged)


_BANDS = (
    _band("PDAHH-101", Side.ABOVE, 9.0),
    _band("PDAH-101", Side.ABOVE, 7.0),
    _band("PDAL-101", Side.BELOW, 2.0),
    _band("PDAR-101", Side.ABOVE, 4.5, Judged.RESIDUAL),
)
_BAD_SIGNAL = _alarm("PDT-101-BAD")


def _through_judge(samples: Sequence[float | None]) -> tuple[float, int]:
    bands = Bands(_BANDS, _BAD_SIGNAL)
    state = watch.begin(bands, {})
    seen = [Seen(None, None, None) if dp is None else Seen(dp, 4.0, 4.5) for dp in samples]
    happened = 0
    began_s = time.perf_counter()
    for second, what in enumerate(seen):
        state, fired = watch.look(bands, state, what, Instant(float(second), 1.7e9 + second))
        happened += len(fired)
    return time.perf_counter() - began_s, happened


def _through_turns(samples: Sequence[float | None]) -> tuple[float, int]:
    plan = _plan()
    plant, point = PlantPlan(collectors={plan.name: plan}), PointId(plan.name, Role.DP)
    state = scan.begin(plant, Instant(0.0, 1.7e9))
    block = Block(1, Table.INPUT_REGISTER, 0, 1, (Slot(point, 0, 1),))
    words = [None if dp is None else (min(27_648, round(dp * 2764.8)),) for dp in samples]
    happened = 0
    began_s = time.perf_counter()
    for second, word in enumerate(words):
        now = Instant(float(second), 1.7e9 + second)
        read = BlockRead(block, now, word) if word else BlockRead(block, now, (), _NO_ANSWER)
        outcome = scan.turn(plant, state, UnitScan("mill-gateway", 1, (read,)), now)
        state = outcome.onto(state)
        happened += len(outcome.events)
    return time.perf_counter() - began_s, happened


def _plan() -> CollectorPlan:
    channel = AnalogChannel(
        format=RegisterFormat(Encoding.INT16),
        scaling=LoopScaling(0, 27_648, 0.0, 10.0),
        median_samples=3,
        span=10.0,
    )
    return CollectorPlan(
        name="DC-101",
        points={Role.DP: PointPlan(tag="PDT-101", place="simulated", channel=channel)},
        bands=_BANDS,
        bad_signal=_BAD_SIGNAL,
        trends=TrendSettings(residual_window_s=3600.0, average_window_s=3600.0),
    )
