"""Describing filters: how a collector is cleaned, its set of filters, its air and its permit, in plain words."""

from collections.abc import Iterator
from datetime import UTC, datetime

from monitor.interpret.settings import AirSettings, CleaningMode, CleaningSettings, CurveSettings, FilterSettings
from monitor.report.permit.settings import PermitSettings
from monitor.site.durations import as_duration


def of_collector(plan: CurveSettings | None, permit: PermitSettings | None) -> Iterator[str]:
    """Yield the lines about the filters of a collector."""
    if plan is not None:
        yield f"  {_cleaning(plan.cleaning)}"
        yield f"  {_filters(plan.filters)}"
        yield f"  {_air(plan.air)}"
    if permit is not None:
        yield f"  {_permit(permit)}"


def _cleaning(cleaning: CleaningSettings) -> str:
    pulses = f"a pulse of {as_duration(cleaning.pulse_s)} every {as_duration(cleaning.pulse_every_s)}"
    rows = f", {cleaning.rows} rows" if cleaning.rows else ""
    if cleaning.mode is CleaningMode.TIMED:
        return f"cleaned all the time, {pulses}{rows}"
    if cleaning.start_inh2o is None or cleaning.stop_inh2o is None:
        return f"cleaning set points not known, {pulses}{rows}"
    start, stop = cleaning.start_inh2o, cleaning.stop_inh2o
    return f"cleaning starts at {start:.6g} and stops at {stop:.6g} inH2O, {pulses}{rows}"


def _filters(filters: FilterSettings) -> str:
    since = ""
    if filters.installed_utc_s is not None:
        since = f" since {datetime.fromtimestamp(filters.installed_utc_s, UTC).date().isoformat()}"
    if filters.change_out_inh2o is None:
        return f"filters{since}: no change-out limit, so no forecast"
    lead = as_duration(filters.lead_time_s)
    flow = f", at {filters.design_flow_cfm:.6g} cfm" if filters.design_flow_cfm else ""
    return (
        f"filters{since}: changed at a residual DP of {filters.change_out_inh2o:.6g} inH2O{flow}, "
        f"ordered {lead} before"
    )


def _air(air: AirSettings) -> str:
    if air.per_pulse_ft3 is not None:
        used = f"{air.per_pulse_ft3:.4g} ft3 of free air a pulse"
    elif air.header_volume_ft3 is not None:
        used = f"from the dips of a header of {air.header_volume_ft3:.4g} ft3"
    else:
        used = "not known"
    cost = ""
    if air.cost_per_1000_ft3 is not None:
        cost = f", {air.cost_per_1000_ft3:.4g} {air.currency} for 1000 ft3"
    return f"compressed air: {used}{cost}; a diaphragm is rated for {air.rated_pulses} pulses"


def _permit(permit: PermitSettings) -> str:
    low = "" if permit.low_inh2o is None else f"below {permit.low_inh2o:.6g}"
    high = "" if permit.high_inh2o is None else f"above {permit.high_inh2o:.6g}"
    bounds = " or ".join(one for one in (low, high) if one)
    outside = f"an excursion {bounds} inH2O" if bounds else "no range, so no excursions"
    return f"permit: averages of {permit.average_h} h, valid by {permit.valid_hour}, {outside}"
