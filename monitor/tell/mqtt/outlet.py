"""Outlet: tells one broker everything, for as long as the daemon runs.

The journal holds the events; here is only a small window of them, so a broker that is gone for a day costs no
memory, and all of them arrive later, in order, each marked with when it happened. Delivery is at least once: after
a lost connection the unconfirmed ones are offered again under the same event id.
"""

import asyncio
import contextlib
import hashlib
import logging
import random
import socket

from monitor import __version__
from monitor.clock import Clock, real_s
from monitor.errors import PlantError
from monitor.figures import MqttFigures
from monitor.tell import payloads
from monitor.tell.heading import SiteHeading
from monitor.tell.mqtt import faults
from monitor.tell.mqtt.answers import Answers
from monitor.tell.mqtt.backoff import STOOD_S, Backoff
from monitor.tell.mqtt.board import Board, Content, Message
from monitor.tell.mqtt.command_door import CommandDoor, Submit
from monitor.tell.mqtt.command_talk import CommandTalk
from monitor.tell.mqtt.connection import Connection
from monitor.tell.mqtt.desk import Desk
from monitor.tell.mqtt.events import WINDOW_SIZE
from monitor.tell.mqtt.session import Session
from monitor.tell.mqtt.source import EventSource
from monitor.tell.mqtt.suspicion import Ending, Suspicion
from monitor.tell.mqtt.troubles import Subject
from monitor.tell.mqtt.verdict import SESSION_TAKEN_OVER
from monitor.tell.mqtt.window import Window
from monitor.tell.settings import MqttSettings
from monitor.tell.topics import Topics

log = logging.getLogger(__name__)

#: The name under which the journal keeps this outlet's cursor.
OUTLET = "mqtt"

#: Commands that are being carried out when we are told to stop get so long to be answered, seconds.
_LAST_ANSWERS_S = 0.2


class MqttOutlet:
    """One broker.

    Args:
        settings: the broker, from the site file.
        site: the site's name and its inch of water.
        journal: where the events are.
        clock: stamps the birth and the last words.
        instance_id: what tells this daemon's store from any other.
        submit: where commands go; without it, or with ``commands`` off, the broker is never asked for any.
    """

    def __init__(
        self,
        settings: MqttSettings,
        site: SiteHeading,
        journal: EventSource,
        clock: Clock,
        *,
        instance_id: str,
        submit: Submit | None = None,
    ) -> None:
        self.topics = Topics(settings.base_topic)
        self.client_id = settings.client_id or client_id_of(socket.gethostname(), site.name, instance_id)
        self._settings = settings
        self._clock = clock
        self._desk = Desk(
            settings=settings,
            site=site,
            outlet=OUTLET,
            topics=self.topics,
            journal=journal,
            window=Window(journal.cursor(OUTLET), WINDOW_SIZE),
            board=Board(settings.state_period_s),
            state_limit_bytes=settings.max_payload_bytes,
        )
        # Jitter only spreads reconnects; nobody can gain anything by guessing it.
        self._backoff = Backoff(random.Random())  # noqa: S311
        self._suspicion = Suspicion()
        self._session: Session | None = None
        self._commands: CommandTalk | None = None
        self._door: CommandDoor | None = None
        if settings.commands and submit is not None:
            self._door = CommandDoor(self.topics, submit, lambda: clock.now().utc_s)
        self._announced = False

    # -------------------------------------------------------------- what others call
    async def run(self) -> None:
        """Tell until cancelled; then say goodbye and hang up, within a second."""
        try:
            while True:
                stood_s = await self._one_connection()
                await asyncio.sleep(self._backoff.next_s(stood_s))
        finally:
            if self._door is not None:
                self._door.close()

    def wake(self, seq: int) -> None:
        """Events up to ``seq`` are in the journal and may be told."""
        if seq > self._desk.window.last_offered:
            self._desk.events_stir.set()

    def offer_state(self, topic: str, content: Content | str, *, urgent: bool = False) -> None:
        """Put up the newest retained message of a topic; the one before is forgotten if it has not gone out yet.

        Args:
            topic: one of ``self.topics``.
            content: the payload, or a function without side effects that builds it when its turn has come (it
                may be called again after a reconnect).
            urgent: at once and at QoS 1; otherwise at QoS 0, at most every ``state_period_s``.
        """
        board = self._desk.board
        before_s = board.next_s()
        board.pin(topic, content.encode() if isinstance(content, str) else content, real_s(), urgent=urgent)
        if urgent or board.next_s() < before_s:
            self._desk.states_stir.set()

    def forget(self, topic: str) -> None:
        """The topic is no more: remove its retained message from the broker, as soon as it can be reached."""
        self._desk.board.take_down(topic, real_s())
        self._desk.states_stir.set()

    def figures(self) -> MqttFigures:
        """How things stand, from memory."""
        desk = self._desk
        tally = desk.tally
        door = self._door
        return MqttFigures(
            connected=self._session is not None and self._session.born.is_set(),
            last_error=desk.troubles.text,
            published=tally.published,
            confirmed=tally.confirmed,
            refused=tally.refused,
            set_aside=tally.set_aside,
            withheld=tally.withheld,
            reconnects=max(0, tally.connections - 1),
            taken_over=tally.taken_over,
            in_flight=desk.window.in_flight,
            oldest_unconfirmed_s=desk.window.oldest_s(real_s()),
            waiting_states=len(desk.board),
            commands_received=0 if door is None else door.received,
            commands_refused=0 if door is None else door.refused,
            commands_subscribed=self._session is not None
            and self._commands is not None
            and self._commands.subscribed,
        )

    # -------------------------------------------------------------- one connection after another
    async def _one_connection(self) -> float:
        """Connect and talk until it ends; returns how long it stood, seconds."""
        answers = Answers()
        self._commands = None if self._door is None else CommandTalk(self._desk, self._door)
        will = self._last_words("connection lost", None)
        link = Connection(self._settings, self.client_id, will, answers.note, self._commands)
        try:
            await link.open()
            self._session = Session(self._desk, link, answers, self._commands)
            self._desk.tally.connections += 1
            await self._talk(self._session)
        except PlantError as trouble:
            return self._over(trouble)
        except asyncio.CancelledError:
            await self._answer_those_who_wait(link)
            await link.farewell(self._last_words("stopped", self._clock.now().utc_s), answers.has_success)
            raise
        finally:
            self._session = None
            link.cut()
            if self._door is not None:
                self._door.outbox.connection_ended()
        return 0.0

    async def _answer_those_who_wait(self, link: Connection) -> None:
        if self._commands is not None and link.commands is not None:
            await self._commands.finish(link, link.commands, _LAST_ANSWERS_S)

    async def _talk(self, session: Session) -> None:
        settled = asyncio.ensure_future(self._settle_down(session))
        try:
            await session.hold(self._birth())
        finally:
            settled.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await settled

    async def _settle_down(self, session: Session) -> None:
        """Say that we are connected; and after it has stood for a while, that the old troubles are forgotten."""
        await session.born.wait()
        self._desk.troubles.over(Subject.CONNECTION)
        if not self._announced:
            log.info("mqtt connected to=%s client_id=%s", faults.where(self._settings), self.client_id)
        self._announced = True
        await asyncio.sleep(STOOD_S)
        self._desk.troubles.forgive(Subject.CONNECTION)
        self._announced = False

    def _over(self, trouble: PlantError) -> float:
        """Draw the conclusions from a connection that failed or ended; returns how long it stood."""
        session, desk = self._session, self._desk
        sentence = str(trouble)
        stood_s = 0.0
        if session is not None:
            code = trouble.code if isinstance(trouble, faults.ConnectionLostError) else None
            ending = session.ending(real_s(), code)
            stood_s = ending.stood_s
            desk.window.rewind()
            sentence = self._suspect(ending) or sentence
        desk.troubles.say(Subject.CONNECTION, sentence)
        return stood_s

    def _suspect(self, ending: Ending) -> str:
        """Blame a message if one is to blame; returns a better sentence for the log if there is one."""
        desk = self._desk
        desk.tally.taken_over += ending.code == SESSION_TAKEN_OVER
        poisonous = self._suspicion.poisonous_event(ending)
        if poisonous is not None:
            desk.set_aside(poisonous, "the broker ends the connection each time this event is offered")
        limit = self._suspicion.state_limit(ending)
        if limit is not None:
            desk.state_limit_bytes = min(desk.state_limit_bytes, limit)
            return f"{faults.where(self._settings)} ends the connection when it is sent large states"
        if self._suspicion.is_flapping(ending):
            return (
                f"{faults.where(self._settings)} keeps ending the connection soon after taking it: "
                f"does another client use our client identifier {self.client_id!r}?"
            )
        return ""

    def _birth(self) -> Message:
        payload = payloads.availability(
            self._desk.site, online=True, version=__version__, at_utc_s=self._clock.now().utc_s
        )
        return Message(self.topics.availability, payloads.encode(payload), confirmed=True)

    def _last_words(self, why: str, at_utc_s: float | None) -> Message:
        payload = payloads.availability(
            self._desk.site, online=False, version=__version__, at_utc_s=at_utc_s, why=why
        )
        return Message(self.topics.availability, payloads.encode(payload), confirmed=True)


def client_id_of(host: str, site: str, instance: str) -> str:
    """A client identifier of our own, the same at every start.

    21 letters and digits, which every broker of MQTT 3.1.1 must accept (§3.1.3.1: up to 23).
    """
    digest = hashlib.sha256(f"{host}\0{site}\0{instance}".encode()).hexdigest()
    return f"cakewatch{digest[:12]}"
