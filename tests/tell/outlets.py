"""An outlet run beside a test, ended in good order."""

import asyncio
import contextlib

from monitor.clock import Clock
from monitor.tell.mqtt.outlet import MqttOutlet
from monitor.tell.settings import MqttSettings
from tests.tell.journal import FakeJournal
from tests.tell.mill import SITE


def outlet_for(port: int, journal: FakeJournal, **changes) -> MqttOutlet:
    fields = {"host": "127.0.0.1", "port": port, "state_period_s": 0.1} | changes
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
