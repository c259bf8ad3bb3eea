"""Causes: which alarms are taken to have one cause, so that people are called once for them.

Alarms of one collector have. Those of several collectors have where the trouble that leads the suspicions is one
that strikes many at once: compressed air and fans fail by area (one header, one feeder), gateways and loop
supplies by link (one box). That is our choice; where it is wrong, two alarms stand in one message and none is
lost.
"""

from monitor.tell.phone.message import ToldAlarm
from monitor.tell.phone.settings import PhoneSettings
from monitor.troubles import Trouble

_BY_AREA = frozenset({Trouble.HEADER_PRESSURE_LOST, Trouble.FAN_STOPPED})
_BY_LINK = frozenset({Trouble.GATEWAY_FROZEN, Trouble.LOOP_OPEN})


def causes_of(settings: PhoneSettings, alarm: ToldAlarm) -> tuple[str, ...]:
    """Names of what may be behind it: alarms that share one belong together."""
    if alarm.collector is None:
        return (of_link(alarm.link or ""),)
    shared = _shared(settings, alarm)
    return (f"collector {alarm.collector}", *((shared,) if shared else ()))


def of_link(link: str) -> str:
    """The cause that a lost link is."""
    return f"link {link}"


def link_of(settings: PhoneSettings, collector: str | None) -> str:
    """Through which link the collector is read; empty where that is not known."""
    return next((link for link, own in settings.link_collectors.items() if collector in own), "")


def _shared(settings: PhoneSettings, alarm: ToldAlarm) -> str:
    """The trouble with the place that it strikes as a whole; empty where it strikes the collector alone."""
    trouble = alarm.suspicions[0].trouble if alarm.suspicions else None
    area, link = settings.areas.get(alarm.collector or "", ""), link_of(settings, alarm.collector)
    if trouble in _BY_AREA and area:
        return f"{trouble} in {area}"
    return f"{trouble} by {link}" if trouble in _BY_AREA | _BY_LINK and link else ""
