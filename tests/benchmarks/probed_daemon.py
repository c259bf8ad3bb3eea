"""Probed daemon: ``cakewatch run`` with one more task on its loop, which notes how late it is woken.

The argument is the site file. Each line on the standard input is answered with ``{"longest_ms": …, "p99_ms": …}``
of the time since the line before.
"""

import asyncio
import json
import os
import sys
from pathlib import Path

from monitor.cli import run
from monitor.cli.early_signals import EarlySignals
from monitor.site.load import load
from tests.benchmarks.figures import percentile

STEP_S = 0.002


async def _watched(site: Path) -> None:
    late_s: list[float] = []
    probe = asyncio.create_task(_probe(late_s))
    asyncio.get_running_loop().add_reader(sys.stdin, _answer, late_s)
    await run._run(site, load(site, os.environ), EarlySignals.begin())
    probe.cancel()


async def _probe(late_s: list[float]) -> None:
    loop = asyncio.get_running_loop()
    while True:
        due_s = loop.time() + STEP_S
        await asyncio.sleep(STEP_S)
        late_s.append(loop.time() - due_s)


def _answer(late_s: list[float]) -> None:
    sys.stdin.readline()
    print(json.dumps({"longest_ms": 1000 * max(late_s), "p99_ms": 1000 * percentile(late_s, 0.99)}), flush=True)
    late_s.clear()


if __name__ == "__main__":
    sys.setswitchinterval(run.SWITCH_S)
    asyncio.run(_watched(Path(sys.argv[1])))
