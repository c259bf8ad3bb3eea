"""No write but to the annunciator's own entries ever leaves the process, whatever happens to it.

Random plans, alarms, silences, tests, reloads, stuck judges, device faults and restarts; the devices write down
every request that is not a read, with its function code, unit and address.
"""

import asyncio
import contextlib
import random
import socket

import pytest
from pyModbusTCP.server import DataBank, ModbusServer

from monitor.acquire.settings import Address, LinkPlan, LinkSettings, Output, Protocol, Source
from monitor.acquire.worker import LinkWorker
from monitor.clock import Clock
from monitor.daemon.annunciating import Annunciating
from monitor.tell.settings import AnnunciatorSettings
from monitor.words import AlarmState, PointId, Priority, Role, Table
from tests.peers.fault_device import OK, Fault, Kind
from tests.peers.recording_device import RecordingDevice

STEPS = 70
STEP_S = 0.025
TAGS = ("PDAH-101", "PDAHH-101", "PDAL-102", "NORTH-LOST")
LINKS = ("north", "south")
PROTOCOL = {"tcp": Protocol.TCP, "rtu": Protocol.RTU_OVER_TCP}
KINDS = list(Kind)
FUNCTION = {Table.COIL: 5, Table.HOLDING_REGISTER: 6}


@pytest.fixture(autouse=True)
def _faster(monkeypatch):
    monkeypatch.setattr("monitor.acquire.outputs.REFRESH_S", 0.1)
    monkeypatch.setattr("monitor.acquire.outputs.RETRY_MOST_S", 0.1)
    monkeypatch.setattr("monitor.acquire.worker.RECONNECT_FIRST_S", 0.02)
    monkeypatch.setattr("monitor.acquire.worker.RECONNECT_MOST_S", 0.05)


def entries_of(outputs):
    return {(each.unit_id, FUNCTION[each.table], each.address) for each in outputs}


class Watch:
    """Two links and an annunciator, put together as the daemon does it."""

    def __init__(self, ports, framing, seed):
        self.dice = random.Random(seed)
        self._ports, self._framing = ports, framing
        self._clock = Clock()
        plans = {name: self._plan(name, ()) for name in LINKS}
        self.workers = {
            name: LinkWorker(plan, clock=self._clock, deliver=lambda _: None) for name, plan in plans.items()
        }
        self.annunciating = Annunciating(None, self._set_outputs, self._clock)

    def _set_outputs(self, link, values):
        self.workers[link].set_outputs(values)

    def _plan(self, name, outputs):
        link = LinkSettings(
            name=name,
            protocol=PROTOCOL[self._framing],
            where=Address(host="127.0.0.1", port=self._ports[name]),
            timeout_s=0.05,
            scan_period_s=self.dice.choice((0.03, 0.03, 3600.0)) if outputs else 0.03,
            late_answer_s=0.06,
        )
        addresses = self.dice.sample(range(0, 60, 3), self.dice.randint(0, 4))
        sources = tuple(self._source(name, address) for address in addresses)
        return LinkPlan(link=link, sources=sources, outputs=outputs)

    def _source(self, link, address):
        unit_id, table = self.dice.choice((1, 9)), self.dice.choice(list(Table))
        point = PointId(f"DC-{address}", Role.DP)
        return Source(point=point, link=link, unit_id=unit_id, table=table, address=address)

    def reload(self, *, annunciator=True):
        """Take in another random site file; return which entries each link may write from now on."""
        chosen = self.dice.choice(LINKS) if annunciator else None
        outputs = self.random_outputs() if annunciator else ()
        self.annunciating.follow(None)
        for name, worker in self.workers.items():
            worker.replan(self._plan(name, outputs if name == chosen else ()))
        if chosen:
            least = self.dice.choice(list(Priority))
            period_s = self.dice.choice((0.05, 0.2))
            settings = AnnunciatorSettings(link=chosen, least_priority=least, heartbeat_s=period_s)
            self.annunciating.follow(settings, outputs)
        return {name: entries_of(outputs) if name == chosen else set() for name in LINKS}

    def random_outputs(self):
        names = self.dice.sample(("horn", "beacon", "heartbeat"), self.dice.randint(1, 3))
        addresses = self.dice.sample(range(60), len(names))
        return tuple(map(self._output, names, addresses))

    def _output(self, name, address):
        on, off = self.dice.choice(((1, 0), (0, 1)))
        table, unit_id = self.dice.choice(list(FUNCTION)), self.dice.choice((1, 9))
        return Output(name=name, unit_id=unit_id, table=table, address=address, on=on, off=off)

    def alarm(self):
        states, priorities = list(AlarmState), list(Priority)
        self.annunciating.see(self.dice.choice(TAGS), self.dice.choice(states), self.dice.choice(priorities))

    def something(self):
        """One random thing that people and processes do."""
        self.dice.choice(
            (
                self.alarm,
                self.alarm,
                self.alarm,
                self.annunciating.silence,
                self.annunciating.test,
                lambda: self.annunciating.forget([self.dice.choice(TAGS)]),
            )
        )()

    def beat(self):
        self.annunciating.beat(self._clock.now(), self.dice.random() < 0.8)


@contextlib.asynccontextmanager
async def at_work(watch):
    tasks = [asyncio.create_task(worker.run()) for worker in watch.workers.values()]
    try:
        yield
        assert not any(task.done() for task in tasks), "a worker ended by itself"
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.wait(tasks)
        assert all(task.cancelled() for task in tasks), "a worker died"


class Ledger:
    """What each device may have been sent, epoch by epoch."""

    def __init__(self, devices):
        self._devices = devices
        self._allowed = {name: set() for name in devices}
        self._seen = dict.fromkeys(devices, 0)
        self.writes = 0

    def new_epoch(self, allowed):
        """From now on only ``allowed``; of what was before, one write may still be on its way."""
        self.check()
        self._before, self._allowed = self._allowed, allowed
        self._strays = dict.fromkeys(self._devices, 0)

    def check(self):
        for name, device in self._devices.items():
            for write in device.writes[self._seen[name] :]:
                self.writes += 1
                if write[:3] not in self._allowed[name]:
                    self._strays[name] += 1
                    assert write[:3] in self._before[name], f"{write} was never planned on {name}"
                    assert self._strays[name] == 1, f"{write} is of the plan before on {name}"
            self._seen[name] = len(device.writes)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("framing", ["tcp", "rtu"])
def test_only_planned_entries_are_ever_written(framing, seed):
    asyncio.run(asyncio.wait_for(random_life(framing, seed), 60.0))


async def random_life(framing, seed):
    async with (
        RecordingDevice(framing, shared_line=framing == "rtu", seed=seed) as north,
        RecordingDevice(framing, shared_line=framing == "rtu", seed=seed) as south,
    ):
        devices = dict(zip(LINKS, (north, south), strict=True))
        watch = Watch({name: device.port for name, device in devices.items()}, framing, seed)
        dice, ledger = watch.dice, Ledger(devices)
        async with at_work(watch):
            for step in range(STEPS):
                if step % 10 == 0:
                    ledger.new_epoch(watch.reload(annunciator=dice.random() < 0.8 or step == 0))
                watch.something()
                if dice.random() < 0.3:
                    kind = dice.choice((*KINDS, *[Kind.OK] * len(KINDS)))
                    dice.choice((north, south)).fault = Fault(kind, seconds=0.07, code=2, share=dice.random())
                if dice.random() < 0.05:
                    dice.choice((north, south)).restart()
                watch.beat()
                await asyncio.sleep(STEP_S)
                ledger.check()
            north.fault = south.fault = OK
            ledger.new_epoch(watch.reload())
            before = ledger.writes
            for _ in range(40):
                watch.beat()
                await asyncio.sleep(STEP_S)
                ledger.check()

    assert ledger.writes > before, "the annunciator was not written at the end"
    assert {function for device in devices.values() for _, function, *_ in device.writes} <= {5, 6}


@pytest.mark.parametrize("framing", ["tcp", "rtu"])
def test_without_an_annunciator_nothing_is_written_whatever_happens(framing):
    asyncio.run(asyncio.wait_for(life_without(framing), 60.0))


async def life_without(framing):
    async with RecordingDevice(framing) as north, RecordingDevice(framing) as south:
        devices = (north, south)
        watch = Watch({"north": north.port, "south": south.port}, framing, seed=1)
        async with at_work(watch):
            for step in range(STEPS):
                if step % 10 == 0:
                    watch.reload(annunciator=False)
                watch.something()
                watch.beat()
                kind = watch.dice.choice((Kind.OK, Kind.HANG, Kind.EXCEPTION))
                watch.dice.choice(devices).fault = Fault(kind, code=2)
                await asyncio.sleep(STEP_S)

    assert len(north.requests) + len(south.requests) > 20
    assert not north.writes
    assert not south.writes


# ------------------------------------------------------------------ from the alarm to the coil

HORN = Output(name="horn", unit_id=9, table=Table.COIL, address=10)
BEACON = Output(name="beacon", unit_id=9, table=Table.HOLDING_REGISTER, address=11, on=2, off=3)
HEARTBEAT = Output(name="heartbeat", unit_id=9, table=Table.HOLDING_REGISTER, address=12)
ON, OFF = 0xFF00, 0
U, A, N = AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED, AlarmState.NORMAL


class OneLink(Watch):
    """One annunciator, and a tick of the daemon now and then."""

    def __init__(self, device, framing):
        super().__init__({"north": device.port, "south": device.port}, framing, seed=1)
        del self.workers["south"]
        self.device = device
        self.outputs = (HORN, BEACON, HEARTBEAT)
        self.workers["north"].replan(self._plan("north", self.outputs))
        settings = AnnunciatorSettings(link="north", least_priority=Priority.HIGH, heartbeat_s=0.05)
        self.annunciating.follow(settings, self.outputs)
        self.is_moving = True

    def shows(self):
        written = self.device.written
        return written.get((9, 5, 10)), written.get((9, 6, 11)), written.get((9, 6, 12))

    async def until(self, horn, beacon, within_s=3.0):
        async with asyncio.timeout(within_s):
            while self.shows()[:2] != (horn, beacon):
                await self.tick()

    async def tick(self):
        self.annunciating.beat(self._clock.now(), self.is_moving)
        await asyncio.sleep(0.01)


@pytest.mark.parametrize("framing", ["tcp", "rtu"])
def test_horn_beacon_and_heartbeat_from_the_alarm_to_the_device(framing):
    asyncio.run(asyncio.wait_for(one_alarms_life(framing), 60.0))


async def one_alarms_life(framing):
    async with RecordingDevice(framing) as device:
        watch = OneLink(device, framing)
        see, silence = watch.annunciating.see, watch.annunciating.silence
        async with at_work(watch):
            await watch.until(OFF, 3)
            see("PDAL-102", U, Priority.LOW)  # below the least priority
            await watch.until(OFF, 3)
            see("PDAH-101", U, Priority.HIGH)
            await watch.until(ON, 2)
            silence()
            await watch.until(OFF, 2)
            see("PDAHH-101", U, Priority.URGENT)  # a new alarm sounds again
            await watch.until(ON, 2)
            device.restart()  # the annunciator lost its power: it is told again
            await watch.until(ON, 2)
            see("PDAHH-101", A, Priority.URGENT)
            await watch.until(OFF, 2)
            see("PDAHH-101", N, Priority.URGENT)
            see("PDAH-101", AlarmState.SHELVED, Priority.HIGH)
            await watch.until(OFF, 3)
            await heartbeat_follows_the_judge(watch)
        shown = dict(device.written)
        await asyncio.sleep(0.3)
        assert device.written == shown  # the end writes nothing

    assert device.entries == entries_of(watch.outputs)


async def heartbeat_follows_the_judge(watch):
    await beats(watch, 3)
    watch.is_moving = False
    for _ in range(15):
        await watch.tick()
    stood = watch.shows()[2]
    for _ in range(25):
        await watch.tick()
        assert watch.shows()[2] == stood
    watch.is_moving = True
    await beats(watch, 3)


async def beats(watch, more):
    counts = []
    async with asyncio.timeout(3.0):
        while len(counts) < more + 1:
            await watch.tick()
            if watch.shows()[2] not in counts[-1:]:
                counts.append(watch.shows()[2])
    assert counts == list(range(counts[0], counts[0] + more + 1))


# ------------------------------------------------------------------ a server that shares nothing with us


def test_an_independent_server_sees_no_other_write():
    """pyModbusTCP, every request written down before it is carried out."""
    seen, bank = [], DataBank()
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]

    def engine(session):
        pdu = session.request.pdu
        seen.append((session.request.mbap.unit_id, pdu.func_code, *pdu.unpack(">HH", from_byte=1, to_byte=5)))
        server._internal_engine(session)

    server = ModbusServer("127.0.0.1", port, no_block=True, data_bank=bank, ext_engine=engine)
    server.start()
    try:
        allowed = asyncio.run(asyncio.wait_for(life_with_server(port, bank), 60.0))
    finally:
        server.stop()

    writes = [request for request in seen if request[1] not in (1, 2, 3, 4)]
    assert {request[:3] for request in writes} == allowed
    assert {request[3] for request in writes if request[1] == 5} == {ON, OFF}
    assert {request[3] for request in writes if request[2] == BEACON.address} == {2, 3}
    assert len(seen) > len(writes), "nothing was read"


async def life_with_server(port, bank):
    class Device:
        written: dict = {}  # noqa: RUF012 - nothing is written to it

    device = Device()
    device.port = port
    watch = OneLink(device, "tcp")
    watch.shows = lambda: (ON * bank.get_coils(10)[0], *bank.get_holding_registers(11, 2))
    async with at_work(watch):
        for _ in range(3):
            watch.annunciating.see("PDAH-101", U, Priority.HIGH)
            await watch.until(ON, 2)
            watch.annunciating.see("PDAH-101", N, Priority.HIGH)
            await watch.until(OFF, 3)
        await beats(watch, 3)
    return entries_of(watch.outputs)
