"""Collectors: a collector of the site file becomes the plan of one scan state."""

from collections.abc import Mapping
from dataclasses import replace

from monitor.interpret.settings import TrendSettings
from monitor.judge.settings import AlarmSettings, Band, Side
from monitor.scan.settings import CollectorPlan, PointPlan
from monitor.site.building.channels import point_plan
from monitor.site.building.filters import cleaning_setpoints, curve_settings, warnings
from monitor.site.building.suppression import farther_tags, suppressions
from monitor.site.points import measuring_of, points_of
from monitor.site.shape.alarms import Band as BandShape
from monitor.site.shape.links import Link
from monitor.site.shape.whole import Collector
from monitor.site.tags import bad_signal_tag, lost_tag
from monitor.words import UNIT_OF_ROLE, Role

#: 2 % of span is the first guess of ISA-TR18.2.3 and EEMUA 191 for the deadband of a pressure.
DEADBAND_OF_SPAN = 0.02
#: The same of the usual 0 to 10 inH2O, where no range is stated.
DEADBAND_WITHOUT_SPAN_INH2O = 0.2

_DP_UNIT = UNIT_OF_ROLE[Role.DP]


def collector_plan(name: str, shape: Collector, links: Mapping[str, Link], pa_per_inh2o: float) -> CollectorPlan:
    """Return the plan of a collector that breaks no rule."""
    points: dict[Role, PointPlan] = {
        role: point_plan(point, role, links[point.link], pa_per_inh2o) for role, point in points_of(shape)
    }
    measuring = measuring_of(shape.dp, Role.DP, pa_per_inh2o)
    span = measuring[1] - measuring[0] if measuring else None
    return CollectorPlan(
        name=name,
        points=points,
        bands=_bands(shape, span, pa_per_inh2o),
        bad_signal=_bad_signal(shape, lost_tag(shape.dp.link, links[shape.dp.link])),
        description=shape.description,
        trends=TrendSettings(
            residual_window_s=shape.trends.residual_window, average_window_s=shape.trends.average_window
        ),
        cleaning=cleaning_setpoints(shape, pa_per_inh2o),
        suppression=suppressions(shape),
        curve=curve_settings(shape, pa_per_inh2o),
        warnings=warnings(shape),
        area=shape.area,
        link=shape.dp.link,
    )


def _bands(shape: Collector, span: float | None, pa_per_inh2o: float) -> tuple[Band, ...]:
    """A band is explained by a DP that cannot be trusted, and by the bands beyond it."""
    bands = [_band(tag, band, span, pa_per_inh2o) for tag, band in shape.bands.items()]
    bad_signal = bad_signal_tag(shape)
    causes = {
        band.alarm.tag: farther_tags(band, bands)
        for band in bands
        if shape.bands[band.alarm.tag].suppress.farther_band_raised
    }
    return tuple(
        replace(band, alarm=replace(band.alarm, causes=(bad_signal, *causes.get(band.alarm.tag, ()))))
        for band in bands
    )


def _band(tag: str, band: BandShape, span: float | None, pa_per_inh2o: float) -> Band:
    setpoint = band.above or band.below
    if setpoint is None:
        raise ValueError(f"{tag} has no set point; the rules should have found that")
    return Band(
        alarm=AlarmSettings(
            tag=tag,
            priority=band.priority,
            on_delay_s=band.on_delay,
            off_delay_s=band.off_delay,
            latching=band.latching,
            auto_clear_s=band.auto_clear,
        ),
        side=Side.ABOVE if band.above else Side.BELOW,
        setpoint_inh2o=setpoint.to(_DP_UNIT, pa_per_inh2o),
        deadband_inh2o=_deadband(band, span, pa_per_inh2o),
        judged=band.judges,
    )


def _deadband(band: BandShape, span: float | None, pa_per_inh2o: float) -> float:
    if band.deadband is not None:
        return band.deadband.to(_DP_UNIT, pa_per_inh2o)
    return DEADBAND_WITHOUT_SPAN_INH2O if span is None else DEADBAND_OF_SPAN * span


def _bad_signal(shape: Collector, lost: str) -> AlarmSettings:
    alarm = shape.bad_signal
    return AlarmSettings(
        tag=bad_signal_tag(shape),
        priority=alarm.priority,
        on_delay_s=alarm.on_delay,
        off_delay_s=alarm.off_delay,
        latching=alarm.latching,
        auto_clear_s=alarm.auto_clear,
        # A signal that gets through for moments only must raise this one: the bands are blind meanwhile.
        counts_back=True,
        causes=(lost,),
    )
