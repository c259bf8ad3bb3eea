"""The daemon's life where the rig cannot easily go: faults of its own, and what a reload hands on."""

import asyncio
from dataclasses import replace

import pytest

from monitor.clock import Clock
from monitor.daemon import telling
from monitor.daemon.running import Daemon
from monitor.daemon.telling import OUTLETS
from monitor.figures import MqttFigures
from monitor.remember.settings import StoreSettings
from monitor.remember.store import Store
from monitor.site.plan import SitePlan
from monitor.tell.settings import HttpSettings, MqttSettings
from monitor.tell.topics import Topics
from tests.peers.mosquitto import free_port
from tests.scan.plans import plan

pytestmark = pytest.mark.anyio

LIMIT_S = 10.0


@pytest.fixture
def anyio_backend():
    return "asyncio"


def site(folder, **changes):
    fields = {
        "name": "Alder Mill",
        "inch_of_water": "conventional",
        "pa_per_inh2o": 249.08891,
        "links": {},
        "collectors": {"DC-101": plan()},
        "store": StoreSettings(folder=folder),
    }
    return SitePlan(**(fields | changes))


def opened(folder):
    return Store.open(StoreSettings(folder=folder), now=Clock().now, outlets=OUTLETS)


async def test_a_judge_that_fails_again_on_the_way_out_leaves_a_closed_store(tmp_path, monkeypatch):
    daemon = Daemon(site(tmp_path), opened(tmp_path), Clock())

    def fail(_what, _now):
        raise ZeroDivisionError("a fault of ours")

    monkeypatch.setattr(daemon.core, "take", fail)
    with pytest.raises(ZeroDivisionError):
        async with asyncio.timeout(LIMIT_S):
            await daemon.run()

    again = opened(tmp_path)
    told = [event.happened for event in await again.last_events(5)]
    await again.close()
    assert told[-1] == "stopped"


class Outlet:
    """Stands where the MQTT outlet would, and notes for which site it was made."""

    made = ()

    def __init__(self, _settings, heading, _journal, _clock, *, instance_id, submit):
        assert instance_id
        assert submit
        self.topics = Topics("cakewatch")
        Outlet.made += (heading.name,)

    async def run(self):
        await asyncio.Event().wait()

    def offer_state(self, _topic, _content, *, urgent=False):
        pass

    def wake(self, _seq):
        pass

    def figures(self):
        return MqttFigures()


async def test_a_site_renamed_by_a_reload_is_told_under_its_new_name(tmp_path, monkeypatch):
    monkeypatch.setattr(telling, "MqttOutlet", Outlet)
    first = site(tmp_path, mqtt=MqttSettings(host="broker.plant.example", port=1883))
    daemon = Daemon(first, opened(tmp_path), Clock())
    async with asyncio.timeout(LIMIT_S):
        running = asyncio.create_task(daemon.run())
        await asyncio.sleep(0.1)
        await daemon.reload(replace(first, collectors={"DC-101": replace(plan(), description="planer")}))
        await daemon.reload(replace(first, name="Birch Mill"))
        daemon.stop()
        await running

    assert Outlet.made == ("Alder Mill", "Birch Mill")


async def test_without_a_control_socket_it_watches_all_the_same_and_says_so(tmp_path):
    (tmp_path / "control.sock").mkdir()
    daemon = Daemon(site(tmp_path), opened(tmp_path), Clock())
    async with asyncio.timeout(LIMIT_S):
        running = asyncio.create_task(daemon.run())
        await asyncio.sleep(0.2)
        assert not running.done()
        daemon.stop()
        await running

    again = opened(tmp_path)
    told = {event.happened: event.text for event in await again.last_events(5)}
    await again.close()
    assert "control.sock" in told["control_not_open"]
    assert "stopped" in told


async def test_a_reload_of_the_http_address_leaves_the_command_line_its_way_in(tmp_path):
    first = site(tmp_path)
    daemon = Daemon(first, opened(tmp_path), Clock())
    async with asyncio.timeout(LIMIT_S):
        running = asyncio.create_task(daemon.run())
        await asyncio.sleep(0.2)
        before = (tmp_path / "control.sock").stat().st_ino
        await daemon.reload(replace(first, http=HttpSettings(port=free_port())))
        assert (tmp_path / "control.sock").stat().st_ino == before
        daemon.stop()
        await running

    assert not (tmp_path / "control.sock").exists()
