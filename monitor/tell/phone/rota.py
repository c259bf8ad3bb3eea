"""Rota: who is on duty at a moment, and who is meant by a step."""

from collections.abc import Iterable
from zoneinfo import ZoneInfo

from monitor.tell.phone.settings import PhoneSettings, Rota
from monitor.tell.phone.spans import end_utc_s


def on_duty(rota: Rota, zone: ZoneInfo, utc_s: float) -> tuple[str, ...]:
    """Those of the first shift that covers the moment; ``otherwise`` where none does."""
    for shift in rota.shifts:
        if end_utc_s(zone, shift.span, utc_s) is not None:
            return shift.people
    return rota.otherwise


def meant(settings: PhoneSettings, people: Iterable[str], rotas: Iterable[str], utc_s: float) -> tuple[str, ...]:
    """These people, and those on duty by these rotas, each once and only whom the settings know."""
    zone = ZoneInfo(settings.time_zone)
    duty = [on_duty(settings.rotas[name], zone, utc_s) for name in rotas if name in settings.rotas]
    named = dict.fromkeys([*people, *[one for shift in duty for one in shift]])
    return tuple([one for one in named if one in settings.people])
