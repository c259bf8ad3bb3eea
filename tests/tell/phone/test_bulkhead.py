"""Bulkhead: what hangs keeps its place and nobody else's."""

import asyncio
import threading
import time

import pytest

from monitor.tell.phone.bulkhead import Bulkhead, Full, Overrun

pytestmark = pytest.mark.anyio


@pytest.fixture
def anyio_backend():
    return "asyncio"


@pytest.fixture
def gate():
    """What hangs, hangs until this is set."""
    gate = threading.Event()
    yield gate
    gate.set()


async def test_an_outcome_comes_back():
    assert await Bulkhead("b", 1).run(lambda: 42, 1.0) == 42


async def test_what_goes_wrong_comes_back_too():
    def fails():
        raise OSError("no")

    bulkhead = Bulkhead("b", 1)
    for _ in range(2):
        with pytest.raises(OSError):
            await bulkhead.run(fails, 1.0)


async def test_what_overruns_is_left_behind_and_keeps_its_place(gate):
    bulkhead = Bulkhead("b", 1)
    with pytest.raises(Overrun):
        await bulkhead.run(lambda: gate.wait(9), 0.05)
    assert bulkhead.left_behind == 1
    with pytest.raises(Full):
        await bulkhead.run(lambda: True, 5.0)
    gate.set()
    await asyncio.sleep(0.1)
    assert bulkhead.left_behind == 0
    assert await bulkhead.run(lambda: True, 1.0)


async def test_leftovers_never_grow_beyond_the_places(gate):
    bulkhead = Bulkhead("leftover", 3)
    for _ in range(12):
        with pytest.raises((Overrun, Full)):
            await bulkhead.run(lambda: gate.wait(9), 0.01)
    assert sum(thread.name == "leftover" for thread in threading.enumerate()) == 3


async def test_nobody_waits_for_a_place_longer_than_the_limit(gate):
    bulkhead = Bulkhead("b", 1)
    first = asyncio.create_task(bulkhead.run(lambda: gate.wait(9), 5.0))
    await asyncio.sleep(0.05)
    began_s = time.monotonic()
    with pytest.raises(Full):
        await bulkhead.run(lambda: True, 0.1)
    assert time.monotonic() - began_s < 0.5
    gate.set()
    assert await first


async def test_a_waiter_that_is_called_off_leaves_its_thread_behind_and_its_place_comes_back(gate):
    bulkhead = Bulkhead("b", 1)
    waiter = asyncio.create_task(bulkhead.run(lambda: gate.wait(9), 5.0))
    await asyncio.sleep(0.05)
    waiter.cancel()
    await asyncio.gather(waiter, return_exceptions=True)
    assert bulkhead.left_behind == 1
    gate.set()
    await asyncio.sleep(0.1)
    assert await bulkhead.run(lambda: True, 1.0)


async def test_what_blocks_does_not_touch_the_pool_of_the_loop(gate):
    bulkheads = [Bulkhead("b", 1) for _ in range(40)]
    hanging = [asyncio.create_task(each.run(lambda: gate.wait(9), 1.0)) for each in bulkheads]
    await asyncio.sleep(0.05)
    async with asyncio.timeout(0.5):
        await asyncio.get_running_loop().run_in_executor(None, time.sleep, 0.0)
    gate.set()
    await asyncio.gather(*hanging)
