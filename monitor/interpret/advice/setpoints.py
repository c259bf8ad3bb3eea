"""Set points: where start and stop of on-demand cleaning belong, and why.

The rules, each common practice without a source unless it says otherwise:

- one inch between start and stop: closer, and mere noise starts and stops it; wider, and the flow sways;
- cleaning takes a quarter of the time at most, in the dustiest tenth of the time too, and a fifth where it has to
  be moved for that (our choice): cleaning that hardly ever rests wears diaphragms and cloth, and strips the cake
  that does the collecting;
- the DP stays at 6 inH2O or under; 3 to 6 inH2O is what a pulse-jet collector in good order shows;
- the start stays under the residual DP at which the filters are to be changed;
- the stop stays at 2 inH2O or over, where there is still a cake.

As little as possible is moved: set points that keep all rules stay as they are. Where no place keeps the rule of
the cleaning time, the one that comes nearest is advised if it helps much, and it is said that it is not enough.
"""

from enum import StrEnum
from typing import NamedTuple

from monitor.interpret.advice.learning import Habits, teeth
from monitor.interpret.advice.sawtooth import Teeth

GAP_INH2O = 1.0
#: A swing this much narrower or wider is left as it is (our choice).
NARROW_INH2O, WIDE_INH2O = 0.8, 1.5
#: Cleaning may take so much of the time before it is said to be too much, and after an advice.
MOST_SHARE, WANTED_SHARE = 0.25, 0.2
#: What is advised although it is not enough cleans at most so much, and so much less than before (our choice).
_NEAREST_SHARE, _HELPS = 0.5, 0.75
HIGHEST_INH2O, LOWEST_INH2O = 6.0, 2.0
_STEP = 0.1
#: No real cleaning goes on for longer without an end; the reckoning stops there.
_MOST_PULSES = 2000


class Why(StrEnum):
    """Why set points were moved, or left where they are."""

    KEPT = "kept"
    TOO_CLOSE = "too_close"
    TOO_WIDE = "too_wide"
    CLEANS_TOO_MUCH = "cleans_too_much"
    TOO_HIGH = "too_high"
    OVER_CHANGE_OUT = "over_change_out"
    NOT_ENOUGH = "not_enough"
    NO_ROOM = "no_room"


class Tooth(NamedTuple):
    """One cycle as it would go: filtration, cleaning, pulses; ``share`` of the time is cleaning."""

    filtering_s: float
    cleaning_s: float
    pulses: int
    ends: bool

    @property
    def share(self) -> float:
        """The share of the cycle that is cleaning; 1 where it does not end."""
        return self.cleaning_s / (self.filtering_s + self.cleaning_s) if self.ends else 1.0


class Setpoints(NamedTuple):
    """Start and stop, and why they are there."""

    start_inh2o: float
    stop_inh2o: float
    why: tuple[Why, ...]


class Limits(NamedTuple):
    """How high the start may be, and whether the change-out limit says so."""

    highest_inh2o: float
    by_change_out: bool


def tooth(habits: Habits, between: Teeth, rise_inh2o_s: float) -> Tooth:
    """One cycle between these points at that rise, with the usual pull of a pulse."""
    rise = max(1e-7, rise_inh2o_s * between.rise_factor)
    pull = sum(one.pull_inh2o for one in habits.drives) / len(habits.drives)
    level = sum(one.level_inh2o for one in habits.drives) / len(habits.drives)
    share = min(0.9, pull / max(1e-6, level - between.floor_inh2o))
    dp, pulses = between.start_inh2o, 0
    while dp > between.stop_inh2o and pulses < _MOST_PULSES:
        dp += 0.0 if pulses == 0 else rise * between.pulse_every_s
        dp -= share * max(0.0, dp - between.floor_inh2o)
        pulses += 1
    ends = dp <= between.stop_inh2o
    return Tooth((between.start_inh2o - dp) / rise, (pulses - 1) * between.pulse_every_s, pulses, ends)


def reachable_inh2o(habits: Habits) -> float:
    """The lowest DP that pulsing without a pause would bring, in the dustiest tenth of the time.

    There a pulse takes off what dust brings until the next: floor + rise · interval / share.
    """
    floor = habits.assumed[0].floor_inh2o
    pull = sum(one.pull_inh2o for one in habits.drives) / len(habits.drives)
    level = sum(one.level_inh2o for one in habits.drives) / len(habits.drives)
    return floor + habits.high_rise_inh2o_s * habits.pulse_every_s * (level - floor) / max(1e-9, pull)


def dusty_share(habits: Habits, start_inh2o: float, stop_inh2o: float) -> float:
    """The share of the time that cleaning would take in the dustiest tenth of the time."""
    between = teeth(habits, start_inh2o, stop_inh2o, habits.assumed[0])
    return tooth(habits, between, habits.high_rise_inh2o_s).share


def limits(habits: Habits, change_out_inh2o: float | None, top_inh2o: float | None) -> Limits:
    """How high the start may be.

    Args:
        habits: of the collector.
        change_out_inh2o: residual DP at which the filters are to be changed.
        top_inh2o: end of what the transmitter shows; the bands need two inches below it.
    """
    usual = HIGHEST_INH2O if top_inh2o is None else min(HIGHEST_INH2O, top_inh2o - 2.0)
    if change_out_inh2o is not None and change_out_inh2o < max(usual, habits.start_inh2o):
        return Limits(change_out_inh2o, by_change_out=True)
    return Limits(usual, by_change_out=False)


def place(habits: Habits, limit: Limits) -> Setpoints:
    """Where the set points belong; ``Why.NO_ROOM`` where no place keeps the rules."""
    start, stop = habits.start_inh2o, habits.stop_inh2o
    faults = _faults(habits, limit)
    if not faults:
        return Setpoints(start, stop, (Why.KEPT,))
    places = [(dusty_share(habits, *one), one) for one in _candidates(habits, limit)]
    # Who cleans too much shall have rest to spare; who does not, need not gain any by the way.
    wanted = WANTED_SHARE if Why.CLEANS_TOO_MUCH in faults else MOST_SHARE
    fits = [one for share, one in places if share <= wanted]
    if not fits:
        return _nearest(habits, faults, places)
    return Setpoints(*min(fits, key=lambda one: _change(habits, one)), faults)


def _nearest(
    habits: Habits, faults: tuple[Why, ...], places: list[tuple[float, tuple[float, float]]]
) -> Setpoints:
    """The place with the least cleaning, where that helps much; else the present one."""
    start, stop = habits.start_inh2o, habits.stop_inh2o
    share, best = min(places, default=(1.0, (start, stop)))
    if share <= _NEAREST_SHARE and share <= _HELPS * dusty_share(habits, start, stop):
        return Setpoints(*best, (*faults, Why.NOT_ENOUGH))
    return Setpoints(start, stop, (*faults, Why.NO_ROOM))


def _faults(habits: Habits, limit: Limits) -> tuple[Why, ...]:
    start, stop = habits.start_inh2o, habits.stop_inh2o
    found = {
        Why.TOO_CLOSE: start - stop < NARROW_INH2O - 1e-6,
        Why.TOO_WIDE: start - stop > WIDE_INH2O + 1e-6,
        Why.CLEANS_TOO_MUCH: dusty_share(habits, start, stop) > MOST_SHARE,
        Why.OVER_CHANGE_OUT: limit.by_change_out and start > limit.highest_inh2o + 1e-6,
        Why.TOO_HIGH: not limit.by_change_out and start > limit.highest_inh2o + 1e-6,
    }
    return tuple(why for why, is_so in found.items() if is_so)


def _candidates(habits: Habits, limit: Limits) -> list[tuple[float, float]]:
    """Pairs on a grid of a tenth of an inch, the swing as it is where that is good, else an inch."""
    gap = habits.start_inh2o - habits.stop_inh2o
    if not NARROW_INH2O - 1e-6 <= gap <= WIDE_INH2O + 1e-6:
        gap = GAP_INH2O
    lowest = min(LOWEST_INH2O, habits.stop_inh2o)
    count = int((limit.highest_inh2o - gap - lowest) / _STEP + 1e-6) + 1
    stops = [round(lowest + number * _STEP, 2) for number in range(max(0, count))]
    return [(round(stop + gap, 2), stop) for stop in stops]


def _change(habits: Habits, points: tuple[float, float]) -> tuple[float, float, float]:
    """The least change first; of those alike what leaves the mean DP where it is, then what costs the fan less."""
    start, stop = habits.start_inh2o, habits.stop_inh2o
    moved = abs(points[0] - start) + abs(points[1] - stop)
    return round(moved, 3), round(abs(sum(points) - start - stop), 3), points[0]
