"""Gathering under faults: after a full disk and after kill -9, minutes and hours say what the steps say."""

import asyncio
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.remember.making import DP_101, a_reading, on_thread, opened, read, until

ROOT = Path(__file__).parents[2]
HOUR = 1_772_352_000

#: What the steps of a file say of each hour and point; the steps must not reach over an hour's edge.
FROM_STEPS = """
SELECT start_utc_s / 3600 * 3600, point, sum(good), sum(bad), min(lowest), max(highest), sum(mean * good)
FROM history GROUP BY 1, 2 ORDER BY 1, 2
"""
FROM_MINUTES = """
SELECT start_utc_s / 3600 * 3600, point, sum(good), sum(bad),
       min(lowest) / 1e6, max(highest) / 1e6, sum(total) / 1e6
FROM minutes GROUP BY 1, 2 ORDER BY 1, 2
"""
FROM_HOURS = """
SELECT start_utc_s, point, quarter_1 + quarter_2 + quarter_3 + quarter_4, bad,
       lowest / 1e6, highest / 1e6, total / 1e6
FROM hours ORDER BY 1, 2
"""


def check(path: Path) -> int:
    """Compare the three tiers; how many good readings they hold."""
    steps = read(path, FROM_STEPS)
    for question in (FROM_MINUTES, FROM_HOURS):
        gathered = read(path, question)
        assert len(gathered) == len(steps)
        for one, other in zip(gathered, steps, strict=True):
            assert one[:4] == other[:4]
            assert one[4:] == pytest.approx(other[4:], rel=1e-6, abs=1e-6)
    assert read(path, "PRAGMA integrity_check") == [("ok",)]
    return sum(row[2] for row in steps)


def test_a_disk_that_is_full_while_hours_are_gathered_costs_nothing(tmp_path):
    path = tmp_path / "history.db"

    async def story() -> None:
        async with opened(tmp_path, utc_s=float(HOUR), history_step_s=10.0, flush_s=0.2) as store:
            for second in range(3000):
                store.record(DP_101, a_reading(HOUR + second))
            await store.flush()
            connection = store._history.file.connection
            used = await on_thread(store, lambda: connection.execute("PRAGMA page_count").fetchone()[0])
            await on_thread(store, lambda: connection.execute(f"PRAGMA max_page_count = {used}").fetchall())
            for second in range(3000, 100_000):
                store.record(DP_101, a_reading(HOUR + second, second / 1e4))
            await until(lambda: not store.figures().healthy)
            assert "no room left" in store.figures().last_error
            during = check(path)
            await on_thread(store, lambda: connection.execute("PRAGMA max_page_count = 1000000").fetchall())
            await until(lambda: store.figures().healthy)
            await store.flush()
            assert during < check(path) == 100_000

    asyncio.run(story())


#: Records readings of four points at great speed, the clock now and then set back; the seed is the argument.
CHILD = """
import asyncio, os, random, sys
from pathlib import Path
from monitor.words import PointId, Quality, Role
from tests.remember.making import a_reading, open_store

async def main() -> None:
    dice = random.Random(int(sys.argv[2]))
    store = open_store(Path(sys.argv[1]), history_step_s=10.0, flush_s=0.02, keep_history_s=1e11)
    at_s = 1_772_352_000.0 + dice.randrange(3600)
    os.write(1, b"up\\n")
    while True:
        for _ in range(200):
            at_s += dice.choice((1.0, 1.0, 1.0, 7.0, -300.0)) if dice.random() < 0.05 else 1.0
            for n in range(4):
                quality = Quality.GOOD if dice.random() < 0.9 else Quality.BAD
                value = dice.randrange(8_000_000) / 1e6
                store.record(PointId(f"DC-{n}", Role.DP), a_reading(at_s, value, quality))
        # A loop that never rests leaves the writer a turn of the interpreter for each row, and no more.
        await asyncio.sleep(0.005)

asyncio.run(main())
"""


def live_and_be_killed(folder: Path, alive_s: float, seed: int) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        [sys.executable, "-c", CHILD, str(folder), str(seed)], cwd=ROOT, env=environment, stdout=subprocess.PIPE
    ) as child:
        child.stdout.readline()
        time.sleep(alive_s)
        child.send_signal(signal.SIGKILL)


def rounds(folder: Path, count: int) -> None:
    dice = random.Random(20_260_301)
    before = 0
    for number in range(count):
        live_and_be_killed(folder, dice.uniform(0.02, 0.2), number)
        found = check(folder / "history.db")
        assert found >= before
        before = found
    assert before > 1000 * count


def test_hours_say_what_the_steps_say_after_8_kills(tmp_path):
    rounds(tmp_path, 8)


@pytest.mark.long
@pytest.mark.timeout(600)
def test_hours_say_what_the_steps_say_after_150_kills(tmp_path):
    rounds(tmp_path, 150)
