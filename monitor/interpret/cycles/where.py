"""Where: where the collector is in its cycle, and how one cycle ends and the next begins."""

from typing import NamedTuple

from monitor.interpret.cycles import dips as pulses
from monitor.interpret.cycles import level as levels
from monitor.interpret.cycles.call import Call
from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.dips import Dips
from monitor.interpret.cycles.fall import Crest, Fall
from monitor.interpret.cycles.level import Level
from monitor.interpret.cycles.usual import Usual, learn


class Tracker(NamedTuple):
    """Where the collector is in its cycle.

    Attributes:
        cleaning_since_s: scan second since which it is being cleaned; None while it is not, or nobody can tell.
        last: the newest whole cycle.
        level, dips, usual: what is known of the DP, of the header, and of the last cleanings.
        crest, fall, call: where it is now; see there.
        ended_s, residual: end of the cleaning before and the DP there; None where not seen, or disturbed since.
        resting_s: until then nothing is concluded from a fall.
        whole: whether all readings since that end were good and none was missing.
        seen_s: end of the newest digest of any kind.
    """

    cleaning_since_s: float | None = None
    last: Cycle | None = None
    level: Level = levels.NOTHING
    dips: Dips = pulses.NONE
    usual: Usual = Usual()
    crest: Crest | None = None
    fall: Fall | None = None
    call: Call | None = None
    ended_s: float | None = None
    residual: float | None = None
    resting_s: float = 0.0
    whole: bool = True
    seen_s: float | None = None


BEGIN = Tracker()


def end(state: Tracker, cycle: Cycle) -> tuple[Tracker, Cycle]:
    """Report a cycle, and begin the next."""
    if state.ended_s is not None:
        filtration_s = cycle.begin_s - state.ended_s
        rise = None
        if state.residual is not None and filtration_s > max(45.0, 2.0 * state.level.period_s):
            rise = (cycle.peak_inh2o - state.residual) / filtration_s * 60.0
        cycle = cycle._replace(cycle_s=cycle.end_s - state.ended_s, rise_inh2o_min=rise, whole=state.whole)
    else:
        cycle = cycle._replace(whole=False)
    return state._replace(
        last=cycle,
        usual=learn(state.usual, cycle),
        ended_s=cycle.end_s,
        residual=cycle.residual_inh2o,
        whole=True,
    ), cycle
