"""Curve: what reading it costs, for a sample, a thousand collectors, a month of recording; and how large it is.

A sawtooth with header pressure, fan and cleaning signal, read for eight hours before anything is measured, so that
all that is usual is known. With and without are measured in turns, because the machine's speed changes by the
second; processor time, not time on the wall, but for the rehearsal.
"""

import gc
import tempfile
import time
import tracemalloc
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from monitor.condition.channel import AnalogChannel, DiscreteChannel
from monitor.condition.registers import Encoding, RegisterFormat
from monitor.condition.scaling import LoopScaling
from monitor.daemon.snapshot_curve import read_curve, write_curve
from monitor.interpret import curve
from monitor.interpret.curve import CurveState
from monitor.interpret.digest import Digest, Sample
from monitor.interpret.gathering import EMPTY, gather_many
from monitor.interpret.settings import CleaningSettings, CurveSettings, FilterSettings
from monitor.interpret.trend.forecast import forecast
from monitor.judge.settings import AlarmSettings
from monitor.scan import turn as scan
from monitor.scan.settings import CollectorPlan, PlantPlan, PointPlan
from monitor.scan.state import PlantState
from monitor.words import Block, BlockRead, Instant, PointId, Priority, Role, Slot, Table, UnitScan
from tests.benchmarks import rehearse
from tests.benchmarks.figures import Figure, median, spread
from tests.rig.sawtooth import Sawtooth

LEARNT_S = 8 * 3600
UTC = 1.7e9
UNITS, POINTS = 50, 20
READ = CurveSettings(
    cleaning=CleaningSettings(start_inh2o=5.0, stop_inh2o=4.0, rows=8),
    filters=FilterSettings(change_out_inh2o=6.0),
)


def run(*, quick: bool) -> Iterator[Figure]:
    """Measure all of it."""
    plant = Sawtooth()
    learnt = _read(curve.BEGIN, _samples(plant, LEARNT_S, whole=True))
    more = _samples(plant, 2 * 3600 if quick else 24 * 3600, whole=True, from_s=LEARNT_S)
    yield from _each(learnt, more)
    yield from _thousand(learnt, quick=quick)
    yield from _sizes(learnt)
    yield from _month(quick=quick)


def _samples(plant: Sawtooth, seconds: int, *, whole: bool, from_s: int = 0) -> list[Sample]:
    """So many more seconds; not ``whole``: of the DP alone."""
    samples = []
    for second in range(from_s + 1, from_s + seconds + 1):
        shows = plant.step()
        beside = (shows.header_psi, None, shows.fan, shows.cleaning) if whole else ()
        samples.append(Sample(float(second), UTC + second, shows.dp_inh2o, *beside))
    return samples


def _read(state: CurveState, samples: Sequence[Sample]) -> CurveState:
    for sample in samples:
        state = curve.advance(READ, state, sample)
    return state


def _take(state: CurveState, digests: Sequence[Digest]) -> CurveState:
    for digest in digests:
        state = curve.take(READ, state, digest)
    return state


def _digests(samples: Sequence[Sample]) -> list[Digest]:
    at_s, utc_s, dp, header, flow, fan, cleaning = zip(*samples, strict=True)
    return gather_many(READ.digest_s, EMPTY, at_s, utc_s, dp, header, flow, fan, cleaning)[1]


def learnt_text(until_utc_s: float) -> str:
    """What is remembered after eight hours of the DP alone that ended at that moment."""
    plant = Sawtooth()
    samples = _samples(plant, LEARNT_S, whole=False)
    shift_s = until_utc_s - UTC - LEARNT_S
    return write_curve(_read(curve.BEGIN, [one._replace(utc_s=one.utc_s + shift_s) for one in samples]))


# ---------------------------------------------------------------- one


def _each(learnt: CurveState, more: list[Sample]) -> Iterator[Figure]:
    bare = Sawtooth()
    alone = _read(curve.BEGIN, _samples(bare, LEARNT_S, whole=False))
    cases = {
        "with header, fan and signal": (learnt, more),
        "of the DP alone": (alone, _samples(bare, len(more), whole=False, from_s=LEARNT_S)),
    }
    for what, (state, samples) in cases.items():
        began_s = time.process_time()
        _read(state, samples)
        sample_us = (time.process_time() - began_s) / len(samples) * 1e6
        yield Figure(what=f"a sample, live, {what}", value=sample_us, unit="µs")
        digests = _digests(samples)
        began_s = time.process_time()
        _take(state, digests)
        digest_us = (time.process_time() - began_s) / len(digests) * 1e6
        yield Figure(what=f"a digest, {what}", value=digest_us, unit="µs")


# ---------------------------------------------------------------- a thousand


class _Plant:
    """A thousand collectors, each of which has learnt what is usual; their curves are read or not."""

    def __init__(self, learnt: CurveState, *, reads: bool) -> None:
        names = [f"DC-{1000 + number}" for number in range(UNITS * POINTS)]
        self.plan = PlantPlan(collectors={name: _collector(name, reads=reads) for name in names})
        state = scan.begin(self.plan, Instant(float(LEARNT_S), UTC + LEARNT_S))
        own = (
            {name: replace(one, curve=learnt) for name, one in state.collectors.items()}
            if reads
            else state.collectors
        )
        # In place, as the daemon does: a thousand are not copied for the sake of one.
        self._collectors = dict(own)
        self._state = PlantState(self._collectors, state.links, state.desk)
        self._units = [names[start : start + POINTS] for start in range(0, len(names), POINTS)]
        self.second = LEARNT_S

    def live(self, samples: Sequence[Sample]) -> float:
        """Each second every unit's answer; processor seconds for one second of the plant."""
        used_s = 0.0
        for sample in samples:
            self.second += 1
            now = Instant(float(self.second), UTC + self.second)
            scans = [_scan(names, sample, now) for names in self._units]
            began_s = time.process_time()
            for one in scans:
                self._collectors.update(scan.turn(self.plan, self._state, one, now).changed)
            used_s += time.process_time() - began_s
        return used_s / len(samples)


def _thousand(learnt: CurveState, *, quick: bool) -> Iterator[Figure]:
    rounds, seconds = (3, 10) if quick else (9, 30)
    plant, with_it, without = Sawtooth(), _Plant(learnt, reads=True), _Plant(learnt, reads=False)
    for _ in range(LEARNT_S):
        plant.step()
    shares: dict[bool, list[float]] = {True: [], False: []}
    gc.collect()
    gc.freeze()
    for _ in range(rounds):
        samples = _samples(plant, seconds, whole=True)
        shares[True].append(100.0 * with_it.live(samples))
        shares[False].append(100.0 * without.live(samples))
    gc.unfreeze()
    for reads, what in ((True, "read"), (False, "not read")):
        yield Figure(
            what=f"1,000 collectors at 1 Hz, words to events, curves {what}",
            value=median(shares[reads]),
            unit="% of a core",
            note=spread(shares[reads]),
        )


def _collector(name: str, *, reads: bool) -> CollectorPlan:
    loop = AnalogChannel(
        format=RegisterFormat(Encoding.INT16),
        scaling=LoopScaling(0, 10_000, 0.0, 10.0),
        stale_after_s=5.0,
        span=10.0,
    )
    header = replace(loop, scaling=LoopScaling(0, 1000, 0.0, 100.0), span=100.0)
    bit = DiscreteChannel(stale_after_s=5.0)
    channels = {
        Role.DP: loop, Role.HEADER_PRESSURE: header, Role.FAN_RUNNING: bit, Role.CLEANING_ACTIVE: bit
    }  # fmt: skip
    bad = AlarmSettings(
        tag=f"{name}-BAD",
        priority=Priority.HIGH,
        on_delay_s=15.0,
        off_delay_s=15.0,
        latching=True,
        auto_clear_s=1800.0,
    )
    points = {role: PointPlan(tag=f"{name}-{role}", place="bench", channel=one) for role, one in channels.items()}
    return CollectorPlan(name=name, points=points, bands=(), bad_signal=bad, curve=READ if reads else None)


def _scan(names: Sequence[str], sample: Sample, now: Instant) -> UnitScan:
    words = {
        Role.HEADER_PRESSURE: round(10 * (sample.header_psi or 0.0)),
        Role.FAN_RUNNING: int(bool(sample.fan)),
        Role.CLEANING_ACTIVE: int(bool(sample.cleaning)),
        Role.DP: round(1000 * (sample.dp_inh2o or 0.0)),
    }
    slots = [
        Slot(PointId(name, role), 4 * place + offset, 1)
        for place, name in enumerate(names)
        for offset, role in enumerate(words)
    ]
    block = Block(1, Table.INPUT_REGISTER, 0, len(slots), tuple(slots))
    return UnitScan("mill-gateway", 1, (BlockRead(block, now, tuple(words.values()) * len(names)),))


# ---------------------------------------------------------------- its size


def _sizes(learnt: CurveState) -> Iterator[Figure]:
    text = write_curve(learnt)
    yield Figure(what="JSON of a curve after eight hours", value=len(text) / 1000, unit="kB")
    old = _aged(learnt)
    yield Figure(what="the same after ten months of one set", value=len(write_curve(old)) / 1000, unit="kB")
    tracemalloc.start()
    kept = [read_curve(text) for _ in range(200)]
    each_kb = tracemalloc.get_traced_memory()[0] / len(kept) / 1000
    tracemalloc.stop()
    yield Figure(what="memory of a curve after eight hours", value=each_kb, unit="kB")
    text = write_curve(old)
    yield Figure(what="a curve of ten months, written", value=_ms(lambda: write_curve(old)), unit="ms")
    yield Figure(what="a curve of ten months, read", value=_ms(lambda: read_curve(text)), unit="ms")
    until_utc_s = old.air.until_utc_s or UTC
    value = _ms(lambda: forecast(READ.filters, old.ageing, until_utc_s))
    yield Figure(what="a forecast from ten months, four a day each", value=value, unit="ms")


def _ms(work: Callable[[], object], times: int = 20) -> float:
    """Processor milliseconds of one."""
    began_s = time.process_time()
    for _ in range(times):
        work()
    return (time.process_time() - began_s) / times * 1e3


def _aged(learnt: CurveState) -> CurveState:
    """The same with ten months of days behind it, told in hourly parcels."""
    state = learnt
    for place in range(300 * 24):
        at_s, dp = LEARNT_S + 60.0 + 3600.0 * place, 3.5 + 0.006 * place / 24.0 + 0.1 * (place % 4)
        digest = Digest(at_s, at_s + 5.0, UTC + at_s, 5, 0, dp, dp - 0.02, dp + 0.02, dp, 1e-4, 0, fan=True)
        # Without the forecasts on the way, which would take most of the time.
        state = curve.take(READ, state._replace(outlook_utc_s=digest.end_utc_s), digest)
    return state


# ---------------------------------------------------------------- a month


def _month(*, quick: bool) -> Iterator[Figure]:
    days = 3 if quick else 30
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        trace, site = rehearse.recording(folder, days), rehearse.site_file(folder)
        for what, options in (("without", ()), ("with", ("--curve",))):
            cost = rehearse.cost(site, trace, *options)
            times = f"; {days} days times {30 // days}" if quick else ""
            yield Figure(
                what=f"rehearsal of 30 days of 1 s samples {what} --curve",
                value=cost.seconds * 30 / days,
                unit="s",
                bar=None if options else rehearse.MONTH_BAR_S,
                note=f"{cost.cpu_s * 30 / days:.1f} s of processor{times}",
            )
