"""Day: a plant whose every part fails at random, by one seed; what it does, the test holds the daemon to.

Three collectors follow the simulated plant, a fourth flaps between two levels. Each register holds numbers from a
range of its own. Scan seconds run ``SPEED`` times as fast as real ones; the time limits of links, broker and disk
are real.
"""

import contextlib
import random
import time
from collections import Counter
from collections.abc import Callable

from monitor.plant.demo_plant import demo_plant
from tests.peers.fault_device import OK, Fault, Kind
from tests.rig import sites
from tests.rig.field import FieldDevice
from tests.rig.rig import Rig
from tests.rig.small_disk import SmallDisk
from tests.rig.waiting import until
from tests.rig.watch import Watch

SPEED = 120.0
#: Thousandths of an inch (or of a psi × 10) between the ranges of two registers.
RANGE = 8000
HOUR_S = 3600.0

_PLAIN = [
    Kind.HANG, Kind.RESET, Kind.DROP, Kind.SHORT, Kind.FEWER, Kind.MORE, Kind.ZERO, Kind.ODD, Kind.GARBAGE,
    Kind.OTHER_UNIT, Kind.OTHER_FUNCTION, Kind.WRONG_TRANSACTION, Kind.COUNT_LIES, Kind.BAD_CRC,
    Kind.NOISE_BEFORE, Kind.NOISE_AFTER, Kind.ECHO, Kind.TWICE, Kind.IN_PIECES,
]  # fmt: skip
EXCEPTIONS = (1, 2, 3, 4, 5, 6, 8, 0x0A, 0x0B)


class Day:
    """The plant, the daemon and what befalls them.

    Attributes:
        befell: how often each thing happened.
        places: of every DP and header pressure: collector, role → device, (unit, address).
    """

    def __init__(self, rig: Rig, disk: SmallDisk, seed: int) -> None:
        self.rig = rig
        self.disk = disk
        self.befell: Counter[str] = Counter()
        self.places: dict[tuple[str, str], tuple] = {}
        self._dice = random.Random(seed)
        self._plant = demo_plant(seed)
        self._began_s = time.monotonic()
        self._devices = [rig.field.device("tcp"), rig.field.device("rtu", shared_line=True)]
        self._ends: dict[int, float] = {}
        self._next_own_s = 0.0
        self._variant = 0
        self._deck: list[Callable[[], None]] = []
        self._lay_out()
        self._write_site()
        self.watch: Watch = rig.daemon(bent=True, RIG_SPEED=str(SPEED), RIG_FORGET_S="2.5")

    @property
    def now_s(self) -> float:
        """Seconds of the day."""
        return (time.monotonic() - self._began_s) * SPEED

    # ------------------------------------------------------------ the plant

    def _lay_out(self) -> None:
        for rank, name in enumerate(("DC-101", "DC-102", "DC-103", "DC-104")):
            device, unit = self._devices[rank // 2], 1 + rank % 2
            for role, address, source in (("dp", 0, self._dp), ("header_pressure", 400, self._header)):
                place = 2 * rank + (role != "dp")
                device.values[unit, address] = self._within(place, source(name))
                self.places[name, role] = (device, (unit, address))

    @staticmethod
    def _within(place: int, source: Callable[[], float]) -> Callable[[], int]:
        return lambda: RANGE * place + min(RANGE - 1, max(0, round(source())))

    def _dp(self, name: str) -> Callable[[], float]:
        if name == "DC-104":
            return lambda: (7000 if int(self.now_s / 150) % 2 else 3000) + self.now_s % 97
        return lambda: 800 * self._signals(name).dp_inh2o  # 10 inH2O fit into a range

    def _header(self, name: str) -> Callable[[], float]:
        return lambda: 50 * (self._signals(name).header_psig if name != "DC-104" else 90 + self.now_s % 7)

    def _signals(self, name: str):
        self._plant.advance_to(self.now_s)
        return self._plant.signals(name)

    # ------------------------------------------------------------ the site file

    def _write_site(self) -> None:
        tcp, rtu = self._devices
        real = {"timeout": "100 ms", "scan_period": "10 s"}
        links = {
            "tcp": sites.link(tcp.port, **real),
            "rtu": sites.link(rtu.port, "modbus-rtu-over-tcp", **real),
        }
        collectors = {
            name: self._collector(rank, name) for rank, name in enumerate(("DC-101", "DC-102", "DC-103", "DC-104"))
        }
        self.rig.site(
            links, collectors, store={"folder": str(self.rig.folder), "flush": "2 s", "history_step": "60 s"},
            mqtt={"state_period": "100 ms"},
        )  # fmt: skip

    def _collector(self, rank: int, name: str) -> sites.Block:
        link, unit, number = ("tcp", "rtu")[rank // 2], 1 + rank % 2, name[3:]
        nervous = {"on_delay": "0 s", "off_delay": "0 s", "deadband": "0.3 inH2O", "auto_clear": "10 min"}
        calm = {"on_delay": "30 s", "off_delay": "30 s", "deadband": "1.2 inH2O", "auto_clear": "30 min"}
        bands = {
            f"PDAH-{number}": {"above": "6.5 inH2O", "priority": "high", **calm},
            f"PDA-{number}": {"above": f"{4.6 if self._variant % 2 else 4.7} inH2O", "latching": "no", **nervous},
            f"PDAL-{number}": {"below": "1 inH2O", **calm},
        }
        if self._variant % 4 < 2:
            bands[f"PDAHH-{number}"] = {"above": "7 inH2O", "priority": "urgent", **nervous}
        dp = self._point("PDT", number, link, unit, 0, 2 * rank, {"unit": "inH2O", "scale": 1 / 800})
        header = self._point("PT", number, link, unit, 400, 2 * rank + 1, {"unit": "psi", "scale": 0.02})
        bad = {"on_delay": "1 min", "off_delay": "30 s", "auto_clear": "20 min"}
        return {"dp": dp, "header_pressure": header, "bands": bands, "bad_signal": bad}

    @staticmethod
    def _point(kind, number, link, unit, address, place, engineering) -> sites.Block:
        whole = sites.point(f"{kind}-{number}", link, unit, address)
        offset = round(-RANGE * place * engineering["scale"], 6)
        return whole | {"engineering": {**engineering, "offset": offset}, "stale_after": "5 min"}

    # ------------------------------------------------------------ what befalls it

    def live(self, hours: float, *, kills_until_h: float, watching: Callable[["Day"], None]) -> None:
        """Let so much of the day pass, with faults; kills and reloads only in its first part."""
        while self.now_s < hours * HOUR_S:
            self._trouble_devices()
            if self.now_s >= self._next_own_s:
                self._trouble_the_daemon(kills=self.now_s < kills_until_h * HOUR_S)
                self._next_own_s = self.now_s + self._dice.expovariate(1 / 180)
            watching(self)
            time.sleep(0.05)

    def _trouble_devices(self) -> None:
        for i, device in enumerate(self._devices):
            if self.now_s < self._ends.get(i, 0.0):
                continue
            well = device.fault is OK and device.is_listening and not device.units
            self._mend(device)
            # Well and ill by turns; ill for up to ten minutes, well for up to twenty.
            self._ends[i] = self.now_s + self._dice.uniform(60, 600 if well else 1200)
            if well:
                self._break(device)

    def _mend(self, device: FieldDevice) -> None:
        device.units.clear()
        self.rig.field.suffer(device, OK)
        if not device.is_listening:
            self.rig.field.listen(device)

    def _break(self, device: FieldDevice) -> None:
        what = self._dice.randrange(10)
        if what == 0:
            self.befell["device refuses"] += 1
            self.rig.field.refuse(device)
            return
        fault = self._fault(what)
        self.befell[f"device {fault.kind.name.lower()}"] += 1
        if self._dice.random() < 0.3:
            device.units[self._dice.choice((1, 2))] = fault
        else:
            self.rig.field.suffer(device, fault)

    def _fault(self, what: int) -> Fault:
        share = self._dice.choice((0.2, 1.0))
        if what <= 2:
            return Fault(
                self._dice.choice((Kind.LATE, Kind.LATE_AT_RANDOM)), self._dice.uniform(0.05, 0.35), share=share
            )
        if what == 3:
            return Fault(Kind.EXCEPTION, code=self._dice.choice(EXCEPTIONS), share=share)
        return Fault(self._dice.choice(_PLAIN), share=share)

    def _trouble_the_daemon(self, *, kills: bool) -> None:
        """One thing at a time, and none while another lasts."""
        if not self._deck:
            self._deck = [self._cut, self._freeze, self._end_broker, self._fill_disk, self._reload]
            self._deck += [self._kill, self._stop] if kills else []
            self._dice.shuffle(self._deck)
        happening = self._deck.pop()
        self.befell[happening.__name__.strip("_").replace("_", " ")] += 1
        happening()

    def _cut(self) -> None:
        self.rig.gate.cut()

    def _freeze(self) -> None:
        self.rig.broker.freeze()
        time.sleep(self._dice.uniform(0.2, 1.5))
        self.rig.broker.thaw()

    def _end_broker(self) -> None:
        self.rig.kill_broker()
        time.sleep(self._dice.uniform(0, 1.5))
        self.rig.start_broker()

    def _fill_disk(self) -> None:
        self.disk.fill(self.watch.pid)
        time.sleep(self._dice.uniform(0.2, 2.0))
        self.disk.make_room(self.watch.pid)
        # What a full disk had no room for is in memory only: a kill now would be a loss that nobody can prevent.
        until(self.is_well, 30, self.watch.health)

    def _reload(self) -> None:
        self._variant += 1
        self._write_site()
        self.watch.hang_up()

    def _kill(self) -> None:
        self.watch.kill()
        self.watch.start()

    def _stop(self) -> None:
        code, took_s = self.watch.stop()
        assert code == 0, self.watch.tail()
        assert took_s <= 2.5, f"SIGTERM took {took_s:.1f} s"
        self.watch.start()

    # ------------------------------------------------------------ the end

    def is_well(self) -> bool:
        with contextlib.suppress(OSError):
            return self.watch.health()[0] == 200
        return False

    def calm_down(self) -> None:
        """Mend everything, and wait until all is told and well."""
        for device in self._devices:
            self._mend(device)
        until(self.is_well, 20, self.watch.tail)
        for name in ("DC-101", "DC-102", "DC-103", "DC-104"):
            self.rig.listener.await_good(name, 60)
        until(lambda: self.watch.metric("cakewatch_outlet_backlog_events", outlet="mqtt") == 0, 30)
