"""Routing: by which route people are called for an alarm. The first that fits counts."""

from monitor.tell.phone.message import ToldAlarm
from monitor.tell.phone.settings import PhoneSettings, Route, Step

#: Between the names of routes that are one; no name has it.
_AND = "+"


def route_of(settings: PhoneSettings, alarm: ToldAlarm) -> Route | None:
    """The first route that fits the alarm; None where nobody is called for it.

    The alarm of a link stands for all its collectors, whose own alarms are held back under it: whoever is called
    for any of them is called for it, by all their routes as one.
    """
    if alarm.collector is not None:
        return _first(settings, alarm)
    behind = sorted(settings.link_collectors.get(alarm.link or "", ()))
    each = [_first(settings, alarm._replace(collector=collector)) for collector in behind]
    wanted = {route.name for route in each if route is not None}
    routes = [route for route in settings.routes if route.name in wanted]
    return _as_one(routes) if routes else _first(settings, alarm)


def named(settings: PhoneSettings, name: str) -> Route | None:
    """The route of that name, or several as one; None where the settings no longer have any of them."""
    names = name.split(_AND)
    found = [route for route in settings.routes if route.name in names]
    return _as_one(found) if found else None


def _first(settings: PhoneSettings, alarm: ToldAlarm) -> Route | None:
    return next((route for route in settings.routes if route.steps and fits(settings, route, alarm)), None)


def _as_one(routes: list[Route]) -> Route:
    """Everybody whom these routes call, each when his own route would."""
    if len(routes) == 1:
        return routes[0]
    repeats = [route.repeat_s for route in routes if route.repeat_s is not None]
    times = sorted({step.after_s for route in routes for step in route.steps})
    return Route(
        name=_AND.join(route.name for route in routes),
        steps=tuple([_step_at(after_s, routes) for after_s in times]),
        repeat_s=min(repeats, default=None),
        returns=any(route.returns for route in routes),
    )


def _step_at(after_s: float, routes: list[Route]) -> Step:
    steps = [step for route in routes for step in route.steps if step.after_s == after_s]
    return Step(
        after_s=after_s,
        people=tuple(dict.fromkeys(name for step in steps for name in step.people)),
        rotas=tuple(dict.fromkeys(name for step in steps for name in step.rotas)),
    )


def fits(settings: PhoneSettings, route: Route, alarm: ToldAlarm) -> bool:
    """Whether the route is meant for the alarm, by its priority and by where it is."""
    if route.priorities and alarm.priority not in route.priorities:
        return False
    if not route.areas and not route.collectors:
        return True
    return any(_is_of(settings, route, one) for one in _collectors(settings, alarm))


def _is_of(settings: PhoneSettings, route: Route, collector: str) -> bool:
    return collector in route.collectors or settings.areas.get(collector) in route.areas


def _collectors(settings: PhoneSettings, alarm: ToldAlarm) -> frozenset[str]:
    """Its own collector; of a link's alarm all that are read through the link."""
    if alarm.collector is not None:
        return frozenset({alarm.collector})
    return settings.link_collectors.get(alarm.link or "", frozenset())
