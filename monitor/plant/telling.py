"""Telling: what a trial shows at one moment, and the truth behind it, by which detectors are judged."""

from typing import NamedTuple

from monitor.interpret.digest import Sample
from monitor.troubles import Trouble
from monitor.words import Reason


class Truth(NamedTuple):
    """What nobody at a real plant knows for certain.

    Attributes:
        troubles: what is wrong at this moment, in the order in which it was written down.
        cleaning: whether the controller is in a cleaning phase (whether its pulses work is another matter).
        pulses: valves that really opened since the start.
        residual_drag: of the cleaned cloth, mean of the rows, inH2O/(ft/min).
        dp_inh2o: DP across the cloth, free of noise and of whatever ails the instrument.
        filters: 0 for the first set, one more at each change-out.
        dust_lb_ft2: on the cloth, mean of the rows.
    """

    troubles: tuple[Trouble, ...]
    cleaning: bool
    pulses: int
    residual_drag: float
    dp_inh2o: float
    filters: int
    dust_lb_ft2: float


class Shown(NamedTuple):
    """What one collector's instruments show at one moment.

    Attributes:
        sample: as the daemon would have it; its DP is None where that is not good.
        reason: why the DP is not good; ``Reason.NONE`` where it is.
        others: further collectors on the same link.
        others_alike: how many of them show the same kind of trouble (bad or still signal) at this moment.
    """

    sample: Sample
    reason: Reason
    truth: Truth
    others: int = 0
    others_alike: int = 0


class TrueCycle(NamedTuple):
    """One cleaning phase as it really was.

    Attributes:
        begin_s, end_s: first moment and last moment of the phase, seconds since the start of the trial.
        peak_inh2o, residual_inh2o: true DP at either.
        pulses: valves that really opened in it.
        finished: whether it ended because its stop point (or its round) was reached; else the fan or somebody
            stopped it, or the trial was over.
    """

    begin_s: float
    end_s: float
    peak_inh2o: float
    residual_inh2o: float
    pulses: int
    finished: bool
