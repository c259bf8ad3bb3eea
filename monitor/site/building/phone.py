"""Phone: people, rotas and routes of the site file become the relay's settings, and an alarm."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from monitor.judge.settings import AlarmSettings
from monitor.scan.settings import CommandRules, LinkAlarmPlan
from monitor.site.secrets import Secret, Secrets
from monitor.site.shape import phone as shapes
from monitor.site.shape.whole import SiteFile
from monitor.site.tags import unreached_tag
from monitor.tell.phone.settings import (
    AllWell,
    Channel,
    Person,
    PhoneSettings,
    Ping,
    Rota,
    Route,
    Shift,
    Span,
    Step,
)
from monitor.words import CommandKind, Door

#: The name under which the way to people stands among the links.
NAME = "phone"


def phone_settings(file: SiteFile, shape: shapes.Phone, secret: Secrets, rules: CommandRules) -> PhoneSettings:
    """Return who is called for what; the addresses were read elsewhere."""
    linked = _linked(file, rules)
    return PhoneSettings(
        people={
            name: replace(
                _person(name, one, secret.channels, has_link=name in linked),
                acknowledges=_acknowledges(rules, name),
            )
            for name, one in shape.people.items()
        },
        routes=tuple(_route(name, one) for name, one in shape.routes.items()),
        rotas={name: _rota(name, one) for name, one in shape.rotas.items()},
        time_zone=file.site.time_zone,
        gather_s=shape.gather,
        flood_messages=shape.most_messages,
        flood_window_s=shape.flood_window,
        tries=shape.tries,
        all_well=_all_well(shape.all_well) if shape.all_well else None,
        ping=_ping(shape.ping, secret.ping) if shape.ping else None,
        areas={name: one.area for name, one in file.collectors.items() if one.area},
        link_collectors=_link_collectors(file),
    )


def unreached_alarm(shape: shapes.Phone) -> LinkAlarmPlan:
    """Return the alarm that stands while nobody can be reached: the way to people is a link like any other."""
    alarm = AlarmSettings(
        tag=unreached_tag(shape),
        priority=shape.unreached.priority,
        # The relay has tried everybody before it says so, and is told of each success at once.
        on_delay_s=0.0,
        off_delay_s=0.0,
        latching=False,
        auto_clear_s=None,
    )
    return LinkAlarmPlan(name=NAME, alarm=alarm, is_phone=True)


def _linked(file: SiteFile, rules: CommandRules) -> frozenset[str]:
    """Who may acknowledge by a link: a link is as good as the person's word, so the person must have the right."""
    if file.http is None or not file.http.public_address:
        return frozenset()
    return frozenset(
        name
        for name, rights in rules.people.items()
        if CommandKind.ACKNOWLEDGE in rights.may and Door.HTTP in rights.doors
    )


def _acknowledges(rules: CommandRules, name: str) -> bool:
    """Whether somebody may acknowledge; who has no entry may still do what the machine lets anybody do."""
    rights = rules.people.get(name)
    return rights is None or CommandKind.ACKNOWLEDGE in rights.may


def _person(
    name: str, shape: shapes.PhonePerson, urls: Mapping[tuple[str, str], Secret], *, has_link: bool
) -> Person:
    return Person(
        name=name,
        channels=tuple(
            Channel(name=way, url=urls[name, way].text or "", short=one.short, limit_s=one.limit)
            for way, one in shape.channels.items()
        ),
        quiet=tuple(_span(one) for one in shape.quiet),
        returns=shape.returns,
        links=has_link,
    )


def _span(shape: shapes.Span) -> Span:
    return Span(days=shape.days, from_s=shape.begins, until_s=shape.ends)


def _rota(name: str, shape: shapes.Rota) -> Rota:
    shifts = tuple(Shift(span=_span(one), people=tuple(one.people)) for one in shape.shifts)
    return Rota(name=name, shifts=shifts, otherwise=tuple(shape.otherwise))


def _route(name: str, shape: shapes.Route) -> Route:
    return Route(
        name=name,
        priorities=shape.priorities,
        areas=frozenset(shape.areas),
        collectors=frozenset(shape.collectors),
        steps=tuple(
            Step(after_s=one.after, people=tuple(one.people), rotas=tuple(one.rotas)) for one in shape.steps
        ),
        repeat_s=shape.repeat,
        returns=shape.returns,
    )


def _all_well(shape: shapes.AllWell) -> AllWell:
    return AllWell(
        at_s=tuple(sorted(set(shape.at))), days=shape.days, people=tuple(shape.people), rotas=tuple(shape.rotas)
    )


def _ping(shape: shapes.Ping, secret: Secret) -> Ping:
    return Ping(url=secret.text or "", every_s=shape.every, limit_s=shape.limit)


def _link_collectors(file: SiteFile) -> dict[str, frozenset[str]]:
    return {link: frozenset(_read_through(file, link)) for link in file.links}


def _read_through(file: SiteFile, link: str) -> Iterable[str]:
    return (name for name, one in file.collectors.items() if one.dp.link == link)
