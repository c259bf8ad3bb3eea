"""A store and a phone outlet on the loop of the test, with people who can be called."""

import asyncio
import contextlib

from monitor.clock import Clock
from monitor.remember.settings import StoreSettings
from monitor.remember.store import Store
from monitor.tell.phone import gateway
from monitor.tell.phone.message import Sent
from monitor.tell.phone.outlet import OUTLET, PhoneOutlet
from monitor.tell.phone.settings import Channel, Person, PhoneSettings, Route, Step
from monitor.tell.phone.source import Ties
from monitor.tell.phone.wording_context import Text
from monitor.words import Priority
from tests.tell.journal import event

OK = Sent(delivered=True, took_s=0.0)


def person(name, *urls, limit_s=5.0, short=False):
    channels = [
        Channel(name=f"way{at}", url=url, limit_s=limit_s, short=short) for at, url in enumerate(urls or ("x://",))
    ]
    return Person(name=name, channels=tuple(channels))


def settings(*people, **changes):
    """Each collector named after a person calls that person; any other calls the first."""
    routes = [Route(name=one.name, collectors=frozenset({one.name}), steps=(_step(one),)) for one in people]
    routes.append(Route(name="rest", steps=(_step(people[0]),)))
    fields = {"gather_s": 0.0, "tries": 2, "first_retry_s": 0.1, "longest_retry_s": 0.4}
    return PhoneSettings(people={one.name: one for one in people}, routes=tuple(routes), **(fields | changes))


def _step(one):
    return Step(people=(one.name,))


def word(message, *, short):
    tags = " ".join(alarm.tag for alarm in message.alarms)
    return Text("" if short else message.ref, f"{message.kind} {tags} {message.ref}")


class Calling:
    """Use as an asynchronous context; ``kill`` ends the outlet without a word."""

    def __init__(self, folder, told, send=gateway.send, **changes):
        self.folder, self.told, self.send = folder, told, send
        self.word = changes.get("word", word)
        self.healthy = changes.get("healthy", lambda: True)
        self.reachable: list[tuple[bool, str]] = []
        self._number = 0

    async def __aenter__(self):
        self.clock = Clock()
        self.store = Store.open(
            StoreSettings(folder=self.folder), now=lambda: self.clock.now(), outlets=(OUTLET,)  # noqa: PLW0108
        )  # fmt: skip
        self.clock = Clock(self.store.scan_s)
        ties = Ties(self.journal, self.word, lambda *told: self.reachable.append(told), self.healthy)
        self.outlet = PhoneOutlet(self.told, self.store, self.clock, ties, self.store.snapshots, **self._gateway())
        loop = asyncio.get_running_loop()
        self.store.on_committed(lambda seq: loop.call_soon_threadsafe(self.outlet.wake, seq))
        self.task = asyncio.create_task(self.outlet.run())
        await asyncio.sleep(0)
        return self

    def _gateway(self):
        return {} if self.send is gateway.send else {"send": self.send, "prepare": str}

    async def __aexit__(self, *_):
        await self.stop()
        await self.store.close()

    async def stop(self):
        self.task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await self.task

    def journal(self, events, texts):
        return self.store.append(events, texts, self.clock.now().mono_s)

    def raise_alarm(self, collector="anna", priority=Priority.URGENT, **changes):
        self._number += 1
        tag = changes.pop("tag", f"PDAH-{self._number}")
        fields = {"collector": collector, "tag": tag, "priority": priority, "occurrence": f"{tag}@{self._number}"}
        (stamped,) = self.journal([event(at_utc_s=self.clock.now().utc_s, **(fields | changes))], {})
        return stamped

    def acknowledge(self, raised, by="anna"):
        (stamped,) = self.journal(
            [event(happened="acknowledged", collector=raised.collector, tag=raised.tag, by=by,
                   occurrence=raised.occurrence, at_utc_s=self.clock.now().utc_s)], {}
        )  # fmt: skip
        return stamped

    async def journaled(self, happened):
        await self.store.written()
        return [one for one in await self.store.events_after(0, 1000) if one.happened == happened]


async def until(holds, within_s=5.0):
    """Wait until something holds."""
    async with asyncio.timeout(within_s):
        while not (found := holds()):  # noqa: ASYNC110, nobody rings
            await asyncio.sleep(0.01)
    return found
