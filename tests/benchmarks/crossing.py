"""Crossing: from the moment a register crosses a set point to the arrival of the event at a subscriber.

The device changes registers at random moments and notes when; mosquitto_sub, which knows nothing of us, stamps the
arrival. Both stamps are of the same host's clock. No on-delay; the DP crosses up and down, and both are counted.
"""

import json
import random
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

from tests.benchmarks import site_files, stage
from tests.benchmarks.figures import Figure, median, percentile
from tests.benchmarks.site_files import BAND_AT_ONCE, Shape

SLACK_MS = 20.0
#: Links with other phases, so that not every register changes at the same moment of a scan.
LINKS, POINTS = 4, 10


def run(*, quick: bool) -> Iterator[Figure]:
    """Let registers cross at two scan periods; yields how long it took to be told."""
    crossings = 80 if quick else 600
    for period_s in (0.1, 1.0):
        delays_ms = _measure(period_s, crossings)
        what = f"scan period {period_s:g} s"
        note = f"{len(delays_ms)} crossings, each told once"
        yield Figure(what=f"{what}: median", value=median(delays_ms), unit="ms", note=note)
        bar = 1000 * period_s + SLACK_MS
        p99 = percentile(delays_ms, 0.99)
        yield Figure(what=f"{what}: 99 of 100", value=p99, unit="ms", bar=bar)
        yield Figure(what=f"{what}: longest", value=max(delays_ms), unit="ms")


def _measure(period_s: float, crossings: int) -> list[float]:
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        device, ports = stack.enter_context(stage.device(LINKS, POINTS))
        shape = Shape(ports=ports, points=POINTS, scan_period=f"{period_s:g} s", bands=BAND_AT_ONCE)
        mqtt, http = stack.enter_context(stage.broker(folder)), stage.free_port()
        heard = stack.enter_context(stage.subscriber(mqtt, "cakewatch/events", folder / "heard"))
        stack.enter_context(stage.daemon(site_files.write(folder, shape, mqtt=mqtt, http=http)))
        good = "\ncakewatch_dp_inh2o{"
        stage.wait_for(lambda: stage.scrape(http).count(good) == shape.collectors, 10, "not all good", 0.3)
        time.sleep(1.0)
        flips = _flip(device, period_s, crossings)
        return _delays_ms(flips, _arrivals(heard), site_files.names(shape))


def _flip(device: stage.Child, period_s: float, crossings: int) -> list[list]:
    """Change one register after the other, each no sooner than the last change of it must have been told."""
    dice = random.Random(7)
    rest_s = (2 * period_s + 0.5) / (LINKS * POINTS)
    high = [False] * (LINKS * POINTS)
    for number in range(crossings):
        place = number % len(high)
        high[place] = not high[place]
        device.tell(f"flip {place // POINTS} {place % POINTS} {int(high[place])}")
        time.sleep(rest_s * dice.uniform(0.5, 1.5))
    time.sleep(2 * period_s + 1.0)
    return device.ask("flips")


def _arrivals(heard: Path) -> dict[tuple[str, bool], list[float]]:
    """When each collector's raisings (True) and returns (False) arrived, in order."""
    arrivals: dict[tuple[str, bool], list[float]] = {}
    for line in heard.read_text().splitlines():
        stamp, _, _, payload = line.split(" ", 3)
        event = json.loads(payload)
        if event["kind"] == "alarm":
            arrivals.setdefault((event["collector"], event["happened"] == "raised"), []).append(float(stamp))
    return arrivals


def _delays_ms(flips: list[list], arrivals: dict[tuple[str, bool], list[float]], names: list[str]) -> list[float]:
    """Each crossing's delay.

    Raises:
        AssertionError: an event is missing, or one was told that did not happen.
    """
    changed: dict[tuple[str, bool], list[float]] = {}
    for at_s, link, address, is_high in flips:
        changed.setdefault((names[link * POINTS + address], is_high), []).append(at_s)
    assert {key: len(times) for key, times in changed.items()} == {
        key: len(times) for key, times in arrivals.items()
    }
    return [
        1000 * (arrived - at_s)
        for key, times in changed.items()
        for at_s, arrived in zip(times, arrivals[key], strict=True)
    ]
