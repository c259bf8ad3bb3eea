"""Phone: people and their channels, who is on duty when, and who is called for what, as the file says them."""

from typing import Annotated

from pydantic import Field

from monitor.site.fields import duration, line, member, name, several, time_of_day, weekdays, whole, yes_no
from monitor.site.shape.alarms import DAY_S, Tag
from monitor.site.shape.block import Block, OrNone, defaulting, optional
from monitor.site.shape.outlets import FILE, RELATIVE, SECRET_ENV
from monitor.words import Priority

PersonName = Annotated[str, name("the name of a person")]
RotaName = Annotated[str, name("the name of a rota")]
_TIME = 'Wall clock of the site\'s time zone, such as "06:00"; 00:00 to 24:00.'
_DAYS = "A list of mon, tue, wed, thu, fri, sat, sun; default all."


class Channel(Block):
    """One way to reach a person: an address in the notation of the Apprise library, kept out of this file."""

    url_env: Annotated[str | None, SECRET_ENV] = optional(
        "Environment variable that holds the channel's address. Such as CAKEWATCH_ANNA_PUSH; it, or url_file.",
    )
    url_file: Annotated[str | None, FILE] = optional(
        f"File that holds the channel's address and nothing else. {RELATIVE}",
    )
    short: Annotated[bool, yes_no()] = defaulting(
        "no", "Whether a message may have 160 characters at most, as a text message. Default no."
    )
    limit: Annotated[float, duration(1, 60)] = defaulting(
        "10 s", "A gateway that takes longer has failed. 1 s to 60 s; default 10 s (our choice)."
    )


class Span(Block):
    """Some hours of some days."""

    days: Annotated[frozenset[int], weekdays()] = defaulting("all", f"The days on which it begins. {_DAYS}")
    begins: Annotated[int, time_of_day()] = defaulting("00:00", f"When it begins. {_TIME}")
    ends: Annotated[int, time_of_day()] = defaulting(
        "24:00", f"When it ends. {_TIME} Not later than begins: on the next day."
    )


class Shift(Span):
    """Who is on duty in some hours."""

    people: list[PersonName] = Field(
        min_length=1, description="Who is on duty. Names from phone.people, all of them called."
    )


class Rota(Block):
    """Who is on duty when; the first shift that covers a moment counts."""

    shifts: list[Shift] = Field(min_length=1, description="Hours and who is on duty in them. The first that fits.")
    otherwise: list[PersonName] = Field(
        default_factory=list, description="Who is on duty where no shift covers the moment. Default nobody."
    )


class PhonePerson(Block):
    """One person who can be called."""

    channels: dict[Annotated[str, name("the name of a channel")], Channel] = Field(
        min_length=1, description="The ways to reach the person. Tried in the order in which they stand here."
    )
    quiet: list[Span] = Field(
        default_factory=list,
        description="Hours in which only urgent alarms call. Default none.",
    )
    returns: Annotated[bool, yes_no()] = defaulting(
        "yes", "Whether the person is told of returns to normal where a route tells them. Default yes."
    )


class Step(Block):
    """Whom to call, and when."""

    after: Annotated[float, duration(0, DAY_S)] = defaulting(
        "0 s", "How long after the first call, while nobody has acknowledged. 0 s to 1 d; default 0 s."
    )
    people: list[PersonName] = Field(default_factory=list, description="Names from phone.people. People or rotas.")
    rotas: list[RotaName] = Field(
        default_factory=list, description="Whoever is on duty by these rotas then. People or rotas."
    )


class Route(Block):
    """Who is called for which alarms; what is not said fits any."""

    priorities: Annotated[frozenset[Priority], several(Priority)] = defaulting(
        "all", "Alarms of these priorities. A list of advisory, low, medium, high, urgent; default all."
    )
    areas: list[Annotated[str, line("the name of an area", 60)]] = Field(
        default_factory=list, description="Collectors of these areas. Default any."
    )
    collectors: list[Annotated[str, name("the name of a collector")]] = Field(
        default_factory=list, description="These collectors. Default any; beside areas: either."
    )
    steps: list[Step] = Field(
        min_length=1,
        description="Whom to call first, then whom while nobody has acknowledged. In the order of after.",
    )
    repeat: Annotated[float | None, duration(60, DAY_S, never="never")] = defaulting(
        "15 min",
        "Everybody called is called again this often, until somebody acknowledges. 1 min to 1 d, or never; "
        "default 15 min (our choice).",
    )
    returns: Annotated[bool, yes_no()] = defaulting(
        "no", "Whether those who were called are told of the return to normal. Default no."
    )


class AllWell(Block):
    """A message that says that the watch itself is well, or what is not."""

    at: list[Annotated[int, time_of_day()]] = Field(min_length=1, description=f"When. A list. {_TIME}")
    days: Annotated[frozenset[int], weekdays()] = defaulting("all", f"On which days. {_DAYS}")
    people: list[PersonName] = Field(default_factory=list, description="Names from phone.people. People or rotas.")
    rotas: list[RotaName] = Field(
        default_factory=list, description="Whoever is on duty by these rotas then. People or rotas."
    )


class Ping(Block):
    """An address outside that expects to be asked, and raises the alarm when this box falls silent."""

    url_env: Annotated[str | None, SECRET_ENV] = optional(
        "Environment variable that holds the address. An http or https address; it, or url_file.",
    )
    url_file: Annotated[str | None, FILE] = optional(f"File that holds the address and nothing else. {RELATIVE}")
    every: Annotated[float, duration(10, DAY_S)] = defaulting(
        "1 min", "How often it is asked. 10 s to 1 d; default 1 min (our choice)."
    )
    limit: Annotated[float, duration(1, 60)] = defaulting(
        "10 s", "It must answer within this. 1 s to 60 s; default 10 s (our choice)."
    )


class Unreached(Block):
    """The alarm for nobody who could be reached, on every other outlet."""

    tag: Tag | None = optional("Tag of the alarm. Default PHONE-UNREACHED.")
    priority: Annotated[Priority, member(Priority)] = defaulting(
        "urgent", "Priority. Default urgent (our choice): somebody must know that nobody knows."
    )


class Phone(Block):
    """Who is called for which alarms."""

    people: dict[PersonName, PhonePerson] = Field(
        min_length=1, description="Who can be called, each under the name that commands.people knows too."
    )
    rotas: dict[RotaName, Rota] = Field(
        default_factory=dict, description="Who is on duty when, each rota under its name. Default none."
    )
    routes: dict[Annotated[str, name("the name of a route")], Route] = Field(
        min_length=1,
        description="Who is called for which alarms. The first route that fits an alarm counts; one that none "
        "fits calls nobody.",
    )
    gather: Annotated[float, duration(0, 300)] = defaulting(
        "15 s",
        "Alarms of one cause that come within so long of the first go out as one message. 0 s to 5 min; default "
        "15 s (our choice); an urgent alarm waits for nothing.",
    )
    most_messages: Annotated[int, whole(1, 1000)] = defaulting(
        "8",
        "A person gets no more alarm messages than this within flood_window. 1 to 1000; default 8 (our choice); "
        "what is beyond comes as one, with a count. Urgent ones are never held back.",
    )
    flood_window: Annotated[float, duration(60, DAY_S)] = defaulting(
        "10 min", "See most_messages. 1 min to 1 d; default 10 min (our choice)."
    )
    tries: Annotated[int, whole(1, 20)] = defaulting(
        "3", "Tries on one channel before the next, 5 s apart, then doubling. 1 to 20; default 3 (our choice)."
    )
    unreached: Unreached = Field(
        default_factory=Unreached, description="The alarm for nobody who could be reached. Every key is optional."
    )
    all_well: Annotated[AllWell | None, OrNone()] = Field(
        default=None, description="A message that says that the watch itself is well. Default none."
    )
    ping: Annotated[Ping | None, OrNone()] = Field(
        default=None, description="An address outside that is asked while all moves. Default none."
    )
