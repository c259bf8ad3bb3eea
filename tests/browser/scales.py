"""Scales: what a page costs by Chromium's own count: bytes on the wire, frames, memory."""

import contextlib
import statistics
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field

from playwright.sync_api import CDPSession, Page

#: Lighthouse's "slow 4G" as remembered: 1.6 Mbit/s down, 750 kbit/s up, 150 ms there and back.
SLOW_PHONE = {
    "offline": False,
    "latency": 150,
    "downloadThroughput": 1_600_000 / 8,
    "uploadThroughput": 750_000 / 8,
}
#: A cheap phone is four times slower than the desktop machine whose index (below) is about 1,750; both remembered
#: from the papers of Lighthouse. A machine that is slow itself, or busy, is slowed down less.
PHONE_INDEX = 1750 / 4

#: How often in a tenth of a second a text of 10,000 letters is put together, letter by letter.
_INDEX = """
() => {
  const began = performance.now();
  let rounds = 0;
  while (performance.now() - began < 300) {
    let text = "";
    for (let k = 0; k < 10000; k += 1) text += "a";
    if (text.length === 1) throw new Error("never, but nobody may leave the loop out");
    rounds += 1;
  }
  return rounds / (performance.now() - began) * 100;
}
"""

_FRAMES = """
async ([seconds]) => {
  const frames = [], long = [];
  const tasks = new PerformanceObserver(list => { for (const one of list.getEntries()) long.push(one.duration); });
  tasks.observe({entryTypes: ["longtask"]});
  const most = Math.max(0, document.scrollingElement.scrollHeight - innerHeight);
  const began = performance.now();
  let last = began;
  await new Promise(done => {
    const frame = now => {
      if (now > last) frames.push(now - last);
      last = now;
      const passed = (performance.now() - began) / 1000;
      if (passed > seconds) return done();
      const way = (passed / 2.5) % 2;
      scrollTo(0, most * (way < 1 ? way : 2 - way));
      requestAnimationFrame(frame);
    };
    requestAnimationFrame(frame);
  });
  tasks.disconnect();
  return {frames: frames.slice(1), long, most};
}
"""


@dataclass
class Load:
    """Bytes that came over the wire, compressed, with their heads; by address."""

    by_address: dict[str, float] = field(default_factory=lambda: defaultdict(float))

    @property
    def kilobytes(self) -> float:
        return sum(self.by_address.values()) / 1000.0


@contextlib.contextmanager
def weighed(session: CDPSession) -> Iterator[Load]:
    """Count everything that is loaded; what a stream brought counts too, though it never ends."""
    load, addresses, finished = Load(), {}, {}

    def began(event):
        addresses[event["requestId"]] = event["request"]["url"]

    def came(event):
        _note(event, event["encodedDataLength"])

    def head(event):
        _note(event, event["response"].get("encodedDataLength", 0))

    def _note(event, count):
        load.by_address[addresses.get(event["requestId"], "?")] += count

    def ended(event):
        # The whole of it, heads too: in place of what was counted piece by piece.
        finished[event["requestId"]] = event["encodedDataLength"]
        load.by_address[addresses.get(event["requestId"], "?")] = event["encodedDataLength"]

    session.send("Network.enable")
    session.on("Network.requestWillBeSent", began)
    session.on("Network.responseReceived", head)
    session.on("Network.dataReceived", came)
    session.on("Network.loadingFinished", ended)
    yield load


def slow_phone(session: CDPSession, page: Page) -> float:
    """Make machine and network those of a cheap phone with a bad connection; how many times slower it is."""
    slower = max(1.0, page.evaluate(_INDEX) / PHONE_INDEX)
    session.send("Network.enable")
    session.send("Network.emulateNetworkConditions", SLOW_PHONE)
    session.send("Emulation.setCPUThrottlingRate", {"rate": slower})
    return slower


def heap_mb(session: CDPSession) -> float:
    """What the page holds after everything unused was thrown away, megabytes."""
    session.send("HeapProfiler.enable")
    session.send("HeapProfiler.collectGarbage")
    session.send("HeapProfiler.collectGarbage")
    session.send("Performance.enable")
    figures = {one["name"]: one["value"] for one in session.send("Performance.getMetrics")["metrics"]}
    return figures["JSHeapUsedSize"] / 1e6


def nodes(session: CDPSession) -> int:
    """DOM nodes that live, also those that hang on nothing but a forgotten reference."""
    return int(session.send("Memory.getDOMCounters")["nodes"])


@dataclass(frozen=True)
class Smoothness:
    """Frames while the page was scrolled, milliseconds."""

    median_ms: float
    p95_ms: float
    p99_ms: float
    worst_ms: float
    long_tasks_ms: tuple[float, ...]

    def __str__(self) -> str:
        tasks = f"{len(self.long_tasks_ms)} long tasks, the longest {max(self.long_tasks_ms, default=0):.0f} ms"
        return (
            f"frames: median {self.median_ms:.1f}, p95 {self.p95_ms:.1f}, p99 {self.p99_ms:.1f}, "
            f"worst {self.worst_ms:.0f} ms; {tasks}"
        )


def scrolled(page: Page, seconds: float) -> Smoothness:
    """Scroll up and down for so long."""
    seen = page.evaluate(_FRAMES, [seconds])
    assert seen["most"] > 0, "there is nothing to scroll"
    cuts = statistics.quantiles(seen["frames"], n=100, method="inclusive")
    return Smoothness(cuts[49], cuts[94], cuts[98], max(seen["frames"]), tuple(seen["long"]))
