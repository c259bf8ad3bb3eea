"""Figures of the air: what the pulses use and cost, what on-demand cleaning saves, when a diaphragm is used up.

Free air is air at atmospheric pressure, as compressors are rated. Where the air of a pulse is not given it comes
from the header: by the ideal gas law at one temperature, air that leaves a volume V when its pressure falls by Δp
would fill V·Δp/p_atm at atmospheric pressure. That is a bound from above for the dip as it really is (the air
left in the header cools while it expands, so its pressure falls further than its mass), and a slow reading shows
a smaller dip than there was.

Timed cleaning is taken to pulse one row each pulse interval all the time that the collector runs; one row every
10 s and pulses of about 100 ms are common practice, no source. What a diaphragm is rated for is the maker's
figure; a million pulses is common practice, no source.
"""

from enum import StrEnum
from typing import NamedTuple

from monitor.interpret.air.count import AirCount
from monitor.interpret.settings import DAY_S, AirSettings, CurveSettings

#: Standard atmosphere: 101 325 Pa (ISO 2533) at 6894.757 Pa a psi.
ATMOSPHERE_PSI = 14.6959
#: Rates of a shorter time would only be noise (our choice).
LEAST_S = 3600.0


class Basis(StrEnum):
    """From where the air of one pulse is known."""

    GIVEN = "given"
    HEADER = "header"
    UNKNOWN = "unknown"


class Use(NamedTuple):
    """What so many pulses a day come to.

    Attributes:
        pulses_d: rows pulsed a day.
        air_ft3_d: free air a day; None where the air of a pulse is not known.
        cost_d: of that air in the site's money; None where no price is given.
        diaphragm_days: how long a new diaphragm lasts at this rate; None where the rows are not known, or
            nothing pulses.
    """

    pulses_d: float
    air_ft3_d: float | None = None
    cost_d: float | None = None
    diaphragm_days: float | None = None


class AirFigures(NamedTuple):
    """The compressed air and the wear of one collector since the count began.

    Attributes:
        since_utc_s, until_utc_s: from when to when it was counted, Unix seconds; None before the first reading.
        watched_days, running_days: days in sight, and of these with the fan on.
        pulses: rows pulsed in that time; ``counted_share`` of them counted one by one, the rest estimated.
        per_pulse_ft3, basis: free air of one pulse, and from where it is known.
        used: what the cleaning uses a day; None before an hour was watched.
        timed: what timed cleaning of the same interval would have used.
        saved_ft3_d, saved_cost_d: what on-demand saves against that; None where it is not known.
        currency: the site's money.
        pulses_each: pulses of each diaphragm since the count began; None where the rows are not known.
        rated_pulses, worn_share: what it is rated for, and how much of it these are, 0 upward.
        worn_utc_s: when that is used up at this rate; None where it cannot be told.
    """

    since_utc_s: float | None = None
    until_utc_s: float | None = None
    watched_days: float = 0.0
    running_days: float = 0.0
    pulses: float = 0.0
    counted_share: float = 0.0
    per_pulse_ft3: float | None = None
    basis: Basis = Basis.UNKNOWN
    used: Use | None = None
    timed: Use | None = None
    saved_ft3_d: float | None = None
    saved_cost_d: float | None = None
    currency: str = ""
    pulses_each: float | None = None
    rated_pulses: int = 0
    worn_share: float | None = None
    worn_utc_s: float | None = None


def header_pulse_ft3(header_ft3: float, dip_psi: float) -> float:
    """Free air that left a header of that volume when its pressure fell by ``dip_psi``: V·Δp/p_atm."""
    return header_ft3 * dip_psi / ATMOSPHERE_PSI


def per_pulse(settings: AirSettings, dip_psi: float | None) -> tuple[float | None, Basis]:
    """Free air of one pulse, ft³, and from where it is known; what the site gives comes first."""
    if settings.per_pulse_ft3 is not None:
        return settings.per_pulse_ft3, Basis.GIVEN
    if settings.header_volume_ft3 is not None and dip_psi is not None:
        return header_pulse_ft3(settings.header_volume_ft3, dip_psi), Basis.HEADER
    return None, Basis.UNKNOWN


def use(settings: CurveSettings, pulses_d: float, per_pulse_ft3: float | None) -> Use:
    """What so many pulses a day come to: air = pulses · air of one, cost = air · price, life = rating / rate."""
    air_ft3_d = None if per_pulse_ft3 is None else pulses_d * per_pulse_ft3
    price, rows = settings.air.cost_per_1000_ft3, settings.cleaning.rows
    return Use(
        pulses_d=pulses_d,
        air_ft3_d=air_ft3_d,
        cost_d=None if air_ft3_d is None or price is None else air_ft3_d / 1000.0 * price,
        diaphragm_days=settings.air.rated_pulses * rows / pulses_d if rows and pulses_d > 0.0 else None,
    )


def air_figures(settings: CurveSettings, state: AirCount) -> AirFigures:
    """Everything that the count says."""
    each_ft3, basis = per_pulse(settings.air, state.dip_psi)
    rows, rated = settings.cleaning.rows, settings.air.rated_pulses
    pulses_each = state.all_pulses / rows if rows else None
    told = AirFigures(
        since_utc_s=state.since_utc_s,
        until_utc_s=state.until_utc_s,
        watched_days=state.watched_s / DAY_S,
        running_days=state.running_s / DAY_S,
        pulses=state.all_pulses,
        counted_share=state.counted / state.all_pulses if state.all_pulses else 0.0,
        per_pulse_ft3=each_ft3,
        basis=basis,
        currency=settings.air.currency,
        pulses_each=pulses_each,
        rated_pulses=rated,
        worn_share=None if pulses_each is None else pulses_each / rated,
    )
    return told if state.watched_s < LEAST_S else _with_rates(settings, state, told)


def _with_rates(settings: CurveSettings, state: AirCount, told: AirFigures) -> AirFigures:
    used = use(settings, state.all_pulses / told.watched_days, told.per_pulse_ft3)
    timed_pulses = state.running_s / settings.cleaning.pulse_every_s
    timed = use(settings, timed_pulses / told.watched_days, told.per_pulse_ft3)
    return told._replace(
        used=used,
        timed=timed,
        saved_ft3_d=_less(timed.air_ft3_d, used.air_ft3_d),
        saved_cost_d=_less(timed.cost_d, used.cost_d),
        worn_utc_s=_worn_utc_s(told, used),
    )


def _less(timed: float | None, used: float | None) -> float | None:
    return None if timed is None or used is None else timed - used


def _worn_utc_s(told: AirFigures, used: Use) -> float | None:
    """The rest of the rating at today's rate; a diaphragm over its rating has been used up already."""
    if told.worn_share is None or told.until_utc_s is None or used.diaphragm_days is None:
        return None
    return told.until_utc_s + (1.0 - told.worn_share) * used.diaphragm_days * DAY_S
