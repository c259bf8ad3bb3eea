"""Rehearse: a month and a year of one-second samples of one collector, from the CSV file to the printed report.

The whole command as a user starts it, interpreter, imports and reading of the file included. The samples are a
cleaning sawtooth with some turbulence, a climb over the high set points each day, two minutes of lost signal each
day and a gap of twenty minutes each week; the bands are high-high, high, low and one on the residual DP.
"""

import math
import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import NamedTuple

from tests.benchmarks import stage
from tests.benchmarks.figures import Figure

DAY_S = 86_400
MONTH_BAR_S, YEAR_BAR_S = 10.0, 120.0
#: A year may not need this much more memory than three days.
MEMORY_BAR = 1.1
#: Drawn once each and then repeated: days differ, and a year is still written within a minute.
_DIFFERENT_DAYS = 7

_SITE = """\
site: {{name: Alder Mill}}
links:
  mill-gateway: {{protocol: modbus-tcp, host: 127.0.0.1}}
collectors:
  DC-101:
    dp:
      tag: PDT-101
      link: mill-gateway
      unit_id: 1
      reference_number: 30001
      encoding: uint16
      loop: {{counts_at_4_ma: 819, counts_at_20_ma: 4095, at_4_ma: 0 inH2O, at_20_ma: 12 inH2O}}{damping}
    trends: {{residual_window: 1 h, average_window: 1 h}}
    bands:
      PDAHH-101: {{above: 9 inH2O, priority: urgent, deadband: 1.2 inH2O, auto_clear: 30 min}}
      PDAH-101: {{above: 7 inH2O, priority: high, deadband: 1.2 inH2O, auto_clear: 30 min}}
      PDAL-101: {{below: 2 inH2O, priority: low, deadband: 1.2 inH2O, auto_clear: 30 min}}
      PDAR-101: {{above: 4.5 inH2O, priority: advisory, deadband: 0.3 inH2O, judges: residual}}
    bad_signal: {{auto_clear: 30 min}}
"""
_DAMPINGS = {"median of 3": "\n      damping: {median: 3}", "no damping": ""}


class Cost(NamedTuple):
    """What one run took; a child starts with its parent's pages, so ``peak_mb`` is no use below a large one."""

    seconds: float
    peak_mb: float
    cpu_s: float


def run(*, quick: bool) -> Iterator[Figure]:
    """Write the recordings, rehearse with them; yields how long it took and how much memory."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        few = recording(folder, 3)
        month = few if quick else recording(folder, 30)
        for damping, text in _DAMPINGS.items():
            site = site_file(folder, damping, text)
            yield _timed(f"30 days, {damping}", site, month, days=3 if quick else 30, bar_s=MONTH_BAR_S, of=30)
        small = cost(site, few)
        if not quick:
            year = recording(folder, 365)
            spent = cost(site, year)
            yield Figure(what="a year, no damping", value=spent.seconds, unit="s", bar=YEAR_BAR_S)
            note = f"{spent.peak_mb:.0f} MB for a year, {small.peak_mb:.0f} MB for 3 days"
            yield Figure(
                what="peak memory, a year over 3 days",
                value=spent.peak_mb / small.peak_mb,
                unit="",
                bar=MEMORY_BAR,
                note=note,
            )
            return
        yield Figure(what="peak memory, 3 days", value=small.peak_mb, unit="MB")


def site_file(folder: Path, damping: str = "no damping", text: str = "") -> Path:
    """Write the site file of the one collector."""
    path = folder / f"{damping.replace(' ', '-')}.yaml"
    path.write_text(_SITE.format(damping=text))
    return path


def _timed(what: str, site: Path, trace: Path, *, days: int, bar_s: float, of: int) -> Figure:
    spent = cost(site, trace)
    note = f"{spent.peak_mb:.0f} MB at most, {spent.seconds / days / DAY_S * 1e6:.2f} µs a sample"
    if days != of:
        note += f"; {days} days times {of // days}, its start too"
    return Figure(what=what, value=spent.seconds * of / days, unit="s", bar=bar_s, note=note)


def cost(site: Path, trace: Path, *options: str) -> Cost:
    """What one run of the command takes."""
    began_s = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "monitor", "rehearse", str(site), str(trace), *options],
        stdout=subprocess.PIPE,
        cwd=stage.ROOT,
    )
    with process.stdout as told:
        report = told.read()
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode or b"PDAH-101" not in report:
        raise RuntimeError(f"cakewatch rehearse ended with {process.returncode}")
    return Cost(time.perf_counter() - began_s, usage.ru_maxrss * 1024 / 1e6, usage.ru_utime + usage.ru_stime)


def recording(folder: Path, days: int) -> Path:
    """Write so many days, a row each second: about 29 bytes a row."""
    path = folder / f"{days}-days.csv"
    clock = [f"T{at // 3600:02}:{at // 60 % 60:02}:{at % 60:02}Z," for at in range(DAY_S)]
    drawn = [[tail + dp for tail, dp in zip(clock, _day(seed), strict=True)] for seed in range(_DIFFERENT_DAYS)]
    with path.open("w") as file:
        file.write("time,PDT-101 (inH2O)\n")
        for number in range(days):
            day = (date(2025, 1, 1) + timedelta(days=number)).isoformat()
            rows = drawn[number % _DIFFERENT_DAYS]
            if number % 7 == 6:
                rows = rows[: 15 * 3600] + rows[15 * 3600 + 1200 :]
            file.write("\n".join([day + row for row in rows]) + "\n")
    return path


def _day(seed: int) -> list[str]:
    dice = random.Random(seed)
    lost_s = dice.randrange(DAY_S - 120)
    values = []
    for second in range(DAY_S):
        hour = second / 3600
        climb = 5.2 * math.sin((hour - 10) / 2 * math.pi) if 10 < hour < 12 else 0.0
        dp = 4 + second % 240 / 240 + climb + dice.gauss(0, 0.05)
        values.append("bad" if lost_s <= second < lost_s + 120 else f"{dp:.3f}")
    return values
