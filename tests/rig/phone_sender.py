"""A process that raises alarms, journals them and calls people: store and phone outlet, made to be killed.

Told on the command line, as JSON: ``folder``, ``people`` (name: channel URLs, in order), ``settings`` (further
fields of the phone settings), ``limit_s``, ``first`` (number of the next alarm), ``last``, ``a_second``,
``most_waiting`` (messages; then no new alarm is made), ``priorities``, ``life`` (number of this process). Takes
lines ``ack TAG PERSON``. Says ``up``, ``made NUMBER EVENT-ID SECOND`` once an alarm is on disk, ``acked TAG``
likewise, ``all`` after the last.
"""

import asyncio
import json
import logging
import random
import sys
import time
from pathlib import Path

from monitor.clock import Clock
from monitor.remember.settings import StoreSettings
from monitor.remember.store import Store
from monitor.tell.phone import gateway
from monitor.tell.phone.outlet import OUTLET, PhoneOutlet
from monitor.tell.phone.settings import Channel, Person, PhoneSettings, Route, Step
from monitor.tell.phone.source import Ties
from monitor.tell.phone.wording_context import Text
from monitor.words import AlarmState, Cause, Event, EventKind, Priority


def word(message, *, short):
    told = {
        "ref": message.ref,
        "kind": message.kind.value,
        "person": message.person,
        "ids": [alarm.event_id for alarm in message.alarms],
        "tags": [alarm.tag for alarm in message.alarms],
        "held_back": message.held_back,
    }
    return Text(message.ref, json.dumps(told))


def settings_of(told) -> PhoneSettings:
    """One person for each share of the collectors, with a step of its own."""
    people, names = {}, sorted(told["people"])
    for name, urls in told["people"].items():
        channels = [Channel(name=f"way{at}", url=url, limit_s=told["limit_s"]) for at, url in enumerate(urls)]
        people[name] = Person(name=name, channels=tuple(channels))
    areas = {collector_of(number): names[number // 2 % len(names)] for number in range(told["last"] + 1)}
    routes = tuple(
        Route(name=name, areas=frozenset({name}), steps=(Step(people=(name,)),), repeat_s=None) for name in names
    )
    return PhoneSettings(people=people, routes=routes, areas=areas, **told["settings"])


def collector_of(number) -> str:
    """Two alarms each, so that some are put together and some come when the first is told already."""
    return f"DC-{number // 2}"


def raised(number, life, at_utc_s, priority) -> Event:
    tag = f"PDAH-{number}.{life}"
    return Event(
        kind=EventKind.ALARM,
        happened="raised",
        at_utc_s=at_utc_s,
        text=f"{tag} is high",
        collector=collector_of(number),
        tag=tag,
        priority=Priority(priority),
        state_before=AlarmState.NORMAL,
        state=AlarmState.UNACKNOWLEDGED,
        cause=Cause.PROCESS,
        occurrence=f"{tag}@{number}",
        value=7.2,
        setpoint=7.0,
        unit="inH2O",
    )


def acknowledged(tag, person, at_utc_s) -> Event:
    number = int(tag.removeprefix("PDAH-").partition(".")[0])
    return Event(
        kind=EventKind.ALARM,
        happened="acknowledged",
        at_utc_s=at_utc_s,
        text=f"{tag} acknowledged",
        collector=collector_of(number),
        tag=tag,
        priority=Priority.HIGH,
        state_before=AlarmState.UNACKNOWLEDGED,
        state=AlarmState.ACKNOWLEDGED,
        cause=Cause.PERSON,
        by=person,
        occurrence=f"{tag}@{number}",
    )


class Sender:
    def __init__(self, told) -> None:
        self.told = told
        self.clock = Clock()
        self.store = Store.open(
            StoreSettings(folder=Path(told["folder"]), keep_events=200_000),
            now=lambda: self.clock.now(),  # noqa: PLW0108, another clock follows
            outlets=(OUTLET,),
        )
        self.clock = Clock(self.store.scan_s)
        self.dice = random.Random(told["first"])
        self.pending: list[tuple[int, str]] = []
        self.outlet = PhoneOutlet(
            settings_of(told),
            self.store,
            self.clock,
            Ties(self.journal, word, lambda reachable, detail: None),
            self.store.snapshots,
        )

    def journal(self, events, texts):
        return self.store.append(events, texts, self.clock.now().mono_s)

    def committed(self, seq) -> None:
        self.outlet.wake(seq)
        while self.pending and self.pending[0][0] <= seq:
            print(self.pending.pop(0)[1], flush=True)

    def take(self, event, say) -> None:
        (stamped,) = self.journal([event], {})
        self.pending.append((stamped.seq, say(stamped)))

    async def raise_alarms(self) -> None:
        for number in range(self.told["first"], self.told["last"]):
            while self.outlet.figures().waiting > self.told["most_waiting"]:  # noqa: ASYNC110, nobody rings
                await asyncio.sleep(0.05)
            priority = self.dice.choice(self.told["priorities"])
            event = raised(number, self.told["life"], self.clock.now().utc_s, priority)
            self.take(event, lambda one, number=number: f"made {number} {one.event_id} {time.monotonic():.4f}")
            await asyncio.sleep(self.dice.expovariate(self.told["a_second"]))
        await self.store.written()
        print("all", flush=True)

    async def take_orders(self) -> None:
        reader = asyncio.StreamReader()
        loop = asyncio.get_running_loop()
        await loop.connect_read_pipe(lambda: asyncio.StreamReaderProtocol(reader), sys.stdin)
        while line := await reader.readline():
            _, tag, person = line.decode().split()
            self.take(acknowledged(tag, person, self.clock.now().utc_s), lambda _, tag=tag: f"acked {tag}")

    async def run(self) -> None:
        gateway.load()
        loop = asyncio.get_running_loop()
        self.store.on_committed(lambda seq: loop.call_soon_threadsafe(self.committed, seq))
        print("up", flush=True)
        await asyncio.gather(self.outlet.run(), self.raise_alarms(), self.take_orders())


def main() -> None:
    logging.basicConfig(level=logging.INFO, stream=sys.stderr)
    asyncio.run(_run(json.loads(sys.argv[1])))


async def _run(told) -> None:
    await Sender(told).run()


if __name__ == "__main__":
    main()
