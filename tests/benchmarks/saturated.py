"""Saturated: the whole pipeline on one link that never rests, beside the library's own bare read loop.

The daemon is stopped (SIGSTOP) while the bare loop has its turn, so that both meet the same machine. Both talk to
one device, each over one connection, and the device counts. The daemon's scan period is the smallest there is, and
there is far more to read than fits into it, so one request follows the other.
"""

import os
import signal
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from tests.benchmarks import machine, site_files, stage
from tests.benchmarks.figures import Figure, median, percentile, spread
from tests.benchmarks.site_files import Shape

BAR = 0.8
POINTS = 50
#: Rounds are short and many, because the machine's own speed changes from second to second.
ROUND_S, SETTLE_S = 1.0, 0.2
#: So many rounds from one scrape to the next: every five seconds of the daemon's time.
SCRAPE_EVERY = 5


@dataclass(frozen=True, slots=True)
class _Case:
    """One way to fill requests: how many registers each holds, and whether the companions lie in them."""

    name: str
    registers: int
    units: int = 32
    companions: bool = False
    bar: float | None = None


CASES = (
    _Case("1 register, 1 DP point a request", 1, bar=BAR),
    _Case("10 registers, 1 collector of 5 points a request", 10, units=18, companions=True),
)


@dataclass(frozen=True, slots=True)
class _Round:
    """What one round came to."""

    requests: int
    seconds: float
    cpu_s: float

    @property
    def per_s(self) -> float:
        """Requests a second."""
        return self.requests / self.seconds


def run(*, quick: bool) -> Iterator[Figure]:
    """Measure each case; yields its figures."""
    for case in CASES:
        yield from _measure(case, rounds=8 if quick else 40)


def _measure(case: _Case, rounds: int) -> Iterator[Figure]:
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        device, (port,) = stack.enter_context(stage.device(points=case.units * POINTS * case.registers))
        shape = _shape(case, port)
        mqtt, http = stack.enter_context(stage.broker(folder)), stage.free_port()
        stack.enter_context(stage.subscriber(mqtt, "#", folder / "heard", form="%t"))
        points = str(POINTS * case.registers)
        bare = stack.enter_context(
            stage.child("tests.benchmarks.bare_loop", str(port), str(case.units), points, str(case.registers))
        )
        process = stack.enter_context(stage.daemon(site_files.write(folder, shape, mqtt=mqtt, http=http)))
        machine.share_out(server=device.process.pid, clients=(bare.process.pid, process.pid))
        stage.wait_for(
            lambda: stage.metric(stage.scrape(http), "cakewatch_link_scans_total") > 3, 20, "no scan", 0.3
        )
        before = _counts(device, http)
        alone = [_alone(bare, process.pid)]
        together = []
        for number in range(rounds):
            together.append(_ours(device, process.pid, http if number % SCRAPE_EVERY == 0 else None))
            alone.append(_alone(bare, process.pid))
        of_others = sum(one.requests for one in alone)
        after = _counts(device, http)
        yield from _figures(case, shape, alone, together)
        yield Figure(
            what="  /metrics count / device's count",
            value=(after[1] - before[1]) / (after[0] - before[0] - of_others),
            unit="",
            note="1 but for the scrapes' time",
        )


def _shape(case: _Case, port: int) -> Shape:
    return Shape(
        ports=[port],
        units=case.units,
        points=POINTS,
        spacing=case.registers,
        scan_period="0.1 s",
        max_registers=case.registers,
        companions=case.companions,
    )


def _alone(bare: stage.Child, pid: int) -> _Round:
    """One round of the bare loop, while the daemon stands still."""
    os.kill(pid, signal.SIGSTOP)
    done = bare.ask(str(ROUND_S))
    os.kill(pid, signal.SIGCONT)
    return _Round(done["requests"], done["seconds"], done["cpu_s"])


def _ours(device: stage.Child, pid: int, scraped: int | None) -> _Round:
    """One round of the daemon, while the bare loop waits for its turn."""
    time.sleep(SETTLE_S)
    began_s, cpu_s, began = time.perf_counter(), machine.cpu_s(pid), device.ask("count")["requests"]
    if scraped is not None:
        stage.scrape(scraped)
    time.sleep(max(0.0, began_s + ROUND_S - time.perf_counter()))
    requests = device.ask("count")["requests"] - began
    return _Round(requests, time.perf_counter() - began_s, machine.cpu_s(pid) - cpu_s)


def _figures(case: _Case, shape: Shape, alone: list[_Round], together: list[_Round]) -> Iterator[Figure]:
    for name, taken, note in (
        (f"{case.name}: bare loop", alone, ""),
        ("  cakewatch", together, f", {shape.collectors} collectors"),
    ):
        rates = [one.per_s for one in taken]
        cpu_us = sum(one.cpu_s for one in taken) / sum(one.requests for one in taken) * 1e6
        spent = f"{spread(rates)}; {cpu_us:.0f} µs CPU a request"
        yield Figure(what=name, value=median(rates), unit="requests/s", note=spent + note)
    # Each round of ours beside the bare rounds before and after it: the machine's speed changes by the second.
    pairs = zip(together, alone, alone[1:], strict=False)
    ratios = [2 * ours.per_s / (before.per_s + after.per_s) for ours, before, after in pairs]
    note = f"median; middle half {percentile(ratios, 0.25):.2f}–{percentile(ratios, 0.75):.2f}"
    yield Figure(
        what="  cakewatch / bare loop", value=median(ratios), unit="", bar=case.bar, most=False, note=note
    )


def _counts(device: stage.Child, http: int) -> tuple[int, float]:
    """Requests so far by the device's count, and by the daemon's own."""
    return device.ask("count")["requests"], stage.metric(stage.scrape(http), "cakewatch_link_requests_total")
