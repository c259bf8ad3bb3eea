"""Load: the plants that several tests put before the daemon."""

import itertools
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.rig import sites
from tests.rig.field import FieldDevice
from tests.rig.ledger import Ledger
from tests.rig.rig import Rig


def one_collector(rig: Rig, **band: Any) -> tuple[FieldDevice, Path]:
    """DC-101 on unit 1, register 0, with PDAH-101 at 7 inH2O; the device reads 4 inH2O to begin with."""
    device = rig.field.device()
    device.values[1, 0] = 4000
    site = rig.site(
        {"gateway": sites.link(device.port)},
        {"DC-101": sites.collector(101, "gateway", 1, 0, bands={"PDAH-101": sites.band(**band)})},
    )
    return device, site


#: Thousandths of an inch between the ranges of two collectors: a value tells whose it is.
RANGE = 8000
QUIET, LOUD = 3000, 7500


class FlappingMill:
    """Collectors whose DP flaps through their set points every few scans, and one that holds a latch.

    Each register holds a number from its own collector's range, so that a value taken for another's shows. The
    events of one collector come from three bands: latching, not latching, and with delays.

    Attributes:
        names: the collectors that flap.
        keeper: the collector whose alarm was latched once, and is to stay so.
    """

    def __init__(self, rig: Rig, collectors: int = 7, links: int = 3, **store: Any) -> None:
        self.rig = rig
        self.flapping = True
        self.devices = [rig.field.device() for _ in range(links)]
        self.names = [f"DC-{101 + i}" for i in range(collectors)]
        self.keeper = "DC-100"
        self._keeper_at = (self.devices[0], (200, 0))
        self._keeper_at[0].values[self._keeper_at[1]] = QUIET
        found = {self.keeper: self._one(100, 0, 200, {"PDAH-100": sites.band()}, 0)}
        for i, name in enumerate(self.names):
            device = self.devices[i % links]
            device.values[1 + i, 0] = self._beat(i)
            found[name] = self._one(101 + i, i % links, 1 + i, _three_bands(101 + i), i)
        at = {f"link-{i}": sites.link(device.port, timeout="150 ms") for i, device in enumerate(self.devices)}
        rig.site(at, found, store=store)

    @staticmethod
    def _one(number: int, link: int, unit_id: int, bands: sites.Block, rank: int) -> sites.Block:
        whole = sites.collector(number, f"link-{link}", unit_id, 0, bands=bands)
        whole["dp"]["engineering"] = {"unit": "inH2O", "scale": 0.001, "offset": -0.001 * RANGE * rank}
        return whole

    def _beat(self, rank: int) -> Callable[[], int]:
        half_s = 0.25 + 0.05 * rank
        noise = itertools.cycle(range(0, 400, 7))

        def value() -> int:
            loud = self.flapping and int(time.monotonic() / half_s) % 2
            return RANGE * rank + (LOUD if loud else QUIET) + next(noise)

        return value

    def latch_the_keeper(self) -> None:
        """Raise and latch the alarm that nobody clears."""
        device, at = self._keeper_at
        device.values[at] = LOUD
        self.rig.listener.await_event("PDAH-100", "raised", 10)
        device.values[at] = QUIET
        self.rig.listener.await_event("PDAH-100", "latched", 10)

    def check_values(self) -> None:
        """No subscriber ever saw a value of another register, or a bad one with a value."""
        ranks = {self.keeper: 0} | {name: rank for rank, name in enumerate(self.names)}
        for one in self.rig.listener.heard:
            if not (one.topic.endswith("/state") and one.payload):
                continue
            dp = one.json["points"]["dp"]
            assert (dp["value"] is None) == (dp["quality"] == "bad"), dp
            rank = ranks[one.json["collector"]]
            if dp["raw"] is not None:
                assert int(dp["raw"]) // RANGE == rank, f"{one.json['collector']} was told another's {dp}"
            if dp["value"] is not None:
                assert dp["value"] == pytest.approx(dp["raw"] / 1000 - RANGE / 1000 * rank, abs=2e-4), dp

    def check_causes(self, ledger: Ledger) -> None:
        """Every band's alarm was raised at or beyond its set point, and returned inside it."""
        for one in ledger.journal:
            if "setpoint" not in one or one["cause"] != "process":
                continue
            assert "value" in one, f"a band was judged without a reading: {one}"
            if one["happened"] == "raised":
                assert one["value"] >= one["setpoint"], one
            else:
                assert one["value"] < one["setpoint"], one


def _three_bands(number: int) -> sites.Block:
    return {
        f"PDAH-{number}": sites.band("7 inH2O", auto_clear="2 s"),
        f"PDAHH-{number}": sites.band("7.2 inH2O", latching="no"),
        f"PDAHHH-{number}": sites.band("7.4 inH2O", on_delay="200 ms", off_delay="200 ms", auto_clear="1 s"),
    }
