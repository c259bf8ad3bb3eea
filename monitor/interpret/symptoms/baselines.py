"""Baselines: what is usual at this collector, figure by figure.

Everything is learnt while the fan runs and has settled. Each figure says None until it was seen six times (cycles,
or minutes an hour apart for the rest), or, for what only a long stretch can tell, until six hours of running.
"""

from typing import NamedTuple

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.symptoms import usual
from monitor.interpret.symptoms.minutes import Minute
from monitor.interpret.symptoms.stillness import Still
from monitor.interpret.symptoms.usual import Usual

#: The first two stretches are shorter, so that a new collector is known after a shift; our choice.
FIRST_STRETCH_S = 6 * 3600.0
STRETCH_S = 12 * 3600.0
#: The figures of one minute are learnt so often, seconds of running; our choice.
EVERY_S = 600.0


class Baselines(NamedTuple):
    """The usual values.

    Attributes:
        opened_s, taken_s: seconds of running at which the stretch was opened, and a minute was last learnt from.
        dp … flow: of a minute; ``header`` between cleanings and ``header_busy`` during them, highest in a minute.
        share: of the last half hour that was cleaned.
        cleaning_s … dip: of a cycle; ``gap_s`` seconds of running from one cycle to the next.
        floor: lowest residual DP of a stretch; ``lowest`` in the open one.
        calmest: variance of the calmest ten minutes of a stretch; ``still_s`` its longest exact repeat.
    """

    opened_s: float = 0.0
    taken_s: float = 0.0
    dp: Usual = usual.EMPTY
    noise: Usual = usual.EMPTY
    flow: Usual = usual.EMPTY
    header: Usual = usual.EMPTY
    header_busy: Usual = usual.EMPTY
    share: Usual = usual.EMPTY
    cleaning_s: Usual = usual.EMPTY
    pulled: Usual = usual.EMPTY
    residual: Usual = usual.EMPTY
    peak: Usual = usual.EMPTY
    rise: Usual = usual.EMPTY
    gap_s: Usual = usual.EMPTY
    dip: Usual = usual.EMPTY
    lowest: float | None = None
    floor: Usual = usual.EMPTY
    calmest: Usual = usual.EMPTY
    still_s: Usual = usual.EMPTY


EMPTY = Baselines()


def from_minute(state: Baselines, minute: Minute, share: float | None, ran_s: float) -> Baselines:
    """Learn from a minute, now and then."""
    busy = minute.cleaned > 0.5
    known = state.header_busy if busy else state.header
    top = minute.header_high_psi
    if ran_s - state.taken_s < EVERY_S and not (busy and known.value is None and top is not None):
        return state
    if busy:
        state = state._replace(header_busy=usual.add(state.header_busy, top))
    elif minute.cleaned == 0.0:
        state = state._replace(header=usual.add(state.header, top))
    return state._replace(
        taken_s=ran_s,
        dp=usual.add(state.dp, minute.dp_inh2o),
        noise=usual.add(state.noise, minute.variance**0.5),
        flow=usual.add(state.flow, minute.flow_cfm),
        share=usual.add(state.share, share),
    )


def from_cycle(state: Baselines, cycle: Cycle, gap_s: float | None) -> Baselines:
    """Learn from a whole cycle."""
    residual, lowest = cycle.residual_inh2o, state.lowest
    return state._replace(
        lowest=residual if lowest is None or residual < lowest else lowest,
        cleaning_s=usual.add(state.cleaning_s, cycle.cleaning_s),
        pulled=usual.add(state.pulled, cycle.pulled_inh2o),
        residual=usual.add(state.residual, residual),
        peak=usual.add(state.peak, cycle.peak_inh2o),
        rise=usual.add(state.rise, cycle.rise_inh2o_min),
        gap_s=usual.add(state.gap_s, gap_s),
        dip=usual.add(state.dip, cycle.dip_psi),
    )


def stretch_over(state: Baselines, ran_s: float) -> bool:
    """Whether the open stretch is to be closed."""
    length_s = FIRST_STRETCH_S if len(state.calmest.past) < 2 else STRETCH_S
    return ran_s - state.opened_s >= length_s


def closed(state: Baselines, still: Still, ran_s: float) -> tuple[Baselines, Still]:
    """Close the stretch of every figure."""
    figures = [usual.close(one) for one in state[2:-4]]
    floor = usual.closed_with(state.floor, state.lowest)
    calmest = usual.closed_with(state.calmest, still.calmest)
    still_s = usual.closed_with(state.still_s, still.longest_s)
    after = Baselines._make((ran_s, state.taken_s, *figures, None, floor, calmest, still_s))
    return after, still._replace(longest_s=0.0, calmest=None)


def floor_inh2o(state: Baselines) -> float | None:
    """The lowest residual DP of the last days; None before a stretch was closed."""
    return min(state.floor.past) if state.floor.past else None


def pulse_inh2o(state: Baselines, pulse_every_s: float) -> float | None:
    """By how much one pulse usually brings the DP down; None: not known yet."""
    pulled, cleaning_s = state.pulled.value, state.cleaning_s.value
    return pulled * pulse_every_s / cleaning_s if pulled and cleaning_s else None


def anew(state: Baselines, ran_s: float) -> Baselines:
    """New filters: what depends on them is learnt anew; the header and the transmitter are the same."""
    return Baselines(
        ran_s,
        ran_s,
        noise=state.noise,
        header=state.header,
        header_busy=state.header_busy,
        dip=state.dip,
        calmest=state.calmest,
        still_s=state.still_s,
    )
