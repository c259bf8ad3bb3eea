"""Alarms: bands on the DP and the alarm for a DP that cannot be trusted, as the file says them."""

from typing import Annotated

from pydantic import ConfigDict, Field

from monitor.condition.units import Kind
from monitor.judge.settings import Judged
from monitor.site.fields import duration, member, name, quantity, yes_no
from monitor.site.quantities import Quantity
from monitor.site.shape.block import Block, defaulting, optional
from monitor.words import Priority

DAY_S = 86400.0

Pressure = Annotated[Quantity, quantity(Kind.PRESSURE, "6 inH2O")]
Tag = Annotated[str, name("a tag")]
Delay = Annotated[float, duration(0, DAY_S)]
AutoClear = Annotated[float | None, duration(1, 30 * DAY_S, never="never")]

AUTO_CLEAR = (
    "How long after the return to normal a latched alarm is cleared by the timer. 1 s to 30 d, or never. An "
    "active alarm is never cleared by a timer. Default 30 min (common practice, no source)."
)


class Suppress(Block):
    """When a band is suppressed by design: nobody is called; measured, recorded and shown it is all the same."""

    fan_stopped: Annotated[bool | None, yes_no()] = optional(
        "While the fan is known to stand still. Needs fan_running. Default yes where the collector has that "
        "point, otherwise no (common practice, no source): without air there is no DP to judge.",
    )
    after_fan_start: Annotated[float | None, duration(0, 3600)] = optional(
        "Hold-off after the fan was seen to start. 0 s to 1 h; needs fan_running. Default 60 s where the band is "
        "suppressed while the fan stands still, otherwise 0 s (common practice, no source).",
    )
    cleaning: Annotated[bool, yes_no()] = defaulting(
        "no",
        "While the process calls for cleaning. Needs cleaning_active. Default no (our choice): a DP that stays "
        "high while it is cleaned is what the alarm is for.",
    )
    longest_cleaning: Annotated[float, duration(10, DAY_S)] = defaulting(
        "15 min",
        "A cleaning that lasts longer holds nothing back any more. 10 s to 1 d; default 15 min (our choice). "
        "Goes with cleaning.",
    )
    farther_band_raised: Annotated[bool, yes_no()] = defaulting(
        "yes",
        "While a band of the same side, with the same judges, whose set point lies further out is raised: PDAH "
        "under PDAHH. Default yes (ISA-TR18.2.4 practice, from memory): one cause, one alarm.",
    )


class Band(Block):
    """One warning band; its name is its tag."""

    model_config = ConfigDict(json_schema_extra={"oneOf": [{"required": ["above"]}, {"required": ["below"]}]})

    above: Pressure | None = optional(
        "Set point of a high alarm. Raised at or above it; either above or below is given.",
    )
    below: Pressure | None = optional(
        "Set point of a low alarm. Raised at or below it; either above or below is given.",
    )
    priority: Annotated[Priority, member(Priority)] = defaulting(
        "medium", "How soon somebody must act. Default medium (our choice)."
    )
    deadband: Pressure | None = optional(
        "How far inside the set point the DP must come before the alarm returns to normal. 0 or more. "
        "Default 2 % of the measuring range (ISA-TR18.2.3 and EEMUA 191, first guess for pressure), or 0.2 inH2O "
        "where no range is known.",
    )
    on_delay: Delay = defaulting(
        "15 s",
        "How long the condition must hold before the alarm is raised. 0 s to 1 d; default 15 s "
        "(ISA-TR18.2.3 and EEMUA 191, first guess for pressure).",
    )
    off_delay: Delay = defaulting(
        "15 s",
        "How long the condition must be gone before the alarm has returned to normal. 0 s to 1 d; "
        "default 15 s (ISA-TR18.2.3 and EEMUA 191, first guess for pressure).",
    )
    latching: Annotated[bool, yes_no()] = defaulting(
        "yes",
        "Held after the return to normal until a person or the auto-clear timer clears it. Default "
        "yes, so that an alarm of the night is seen in the morning (common practice, no source).",
    )
    auto_clear: AutoClear = defaulting("30 min", AUTO_CLEAR)
    judges: Annotated[Judged, member(Judged)] = defaulting(
        "damped",
        "What is compared with the set point. The damped DP (default), the residual DP after cleaning, "
        "or the running average; the last two do not see the sawtooth of cleaning.",
    )
    suppress: Suppress = Field(
        default_factory=Suppress, description="When the alarm is suppressed by design. Every key is optional."
    )


class BadSignal(Block):
    """The alarm for a DP that is not good: no answer, loop failed or beside its range, frozen, stale."""

    tag: Tag | None = optional(
        "Tag of this alarm. Default: the tag of the DP with -BAD behind it.",
    )
    priority: Annotated[Priority, member(Priority)] = defaulting(
        "high",
        "How soon somebody must act. Default high: while the DP is not good no band can be raised (our choice).",
    )
    on_delay: Delay = defaulting(
        "10 s",
        "How long the DP must be bad before the alarm is raised. 0 s to 1 d; default 10 s: longer than "
        "one lost answer and than the 4 s of NAMUR NE 43.",
    )
    off_delay: Delay = defaulting(
        "10 s",
        "How long the DP must be good again before the alarm has returned to normal. 0 s to 1 d; "
        "default 10 s (our choice).",
    )
    latching: Annotated[bool, yes_no()] = defaulting(
        "no", "Held after the return to normal. Default no: a signal that is back is back."
    )
    auto_clear: AutoClear = defaulting("30 min", AUTO_CLEAR)


class EarlyWarning(Block):
    """One early warning as an alarm; what it looks for is told in the README."""

    tag: Tag | None = optional("Tag of this alarm. Default: the tag of the DP with a word of its own behind it.")
    priority: Annotated[Priority, member(Priority)] = defaulting(
        "low", "How soon somebody must act. Default low: there is time, that is what it is for (our choice)."
    )
    on_delay: Delay = defaulting(
        "0 s",
        "How long the sign must stand before the alarm is raised. 0 s to 1 d; default 0 s: it has waited itself.",
    )
    off_delay: Delay = defaulting(
        "0 s", "How long the sign must be gone before the alarm has returned to normal. 0 s to 1 d; default 0 s."
    )
    latching: Annotated[bool, yes_no()] = defaulting(
        "yes",
        "Held after the return to normal. Default yes, so that a warning of the night is seen in the morning.",
    )
    auto_clear: AutoClear = defaulting(
        "1 d",
        "How long after its return to normal a latched warning is cleared by the timer. 1 s to 30 d, or never. "
        "Default 1 d (our choice).",
    )


class Trends(Block):
    """Over how long a residual DP and a running average are taken."""

    residual_window: Annotated[float, duration(60, DAY_S)] = defaulting(
        "1 h",
        "The residual DP is the lowest damped DP in this window. 1 min to 1 d; it should hold a whole "
        "cleaning cycle. Default 1 h (our choice).",
    )
    average_window: Annotated[float, duration(60, DAY_S)] = defaulting(
        "1 h", "The running average is taken over this window. 1 min to 1 d; default 1 h."
    )
