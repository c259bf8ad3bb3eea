"""Outlet: calls people, for as long as the daemon runs.

The relay decides, and is pure; here it is fed with the journal's events and with the time, and what it wants sent
goes out. A message leaves only when the state it belongs to is on disk: its reference names the alarms that were
put together at that moment, and a daemon that is killed must not put them together another way. What was on its
way then is offered again under the same reference. So delivery is at least once, and a repeat can be recognised.
"""

import asyncio
import logging
import threading
from collections.abc import Callable, Coroutine, Iterable, Mapping
from contextlib import suppress
from typing import Any

from monitor.clock import Clock
from monitor.errors import StoreError
from monitor.figures import PhoneFigures
from monitor.tell.phone import gateway, relay
from monitor.tell.phone.message import Message, Sent
from monitor.tell.phone.ping import Pinger
from monitor.tell.phone.post import Post, Send
from monitor.tell.phone.relay import Due
from monitor.tell.phone.remembered import Remembered
from monitor.tell.phone.settings import Channel, PhoneSettings
from monitor.tell.phone.source import EventSource, Ties
from monitor.tell.phone.wording_context import Text
from monitor.words import Event

log = logging.getLogger(__name__)

#: The name under which the journal keeps this outlet's cursor.
OUTLET = "phone"

#: Events read at once.
_BATCH = 100

#: A disk that hangs holds back a message no longer than this; real seconds.
_DISK_PATIENCE_S = 2.0

#: The time is looked at this often even if nothing is due: hours of duty go by a wall clock that may be set.
_LONGEST_REST_S = 30.0

#: After the journal could not be read, or something of ours failed, it is tried again after this long.
_PAUSE_S = 5.0


class PhoneOutlet:
    """Everybody who can be called.

    Args:
        settings: people, rotas, routes.
        source: where the events are; the store was opened with an outlet named ``OUTLET``.
        clock: the daemon's.
        ties: what the daemon does for it.
        texts: what the store remembered when it was opened.
        standing: alarms that stand unanswered and that no event to come tells of; people are called for them.
        send: hands a text to a channel; blocks, runs in threads.
        prepare: loads what ``send`` needs, in a thread; a sentence where it cannot.
    """

    def __init__(
        self,
        settings: PhoneSettings,
        source: EventSource,
        clock: Clock,
        ties: Ties,
        texts: Mapping[str, str],
        *,
        standing: Iterable[Event] = (),
        send: Send = gateway.send,
        prepare: Callable[[], str] = gateway.load,
    ) -> None:
        self._settings = settings
        self._source = source
        self._clock = clock
        self._ties = ties
        self._standing = tuple(standing)
        self._was_reachable: bool | None = None
        self._complaint = ""
        self._remembered = Remembered(texts)
        self._state = self._remembered.state
        self._post = Post(send)
        self._prepare = prepare
        self._pinger = Pinger(settings.ping, ties.healthy)
        self._stir = asyncio.Event()
        self._under_way: set[asyncio.Task[None]] = set()
        self._pinging: asyncio.Task[None] | None = None

    # -------------------------------------------------------------- what others call
    async def run(self) -> None:
        """Call people until cancelled; what is on its way then is offered again after the next start."""
        self._state = self._state._replace(seq=max(self._state.seq, self._source.cursor(OUTLET)))
        self._state = relay.resume(self._settings, self._state, self._clock.now())
        for event in self._standing:
            self._take(event)
        self._pinging = asyncio.get_running_loop().create_task(self._pinger.run())
        # It takes a fifth of a second, and more on a small machine: not while the first message waits.
        threading.Thread(target=self._get_ready, name="phone prepares", daemon=True).start()
        try:
            while True:
                await self._rest(await self._turn())
        finally:
            self._pinging.cancel()
            self._drop_what_is_under_way()

    def wake(self, seq: int) -> None:
        """Events up to ``seq`` are in the journal and may be told."""
        if seq > self._state.seq:
            self._stir.set()

    def follow(self, settings: PhoneSettings) -> None:
        """Go on with other settings; what is on its way is offered again under the same reference."""
        if settings == self._settings:
            return
        self._settings = settings
        self._pinger.follow(settings.ping)
        self._drop_what_is_under_way()
        self._state = relay.resume(settings, self._state, self._clock.now())
        self._stir.set()

    def figures(self) -> PhoneFigures:
        """How things stand, from memory."""
        counts, pings = relay.figures(self._state, self._clock.now()), self._pinger.figures
        return PhoneFigures(
            channels=self._post.figures(self._settings.people.values()),
            callouts=counts.callouts,
            waiting=counts.waiting,
            oldest_waiting_s=counts.oldest_waiting_s,
            held_back=counts.held_back,
            unreached=relay.unreached(self._state),
            pings=pings.pings,
            ping_failures=pings.failures,
            ping_error=pings.error,
        )

    def _get_ready(self) -> None:
        if problem := self._prepare():
            log.error("phone cannot send: %s", problem)

    # -------------------------------------------------------------- one turn after another
    async def _turn(self) -> float:
        """Take in what is new and do what is due; returns the real seconds until something is due again."""
        try:
            await self._take_new()
            self._do(relay.look(self._settings, self._state, self._clock.now()))
        except StoreError as error:
            self._complain(str(error), None)
            return _PAUSE_S
        except Exception as error:  # whatever it is, people must be called again when it is over
            self._complain(repr(error), error)
            return _PAUSE_S
        self._complaint = ""
        due_s = relay.due_s(self._state) - self._clock.now().mono_s
        return max(0.0, min(due_s / self._clock.speed, _LONGEST_REST_S))

    def _complain(self, why: str, fault: Exception | None) -> None:
        if why != self._complaint:
            log.error("phone is held up why=%r; tried again every %.0f s", why, _PAUSE_S, exc_info=fault)
        self._complaint = why

    async def _rest(self, seconds: float) -> None:
        # Not by ``wait_for``: before Python 3.12 it may swallow that we are told to stop.
        with suppress(TimeoutError):
            async with asyncio.timeout(seconds):
                await self._stir.wait()
        self._stir.clear()

    async def _take_new(self) -> None:
        while found := await self._source.events_after(self._state.seq, _BATCH):
            for event in found:
                self._take(event)

    def _take(self, event: Event) -> None:
        try:
            self._state = relay.take(self._settings, self._state, event, self._clock.now())
        except Exception:  # one event that we do not understand must not silence all the others
            log.exception("the phone relay could not take in event id=%s", event.event_id)
        self._state = self._state._replace(seq=max(self._state.seq, event.seq))

    def _do(self, due: Due) -> None:
        """Write down what was decided, then do it."""
        self._state = due.state
        texts = self._remembered.take(due.state)
        if due.events or texts:
            self._ties.journal(due.events, texts)
            self._source.confirm(OUTLET, due.state.seq)
        if due.messages:
            self._begin(self._hand_over(due.messages))
        self._say_whether_reachable()

    def _say_whether_reachable(self) -> None:
        detail = relay.unreached(self._state)
        if self._was_reachable is not (not detail):
            self._was_reachable = not detail
            self._ties.reachable(not detail, detail)

    # -------------------------------------------------------------- messages
    async def _hand_over(self, messages: Iterable[Message]) -> None:
        # Worded before all is written: a link that a message bears must outlast whatever happens next.
        worded = [(message, self._channel(message)) for message in messages]
        texts = [
            Text("", "") if channel is None else self._worded(message, channel) for message, channel in worded
        ]
        with suppress(TimeoutError, StoreError):  # better twice under two references than not at all
            async with asyncio.timeout(_DISK_PATIENCE_S):
                await self._source.written()
        for (message, channel), text in zip(worded, texts, strict=True):
            self._begin(self._tell(message, channel, text))

    async def _tell(self, message: Message, channel: Channel | None, text: Text) -> None:
        if channel is None:
            sent = Sent(delivered=False, took_s=0.0, why="no such channel any more")
        else:
            sent = await self._post.deliver(message.person, channel, text)
            self._post.count(message.person, channel.name, sent, self._clock.now().utc_s)
        self._do(relay.settle(self._settings, self._state, message, sent, self._clock.now()))
        self._stir.set()

    def _channel(self, message: Message) -> Channel | None:
        person = self._settings.people.get(message.person)
        return next((one for one in person.channels if one.name == message.channel), None) if person else None

    def _worded(self, message: Message, channel: Channel) -> Text:
        try:
            return self._ties.word(message, short=channel.short)
        except Exception:  # bare facts are better than silence
            log.exception("a message could not be worded ref=%s", message.ref)
            facts = [f"{alarm.priority} {alarm.tag}: {alarm.text}" for alarm in message.alarms]
            return Text("", " / ".join([*facts, message.ref])[: 160 if channel.short else None])

    def _begin(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.get_running_loop().create_task(work)
        self._under_way.add(task)
        task.add_done_callback(self._ended)

    def _ended(self, task: asyncio.Task[None]) -> None:
        self._under_way.discard(task)
        if not task.cancelled() and (error := task.exception()) is not None:
            log.error("the phone relay met a fault of its own", exc_info=error)

    def _drop_what_is_under_way(self) -> None:
        for task in self._under_way:
            task.cancel()
