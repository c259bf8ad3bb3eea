"""Phoning: the phone's side of the daemon: when it runs, what it journals, and that nobody is reached."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple

from monitor.clock import Clock
from monitor.daemon.core import Core
from monitor.daemon.phone_standing import standing
from monitor.daemon.phone_words import MakeLink, PhoneWords, Pieces, stand_now
from monitor.daemon.tasks import Tasks
from monitor.figures import LinkFigures, MqttFigures, PhoneFigures
from monitor.remember.store import Store
from monitor.site.plan import SitePlan
from monitor.tell.health import HealthReport
from monitor.tell.phone.message import Message, ToldAlarm
from monitor.tell.phone.outlet import OUTLET, PhoneOutlet
from monitor.tell.phone.source import Ties
from monitor.tell.phone.wording_context import StandNow, Text
from monitor.words import Event, EventKind, LinkChange

#: The name of the way to people among the links.
LINK = "phone"

_OFF = "the changed site file names nobody to call: nobody is called by phone any more"
_NOBODY = "nobody could be reached"


class PhoneLooks(NamedTuple):
    """What the daemon shows the phone.

    Attributes:
        pieces: the lowest and the highest DP of the last hours.
        make_link: a link to acknowledge by.
    """

    links: Callable[[], Mapping[str, LinkFigures]]
    health: Callable[[], HealthReport]
    mqtt: Callable[[], MqttFigures | None]
    pieces: Pieces
    make_link: MakeLink


class Phoning:
    """Everybody who can be called, while the site file names somebody.

    Args:
        store: where the events are, and what the phone remembered.
        clock: the daemon's.
        core: journals what was attempted.
        tasks: runs the outlet.
        put: hands over to the judge whether anybody is reached.
        looks: what messages are worded from.
    """

    def __init__(
        self,
        store: Store,
        clock: Clock,
        core: Core,
        tasks: Tasks,
        put: Callable[[LinkChange], None],
        looks: PhoneLooks,
    ) -> None:
        self._store = store
        self._clock = clock
        self._core = core
        self._tasks = tasks
        self._put = put
        self._looks = looks
        self._site = ""
        self._texts = {key: text for key, text in store.snapshots.items() if key.partition("/")[0] == OUTLET}
        self._outlet: PhoneOutlet | None = None
        self._words = PhoneWords(core, lambda: self._site, looks.pieces, self._link, self._stand)

    async def follow(self, plan: SitePlan) -> None:
        """Call whom this plan names, for what it says."""
        self._site = plan.name
        if plan.phone is None:
            if self._outlet is not None:
                await self.stop()
                self._forget()
            return
        self._words.follow(plan.phone)
        if self._outlet is not None:
            self._outlet.follow(plan.phone)
            return
        ties = Ties(journal=self._journal, word=self._word, reachable=self._reachable, healthy=self._is_healthy)
        self._outlet = PhoneOutlet(
            plan.phone, self._store, self._clock, ties, self._texts, standing=self._taken_up()
        )
        self._tasks.start("phone", self._outlet.run())

    def _taken_up(self) -> tuple[Event, ...]:
        """What stands unanswered where nothing is remembered of any call: people were only now named.

        With events on their way nobody can tell which of them raised what stands; those are told as they come.
        """
        if self._texts or self._store.figures().outlets[OUTLET].backlog:
            return ()
        return tuple(standing(self._core, self._clock.now()))

    async def stop(self) -> None:
        """Hang up; what is on its way is offered again after the next start."""
        await self._tasks.end("phone", within_s=1.0)
        self._outlet = None

    def committed(self, seq: int) -> None:
        """The journal has everything up to ``seq``."""
        if self._outlet is None:
            # As for a broker that the site file lost: nobody is to be told.
            self._store.confirm(OUTLET, seq)
        else:
            self._outlet.wake(seq)

    def figures(self) -> PhoneFigures | None:
        """How the relay is doing; None where nobody is to be called."""
        return None if self._outlet is None else self._outlet.figures()

    def _journal(self, events: Sequence[Event], texts: Mapping[str, str]) -> None:
        self._texts = {**self._texts, **texts}
        self._core.journal(events, self._clock.now(), texts)

    def _word(self, message: Message, *, short: bool) -> Text:
        return self._words.word(message, short_form=short)

    def _reachable(self, reachable: bool, detail: str, /) -> None:
        # The alarm says itself that nobody could be reached.
        self._put(LinkChange(LINK, reachable, self._clock.now(), detail.removeprefix(f"{_NOBODY} ")))

    def _is_healthy(self) -> bool:
        return self._looks.health().ok

    def _link(self, person: str, alarms: Iterable[ToldAlarm]) -> str:
        return self._looks.make_link(person, alarms)

    def _stand(self) -> StandNow:
        return stand_now(
            self._core,
            links=self._looks.links(),
            mqtt=self._looks.mqtt(),
            phone=self.figures() or PhoneFigures(),
            is_journal_ok=self._store.figures().healthy,
            now_utc_s=self._clock.now().utc_s,
        )

    def _forget(self) -> None:
        """What was open is forgotten; who is named again later is called for what stands then."""
        now = self._clock.now()
        event = Event(kind=EventKind.SYSTEM, happened="phone_off", at_utc_s=now.utc_s, text=_OFF)
        self._core.journal((event,), now, dict.fromkeys(self._texts, ""))
        self._texts = {}
