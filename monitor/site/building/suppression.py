"""Suppression: what holds a band back, as the file says it, becomes settings; and which alarms explain it."""

from collections.abc import Mapping, Sequence

from monitor.judge.settings import Band, Side
from monitor.scan.settings import Suppression
from monitor.site.shape.alarms import Suppress
from monitor.site.shape.whole import Collector
from monitor.site.tags import warning_tag
from monitor.troubles import Sign

#: How long a fan takes to bring the DP up, where the file says nothing (common practice, no source).
HOLD_OFF_S = 60.0


def suppressions(shape: Collector) -> Mapping[str, Suppression]:
    """Return by tag what holds a band or an early warning back; without those that nothing holds back."""
    has_fan = shape.fan_running is not None
    planned = {tag: _suppression(band.suppress, has_fan) for tag, band in shape.bands.items()}
    if has_fan:
        # A sign in the curve of a fan that stands still says nothing of the filters.
        held = Suppression(fan_stopped=True, after_fan_start_s=HOLD_OFF_S)
        planned |= {
            warning_tag(shape, sign): held for sign in shape.early_warnings if sign is not Sign.CHANGE_OUT_DUE
        }
    return {tag: one for tag, one in planned.items() if one.fan_stopped or one.after_fan_start_s or one.cleaning}


def _suppression(shape: Suppress, has_fan: bool) -> Suppression:
    fan_stopped = has_fan if shape.fan_stopped is None else shape.fan_stopped
    by_default_s = HOLD_OFF_S if fan_stopped else 0.0
    return Suppression(
        fan_stopped=fan_stopped,
        after_fan_start_s=by_default_s if shape.after_fan_start is None else shape.after_fan_start,
        cleaning=shape.cleaning,
        longest_cleaning_s=shape.longest_cleaning,
    )


def farther_tags(band: Band, bands: Sequence[Band]) -> tuple[str, ...]:
    """Return the tags of the bands that are raised later on the same way out, the nearest first."""
    sign = 1.0 if band.side is Side.ABOVE else -1.0
    distances = {
        other.alarm.tag: sign * (other.setpoint_inh2o - band.setpoint_inh2o)
        for other in bands
        if other.side is band.side and other.judged is band.judged
    }
    return tuple(sorted((tag for tag, distance in distances.items() if distance > 0), key=distances.__getitem__))
