"""Scrape: what a scrape of 1,000 collectors costs, and how late the daemon's loop is meanwhile.

The plant is that of ``thousand``. The daemon has one task more, which sleeps 2 ms over and over and notes how late
it is woken: with the pipeline alone, and with a scrape every half second on top.
"""

import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

from tests.benchmarks import machine, site_files, stage, thousand
from tests.benchmarks.figures import Figure, median, spread


def run(*, quick: bool) -> Iterator[Figure]:
    """Scrape over and over; yields what that cost."""
    scrapes = 10 if quick else 40
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        _, ports = stack.enter_context(stage.device(thousand.LINKS, thousand.POINTS, moving=True))
        shape = thousand.shape_of(list(ports))
        mqtt, http = stack.enter_context(stage.broker(folder)), stage.free_port()
        site = site_files.write(folder, shape, mqtt=mqtt, http=http)
        daemon = stack.enter_context(stage.child("tests.benchmarks.probed_daemon", str(site)))
        stage.wait_for(
            lambda: stage.scrape(http).count("\ncakewatch_dp_inh2o{") == shape.collectors, 20, "not good"
        )
        time.sleep(3.0)
        daemon.ask("lag")
        cpu_s = machine.cpu_s(daemon.process.pid)
        time.sleep(scrapes / 2)
        calm, cpu_calm_s = daemon.ask("lag"), machine.cpu_s(daemon.process.pid) - cpu_s
        cpu_s = machine.cpu_s(daemon.process.pid)
        took_ms = [_scrape_ms(http) for _ in range(scrapes)]
        busy, cpu_busy_s = daemon.ask("lag"), machine.cpu_s(daemon.process.pid) - cpu_s
    yield Figure(what="a scrape, median", value=median(took_ms), unit="ms", note=spread(took_ms))
    each_ms = 1000 * (cpu_busy_s - cpu_calm_s) / scrapes
    yield Figure(what="processor time of a scrape", value=each_ms, unit="ms")
    for name, lag in (("without scrapes", calm), ("a scrape each 0.5 s", busy)):
        note = f"99 of 100 within {lag['p99_ms']:.1f} ms"
        yield Figure(what=f"loop late, longest, {name}", value=lag["longest_ms"], unit="ms", note=note)


def _scrape_ms(http: int) -> float:
    began_s = time.perf_counter()
    assert stage.scrape(http)
    took_s = time.perf_counter() - began_s
    time.sleep(max(0.0, 0.5 - took_s))
    return 1000 * took_s
