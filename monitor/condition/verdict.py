"""Verdict: why a sample is not good, in one short English sentence with its figures.

Only the wording and the quality are decided here; what the loop does and whether a number is frozen is
decided in ``loop_current`` and ``frozen``.
"""

from typing import NamedTuple

from monitor.condition import loop_current
from monitor.condition.loop_current import LoopClass, LoopState
from monitor.words import Quality, Reason


class Verdict(NamedTuple):
    """How far a sample may be trusted when it is not good."""

    quality: Quality
    reason: Reason
    detail: str


_REASON_BEFORE = {
    LoopClass.FAILED_LOW: Reason.LOOP_BELOW_MEASURING,
    LoopClass.BELOW_MEASURING: Reason.LOOP_BELOW_MEASURING,
    LoopClass.ABOVE_MEASURING: Reason.LOOP_ABOVE_MEASURING,
    LoopClass.SATURATED: Reason.LOOP_SATURATED,
    LoopClass.FAILED_HIGH: Reason.LOOP_ABOVE_MEASURING,
}
_REASON_FAILED = {
    LoopClass.FAILED_LOW: Reason.LOOP_FAILED_LOW,
    LoopClass.SATURATED: Reason.LOOP_SATURATED,
    LoopClass.FAILED_HIGH: Reason.LOOP_FAILED_HIGH,
}
_LIKELY = {
    LoopClass.FAILED_LOW: "wire broken or transmitter failed",
    LoopClass.SATURATED: "loop beyond the converter or transmitter failed high",
    LoopClass.FAILED_HIGH: "loop shorted or transmitter failed high",
}


def of_loop(loop: LoopState, current_ma: float, at_s: float, converter_end_ma: float) -> Verdict | None:
    """What NE 43 makes of the current; None for a measurement."""
    if loop.level is LoopClass.MEASUREMENT:
        return None
    fact = f"{_ma(current_ma)} mA: {_where(loop.level, current_ma, converter_end_ma)}"
    if loop_current.has_failed(loop, at_s):
        lasting = f"{fact} for {loop_current.FAILURE_LASTS_S:g} s (NE 43), {_LIKELY[loop.level]}"
        return Verdict(Quality.BAD, _REASON_FAILED[loop.level], lasting)
    not_yet = "" if loop.failing_since_s is None else f", not yet for {loop_current.FAILURE_LASTS_S:g} s"
    return Verdict(Quality.UNCERTAIN, _REASON_BEFORE[loop.level], f"{fact}{not_yet} (NE 43)")


def not_a_number(raw: float) -> Verdict:
    """The registers hold a NaN or an infinity, or the scaling makes one."""
    return Verdict(Quality.BAD, Reason.NOT_A_NUMBER, f"the registers hold {raw}, which gives no finite value")


def out_of_range(value: float, low: float | None, high: float | None, unit: str) -> Verdict:
    """The value is outside what can be true at this point, below ``low`` or else above ``high``."""
    unit = unit and f" {unit}"
    if low is not None and value < low:
        detail = f"{value:.6g}{unit}: below the lowest valid {low:g}{unit}"
    else:
        detail = f"{value:.6g}{unit}: above the highest valid {high:g}{unit}"
    return Verdict(Quality.BAD, Reason.OUT_OF_RANGE, detail)


def frozen(raw: float, frozen_after_s: float, fan_running: bool | None) -> Verdict:
    """The raw number stood still too long."""
    fan = "while the fan ran" if fan_running else "and the fan is not known to be stopped"
    return Verdict(Quality.BAD, Reason.FROZEN, f"raw {raw:.9g} has not moved for {frozen_after_s:g} s {fan}")


def _where(level: LoopClass, current_ma: float, converter_end_ma: float) -> str:
    """Where the current lies; held there by the hysteresis it says what it has to reach."""
    play = loop_current.HYSTERESIS_MA
    if level is LoopClass.SATURATED:
        end = _ma(converter_end_ma)
        if current_ma >= converter_end_ma:
            return f"at the converter's end of {end} mA"
        return f"within {play:g} mA of the converter's end of {end} mA since it was there"
    if level is LoopClass.FAILED_LOW:
        low = loop_current.FAILURE_LOW_MA
        return f"at or below {low:g} mA" if current_ma <= low else f"not above {low + play:g} mA"
    if level is LoopClass.FAILED_HIGH:
        high = loop_current.FAILURE_HIGH_MA
        return f"at or above {high:.1f} mA" if current_ma >= high else f"not below {high - play:g} mA"
    return _beside_measuring(level, current_ma, play)


def _beside_measuring(level: LoopClass, current_ma: float, play: float) -> str:
    low, high = loop_current.MEASURING_LOW_MA, loop_current.MEASURING_HIGH_MA
    if low <= current_ma <= high:
        back = f"at {low + play:g} mA" if level is LoopClass.BELOW_MEASURING else f"at {high - play:g} mA"
        return f"not yet back {back} after leaving the measuring range"
    side = "below" if level is LoopClass.BELOW_MEASURING else "above"
    return f"{side} the measuring range of {low:g} to {high:g} mA"


def _ma(current_ma: float) -> str:
    # Three places are finer than any converter; plain rounding keeps 3.604 from reading as 3.60.
    return f"{round(current_ma, 3):g}"
