"""Events: the journal's events go out in order, a few at a time, each held until the broker confirmed it."""

from monitor.clock import real_s
from monitor.tell import payloads
from monitor.tell.mqtt import faults
from monitor.tell.mqtt.connection import Connection
from monitor.tell.mqtt.desk import Desk, stirred
from monitor.tell.mqtt.troubles import Subject
from monitor.tell.mqtt.verdict import Verdict, verdict_of
from monitor.words import Event

#: Events offered at once.
WINDOW_SIZE = 20

#: After a refusal that somebody may mend, the first event is offered again this often.
HOLD_S = 30.0

#: … and within this time on a new connection.
HOLD_ANEW_S = 3.0

#: After the journal could not be read, it is asked again after this long.
_JOURNAL_PAUSE_S = 5.0

#: Room for the packet's header in the broker's limit.
_HEADER_BYTES = 32


class EventTeller:
    """Tells events over one connection."""

    def __init__(self, desk: Desk, link: Connection) -> None:
        self._desk = desk
        self._link = link
        self._journal_rests_until_s = 0.0

    async def prove_head(self) -> None:
        """Offer the oldest event alone and wait for its answer."""
        await self._offer_all()
        while self._desk.window.in_flight:
            await stirred(self._desk.events_stir, 1.0)

    async def run(self) -> None:
        """Offer what the journal has, for ever."""
        while True:
            await self._offer_all()
            held_s = self._desk.held_until_s - real_s()
            await stirred(self._desk.events_stir, min(1.0, held_s) if held_s > 0 else 1.0)

    def answered(self, message_id: int, code: int) -> None:
        """Take in the broker's answer; one that answers nothing in flight is passed over.

        Raises:
            ConnectionLostError: the two sides disagree about what is in flight.
        """
        desk = self._desk
        seq = desk.window.seq_of(message_id)
        if seq is None:
            return
        match verdict_of(code):
            case Verdict.CONFIRMED:
                desk.tally.confirmed += 1
                desk.troubles.forgive(Subject.EVENTS)
                desk.moved(desk.window.settle(message_id))
            case Verdict.POISON:
                desk.tally.refused += 1
                desk.set_aside(seq, faults.message_refused(desk.topics.events, code), message_id)
            case Verdict.HOLD:
                self._hold(code)
            case Verdict.RECONNECT:
                raise faults.ConnectionLostError(faults.message_refused(desk.topics.events, code), code)

    def _hold(self, code: int) -> None:
        desk = self._desk
        desk.tally.refused += 1
        desk.window.rewind()
        desk.held_until_s = real_s() + HOLD_S
        refused = faults.message_refused(desk.topics.events, code)
        desk.troubles.say(
            Subject.EVENTS, f"{refused}; the events wait, and are offered again every {HOLD_S:.0f} s"
        )

    async def _offer_all(self) -> None:
        window = self._desk.window
        while window.room and real_s() >= max(self._desk.held_until_s, self._journal_rests_until_s):
            asked_after = window.last_offered
            found = await self._desk.read_events(asked_after, window.room)
            if found is None:
                self._journal_rests_until_s = real_s() + _JOURNAL_PAUSE_S
            if not found:
                return
            # An answer may have rewound the window while the journal was read: what was read is then too old.
            if window.last_offered == asked_after:
                for happening in found:
                    self._offer(happening)

    def _offer(self, happening: Event) -> None:
        desk = self._desk
        payload = payloads.encode(payloads.event(desk.site, happening))
        limit = self._limit_bytes()
        if len(payload) > limit:
            desk.set_aside(happening.seq, f"its message has {len(payload)} bytes, and {limit} are allowed")
            return
        message_id = self._link.publish(desk.topics.events, payload, confirmed=True, retain=False)
        desk.window.offer(happening.seq, message_id, real_s())
        desk.tally.published += 1

    def _limit_bytes(self) -> int:
        limit = self._desk.settings.max_payload_bytes
        packet = self._link.max_packet_bytes
        return (
            limit
            if packet is None
            else min(limit, packet - len(self._desk.topics.events.encode()) - _HEADER_BYTES)
        )
