"""Suppression: risks of alarms that are held back for too long to be of use."""

from collections.abc import Iterator

from monitor.judge.settings import Side
from monitor.scan.settings import CollectorPlan, Suppression
from monitor.site.durations import as_duration
from monitor.site.problems import KeyPath
from monitor.site.risks.risk import Risk
from monitor.words import Role

#: A fan has brought the DP up long before (our choice).
STARTED_WITHIN_S = 900.0
#: A cleaning that lasts longer is itself the fault (our choice).
CLEANED_WITHIN_S = 3600.0


def risks(path: KeyPath, plan: CollectorPlan) -> Iterator[Risk]:
    """Yield bands of a collector that may be held back while they should call."""
    for tag, suppression in plan.suppression.items():
        yield from _band_risks((*path, "bands", tag, "suppress"), suppression)
    for band in plan.bands:
        suppression = plan.suppression.get(band.alarm.tag, Suppression())
        if band.side is Side.BELOW and band.setpoint_inh2o >= 0 and not suppression.fan_stopped:
            has_fan = Role.FAN_RUNNING in plan.points
            way_out = "write suppress: {fan_stopped: yes}" if has_fan else "give the collector fan_running"
            yield Risk(
                (*path, "bands", band.alarm.tag, "below"),
                f"is reached whenever the fan stops, and nothing holds the alarm back then: {way_out}",
            )


def _band_risks(path: KeyPath, suppression: Suppression) -> Iterator[Risk]:
    hold_off_s, cleaning_s = suppression.after_fan_start_s, suppression.longest_cleaning_s
    if hold_off_s > STARTED_WITHIN_S:
        yield Risk(
            (*path, "after_fan_start"),
            f"holds the alarm back for {as_duration(hold_off_s)} after each start of the fan: a filter that was "
            "blinded or torn before it is not told all that time",
        )
    if suppression.cleaning and cleaning_s > CLEANED_WITHIN_S:
        yield Risk(
            (*path, "longest_cleaning"),
            f"lets a cleaning hold the alarm back for {as_duration(cleaning_s)}: one that takes so long is itself "
            "the sign of a filter that cannot be cleaned",
        )
