"""Phone: rules for who is called; every name in it is somebody, and every step calls somebody."""

from collections.abc import Container, Iterable, Iterator, Mapping
from urllib.parse import urlsplit

from monitor.site.problems import KeyPath
from monitor.site.rules.fault import Fault
from monitor.site.shape.phone import AllWell, Phone, Rota, Route, Step
from monitor.site.shape.whole import SiteFile
from monitor.site.values import meant
from monitor.tell.phone.gateway import channel_fault

_HERE: KeyPath = ("phone",)


def faults(file: SiteFile, channels: Mapping[tuple[str, str], str], ping: str | None) -> Iterator[Fault]:
    """Yield what breaks a rule about the phone.

    Args:
        file: the site file.
        channels: addresses by person and channel, those that could be read.
        ping: the address outside; None where there is none or it could not be read.
    """
    shape = file.phone
    if shape is None:
        return
    if "phone" in file.links:
        yield Fault(
            ("links", "phone"), "must have another name: phone is the way to people, with an alarm of its own"
        )
    for name, rota in shape.rotas.items():
        yield from _rota_faults((*_HERE, "rotas", name), rota, shape)
    for name, route in shape.routes.items():
        yield from _route_faults((*_HERE, "routes", name), route, file, shape)
    if shape.all_well is not None:
        yield from _called_faults((*_HERE, "all_well"), shape.all_well, shape)
    yield from _address_faults(shape, channels, ping)


def _rota_faults(path: KeyPath, rota: Rota, shape: Phone) -> Iterator[Fault]:
    for number, shift in enumerate(rota.shifts):
        yield from _unknown((*path, "shifts", number, "people"), shift.people, shape.people, "phone.people")
    yield from _unknown((*path, "otherwise"), rota.otherwise, shape.people, "phone.people")


def _route_faults(path: KeyPath, route: Route, file: SiteFile, shape: Phone) -> Iterator[Fault]:
    areas = {one.area for one in file.collectors.values() if one.area}
    yield from _unknown((*path, "areas"), route.areas, areas, "the areas of the collectors")
    yield from _unknown((*path, "collectors"), route.collectors, file.collectors, "the collectors")
    before_s = 0.0
    for number, step in enumerate(route.steps):
        own = (*path, "steps", number)
        yield from _called_faults(own, step, shape)
        if number == 0 and step.after:
            yield Fault((*own, "after"), "must be 0 s in the first step: an alarm calls somebody at once")
        elif step.after < before_s:
            yield Fault(
                (*own, "after"), "must not be shorter than in the step before: steps stand in order of time"
            )
        before_s = step.after


def _called_faults(path: KeyPath, called: Step | AllWell, shape: Phone) -> Iterator[Fault]:
    if not called.people and not called.rotas:
        yield Fault(path, "needs people or rotas: otherwise it calls nobody")
    yield from _unknown((*path, "people"), called.people, shape.people, "phone.people")
    yield from _unknown((*path, "rotas"), called.rotas, shape.rotas, "phone.rotas")


def _unknown(path: KeyPath, names: Iterable[str], known: Container[str], where: str) -> Iterator[Fault]:
    for number, name in enumerate(names):
        if name not in known:
            near = meant(name, list(known)) if isinstance(known, Iterable) else ""
            wanted = f"must be one of {where}{': ' if near else ''}{near}"
            yield Fault((*path, number), wanted, f'"{name}"')


def _address_faults(shape: Phone, channels: Mapping[tuple[str, str], str], ping: str | None) -> Iterator[Fault]:
    """No sentence repeats an address: it bears secrets."""
    for (person, way), url in channels.items():
        if why := channel_fault(url):
            path = (*_HERE, "people", person, "channels", way)
            yield Fault(path, f"must have an address that can be used: {why}")
    if ping is not None and not _is_web(ping):
        key = "url_env" if shape.ping is not None and shape.ping.url_env is not None else "url_file"
        yield Fault((*_HERE, "ping", key), "must hold an http or https address with a host")


def _is_web(url: str) -> bool:
    try:
        found = urlsplit(url)
        return found.scheme in ("http", "https") and bool(found.hostname) and found.port != 0
    except ValueError:
        return False
