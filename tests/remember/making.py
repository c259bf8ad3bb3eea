"""Making: events, readings and open stores for the tests of this room."""

import asyncio
import sqlite3
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from pathlib import Path

from monitor.clock import Clock
from monitor.remember.settings import StoreSettings
from monitor.remember.store import Store
from monitor.words import Event, EventKind, Instant, PointId, Quality, Reading, Reason, Role

DP_101 = PointId("DC-101", Role.DP)


def an_event(
    text: str = "DP is high", *, at_utc_s: float = 1_700_000_000.0, tag: str | None = "PDAH-101"
) -> Event:
    return Event(
        kind=EventKind.ALARM, happened="raised", at_utc_s=at_utc_s, text=text, collector="DC-101", tag=tag
    )


def a_reading(at_s: float, value: float | None = 3.0, quality: Quality = Quality.GOOD) -> Reading:
    reason = Reason.NONE if quality is Quality.GOOD else Reason.STALE
    return Reading(quality=quality, reason=reason, at=Instant(at_s, at_s), value=value)


def open_store(folder: Path, outlets: Sequence[str] = ("mqtt",), utc_s: float | None = None, **settings) -> Store:
    clock = Clock()
    now = clock.now if utc_s is None else lambda: Instant(clock.now().mono_s, utc_s)
    settings = {"flush_s": 1.0, **settings}
    return Store.open(StoreSettings(folder=folder, **settings), now=now, outlets=outlets)


@asynccontextmanager
async def opened(folder: Path, outlets: Sequence[str] = ("mqtt",), **settings) -> AsyncIterator[Store]:
    store = open_store(folder, outlets, **settings)
    try:
        yield store
    finally:
        await store.close()


async def until(holds: Callable[[], bool], within_s: float = 10.0) -> None:
    """Wait for something that another thread will make true."""
    async with asyncio.timeout(within_s):
        while not holds():  # noqa: ASYNC110  # what is waited for happens on another thread
            await asyncio.sleep(0.005)


async def told(store: Store, seq: int, within_s: float = 10.0) -> None:
    """Wait until the event may be told."""
    await until(lambda: store._writer._announced >= seq, within_s)


async def on_thread(store: Store, job: Callable[[], object]) -> object:
    """Do something on the writer's thread, between two transactions."""
    return await asyncio.wrap_future(store._writer.ask(job, lambda error: False))


def read(path: Path, question: str) -> list[tuple]:
    """What another program sees in a file."""
    connection = sqlite3.connect(path)
    try:
        return connection.execute(question).fetchall()
    finally:
        connection.close()


def texts(events: Sequence[Event]) -> list[str]:
    return [event.text for event in events]
