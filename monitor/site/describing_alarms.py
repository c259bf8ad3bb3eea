"""Describing alarms: when each is raised, what holds it back, and what ends it, in plain words."""

from collections.abc import Iterator

from monitor.judge.settings import AlarmSettings, Band, Judged, Side
from monitor.scan.settings import CollectorPlan, LinkAlarmPlan, Suppression
from monitor.site.durations import as_duration
from monitor.site.values import listed

_JUDGED_WORDS = {Judged.DAMPED: "DP", Judged.RESIDUAL: "residual DP", Judged.AVERAGE: "running average of the DP"}


def of_collector(plan: CollectorPlan) -> Iterator[str]:
    """Yield the lines about the alarms of a collector."""
    for band in plan.bands:
        yield f"  {band.alarm.tag}  {_band(band)}"
        yield f"    {_ending(band.alarm)}"
        yield f"    {_held_back(band.alarm, plan.suppression.get(band.alarm.tag))}"
    for sign, alarm in plan.warnings.items():
        shown = sign.value.replace("_", " ").replace("dp ", "DP ")
        yield f"  {alarm.tag}  {alarm.priority}: early warning, {shown}{_for(alarm.on_delay_s)}"
        yield f"    {_ending(alarm)}"
        yield f"    {_held_back(alarm, plan.suppression.get(alarm.tag))}"
    yield f"  {plan.bad_signal.tag}  {plan.bad_signal.priority}: {_bad_signal(plan.bad_signal)}"
    yield f"    {_ending(plan.bad_signal)}"
    yield f"    {_held_back(plan.bad_signal, None)}"


def of_link(plan: LinkAlarmPlan | None) -> Iterator[str]:
    """Yield the lines about the alarm of a link; None where it has none."""
    if plan is None:
        yield "  no alarm: nothing is read through it"
        return
    alarm = plan.alarm
    silent = ", or no unit on it answers," if len(plan.units) > 1 else ""
    back = f"normal again once it is back{_for(alarm.off_delay_s)}"
    yield f"  {alarm.tag}  {alarm.priority}: link not connected{silent}{_for(alarm.on_delay_s)}; {back}"
    yield f"    {_ending(alarm)}"


def _held_back(alarm: AlarmSettings, suppression: Suppression | None) -> str:
    """By design only: what a person puts aside is no plan."""
    reasons = list(_reasons(suppression)) if suppression is not None else []
    if alarm.causes:
        reasons.append(f"while {listed(alarm.causes)} is raised")
    return f"held back {'; '.join(reasons)}" if reasons else "never held back"


def _reasons(suppression: Suppression) -> Iterator[str]:
    if suppression.fan_stopped:
        yield "while the fan stands still"
    if suppression.after_fan_start_s:
        yield f"for {as_duration(suppression.after_fan_start_s)} after the fan has started"
    if suppression.cleaning:
        yield f"while the filter is cleaned, for {as_duration(suppression.longest_cleaning_s)} at most"


def _band(band: Band) -> str:
    way, back = ("at or above", "below") if band.side is Side.ABOVE else ("at or below", "above")
    raised = f"{_JUDGED_WORDS[band.judged]} {way} {band.setpoint_inh2o:.6g} inH2O{_for(band.alarm.on_delay_s)}"
    inside = band.setpoint_inh2o + band.deadband_inh2o * (-1 if band.side is Side.ABOVE else 1)
    return f"{band.alarm.priority}: {raised}; normal again {back} {inside:.6g} inH2O{_for(band.alarm.off_delay_s)}"


def _bad_signal(alarm: AlarmSettings) -> str:
    return (
        f"DP not good (bad or uncertain){_for(alarm.on_delay_s)}; normal again once good{_for(alarm.off_delay_s)}"
    )


def _for(delay_s: float) -> str:
    return f" for {as_duration(delay_s)}" if delay_s else ""


def _ending(alarm: AlarmSettings) -> str:
    held = "latching" if alarm.latching else "not latching"
    if alarm.auto_clear_s is None:
        return f"{held}; never cleared by the timer"
    which = "" if alarm.latching else "if nobody acknowledged it, "
    return f"{held}; {which}cleared by the timer {as_duration(alarm.auto_clear_s)} after its return to normal"
