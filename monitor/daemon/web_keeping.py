"""Web keeping: what the web server must remember over a restart: who is logged in, which links went out."""

import secrets
from collections.abc import Callable, Iterable, Iterator
from zoneinfo import ZoneInfo

from monitor.clock import Clock
from monitor.daemon.core import Core
from monitor.judge.alarm import Alarm
from monitor.remember.store import Store
from monitor.scan.happenings import occurrence
from monitor.tell.phone.message import ToldAlarm
from monitor.tell.phone.wording_times import by_the_clock
from monitor.tell.settings import HttpSettings
from monitor.tell.web_ack import Acks
from monitor.tell.web_links import AckLinks
from monitor.words import AlarmState, CommandKind, Door

SESSIONS_KEY = "web/sessions"
LINKS_KEY = "web/links"
SECRET_KEY = "web/secret"  # noqa: S105  the name of the secret, not the secret


class WebKeeping:
    """What is remembered for the web server, under its keys; and what it asks of the plant about people."""

    def __init__(self, store: Store, clock: Clock, core: Core) -> None:
        self._store = store
        self._clock = clock
        self._core = core
        self._texts = {key: store.snapshots.get(key, "") for key in (SESSIONS_KEY, LINKS_KEY, SECRET_KEY)}
        self._zone = "UTC"
        self._links: AckLinks | None = None

    def follow(self, time_zone: str) -> None:
        """Tell times by the wall clock of this zone from now on."""
        self._zone = time_zone

    def text(self, key: str) -> str:
        """What was kept last; empty for nothing."""
        return self._texts[key]

    def keeper(self, key: str) -> Callable[[str], None]:
        """Keeps a text under a key; ``Store.written`` says when it is on disk."""

        def keep(text: str) -> None:
            self._texts[key] = text
            self._store.remember({key: text}, self._clock.now().mono_s)

        return keep

    def may(self, person: str) -> Iterable[CommandKind]:
        """What a person may ask for over HTTP; of the empty name: what the machine itself may."""
        rules = self._core.plan.commands
        if not person:
            return rules.machine
        rights = rules.people.get(person)
        return rights.may if rights is not None and Door.HTTP in rights.doors else frozenset()

    def acks(self, settings: HttpSettings) -> Acks:
        """What the links of these settings need; older links go on."""
        self._links = AckLinks(
            self._secret(),
            settings.public_address,
            settings.link_life_s,
            self.text(LINKS_KEY),
            self.keeper(LINKS_KEY),
        )
        return Acks(links=self._links, standing=self._standing, local_time=self._local_time)

    def link(self, person: str, alarms: Iterable[ToldAlarm]) -> str:
        """A link by which this person acknowledges these alarms, once; empty where no phone can reach us."""
        if self._links is None:
            return ""
        return self._links.make(
            person, [(alarm.tag, alarm.occurrence) for alarm in alarms], self._clock.now().utc_s
        )

    def _secret(self) -> bytes:
        """What no link can be guessed without; made once, and it lies where all else lies that is remembered."""
        if not self._texts[SECRET_KEY]:
            self.keeper(SECRET_KEY)(secrets.token_hex(32))
        return bytes.fromhex(self._texts[SECRET_KEY])

    def _standing(self, tag: str) -> str | None:
        found = next((alarm for name, alarm in self._alarms() if name == tag), None)
        if found is None or found.state is AlarmState.NORMAL:
            return None
        return occurrence(tag, found.raised_utc_s)

    def _alarms(self) -> Iterator[tuple[str, Alarm]]:
        for state in self._core.told().values():
            yield from state.watch.alarms.items()
        for name, link in self._core.told_links().items():
            yield self._core.plan.links[name].alarm.tag, link.alarm

    def _local_time(self, utc_s: float) -> str:
        return by_the_clock(utc_s, self._clock.now().utc_s, ZoneInfo(self._zone))
