"""Phone settings: people and their channels, who is on duty when, who is called for what.

Days and hours are those of the site's time zone, by its wall clock, summer and winter.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.words import Priority

DAY_S = 86400


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One way to reach a person.

    Attributes:
        name: for people, such as ``push``; unique among the person's.
        url: address in the notification library's notation; bears secrets, so it is never shown.
        short: a message has 160 characters at most.
        limit_s: a gateway that takes longer has failed, real seconds.
    """

    name: str
    url: str = field(repr=False)
    short: bool = False
    limit_s: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Some hours of some days.

    Attributes:
        days: on which it begins, 0 Monday to 6 Sunday.
        from_s, until_s: wall clock, seconds of the day, 0 to 86400; where ``until_s`` is not later than ``from_s``
            it ends on the next day, and where the two are equal it lasts a whole day.
    """

    days: frozenset[int] = frozenset(range(7))
    from_s: int = 0
    until_s: int = DAY_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """One person who can be called.

    Attributes:
        channels: in the order in which they are tried.
        quiet: no call but of the top priority; what comes meanwhile waits until its end or for the next person.
        returns: is told of returns to normal too, where the route says so.
        links: a message may carry a link with which this person acknowledges.
        acknowledges: False for somebody whom the site file lets only look: another must acknowledge.
    """

    name: str
    channels: tuple[Channel, ...]
    quiet: tuple[Span, ...] = ()
    returns: bool = True
    links: bool = False
    acknowledges: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """Who is on duty in some hours; the first shift of a rota that covers a moment counts."""

    span: Span
    people: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rota:
    """Who is on duty when; ``otherwise`` where no shift covers the moment."""

    name: str
    shifts: tuple[Shift, ...]
    otherwise: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """Whom to call, and how long after the first.

    Attributes:
        after_s: scan seconds after the callout began; 0 for the first step; never less than the step's before.
        people: by name.
        rotas: whoever is on duty by these, at the moment of the step.
    """

    after_s: float = 0.0
    people: tuple[str, ...] = ()
    rotas: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """Who is called for which alarms; the first route that fits an alarm counts.

    Attributes:
        priorities: of these; empty for any.
        areas, collectors: of these; both empty for any, both given: either. The alarm of a link fits where neither
            is given, or where one of its collectors does.
        steps: one at least, in order of time.
        repeat_s: everybody called so far is called again after so long, until somebody acknowledges; None: never.
        returns: the return to normal is told to those who were called.
    """

    name: str
    priorities: frozenset[Priority] = frozenset()
    areas: frozenset[str] = frozenset()
    collectors: frozenset[str] = frozenset()
    steps: tuple[Step, ...] = ()
    repeat_s: float | None = 900.0
    returns: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class AllWell:
    """A message that says that the watch itself is well, at some hours of some days.

    Attributes:
        at_s: wall clock, seconds of the day.
    """

    at_s: tuple[int, ...]
    days: frozenset[int] = frozenset(range(7))
    people: tuple[str, ...] = ()
    rotas: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Ping:
    """An address outside that expects to be asked; its silence means that this box is silent.

    Attributes:
        url: http or https; may bear a secret, so it is never shown.
        every_s: real seconds, 10 or more.
        limit_s: it must answer within this, real seconds.
    """

    url: str = field(repr=False)
    every_s: float = 60.0
    limit_s: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PhoneSettings:
    """Everything the relay is run by.

    Attributes:
        people, rotas: by name.
        routes: in the order in which they are looked at.
        time_zone: of the IANA database.
        gather_s: alarms of one cause that come within so long of the first go out as one message, scan seconds;
            an urgent alarm waits for nothing.
        flood_messages, flood_window_s: no person gets more alarm messages than this in so many scan seconds; what
            is beyond goes out as one message with a count when the window allows. Urgent ones are never held back.
        tries: on one channel before the next.
        first_retry_s, longest_retry_s: the pause after a failure, doubling, real seconds.
        areas: of each collector that has one.
        link_collectors: which collectors are read through each link.
    """

    people: Mapping[str, Person]
    routes: tuple[Route, ...]
    rotas: Mapping[str, Rota] = field(default_factory=dict)
    time_zone: str = "UTC"
    gather_s: float = 15.0
    flood_messages: int = 8
    flood_window_s: float = 600.0
    tries: int = 3
    first_retry_s: float = 5.0
    longest_retry_s: float = 300.0
    all_well: AllWell | None = None
    ping: Ping | None = None
    areas: Mapping[str, str] = field(default_factory=dict)
    link_collectors: Mapping[str, frozenset[str]] = field(default_factory=dict)
