"""Bands: risks of one alarm by itself, of its set point, its delays and its clearing."""

from collections.abc import Iterator
from itertools import chain

from monitor.condition.channel import AnalogChannel
from monitor.judge.settings import AlarmSettings, Band, Side
from monitor.scan.settings import CollectorPlan
from monitor.site.durations import as_duration
from monitor.site.points import measuring_of
from monitor.site.problems import KeyPath
from monitor.site.reach import reach_of
from monitor.site.risks.risk import Risk
from monitor.site.shape.whole import Collector
from monitor.words import Role

#: Shorter than a round through the plant: nobody can be counted on to have looked (our choice).
NOTICED_WITHIN_S = 300.0


def risks(path: KeyPath, shape: Collector, plan: CollectorPlan, pa_per_inh2o: float) -> Iterator[Risk]:
    """Yield what is risky about each band of a collector."""
    if not plan.bands:
        yield Risk(path, "has no bands: whatever its DP, nobody is told")
    yield from clearing_risks((*path, "bad_signal"), plan.bad_signal)
    channel = plan.points[Role.DP].channel
    reach = reach_of(channel, measuring_of(shape.dp, Role.DP, pa_per_inh2o))
    for band in plan.bands:
        here = (*path, "bands", band.alarm.tag)
        yield from chain(
            clearing_risks(here, band.alarm),
            _letter_risks(here, band),
            _reach_risks(here, band, *reach),
            _spike_risks(here, band, channel),
        )


def clearing_risks(path: KeyPath, alarm: AlarmSettings) -> Iterator[Risk]:
    """Yield what is risky about how any alarm is cleared."""
    auto_clear_s = alarm.auto_clear_s
    if auto_clear_s is None:
        if alarm.latching:
            yield Risk((*path, "auto_clear"), "is never, and the alarm latches: only a person can ever clear it")
    elif auto_clear_s < NOTICED_WITHIN_S:
        yield Risk(
            (*path, "auto_clear"),
            f"is so short ({as_duration(auto_clear_s)}) that the alarm can clear itself before anybody "
            f"noticed it: leave people {as_duration(NOTICED_WITHIN_S)} or more",
        )


def _letter_risks(path: KeyPath, band: Band) -> Iterator[Risk]:
    letter = letters_of(band.alarm.tag)[:1]
    wrong, side = ("L", "high") if band.side is Side.ABOVE else ("H", "low")
    if letter == wrong:
        yield Risk(path, f"is a {side} alarm, and the {wrong} in its tag says otherwise (ISA-5.1: H high, L low)")


def letters_of(tag: str) -> str:
    """Return the H or L letters that end the function letters of an ISA-5.1 alarm tag: HH of PDAHH-101.

    Empty where the letters do not end in them after an A for alarm: PDSH is a switch, DP-HALL a name.
    """
    letters = "".join(_leading_letters(tag)).upper()
    stem, is_alarm, modifier = letters.rpartition("A")
    return modifier if is_alarm and stem and modifier in ("H", "HH", "HHH", "L", "LL", "LLL") else ""


def _leading_letters(tag: str) -> Iterator[str]:
    for character in tag:
        if not character.isalpha():
            return
        yield character


def _reach_risks(path: KeyPath, band: Band, low: float | None, high: float | None) -> Iterator[Risk]:
    is_above = band.side is Side.ABOVE
    key = (*path, band.side.value)
    far, near = (high, low) if is_above else (low, high)
    sign = 1.0 if is_above else -1.0
    if far is not None and sign * (band.setpoint_inh2o - far) > 0:
        yield Risk(key, f"lies beyond what the transmitter can show ({far:.4g} inH2O): it can never be raised")
    elif near is not None and sign * (band.setpoint_inh2o - near) <= 0:
        yield Risk(key, f"lies outside of all the transmitter can show ({near:.4g} inH2O): it is raised always")


def _spike_risks(path: KeyPath, band: Band, channel: object) -> Iterator[Risk]:
    is_damped = isinstance(channel, AnalogChannel) and (channel.median_samples or channel.lag_s)
    if band.alarm.on_delay_s == 0 and not is_damped:
        yield Risk(
            (*path, "on_delay"), "is 0 s and the DP is not damped: a single spike of pulse cleaning raises it"
        )
