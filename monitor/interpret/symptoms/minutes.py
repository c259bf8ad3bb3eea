"""Minutes: parcels gathered to a minute, and the last half hour of minutes.

Usual values, steps, drift and stillness are all looked at once a minute; between two minutes only sums are kept.
"""

from typing import NamedTuple

from monitor.interpret.digest import Digest

MINUTE_S = 60.0
#: Minutes that are remembered.
TRAIL = 31


class Open(NamedTuple):
    """The minute that is being filled.

    Attributes:
        begin_s: when it began; None while nothing is in it.
        parcels: with a good DP; ``dp_sum`` and ``unrest_sum`` are over them.
        low_inh2o, high_inh2o: of the parcels' means.
        header_high_psi: the highest header pressure; None where it is not measured.
        flow_sum, flows: of the parcels that had one.
        called: parcels during which cleaning was called for.
    """

    begin_s: float | None = None
    parcels: int = 0
    dp_sum: float = 0.0
    unrest_sum: float = 0.0
    low_inh2o: float = 0.0
    high_inh2o: float = 0.0
    header_high_psi: float | None = None
    flow_sum: float = 0.0
    flows: int = 0
    called: int = 0


class Minute(NamedTuple):
    """One minute of running with a good DP.

    Attributes:
        end_s: when it ended.
        dp_inh2o: mean; ``low_inh2o`` and ``high_inh2o`` of the parcels in it.
        variance: of a reading, from the steps between readings, inH2O².
        cleaned: share of it in which cleaning was called for.
    """

    end_s: float
    dp_inh2o: float
    low_inh2o: float
    high_inh2o: float
    variance: float
    header_high_psi: float | None
    flow_cfm: float | None
    cleaned: float


EMPTY = Open()


def gather(state: Open, digest: Digest, called: bool) -> Open:
    """Take in one parcel with a good DP."""
    begin_s, parcels, dp, unrest, low, high, header, flow, flows, calls = state
    mean = digest.mean_inh2o
    if begin_s is None:
        begin_s, low, high = digest.begin_s, mean, mean
    elif mean < low:
        low = mean
    elif mean > high:
        high = mean
    top = digest.header_high_psi
    if top is not None and (header is None or top > header):
        header = top
    if digest.flow_cfm is not None:
        flow, flows = flow + digest.flow_cfm, flows + 1
    return tuple.__new__(
        Open,
        (
            begin_s,
            parcels + 1,
            dp + mean,
            unrest + digest.unrest,
            low,
            high,
            header,
            flow,
            flows,
            calls + called,
        ),
    )  # half the time of Open(...), once for every parcel


def full(state: Open, now_s: float) -> bool:
    """Whether the minute is over."""
    return state.begin_s is not None and now_s - state.begin_s >= MINUTE_S - 1.0


def closed(state: Open, now_s: float) -> tuple[Minute, Open]:
    """The minute as it was, and the next one, empty."""
    parcels = state.parcels
    minute = Minute(
        now_s,
        state.dp_sum / parcels,
        state.low_inh2o,
        state.high_inh2o,
        state.unrest_sum / parcels / 2.0,
        state.header_high_psi,
        state.flow_sum / state.flows if state.flows else None,
        state.called / parcels,
    )
    return minute, EMPTY
