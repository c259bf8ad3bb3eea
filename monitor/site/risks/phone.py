"""Phone: risks of who is called: hours with nobody on duty, alarms that call nobody, calls nobody can answer."""

from collections.abc import Iterator

from monitor.scan.settings import CollectorPlan
from monitor.site.plan import SitePlan
from monitor.site.risks.risk import Risk
from monitor.site.values import listed
from monitor.tell.phone.settings import DAY_S, PhoneSettings, Rota, Route, Span
from monitor.tell.phone.wording_message import LINK_MOST
from monitor.words import CommandKind, Door, Priority

_WEEK_S = 7 * DAY_S
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
#: What stands behind the address in a link: /ack/ and 22 characters.
_LINK_PATH = 27
_PRESSING = (Priority.HIGH, Priority.URGENT)


def risks(plan: SitePlan) -> Iterator[Risk]:
    """Yield what is risky about the phone."""
    phone = plan.phone
    if phone is None:
        return
    for name, rota in phone.rotas.items():
        hole_s = first_hole_s(rota)
        if hole_s is not None:
            yield Risk(
                ("phone", "rotas", name),
                f"has hours with nobody on duty, the first {_moment(hole_s)}: name somebody as otherwise",
            )
    uncalled = [name for name, one in plan.collectors.items() if _calls_nobody(phone, one)]
    if uncalled:
        some = listed(uncalled[:3]) + (f" and {len(uncalled) - 3} more" if len(uncalled) > 3 else "")
        yield Risk(
            ("phone", "routes"), f"leave alarms of high or urgent priority that call nobody: those of {some}"
        )
    yield from _answer_risks(plan, phone)


def first_hole_s(rota: Rota) -> int | None:
    """The first second of a week, from Monday on, in which nobody is on duty; None: there is none."""
    if rota.otherwise:
        return None
    covered = sorted(piece for shift in rota.shifts for piece in _pieces(shift.span))
    reached_s = 0
    for begins_s, ends_s in covered:
        if begins_s > reached_s:
            return reached_s
        reached_s = max(reached_s, ends_s)
    return None if reached_s >= _WEEK_S else reached_s


def _pieces(span: Span) -> Iterator[tuple[int, int]]:
    length_s = (span.until_s - span.from_s) % DAY_S or DAY_S
    for day in span.days:
        begins_s = day * DAY_S + span.from_s
        yield begins_s, min(begins_s + length_s, _WEEK_S)
        if begins_s + length_s > _WEEK_S:
            yield 0, begins_s + length_s - _WEEK_S


def _moment(second: int) -> str:
    return f"{_DAYS[second // DAY_S]} {second % DAY_S // 3600:02d}:{second % 3600 // 60:02d}"


def _calls_nobody(phone: PhoneSettings, plan: CollectorPlan) -> bool:
    area = phone.areas.get(plan.name, "")
    pressing = {alarm.priority for alarm in plan.alarms if alarm.priority in _PRESSING}
    return any(not any(_fits(route, priority, area, plan.name) for route in phone.routes) for priority in pressing)


def _fits(route: Route, priority: Priority, area: str, name: str) -> bool:
    anywhere = not route.areas and not route.collectors
    there = anywhere or area in route.areas or name in route.collectors
    return there and (not route.priorities or priority in route.priorities)


def _answer_risks(plan: SitePlan, phone: PhoneSettings) -> Iterator[Risk]:
    may = {
        name
        for name, rights in plan.commands.people.items()
        if CommandKind.ACKNOWLEDGE in rights.may and rights.doors & {Door.HTTP, Door.MQTT}
    }
    if not may & set(phone.people):
        yield Risk(
            ("phone", "people"),
            "has nobody who may acknowledge from afar: whoever is called must come to this machine first; give "
            "them acknowledge under commands.people, by the same names",
        )
    public = plan.http.public_address if plan.http else ""
    if len(public) + _LINK_PATH > LINK_MOST and any(
        channel.short for person in phone.people.values() for channel in person.channels
    ):
        yield Risk(
            ("http", "public_address"),
            f"is too long for short messages: they carry no link; {LINK_MOST - _LINK_PATH} characters fit",
        )
    if public.startswith("http://"):
        yield Risk(
            ("http", "public_address"),
            "has links to acknowledge by travel in clear: whoever sees one can use it; better https",
        )
