"""Routing: by which route people are called for an alarm. The first that fits counts."""

from monitor.tell.phone.message import ToldAlarm
from monitor.tell.phone.settings import PhoneSettings, Route


def route_of(settings: PhoneSettings, alarm: ToldAlarm) -> Route | None:
    """The first route that fits the alarm; None where nobody is called for it."""
    return next((route for route in settings.routes if route.steps and fits(settings, route, alarm)), None)


def named(settings: PhoneSettings, name: str) -> Route | None:
    """The route of that name; None where the settings no longer have it."""
    return next((route for route in settings.routes if route.name == name), None)


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
