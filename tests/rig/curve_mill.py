"""Curve mill: the daemon before a sawtooth, at speed, with a store that has watched it for some hours already."""

import asyncio
import contextlib
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from monitor.clock import Clock
from monitor.daemon.snapshot_curve import curve_key, read_curve, write_curve
from monitor.interpret import curve
from monitor.interpret.curve import CurveState
from monitor.interpret.digest import Sample
from monitor.remember.settings import StoreSettings
from monitor.remember.store import Store
from monitor.site.load import load
from tests.rig import sites
from tests.rig.rig import Rig
from tests.rig.sawtooth import START_INH2O, STOP_INH2O, Sawtooth, Shows
from tests.rig.wall import Wall
from tests.rig.watch import Watch

NAME = "DC-101"


class CurveMill:
    """DC-101 with header pressure, fan and cleaning signal.

    Attributes:
        plant: what it really does.
        wall: the daemon's wall clock, kept beside the plant's time over a restart.
    """

    def __init__(
        self, rig: Rig, speed: float, *, learnt_h: float = 0.0, rise_inh2o_min: float = 0.2, **site: Any
    ) -> None:
        self.rig = rig
        self.speed = speed
        self.plant = Sawtooth(speed, rise_inh2o_min=rise_inh2o_min)
        self.wall = Wall(rig.path)
        self._began_utc_s = time.time()
        self._skipped_s = 0
        device = rig.field.device()
        device.values |= {
            (1, 0): lambda: round(1000 * self.plant.now().dp_inh2o),
            (1, 1): lambda: round(10 * self.plant.now().header_psi),
            (1, 2): lambda: int(self.plant.now().fan),
            (1, 3): lambda: int(self.plant.now().cleaning),
        }
        self._port = device.port
        self._site = site
        self.site = self.write()
        if learnt_h:
            self._learn(round(learnt_h * 3600))
        self.watch: Watch = self._start()

    # ------------------------------------------------------------ the site

    def write(self, **changes: Any) -> Path:
        """Write the site file; ``changes`` are keys of the collector."""
        roles = {
            "header_pressure": ("PT-101", 1, {"engineering": {"unit": "psi", "scale": 0.1}}),
            "fan_running": ("YL-101", 2, {"bit": 0}),
            "cleaning_active": ("XL-101", 3, {"bit": 0}),
        }
        beside = {role: self._point(tag, address, more) for role, (tag, address, more) in roles.items()}
        whole = sites.collector(
            101, "mill-gateway", 1, 0, bands={"PDAH-101": sites.band("5.3 inH2O")}, **beside,
            cleaning={"start": f"{START_INH2O} inH2O", "stop": f"{STOP_INH2O} inH2O", "rows": 8},
            filters={"change_out": "6 inH2O"}, early_warnings="all",
        )  # fmt: skip
        whole["dp"]["stale_after"] = "5 min"
        whole["bad_signal"] = {"on_delay": "10 min"}  # half a second at the start is a minute of the plant
        # The link's time limits are real, its period is plant time.
        link = sites.link(self._port, timeout="500 ms", scan_period="1 s", lost={"on_delay": "5 min"})
        return self.rig.site({"mill-gateway": link}, {NAME: {**whole, **changes}}, **self._site)

    @staticmethod
    def _point(tag: str, address: int, more: dict[str, Any]) -> dict[str, Any]:
        whole = sites.point(tag, "mill-gateway", 1, address, stale_after="5 min")
        kept = ("tag", "link", "unit_id", "table", "protocol_address", "stale_after")
        analog = ("encoding", "frozen_after") if "engineering" in more else ()
        return {key: whole[key] for key in (*kept, *analog)} | more

    # ------------------------------------------------------------ the daemon

    def restart(self) -> None:
        """Start it again; the plant stands still until it is read."""
        self.plant.hold()
        self.watch = self._start()

    def skip(self, until: Callable[[Shows], bool], least_s: int) -> None:
        """While the daemon is down: let so much of the plant's time pass at once, and on until that holds."""
        since = self.plant.second
        while self.plant.second - since < least_s or not until(self.plant.shows):
            self.plant.step()
        self._skipped_s += self.plant.second - since

    def _start(self) -> Watch:
        # At speed the daemon's wall clock runs ahead; a new process must begin where the old one left.
        ahead_s = (time.time() - self._began_utc_s) * (self.speed - 1.0)
        self.wall.set_off(ahead_s + self._skipped_s)
        return self.rig.daemon(bent=True, RIG_SPEED=str(self.speed), **self.wall.environ)

    def _learn(self, seconds: int) -> None:
        """Leave the daemon a store that has read the curve for so long."""
        settings = load(self.site, {}).collectors[NAME].curve
        assert settings is not None
        state, zero_utc_s = curve.BEGIN, time.time() - seconds
        for second in range(1, seconds + 1):
            shows = self.plant.step()
            sample = Sample(
                second, zero_utc_s + second, shows.dp_inh2o, shows.header_psi, None, shows.fan, shows.cleaning
            )
            state = curve.advance(settings, state, sample)
        store = Store.open(StoreSettings(folder=self.rig.folder), now=Clock().now, outlets=())
        store.remember({curve_key(NAME): write_curve(state)}, float(seconds))
        asyncio.run(store.close())

    # ------------------------------------------------------------ what is known of it

    def told(self) -> dict[str, Any]:
        """The curve as the subscriber has it."""
        return self.rig.listener.curve(NAME)

    def cycles(self) -> int:
        """Cycles as told, 0 before any."""
        return int(self.told().get("cycles", 0))

    def kept(self) -> tuple[CurveState, float]:
        """What is written down of the curve, and up to which scan second everything is."""
        file = self.rig.folder / "journal.db"
        with contextlib.closing(sqlite3.connect(f"file:{file}?mode=ro", uri=True, timeout=10)) as journal:
            return _kept(journal)


def _kept(journal: sqlite3.Connection) -> tuple[CurveState, float]:
    (text,) = journal.execute("SELECT state FROM snapshots WHERE collector = ?", (curve_key(NAME),)).fetchone()
    (scan_s,) = journal.execute("SELECT scan_s FROM about").fetchone()
    return read_curve(text), scan_s
