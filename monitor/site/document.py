"""Document: the YAML file as written, with the line of every key. The only reader of YAML.

YAML 1.1 guesses: ``on`` becomes true, ``017`` becomes 15, ``12:30:00`` becomes 45000, a repeated key silently
wins, and a few nested aliases become gigabytes. So this builds its own tree from the parser's events: every
value stays the text that stands in the file, and what can mislead is refused with its line. Events, not
composed nodes, because the depth can be bounded before anything is built, and because it is faster.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import yaml

from monitor.site.problems import KeyPath, Place, Problem, dotted
from monitor.site.syntax import sentence_for

MOST_BYTES = 1_000_000
MOST_DEPTH = 12

# The C parser where PyYAML was built with it: ten times faster, and the same events.
_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

_TAB_INDENT = re.compile(r"[ ]*\t[\s]*[^\s#]")
# What YAML 1.1 calls printable, less the marks that only some readers take for a line break.
_UNPRINTABLE = re.compile(
    "[^\t\n\r\x20-\x7e\xa0-\u2027\u202a-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"
)


@dataclass(slots=True)
class Document:
    """A site file taken apart.

    Attributes:
        data: nested dicts and lists whose leaves are all text.
        places: where each key (or list item) stands.
        problems: what is wrong with the file as YAML.
        holes: places that were reported already, and that nothing more needs to be said about.
        is_whole: False where what can be read of the file is too broken to judge its meaning.
    """

    data: dict[str, Any] = field(default_factory=dict)
    places: dict[KeyPath, Place] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    holes: set[KeyPath] = field(default_factory=set)
    is_whole: bool = True

    def place_of(self, path: KeyPath) -> Place:
        """Return where a key stands, or else the nearest key above it."""
        while path and path not in self.places:
            path = path[:-1]
        return self.places.get(path, Place(1, 1))

    def problem(self, path: KeyPath, wanted: str, found: str = "") -> Problem:
        """Return a problem with its place filled in."""
        place = self.place_of(path)
        return Problem(place.line, place.column, dotted(path), found, wanted)

    def refuse(self, place: Place, wanted: str, path: KeyPath = ()) -> None:
        """Note a problem with the file as YAML; its meaning is not judged any more."""
        self.problems.append(Problem(place.line, place.column, dotted(path), "", wanted))
        self.is_whole = False


def read(raw: bytes) -> Document:
    """Return the file taken apart; never raises, whatever the bytes."""
    document = Document()
    text = _decoded(raw, document)
    if text is None or _has_bad_marks(text, document):
        return document
    try:
        _Builder(document, yaml.parse(text, Loader=_LOADER)).build()
    except _TooDeepError:
        pass
    except yaml.MarkedYAMLError as error:
        document.refuse(_place_of_error(error), sentence_for(error.problem or ""))
    except (yaml.YAMLError, ValueError, OverflowError):
        # The pure Python reader lets a few of these through for wild escapes such as "\UFFFFFFFF".
        document.refuse(Place(1, 1), "is not well-formed YAML")
    return document


def _decoded(raw: bytes, document: Document) -> str | None:
    if len(raw) > MOST_BYTES:
        document.refuse(Place(0, 0), f"is larger than a site file can be: {MOST_BYTES:,} bytes at most")
        return None
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        document.refuse(Place(line, 1), "is not UTF-8 text: save the file with the encoding UTF-8")
        return None


def _has_bad_marks(text: str, document: Document) -> bool:
    for number, line in enumerate(text.split("\n"), start=1):
        if "\t" in line and _TAB_INDENT.match(line):
            document.refuse(Place(number, 1), "a tab stands in the indentation: use spaces, two for each level")
        if not line.isascii() or not line.isprintable():
            bad = _UNPRINTABLE.search(line)
            if bad:
                wanted = f"a character that cannot be printed stands here (U+{ord(bad[0]):04X}): remove it"
                document.refuse(Place(number, bad.start() + 1), wanted)
    return bool(document.problems)


def _place_of_error(error: yaml.MarkedYAMLError) -> Place:
    # What is opened and never closed is noticed at the end of the file, and mended where it was opened.
    is_unclosed = "end of stream" in (error.problem or "") or "expected ',' or" in (error.problem or "")
    mark = error.context_mark if is_unclosed and error.context_mark else error.problem_mark
    return Place(mark.line + 1, mark.column + 1) if mark else Place(1, 1)


class _TooDeepError(Exception):
    """The file is nested beyond the bound; reading stops, the problem is noted."""


class _Builder:
    """Builds the tree from the parser's events, one after the other."""

    def __init__(self, document: Document, events: Iterator[yaml.Event]) -> None:
        self._document = document
        self._events = events

    def build(self) -> None:
        """Fill the document."""
        next(self._events)  # start of the stream
        if isinstance(next(self._events), yaml.StreamEndEvent):
            self._document.refuse(Place(0, 0), "is empty: a site file needs site, links and collectors")
            return
        first = next(self._events)
        root = self._node(first, ())
        if isinstance(root, dict):
            self._document.data = root
        elif self._document.is_whole:
            wanted = "must be a block of keys: site, links and collectors"
            self._document.refuse(_place(first), wanted)
        next(self._events)  # end of the document
        after = next(self._events)
        if not isinstance(after, yaml.StreamEndEvent):
            self._document.refuse(_place(after), 'a second document begins here ("---"): one file is one site')
            for _ in self._events:
                pass

    def _node(self, event: yaml.Event, path: KeyPath) -> Any:
        if len(path) > MOST_DEPTH:
            self._document.refuse(_place(event), f"is nested deeper than {MOST_DEPTH} levels")
            raise _TooDeepError
        self._check_marks(event, path)
        match event:
            case yaml.MappingStartEvent():
                return self._mapping(path)
            case yaml.SequenceStartEvent():
                return self._sequence(path)
            case yaml.ScalarEvent():
                return event.value
        return ""  # an alias, refused just now

    def _check_marks(self, event: yaml.Event, path: KeyPath) -> None:
        if isinstance(event, yaml.AliasEvent):
            self._document.refuse(_place(event), "an alias (*) is not taken: write the value out", path)
        elif getattr(event, "anchor", None) is not None:
            self._document.refuse(_place(event), "an anchor (&) is not taken: write the value out", path)
        if getattr(event, "tag", None) is not None:
            self._document.refuse(_place(event), "a YAML tag (!) is not taken: write the plain value", path)

    def _mapping(self, path: KeyPath) -> dict[str, Any]:
        mapping: dict[str, Any] = {}
        while not isinstance(event := next(self._events), yaml.MappingEndEvent):
            key = self._key(event, path)
            value_event = next(self._events)
            here = (*path, key)
            is_first = self._note_key(here, event, key in mapping)
            # The second of two values is read into the void, so that its own faults are told as well.
            value = self._node(value_event, here if is_first else (*path, f"{key} (again)"))
            if _is_empty(value_event):
                self._note_empty(here)
            elif is_first:
                mapping[key] = value
        return mapping

    def _key(self, event: yaml.Event, path: KeyPath) -> str:
        if not isinstance(event, yaml.ScalarEvent):
            self._document.refuse(_place(event), "a key must be plain text, not a block or a list", path)
            self._node(event, (*path, "?"))
            return "?"
        self._check_marks(event, path)
        if event.value == "<<" and not event.style:
            self._document.refuse(_place(event), "a merge key (<<) is not taken: write the keys out", path)
        return str(event.value)

    def _note_key(self, path: KeyPath, event: yaml.Event, is_repeated: bool) -> bool:
        place = _place(event)
        if is_repeated:
            first = self._document.places[path].line
            wanted = f"stands twice, on lines {first} and {place.line}: keep one of them"
            self._document.problems.append(Problem(place.line, place.column, dotted(path), "", wanted))
            return False
        self._document.places[path] = place
        return True

    def _note_empty(self, path: KeyPath) -> None:
        self._document.problems.append(
            self._document.problem(path, "has no value: give it one, or remove the key")
        )
        self._document.holes.add(path)

    def _sequence(self, path: KeyPath) -> list[Any]:
        items: list[Any] = []
        while not isinstance(event := next(self._events), yaml.SequenceEndEvent):
            here = (*path, len(items))
            self._document.places[here] = _place(event)
            if _is_empty(event):
                self._note_empty(here)
            items.append(self._node(event, here))
        return items


def _is_empty(event: yaml.Event) -> bool:
    """Whether nothing at all stands there; a quoted empty text is something."""
    return isinstance(event, yaml.ScalarEvent) and event.value == "" and not event.style


def _place(event: yaml.Event) -> Place:
    mark = event.start_mark
    return Place(mark.line + 1, mark.column + 1) if mark else Place(1, 1)
