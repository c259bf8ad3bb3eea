"""The outlet before a real mosquitto: what a subscriber sees when the broker is well, gone, frozen or refusing."""

import asyncio
import contextlib
import time

import pytest

from monitor.clock import Clock
from monitor.tell.heading import SiteHeading
from monitor.tell.mqtt.outlet import MqttOutlet
from monitor.tell.settings import MqttSettings
from tests.peers.mosquitto import Mosquitto
from tests.tell.journal import FakeJournal
from tests.tell.subscriber import Subscriber, until

pytestmark = pytest.mark.anyio

SITE = SiteHeading("Alder Mill")
BOTH = pytest.mark.parametrize("version", [5, 3], ids=["MQTT 5", "MQTT 3.1.1"])


def outlet_for(broker: Mosquitto, journal: FakeJournal, **changes) -> MqttOutlet:
    fields = {"host": "127.0.0.1", "port": broker.port, "state_period_s": 0.1} | changes
    return MqttOutlet(MqttSettings(**fields), SITE, journal, Clock(), instance_id="store-1")


@contextlib.asynccontextmanager
async def running(outlet: MqttOutlet):
    task = asyncio.ensure_future(outlet.run())
    try:
        yield task
    finally:
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await task


@BOTH
async def test_birth_comes_first_and_events_follow_in_order_and_are_confirmed(broker, version):
    journal = FakeJournal()
    journal.add(50)
    outlet = outlet_for(broker, journal, version=version)
    with Subscriber(broker.port) as subscriber:
        await asyncio.sleep(0.2)
        outlet.offer_state("cakewatch/collectors/DC-101/state", b'{"n":1}')
        async with running(outlet):
            await until(lambda: len(subscriber.seqs()) == 50)
            await until(lambda: journal.cursor("mqtt") == 50)
            journal.add()
            outlet.wake(51)
            began = time.monotonic()
            await until(lambda: subscriber.seqs()[-1] == 51)
            assert time.monotonic() - began < 0.2

        assert subscriber.heard[0].topic == "cakewatch/availability"
        assert subscriber.heard[0].json["online"] is True
        assert subscriber.seqs() == list(range(1, 52))
        assert outlet.figures().in_flight == 0
        assert outlet.figures().confirmed == 51


@BOTH
async def test_stopping_says_goodbye_within_a_second(broker, version):
    outlet = outlet_for(broker, FakeJournal(), version=version)
    with Subscriber(broker.port) as subscriber:
        async with running(outlet) as task:
            await until(lambda: outlet.figures().connected)
            began = time.monotonic()
            task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await task
            assert time.monotonic() - began < 1.0
        await until(lambda: len(subscriber.of("cakewatch/availability")) >= 2)
        last = subscriber.of("cakewatch/availability")[-1].json

    assert (last["online"], last["why"]) == (False, "stopped")
    assert last["at"] is not None
