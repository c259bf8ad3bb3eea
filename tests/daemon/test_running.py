"""The daemon's life where the rig cannot easily go: faults of its own, and what a reload hands on."""

import asyncio
from dataclasses import replace

import pytest

from monitor.clock import Clock
from monitor.daemon import telling
from monitor.daemon.running import Daemon
from monitor.figures import MqttFigures
from monitor.remember.settings import StoreSettings
from monitor.remember.store import Store
from monitor.site.plan import SitePlan
from monitor.tell.mqtt.outlet import OUTLET
from monitor.tell.settings import MqttSettings
from monitor.tell.topics import Topics
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
    return Store.open(StoreSettings(folder=folder), now=Clock().now, outlets=(OUTLET,))


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
