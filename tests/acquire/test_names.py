"""Host names: found, unknown, and never a reason to wait at the end."""

import asyncio
import socket
import subprocess
import sys
import time

import pytest

from monitor.acquire import names
from monitor.acquire.connection import Connection
from monitor.acquire.settings import Address
from monitor.words import Reason
from tests.acquire.desk import good, in_loop, plan_for, right, running
from tests.peers.fault_device import FaultDevice

SLOW_TO_END = """
import asyncio, socket, time
socket.getaddrinfo = lambda *_, **__: time.sleep(20)
from monitor.acquire.names import addresses_of
async def main():
    async with asyncio.timeout(0.1):
        await addresses_of("slow.plant.example", 502)
try:
    asyncio.run(main())
except TimeoutError:
    print("given up")
"""


def link_to(host):
    return plan_for(0, where=Address(host=host)).link


async def refusal(host):
    return await Connection(link_to(host), lambda: None).open()


@in_loop
async def test_a_device_is_found_by_its_name():
    async with FaultDevice() as device:
        plan = plan_for(device.port, where=Address(host="localhost", port=device.port))
        async with running(plan) as desk:
            await desk.fresh(good)

    assert right(desk.reads[-1])


@in_loop
async def test_an_unknown_name_is_said_in_a_plain_sentence(monkeypatch):
    def unknown(*_args, **_more):
        raise socket.gaierror(-2, "Name or service not known")

    monkeypatch.setattr(names.socket, "getaddrinfo", unknown)
    failure = await refusal("nowhere.plant.example")

    assert (failure.reason, failure.detail) == (Reason.NO_CONNECTION, "cannot resolve nowhere.plant.example")


@in_loop
async def test_a_resolver_that_hangs_costs_no_more_than_the_limit(monkeypatch):
    monkeypatch.setattr(names.socket, "getaddrinfo", lambda *_, **__: time.sleep(3) or [])
    began_s = time.monotonic()
    failure = await refusal("slow.plant.example")

    assert failure.detail == "cannot resolve slow.plant.example within 1.2 s"
    assert time.monotonic() - began_s < 2.0


def test_the_process_ends_while_a_name_is_still_looked_up():
    began_s = time.monotonic()
    ended = subprocess.run(
        [sys.executable, "-c", SLOW_TO_END], capture_output=True, text=True, timeout=15, check=True
    )

    assert ended.stdout == "given up\n"
    assert time.monotonic() - began_s < 5.0


@pytest.mark.parametrize("host", ["127.0.0.1", "::1"])
def test_a_numeric_address_is_not_looked_up(host, monkeypatch):
    monkeypatch.setattr(names.socket, "getaddrinfo", None)

    assert asyncio.run(names.addresses_of(host, 502)) == [host]
