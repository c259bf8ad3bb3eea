"""Sawtooth: risks of bands beside the set points between which the cleaning makes the DP swing."""

from collections.abc import Iterator

from monitor.judge.settings import Band, Judged, Side
from monitor.scan.settings import CleaningSetpoints, CollectorPlan
from monitor.site.problems import KeyPath
from monitor.site.risks.risk import Risk

#: How far from a cleaning set point a band should stay at least (common practice, no source).
MARGIN = 0.1


def risks(path: KeyPath, plan: CollectorPlan) -> Iterator[Risk]:
    """Yield bands that normal cleaning raises, and small deadbands in a wide sawtooth."""
    cleaning = plan.cleaning
    if cleaning is None:
        return
    for band in plan.bands:
        sentence = _near_cleaning(band, cleaning)
        if sentence:
            yield Risk((*path, "bands", band.alarm.tag, band.side.value), sentence)
    yield from _swing_risks(path, plan, cleaning)


def _near_cleaning(band: Band, cleaning: CleaningSetpoints) -> str:
    start, stop, setpoint = cleaning.start_inh2o, cleaning.stop_inh2o, band.setpoint_inh2o
    is_above = band.side is Side.ABOVE
    # The residual DP is what cleaning leaves, about stop: a high band between stop and start is its very use.
    limit = stop if (is_above and band.judged is Judged.RESIDUAL) or not is_above else start
    distance = setpoint - limit if is_above else limit - setpoint
    swing = f"{stop:.4g} to {start:.4g} inH2O"
    if distance <= 0:
        return f"is reached in every normal cleaning cycle, {swing}: it will be raised each time"
    if distance < max(band.deadband_inh2o, MARGIN * limit):
        return f"lies {distance:.2g} inH2O from where normal cleaning takes the DP, {swing}: too close"
    return ""


def _swing_risks(path: KeyPath, plan: CollectorPlan, cleaning: CleaningSetpoints) -> Iterator[Risk]:
    swing = cleaning.start_inh2o - cleaning.stop_inh2o
    damped = [band for band in plan.bands if band.judged is Judged.DAMPED and band.deadband_inh2o < swing]
    if not damped:
        return
    tags = ", ".join(band.alarm.tag for band in damped)
    yield Risk(
        (*path, "bands"),
        f"a deadband smaller than the sawtooth of cleaning ({swing:.4g} inH2O) makes an alarm on the damped DP "
        f"come and go with every cycle near its set point ({tags}): widen it, or judge residual or average",
    )
