"""Flow: at which air flow residual pressure drops are compared.

At half the flow a filter shows half the DP, though nothing about it has changed. Figures are brought to the flow
that was seen first, because nothing else is known then; what is told is brought from there to the design flow, or
to the usual flow of the set's first weeks.
"""

from statistics import median
from typing import NamedTuple

from monitor.interpret.settings import FilterSettings

#: One flow is remembered for each six hours of running, for two weeks.
EVERY_S = 6 * 3600.0
MOST_FIRST = 56
#: Below this share of the reference flow the correction would magnify errors more than it mends.
LEAST_SHARE = 0.25


class Flow(NamedTuple):
    """What is known of the flow.

    Attributes:
        reference_cfm: to which figures are brought; None where it is not measured.
        last_cfm: the newest, for figures that come without their own.
        first: flows of the set's first two weeks of running.
        begin_run_s: seconds of running at which those weeks began.
    """

    reference_cfm: float | None = None
    last_cfm: float = 0.0
    first: tuple[float, ...] = ()
    begin_run_s: float = 0.0


def learned(settings: FilterSettings, flow: Flow, flow_cfm: float, run_s: float) -> Flow:
    """Take in what was measured; a flow of nothing is not one."""
    if flow_cfm <= 0.0:
        return flow
    reference_cfm = flow.reference_cfm or settings.design_flow_cfm or flow_cfm
    first = flow.first
    if len(first) < MOST_FIRST and run_s - flow.begin_run_s >= EVERY_S * len(first):
        first = (*first, round(flow_cfm, 1))
    return Flow(reference_cfm, flow_cfm, first, flow.begin_run_s)


def same_flow(flow: Flow, dp_inh2o: float, flow_cfm: float | None) -> float:
    """What that DP would be at the reference flow; where it came without a flow, the newest is taken."""
    if flow.reference_cfm is None:
        return dp_inh2o
    now_cfm = flow_cfm or flow.last_cfm or flow.reference_cfm
    return dp_inh2o * flow.reference_cfm / max(now_cfm, LEAST_SHARE * flow.reference_cfm)


def told_by(settings: FilterSettings, flow: Flow) -> float:
    """Factor from the reference flow to the one that is told."""
    if flow.reference_cfm is None:
        return 1.0
    if settings.design_flow_cfm is not None:
        return settings.design_flow_cfm / flow.reference_cfm
    return median(flow.first) / flow.reference_cfm if flow.first else 1.0
