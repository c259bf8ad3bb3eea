"""Idle: what the daemon costs before it does anything: imports, memory, and a small plant at rest.

The plant has one collector, read once a second and told once a second.
"""

import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

from tests.benchmarks import machine, site_files, stage
from tests.benchmarks.figures import Figure, median, spread
from tests.benchmarks.site_files import Shape


def run(*, quick: bool) -> Iterator[Figure]:
    """Start and look; yields what it costs."""
    for what, code in (
        ("Python alone", "pass"),
        ("with all that `cakewatch run` imports", "import monitor.cli.run"),
    ):
        times_ms = [_time_ms(code) for _ in range(3 if quick else 9)]
        yield Figure(what=f"process: {what}", value=median(times_ms), unit="ms", note=spread(times_ms))
    yield from _at_rest(5.0 if quick else 30.0)


def _time_ms(code: str) -> float:
    began_s = time.perf_counter()
    subprocess.run([sys.executable, "-c", code], check=True, cwd=stage.ROOT)
    return 1000 * (time.perf_counter() - began_s)


def _at_rest(seconds: float) -> Iterator[Figure]:
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        _, ports = stack.enter_context(stage.device())
        mqtt, http = stack.enter_context(stage.broker(folder)), stage.free_port()
        site = site_files.write(folder, Shape(ports=ports), mqtt=mqtt, http=http)
        process = stack.enter_context(stage.daemon(site))
        time.sleep(3.0)
        began_s, cpu_s = time.perf_counter(), machine.cpu_s(process.pid)
        time.sleep(seconds)
        share = (machine.cpu_s(process.pid) - cpu_s) / (time.perf_counter() - began_s)
        yield Figure(
            what="one collector: resident memory", value=machine.memory_mb(process.pid, "VmRSS"), unit="MB"
        )
        yield Figure(what="one collector: processor, of one core", value=100 * share, unit="%")
