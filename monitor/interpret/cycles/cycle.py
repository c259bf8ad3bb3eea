"""Cycle: one filtration and the cleaning that ended it, in the words of ISO 11057."""

from typing import NamedTuple


class Cycle(NamedTuple):
    """One whole cycle: cake builds up to a peak, cleaning takes it down to the residual pressure drop.

    Attributes:
        begin_s, begin_utc_s: when the cleaning began.
        end_s, end_utc_s: when it ended.
        peak_inh2o: pressure drop prior to cleaning, free of noise and pulse spikes.
        residual_inh2o: residual pressure drop right after the cleaning.
        cycle_s: from the end of the cleaning before to the end of this one; None where that one was not seen, or
            something was missing in between.
        rise_inh2o_min: how fast the DP rose in the filtration before; None where too little of it was seen.
        pulses: rows pulsed: counted in the header pressure, else estimated from the pulse interval.
        counted: whether the pulses were counted.
        flow_cfm: mean flow from peak to residual; None where it is not measured.
        signalled: whether the cleaning signal said begin and end.
        whole: whether every reading of it was good and none was missing.
        dip_psi: median dip of the header pressure at a pulse; None where it is not measured.
    """

    begin_s: float
    begin_utc_s: float
    end_s: float
    end_utc_s: float
    peak_inh2o: float
    residual_inh2o: float
    cycle_s: float | None = None
    rise_inh2o_min: float | None = None
    pulses: int = 0
    counted: bool = False
    flow_cfm: float | None = None
    signalled: bool = False
    whole: bool = True
    dip_psi: float | None = None

    @property
    def cleaning_s(self) -> float:
        """How long the cleaning took, seconds."""
        return self.end_s - self.begin_s

    @property
    def pulled_inh2o(self) -> float:
        """By how much the cleaning brought the DP down."""
        return self.peak_inh2o - self.residual_inh2o
