"""Filters: cleaning, the set in service, its air and its permit become settings."""

from collections.abc import Mapping

from monitor.interpret.settings import AirSettings, CleaningSettings, CurveSettings, FilterSettings
from monitor.judge.settings import AlarmSettings
from monitor.report.permit.settings import PermitSettings
from monitor.scan.settings import CleaningSetpoints
from monitor.site.quantities import Quantity
from monitor.site.shape.filters import Permit
from monitor.site.shape.whole import Collector
from monitor.site.tags import bad_signal_tag, warning_tag
from monitor.troubles import Sign
from monitor.words import UNIT_OF_ROLE, Role

_DP_UNIT, _FLOW_UNIT, _AIR_UNIT = UNIT_OF_ROLE[Role.DP], UNIT_OF_ROLE[Role.AIR_FLOW], "ft3"

#: What shows in the DP; while that is bad these are held back.
_IN_THE_DP = frozenset(Sign) - {Sign.HEADER_NOT_RECOVERING, Sign.CHANGE_OUT_DUE}


def curve_settings(shape: Collector, pa_per_inh2o: float) -> CurveSettings:
    """Return how the curve of a collector is read."""
    return CurveSettings(
        cleaning=_cleaning(shape, pa_per_inh2o),
        filters=_filters(shape, pa_per_inh2o),
        air=_air(shape, pa_per_inh2o),
    )


def cleaning_setpoints(shape: Collector, pa_per_inh2o: float) -> CleaningSetpoints | None:
    """Return the set points of on-demand cleaning, where the file has both."""
    found = _cleaning(shape, pa_per_inh2o)
    if found.start_inh2o is None or found.stop_inh2o is None:
        return None
    return CleaningSetpoints(start_inh2o=found.start_inh2o, stop_inh2o=found.stop_inh2o)


def warnings(shape: Collector) -> Mapping[Sign, AlarmSettings]:
    """Return the early warnings that are alarms."""
    bad_signal = bad_signal_tag(shape)
    return {
        sign: AlarmSettings(
            tag=warning_tag(shape, sign),
            priority=warning.priority,
            on_delay_s=warning.on_delay,
            off_delay_s=warning.off_delay,
            latching=warning.latching,
            auto_clear_s=warning.auto_clear,
            causes=(bad_signal,) if sign in _IN_THE_DP else (),
        )
        for sign, warning in shape.early_warnings.items()
    }


def permit_settings(shape: Permit, pa_per_inh2o: float) -> PermitSettings:
    """Return what a permit asks for."""
    return PermitSettings(
        valid_hour=shape.valid_hour,
        low_inh2o=_in(shape.low, _DP_UNIT, pa_per_inh2o),
        high_inh2o=_in(shape.high, _DP_UNIT, pa_per_inh2o),
        average_h=round(shape.average / 3600),
        least_available=shape.least_available,
        keep_s=shape.keep,
    )


def _cleaning(shape: Collector, pa_per_inh2o: float) -> CleaningSettings:
    cleaning = shape.cleaning
    if cleaning is None:
        return CleaningSettings()
    return CleaningSettings(
        mode=cleaning.mode,
        start_inh2o=_in(cleaning.start, _DP_UNIT, pa_per_inh2o),
        stop_inh2o=_in(cleaning.stop, _DP_UNIT, pa_per_inh2o),
        pulse_every_s=cleaning.pulse_every,
        pulse_s=cleaning.pulse_length,
        rows=cleaning.rows,
    )


def _filters(shape: Collector, pa_per_inh2o: float) -> FilterSettings:
    return FilterSettings(
        installed_utc_s=shape.filters.installed,
        change_out_inh2o=_in(shape.filters.change_out, _DP_UNIT, pa_per_inh2o),
        lead_time_s=shape.filters.lead_time,
        design_flow_cfm=_in(shape.filters.design_flow, _FLOW_UNIT, pa_per_inh2o),
    )


def _air(shape: Collector, pa_per_inh2o: float) -> AirSettings:
    air = shape.compressed_air
    cost = air.cost
    per_1000_ft3 = None if cost is None else cost.number * 1000.0 / air.cost_of.to(_AIR_UNIT, pa_per_inh2o)
    return AirSettings(
        per_pulse_ft3=_in(air.air_per_pulse, _AIR_UNIT, pa_per_inh2o),
        header_volume_ft3=_in(air.header_volume, _AIR_UNIT, pa_per_inh2o),
        cost_per_1000_ft3=per_1000_ft3,
        currency="" if cost is None else cost.unit,
        rated_pulses=air.rated_pulses,
    )


def _in(found: Quantity | None, unit: str, pa_per_inh2o: float) -> float | None:
    return None if found is None else found.to(unit, pa_per_inh2o)
