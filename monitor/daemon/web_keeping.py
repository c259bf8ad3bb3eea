"""Web keeping: what the web server must remember over a restart: who is logged in, which links went out."""

from collections.abc import Callable, Iterable

from monitor.clock import Clock
from monitor.daemon.core import Core
from monitor.remember.store import Store
from monitor.words import CommandKind, Door

SESSIONS_KEY = "web/sessions"
LINKS_KEY = "web/links"


class WebKeeping:
    """What is remembered for the web server, under its keys."""

    def __init__(self, store: Store, clock: Clock, core: Core) -> None:
        self._store = store
        self._clock = clock
        self._core = core
        self._texts = {key: store.snapshots.get(key, "") for key in (SESSIONS_KEY, LINKS_KEY)}

    def text(self, key: str) -> str:
        """What was kept last; empty for nothing."""
        return self._texts[key]

    def keeper(self, key: str) -> Callable[[str], None]:
        """Keeps a text under a key; it is on disk a moment later, with whatever is written then."""

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
