"""Change trials: a life is lived past its end, the fan stands still for six hours, and the same life begins anew.

What is asked: is the new set noticed, after how many days of running, and how often was a change, or a doubt, seen
where there was none? Torn bags are tried on the same lives: in mid-run the DP falls by a part, and stays lower.
"""

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.digest import Digest
from monitor.interpret.settings import FilterSettings
from monitor.interpret.trend.ageing import BEGIN, Ageing, advance
from monitor.plant.life import Life
from tests.scenarios.ageing_lives import OwnLife, lives_of

DAY_S = 86_400.0
STOP_S = 6 * 3600.0
WATCHED_D = 14.0
#: What is left of the DP after a bag tore: a fifth to two fifths of it is gone.
TORN = (0.8, 0.7, 0.6)

Hours = Sequence[tuple[Digest, Cycle | None]]


class Change(NamedTuple):
    """What became of one life and its change.

    Attributes:
        years: on the calendar, before the change.
        false_changes, false_doubts: seen in those years, where there was nothing.
        after_d: days of running until the new set was noticed; None where it was not, within fourteen.
        torn_taken: how many of the torn bags were taken for new filters.
        torn_doubted: how many of them were said to be uncertain.
    """

    years: float
    false_changes: int
    false_doubts: int
    after_d: float | None
    torn_taken: int
    torn_doubted: int


def changes(bed: str, seeds: Iterable[int]) -> Iterator[Change]:
    """Try each of these lives."""
    for seed in seeds:
        yield tried(lives_of(bed, seed))


def tried(one: Life | OwnLife) -> Change:
    settings = one.filter_settings
    hours = list(zip(one.digests, one.cycles, strict=True))
    state, doubts = BEGIN, 0
    tears = in_a_run(hours)
    for index, (digest, cycle) in enumerate(hours):
        if index == tears:
            whole = state
        before, state = state, advance(settings, state, digest, cycle)
        doubts += state.fell_utc_s not in {None, before.fell_utc_s}
    torn = [played(settings, whole, moved(hours[tears:], 0.0, left))[0] for left in TORN]
    first = [hour for hour in hours if hour[0].end_s <= 3 * WATCHED_D * DAY_S]
    changed, after_d = played(settings, state, moved(first, hours[-1][0].end_s + STOP_S))
    return Change(
        years=hours[-1][0].end_s / DAY_S / 365.25,
        false_changes=len(state.lives),
        false_doubts=doubts,
        after_d=after_d if len(changed.lives) > len(state.lives) else None,
        torn_taken=sum(len(end.lives) > len(whole.lives) for end in torn),
        torn_doubted=sum(end.fell_utc_s not in {None, whole.fell_utc_s} for end in torn),
    )


def played(settings: FilterSettings, state: Ageing, hours: Hours) -> tuple[Ageing, float]:
    """Go on until a change is noticed or the hours are over; the state then, and days of running until it."""
    begin_s, lives, passed_d = state.meter.run_s, len(state.lives), 0.0
    for digest, cycle in hours:
        state = advance(settings, state, digest, cycle)
        passed_d = (state.meter.run_s - begin_s) / DAY_S
        if len(state.lives) > lives or passed_d > WATCHED_D:
            break
    return state, passed_d


def moved(hours: Hours, by_s: float, left: float = 1.0) -> Hours:
    """The same hours later, with so much left of the DP."""
    return [(_digest(digest, by_s, left), cycle and _cycle(cycle, by_s, left)) for digest, cycle in hours]


def in_a_run(hours: Hours) -> int:
    """An hour in the middle of a run, some weeks before the end."""
    late = range(int(0.85 * len(hours)), len(hours))
    return next(index for index in late if all(digest.fan for digest, _ in hours[index - 6 : index + 2]))


def _digest(digest: Digest, by_s: float, left: float) -> Digest:
    return digest._replace(
        begin_s=digest.begin_s + by_s,
        end_s=digest.end_s + by_s,
        end_utc_s=digest.end_utc_s + by_s,
        mean_inh2o=digest.mean_inh2o * left,
    )


def _cycle(cycle: Cycle, by_s: float, left: float) -> Cycle:
    return cycle._replace(
        begin_s=cycle.begin_s + by_s,
        begin_utc_s=cycle.begin_utc_s + by_s,
        end_s=cycle.end_s + by_s,
        end_utc_s=cycle.end_utc_s + by_s,
        residual_inh2o=cycle.residual_inh2o * left,
    )
