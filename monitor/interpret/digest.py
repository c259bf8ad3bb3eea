"""Digest: the readings of a few seconds in one small parcel, by which everything in this room goes.

Cleaning takes a minute, cake builds up over many: what happens within five seconds matters only as a mean, an
extreme and an unrest. Reading the curve by parcels costs a fifth, and lets a month be read in seconds.
"""

import math
from typing import NamedTuple


class Sample(NamedTuple):
    """What one collector showed at one moment; None where a point is not there or cannot be trusted.

    Attributes:
        at_s: scan second.
        utc_s: Unix seconds.
        dp_inh2o: good DP, before damping.
        fan: whether the fan runs.
        cleaning: whether the controller calls for cleaning.
    """

    at_s: float
    utc_s: float
    dp_inh2o: float | None
    header_psi: float | None = None
    flow_cfm: float | None = None
    fan: bool | None = None
    cleaning: bool | None = None


class Digest(NamedTuple):
    """What one collector showed from ``begin_s`` to ``end_s`` on the scan clock.

    Parcels follow one another without a hole as long as readings come; a hole between two of them is a time in
    which nothing was read.

    Attributes:
        begin_s: moment of its first sample.
        end_s, end_utc_s: moment of its last sample, on both clocks.
        good: good readings of the DP in it; with 0 the figures of the DP mean nothing.
        bad: readings of the DP that were not good.
        mean_inh2o, lowest_inh2o, highest_inh2o, last_inh2o: over the good readings.
        unrest: mean square of the steps from one good reading to the next, inH2O²; two readings at least.
        repeats: of those steps, how many were exactly 0.
        header_low_psi, header_high_psi, header_psi: lowest, highest and last header pressure.
        flow_cfm: mean air flow.
        fan: whether the fan ran all the time; None where that is not known.
        cleaning: whether cleaning was called for at any time; None where that is not known.
    """

    begin_s: float
    end_s: float
    end_utc_s: float
    good: int = 0
    bad: int = 0
    mean_inh2o: float = 0.0
    lowest_inh2o: float = math.inf
    highest_inh2o: float = -math.inf
    last_inh2o: float = 0.0
    unrest: float = 0.0
    repeats: int = 0
    header_low_psi: float | None = None
    header_high_psi: float | None = None
    header_psi: float | None = None
    flow_cfm: float | None = None
    fan: bool | None = None
    cleaning: bool | None = None
