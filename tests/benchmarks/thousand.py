"""Thousand: 1,000 DP points at 1 Hz over 50 links, with everything switched on: processor and memory.

Four bands each and the bad signal's alarm, a median of three, two windows of an hour that are full from the start
and curves of which eight hours are known (as after a shift of running), states told each second, a scrape each
five seconds, and a plant in which a collector goes high each second, which makes about two events a second.
"""

import asyncio
import random
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from monitor.clock import Clock
from monitor.daemon import snapshot
from monitor.daemon.snapshot_curve import curve_key
from monitor.interpret.window import BUCKETS, Bucket, Window
from monitor.remember.settings import StoreSettings
from monitor.remember.store import Store
from tests.benchmarks import machine, site_files, stage
from tests.benchmarks.curve import LEARNT_S, learnt_text
from tests.benchmarks.figures import Figure
from tests.benchmarks.site_files import Shape

LINKS, POINTS = 50, 20
SCRAPE_S = 5.0
WINDOW_S = 3600.0
BAR_CPU_PERCENT, BAR_MEMORY_MB = 25.0, 100.0


@dataclass(frozen=True, slots=True)
class _Count:
    """What had been done by a moment."""

    at_s: float
    cpu_s: float
    requests: int
    metrics: str

    def of(self, name: str) -> float:
        """A metric at that moment."""
        return stage.metric(self.metrics, name)


def shape_of(ports: list[int]) -> Shape:
    """The plant."""
    return Shape(ports=ports, points=POINTS, damping=", damping: {median: 3}")


def run(*, quick: bool) -> Iterator[Figure]:
    """Watch the plant for a while; yields what that cost."""
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        device, ports = stack.enter_context(stage.device(LINKS, POINTS, moving=True))
        shape = shape_of(list(ports))
        mqtt, http = stack.enter_context(stage.broker(folder)), stage.free_port()
        heard = stack.enter_context(stage.subscriber(mqtt, "#", folder / "heard", form="%t"))
        site = site_files.write(folder, shape, mqtt=mqtt, http=http)
        fill_store(folder / "data", site_files.names(shape))
        process = stack.enter_context(stage.daemon(site))
        # Past the start, the first raising (15 s of on-delay) and the first returns.
        _scrape_for(5.0 if quick else 40.0, http)
        before = _count(device, process.pid, http)
        topics_before = heard.read_bytes().count(b"\n")
        _scrape_for(15.0 if quick else 60.0, http)
        after = _count(device, process.pid, http)
        messages = heard.read_bytes().count(b"\n") - topics_before
        yield from _figures(before, after, messages, process.pid)


def fill_store(folder: Path, collectors: list[str]) -> None:
    """Leave the daemon a store that remembers an hour of every collector's windows and eight of its curve."""
    dice, length_s = random.Random(3), WINDOW_S / BUCKETS
    clock = Clock()
    read = learnt_text(clock.now().utc_s)
    store = Store.open(StoreSettings(folder=folder), now=clock.now, outlets=())
    for name in collectors:
        drawn = [dice.uniform(4.0, 4.2) for _ in range(BUCKETS)]
        closed = tuple(
            Bucket(low, (low + 0.5) * length_s, length_s + low / 100, (number + 1) * length_s)
            for number, low in enumerate(drawn)
        )
        full = Window(closed=closed, open=Bucket(until_s=closed[-1].until_s))
        text = snapshot.write_windows({"residual": (WINDOW_S, full), "average": (WINDOW_S, full)})
        store.remember({snapshot.windows_key(name): text, curve_key(name): read}, float(LEARNT_S))
    asyncio.run(store.close())


def _scrape_for(seconds: float, http: int) -> None:
    end_s = time.monotonic() + seconds
    while (left_s := end_s - time.monotonic()) > 0:
        stage.scrape(http)
        time.sleep(min(SCRAPE_S, left_s))


def _count(device: stage.Child, pid: int, http: int) -> _Count:
    metrics = stage.scrape(http)
    return _Count(time.perf_counter(), machine.cpu_s(pid), device.ask("count")["requests"], metrics)


def _figures(before: _Count, after: _Count, messages: int, pid: int) -> Iterator[Figure]:
    passed_s = after.at_s - before.at_s

    def rate(name: str) -> float:
        return (after.of(name) - before.of(name)) / passed_s

    events = rate("cakewatch_mqtt_confirmed_events_total")
    requests = (after.requests - before.requests) / passed_s
    good = after.metrics.count("\ncakewatch_dp_inh2o{")
    residual = after.metrics.count("\ncakewatch_dp_residual_inh2o{")
    yield Figure(
        what="processor, of one core",
        value=100 * (after.cpu_s - before.cpu_s) / passed_s,
        unit="%",
        bar=BAR_CPU_PERCENT,
        note=f"over {passed_s:.0f} s",
    )
    yield Figure(what="resident memory, peak", value=machine.memory_mb(pid), unit="MB", bar=BAR_MEMORY_MB)
    yield Figure(what="resident memory, at the end", value=machine.memory_mb(pid, "VmRSS"), unit="MB")
    note = f"{good} of {LINKS * POINTS} DP points good, {residual} with a residual"
    yield Figure(what="Modbus requests", value=requests, unit="1/s", note=f"{note}; device's count")
    yield Figure(what="MQTT messages heard by the subscriber", value=messages / passed_s, unit="1/s")
    yield Figure(what="events confirmed by the broker", value=events, unit="1/s")
    yield Figure(
        what="a scrape", value=len(after.metrics) / 1e6, unit="MB", note=f"{after.metrics.count(chr(10))} lines"
    )
