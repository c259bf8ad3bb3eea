"""The demonstration's broker, asked by the same client library the daemon uses and by mosquitto's tools."""

import asyncio
import logging
import shutil
import socket

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from monitor.cli.demo_broker import broker
from monitor.errors import CakewatchError


async def _published(port: int, topic: str, payload: str, retain: bool) -> bool:
    client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv311)
    await asyncio.to_thread(client.connect, "127.0.0.1", port)
    client.loop_start()
    told = client.publish(topic, payload, qos=1, retain=retain)
    await asyncio.to_thread(told.wait_for_publish, 5.0)
    client.disconnect()
    await asyncio.to_thread(client.loop_stop)
    return told.is_published()


async def _first_message(port: int, topic: str) -> tuple[str, bytes, bool]:
    loop = asyncio.get_running_loop()
    heard: asyncio.Future[tuple[str, bytes, bool]] = loop.create_future()

    def on_message(_client, _data, message):
        def keep() -> None:
            if not heard.done():
                heard.set_result((message.topic, message.payload, message.retain))

        loop.call_soon_threadsafe(keep)

    client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv311)
    client.on_connect = lambda *_: client.subscribe(topic, qos=1)
    client.on_message = on_message
    await asyncio.to_thread(client.connect, "127.0.0.1", port)
    client.loop_start()
    try:
        return await asyncio.wait_for(heard, 5.0)
    finally:
        client.disconnect()
        await asyncio.to_thread(client.loop_stop)


def test_a_retained_message_waits_for_who_comes_later() -> None:
    async def run():
        async with broker() as port:
            assert await _published(port, "cakewatch/alder-mill/DC-101", "4.5", retain=True)
            return await _first_message(port, "cakewatch/#")

    assert asyncio.run(run()) == ("cakewatch/alder-mill/DC-101", b"4.5", True)


def test_mosquittos_own_tools_can_listen() -> None:
    """The command shown on the screen must work as printed."""
    listener = shutil.which("mosquitto_sub")
    if listener is None:
        pytest.fail("mosquitto_sub is missing: apt install mosquitto-clients")

    async def run() -> bytes:
        async with broker() as port:
            await _published(port, "cakewatch/x", "seen", retain=True)
            process = await asyncio.create_subprocess_exec(
                *(listener, "-V", "mqttv311", "-h", "127.0.0.1", "-p", str(port), "-t", "cakewatch/#", "-C", "1"),
                stdout=asyncio.subprocess.PIPE,
            )
            shown, _ = await asyncio.wait_for(process.communicate(), 5.0)
            return shown

    assert asyncio.run(run()).strip() == b"seen"


def test_the_port_is_free_again_afterwards_and_nothing_was_logged(caplog: pytest.LogCaptureFixture) -> None:
    async def run() -> int:
        async with broker() as port:
            await _published(port, "a", "b", retain=False)
        return port

    with caplog.at_level(logging.DEBUG):
        port = asyncio.run(run())
    with socket.socket() as listener:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(("127.0.0.1", port))
    assert [record for record in caplog.records if record.name.startswith(("amqtt", "transitions"))] == []


def test_a_taken_port_gets_a_sentence() -> None:
    async def run() -> None:
        with socket.socket() as holder:
            holder.bind(("127.0.0.1", 0))
            holder.listen()
            async with broker(port=holder.getsockname()[1]):
                pass

    with pytest.raises(CakewatchError, match="is the port taken"):
        asyncio.run(run())
