"""Channel: everything between the words off the wire and a reading one may trust, for one point."""

from dataclasses import dataclass

from monitor.condition.registers import RegisterFormat
from monitor.condition.scaling import LinearScaling, LoopScaling


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalogChannel:
    """How one analog point is conditioned.

    Attributes:
        valid_low, valid_high: outside of these the reading is bad, out of range (inside units); for a loop
            NE 43 judges the current and these are None unless the file narrows them.
        median_samples: damping by the median of that many samples, odd, 3 to 15; None for none.
        lag_s: time constant of first-order damping after the median, seconds; None for none.
        frozen_after_s: a raw value that did not move for this long while the fan ran is frozen; None never.
        stale_after_s: without a reply for this long the reading is stale, seconds.
        span: width of the measuring range in inside units (the 2 % of span by default rules); None if unknown.
    """

    format: RegisterFormat
    scaling: LoopScaling | LinearScaling
    valid_low: float | None = None
    valid_high: float | None = None
    median_samples: int | None = None
    lag_s: float | None = None
    frozen_after_s: float | None = None
    stale_after_s: float = 10.0
    span: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DiscreteChannel:
    """How one yes/no point is conditioned.

    Exactly one of three forms: a coil or discrete input (``bit`` and ``at_least`` both None); one ``bit``
    (0 is the least significant) of a 16-bit register; or a register ``at_least`` a threshold (motor amps),
    read by ``format`` and compared after ``scaling``.

    Attributes:
        inverted: true where 0 means yes (a normally closed contact).
        deadband: how far below ``at_least`` the value must fall before the answer turns to no, 0 or more.
    """

    bit: int | None = None
    at_least: float | None = None
    deadband: float = 0.0
    format: RegisterFormat | None = None
    scaling: LinearScaling | None = None
    inverted: bool = False
    stale_after_s: float = 10.0
