"""News: what of the plant the open pages have not been told yet: figures, whole cards, links and outlets."""

from collections.abc import Iterable, Iterator
from typing import Any

from monitor.tell.page import whole
from monitor.tell.page.cards import Values, shape, values
from monitor.tell.page.rounding import rounded
from monitor.tell.page.whole import Look
from monitor.tell.page.writing import message
from monitor.words import Priority

Payload = dict[str, Any]

#: Figures that look the same are told again this often, so that their age can be seen (our choice).
SAME_AGAIN_S = 5.0
#: A card with an active alarm is looked at anew this often: what may be behind it moves by itself.
LIKELY_AGAIN_S = 30.0


class News:
    """What was told last of each collector; bounded by the collectors there are."""

    def __init__(self) -> None:
        self._dirty: set[str] = set()
        self._shapes: dict[str, tuple[object, ...]] = {}
        self._values: dict[str, Values] = {}
        self._active: dict[str, float] = {}
        self._links: list[Payload] | None = None
        self._outlets: Payload | None = None

    def changed(self, names: Iterable[str]) -> None:
        """These have something new; told or not is found out when it is time."""
        self._dirty.update(names)

    def messages(self, look: Look) -> Iterator[bytes]:
        """What is to be told now, as messages of a stream."""
        dirty, self._dirty = self._dirty, set()
        known = [name for name in dirty if name in look.states and name in look.plan.collectors]
        anew = self._new_shapes(look, known)
        if figures := self._new_values(look, [name for name in known if name not in anew]):
            yield message("values", {"at_utc_s": rounded(look.now.utc_s), "dp": figures})
        more = self._new_surroundings(look)
        if anew or more:
            cards = whole.cards(look, sorted(anew))
            self._note_active(cards, look.now.utc_s)
            yield message("cards", {"at_utc_s": rounded(look.now.utc_s), "collectors": cards, **more})

    def _new_shapes(self, look: Look, names: list[str]) -> set[str]:
        found = set()
        for name in names:
            shown = shape(look.plan.collectors[name], look.states[name])
            if self._shapes.get(name) != shown:
                self._shapes[name] = shown
                self._values[name] = values(look.states[name])
                found.add(name)
        again = {name for name, due_s in self._active.items() if due_s <= look.now.utc_s}
        return found | {name for name in again if name in look.states and name in look.plan.collectors}

    def _new_values(self, look: Look, names: list[str]) -> Payload:
        found: Payload = {}
        for name in names:
            now, before = values(look.states[name]), self._values.get(name)
            if before is None or _looks_other(now, before) or abs(now[2] - before[2]) >= SAME_AGAIN_S:
                self._values[name] = now
                found[name] = now
        return found

    def _new_surroundings(self, look: Look) -> Payload:
        more: Payload = {}
        links, outlets = whole.links(look), whole.outlets(look.outlets)
        for one in links:
            if one["alarm"] is not None:
                del one["alarm"]["at"]  # every look has another
        if links != self._links:
            self._links, more["links"] = links, whole.links(look)
        if outlets != self._outlets:
            self._outlets, more["outlets"] = outlets, outlets
        return more

    def _note_active(self, cards: list[Payload], now_utc_s: float) -> None:
        for one in cards:
            if one["worst"] in set(Priority):
                self._active[one["name"]] = now_utc_s + LIKELY_AGAIN_S
            else:
                self._active.pop(one["name"], None)


def _looks_other(now: Values, before: Values) -> bool:
    return (now[:2], now[3:]) != (before[:2], before[3:])
