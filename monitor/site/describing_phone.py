"""Describing the phone and the page: who is called for what, and who is let in; nobody's address."""

from collections.abc import Iterator, Sequence

from monitor.site.durations import as_duration
from monitor.site.values import listed
from monitor.tell.phone.settings import PhoneSettings, Rota, Route, Span, Step
from monitor.tell.settings import HttpSettings

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def of_http(http: HttpSettings | None) -> Iterator[str]:
    """Yield the lines that say where the page is and how one gets in."""
    if http is None:
        yield "HTTP: none; no page"
        return
    tls = "with TLS" if http.tls else "without TLS"
    yield f"HTTP: {http.host} port {http.port} {tls}; the page, /metrics, /health and commands"
    names = ", ".join(http.password_hashes) or "nobody"
    ends = f"ends {as_duration(http.session_life_s)} after its last use"
    yield f"  from other machines with a login ({names}), which {ends}"
    if http.metrics is not None:
        yield f"  /metrics and /health without a login: {http.metrics[0]} port {http.metrics[1]}"
    if http.public_address:
        yield f"  links in messages: {http.public_address}, good for {as_duration(http.link_life_s)}, once"


def of_phone(phone: PhoneSettings | None) -> Iterator[str]:
    """Yield the lines that say who is called for what."""
    if phone is None:
        yield "phone: none; nobody is called"
        return
    yield f"phone: times are those of {phone.time_zone}; alarms within {as_duration(phone.gather_s)} go out as one"
    for name, person in phone.people.items():
        ways = ", then ".join(channel.name + (" (short)" if channel.short else "") for channel in person.channels)
        quiet = f"; quiet but for urgent alarms {' and '.join(map(_span, person.quiet))}" if person.quiet else ""
        yield f"  {name}: {ways}{quiet}"
    for name, rota in phone.rotas.items():
        yield f"  rota {name}: {_rota(rota)}"
    for route in phone.routes:
        steps = "; ".join(_step(step) for step in route.steps)
        yield f"  {route.name}: {_which(route)}: {steps}; {_repeat(route)}"
    if phone.all_well is not None:
        called = _all_of([*phone.all_well.people, *phone.all_well.rotas])
        at = _all_of([_clock(second) for second in phone.all_well.at_s])
        yield f"  all well: told to {called} at {at}, {_days(phone.all_well.days)}"
    if phone.ping is not None:
        yield f"  an address outside is asked every {as_duration(phone.ping.every_s)} while all moves"


def _rota(rota: Rota) -> str:
    shifts = [f"{_span(shift.span)} {_all_of(shift.people)}" for shift in rota.shifts]
    return "; ".join([*shifts, f"otherwise {_all_of(rota.otherwise)}" if rota.otherwise else "otherwise nobody"])


def _span(span: Span) -> str:
    return f"{_days(span.days)} {_clock(span.from_s)} to {_clock(span.until_s)}"


def _days(days: frozenset[int]) -> str:
    if len(days) == len(_DAYS):
        return "every day"
    return " ".join(_DAYS[day] for day in sorted(days))


def _clock(second: int) -> str:
    return f"{second // 3600:02d}:{second % 3600 // 60:02d}"


def _which(route: Route) -> str:
    priorities = "any" if len(route.priorities) in (0, 5) else " or ".join(sorted(route.priorities))
    places = [*sorted(route.areas), *sorted(route.collectors)]
    return f"{priorities} priority{' in ' + listed(places) if places else ''}"


def _step(step: Step) -> str:
    called = _all_of([*step.people, *(f"rota {name}" for name in step.rotas)])
    return f"after {as_duration(step.after_s)} {called}" if step.after_s else f"at once {called}"


def _all_of(names: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))


def _repeat(route: Route) -> str:
    every = "never again" if route.repeat_s is None else f"again every {as_duration(route.repeat_s)}"
    return f"{every}{'; returns are told' if route.returns else ''}"
