"""Start: from the start of the process to the first good reading told outside, and its end by SIGTERM.

Two ways to hear of a reading: the retained state on MQTT (stamped by mosquitto_sub) and /metrics (asked every
10 ms). A small plant decides; a large one is shown beside it.
"""

import json
import os
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

from tests.benchmarks import site_files, stage
from tests.benchmarks.figures import Figure, median
from tests.benchmarks.site_files import Shape

BAR_S = 1.0
BAR_END_S = 2.0


def run(*, quick: bool) -> Iterator[Figure]:
    """Start and stop the daemon over and over; yields how long it took."""
    for ports, points in ((1, 3), (50, 20)):
        rounds = 3 if quick or points > 3 else 10
        starts = _measure(ports, points, rounds)
        is_small = points == 3
        what = f"{ports * points} collectors, {ports} link{'s' if ports > 1 else ''}"
        for way, times_s in (("MQTT state", [one[0] for one in starts]), ("/metrics", [one[1] for one in starts])):
            bar = BAR_S if is_small else None
            yield Figure(what=f"{what}: to {way}, median", value=median(times_s), unit="s", bar=bar)
            yield Figure(what=f"{what}: to {way}, longest of {rounds}", value=max(times_s), unit="s", bar=bar)
        ends_s = [one[2] for one in starts]
        yield Figure(what=f"{what}: SIGTERM to the end, longest", value=max(ends_s), unit="s", bar=BAR_END_S)


def _measure(ports: int, points: int, rounds: int) -> list[tuple[float, float, float]]:
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        _, numbers = stack.enter_context(stage.device(ports, points))
        mqtt, http = stack.enter_context(stage.broker(folder)), stage.free_port()
        heard = stack.enter_context(stage.subscriber(mqtt, "cakewatch/collectors/+/state", folder / "heard"))
        site = site_files.write(folder, Shape(ports=numbers, points=points), mqtt=mqtt, http=http)
        return [_once(site, http, heard) for _ in range(rounds)]


def _once(site: Path, http: int, heard: Path) -> tuple[float, float, float]:
    """Seconds to the first state on MQTT, to the first reading on /metrics, and from SIGTERM to the end."""
    skip = heard.stat().st_size
    began_utc_s, began_s = time.time(), time.perf_counter()
    with (site.parent / "daemon.log").open("ab") as log:
        process = subprocess.Popen([stage.CAKEWATCH, "run", str(site)], stdout=log, stderr=log, cwd=stage.ROOT)
    try:
        stage.wait_for(lambda: "\ncakewatch_dp_inh2o{" in stage.scrape(http), 20, "no reading on /metrics", 0.01)
        to_metrics_s = time.perf_counter() - began_s
        stage.wait_for(lambda: _first_good(heard, skip) is not None, 20, "no reading on MQTT", 0.05)
        to_mqtt_s = _first_good(heard, skip) - began_utc_s
        began_s = time.perf_counter()
        os.kill(process.pid, signal.SIGTERM)
        process.wait(20)
        return to_mqtt_s, to_metrics_s, time.perf_counter() - began_s
    finally:
        process.kill()
        process.wait(5)


def _first_good(heard: Path, skip: int) -> float | None:
    """When the first state with a good DP arrived, Unix seconds."""
    for line in heard.read_bytes()[skip:].decode().splitlines():
        stamp, _, _, payload = line.split(" ", 3)
        if not payload.endswith("}"):
            return None  # half written
        if json.loads(payload)["points"]["dp"]["quality"] == "good":
            return float(stamp)
    return None
