"""Mill: collectors whose DP the test sets or that breathe by themselves, the daemon, and the page's address."""

import math
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from tests.rig import sites
from tests.rig.rig import Rig
from tests.rig.waiting import until
from tests.rig.watch import Watch

LINK = "mill-gateway"
CALM, HIGH, VERY_HIGH = 4000, 8000, 9500
#: Anna may do everything, ben may only look.
PEOPLE = {"anna": {"may": "all"}, "ben": {"may": "none"}}


def bands(number: int, latching: str = "yes") -> sites.Block:
    """Two bands above and one below, without delays."""
    found = {
        f"PDAHH-{number}": sites.band("9 inH2O", priority="urgent"),
        f"PDAH-{number}": sites.band("7 inH2O", priority="high"),
        f"PDAL-{number}": {"below": "1 inH2O"} | sites.band(priority="low"),
    }
    del found[f"PDAL-{number}"]["above"]
    for band in found.values():
        band["latching"] = latching
        if latching == "no":
            del band["auto_clear"]
    return found


def collector(number: int, unit_id: int, *, latching: str = "yes", **changes: Any) -> sites.Block:
    """One collector with bands."""
    return sites.collector(number, LINK, unit_id, 0, bands=bands(number, latching)) | changes


def sawtooth(seed: int, period_s: float = 37.0) -> Callable[[], int]:
    """A DP that climbs and is cleaned, as a register that is read now."""

    def now() -> int:
        place = (time.monotonic() / period_s + seed * 0.137) % 1.0
        climb = place / 0.8 if place < 0.8 else (1.0 - place) / 0.2
        return round(3600 + 1300 * climb + 60 * math.sin(time.monotonic() * 3.1 + seed))

    return now


class Mill:
    """``count`` collectors DC-101, DC-102…, each a unit of its own behind one gateway.

    Args:
        breathing: their DP moves by itself; else it stands until the test sets it.
        dressed: further keys of a collector's block, by its place from 0.
        before: done to the store's folder before the daemon starts.

    Attributes:
        base: where the page is.
        watch: the daemon.
    """

    def __init__(
        self,
        rig: Rig,
        count: int = 3,
        *,
        breathing: bool = False,
        latching: str = "yes",
        dressed: Callable[[int], Mapping[str, Any]] = lambda _: {},
        link: Mapping[str, Any] | None = None,
        environ: Mapping[str, str] | None = None,
        before: Callable[[Path], None] | None = None,
        ready: bool = True,
        **changes: Any,
    ) -> None:
        self.rig = rig
        self.names = [f"DC-{101 + n}" for n in range(count)]
        self.device = rig.field.device()
        for n in range(count):
            self.device.values[n + 1, 0] = sawtooth(n) if breathing else CALM
        self.path = rig.site(
            {LINK: sites.link(self.device.port, **(link or {}))},
            {f"DC-{101 + n}": collector(101 + n, n + 1, latching=latching, **dressed(n)) for n in range(count)},
            **changes,
        )
        if before is not None:
            before(rig.folder)
        self.watch: Watch = rig.daemon(**(environ or {}))
        self.base = f"http://127.0.0.1:{rig.http_port}"
        if ready:
            until(lambda: rig.listener.dp(self.names[-1]).get("quality") == "good", 15, self.watch.tail)

    def set(self, number: int, thousandths: int | Callable[[], int]) -> None:
        """What the DP of DC-``number`` is from now on, thousandths of an inch."""
        self.device.values[number - 100, 0] = thousandths

    def raise_it(self, number: int = 101, thousandths: int = HIGH, tag: str = "PDAH") -> dict[str, Any]:
        """Raise its alarm; the event as the subscriber heard it."""
        after = self.rig.listener.last_seq()
        self.set(number, thousandths)
        return self.rig.listener.await_event(f"{tag}-{number}", "raised", 5, after)

    def calm(self, number: int = 101) -> None:
        """Bring the DP back between its set points."""
        self.set(number, CALM)

    def state(self, number: int = 101, tag: str = "PDAH") -> str | None:
        """The alarm's state as last told by MQTT."""
        return self.rig.listener.alarm(f"DC-{number}", f"{tag}-{number}")
