"""Every state that an alarm can reach with short timers, and every act in each: all invariants hold.

How many states and transitions were explored is printed at the end of the run.
"""

from collections import Counter
from functools import cache, wraps
from typing import NamedTuple

import pytest

from monitor.judge.table import Trigger, rows
from monitor.words import AlarmState
from tests.judge.model import collector, one_alarm
from tests.judge.model.collector import BAD, HIGH, HIGH_HIGH, Said, Scene, bands_of
from tests.judge.model.explore import Found, explore, unable_to_reach
from tests.judge.model.invariants import OF_AN_ALARM, time_cut_in_pieces_changes_nothing
from tests.judge.model.one_alarm import slower, small
from tests.judge.model.stride import Act
from tests.judge.model.together import OF_A_COLLECTOR

# A bad signal is never blind to itself: it is bad or it is good.
SIGNAL = tuple(act for act in Act if act is not Act.SEE_NOTHING)


class Case(NamedTuple):
    """A world to explore, and how many states it has at the least."""

    world: one_alarm.World | collector.World
    floor: int


def readings(floor, stale_s=1, **settings):
    return Case(one_alarm.World(small(**settings), continuous=False, stale_s=stale_s), floor)


def at_once(floor, acts=SIGNAL, **settings):
    return Case(one_alarm.World(small(**settings), continuous=True, acts=acts), floor)


ALARMS = {
    "band, latching": readings(2000, latching=True),
    "band, latching, for a person only": readings(1200, latching=True, auto_clear_s=None),
    "band, not latching": readings(1000, latching=False),
    "band, not latching, cleared at once": readings(800, latching=False, auto_clear_s=0.0),
    "signal, counting back": at_once(150, latching=False, counts_back=True),
    "signal, counting back, latching": at_once(250, latching=True, counts_back=True),
    "seen at every moment, latching": at_once(400, tuple(Act), latching=True),
    "seen at every moment, not latching, for a person only": at_once(
        200, tuple(Act), latching=False, auto_clear_s=None
    ),
    "seen at every moment, latching, cleared at once": at_once(250, tuple(Act), latching=True, auto_clear_s=0.0),
}


def longer(floor, *, continuous, shelf_s=3, acts=tuple(Act), **settings):
    conf = slower(small(**settings))
    return Case(one_alarm.World(conf, continuous, acts, shelf_s=shelf_s, stale_s=2), floor)


LONG_ALARMS = {
    "band, latching, longer": longer(6000, continuous=False, latching=True),
    "band, not latching, longer": longer(3000, continuous=False, latching=False),
    "signal, counting back, longer": longer(500, continuous=True, latching=True, counts_back=True, acts=SIGNAL),
    "seen at every moment, longer": longer(1000, continuous=True, latching=True),
}

READS = (Scene.READ_LOW, Scene.READ_HIGH, Scene.READ_HIGH_HIGH, Scene.READ_NOTHING, Scene.WAIT)
FAN = (Scene.FAN_STOPS, Scene.FAN_RUNS)
LINK = (Scene.LINK_LOST, Scene.LINK_BACK)
RESTART = (Scene.RESTART,)
ACKNOWLEDGED = tuple(Said(tag, Trigger.ACKNOWLEDGE) for tag in (BAD, HIGH_HIGH, HIGH))
PERSONS = (Trigger.CLEAR, Trigger.SHELVE, Trigger.UNSHELVE, Trigger.REMOVE, Trigger.RESTORE)


def collectors(floor, *deeds, **settings):
    return Case(collector.World(bands_of(**settings), (*READS, *deeds)), floor)


def asked(tag):
    """All that a person may ask of one alarm, while the others are acknowledged at the most."""
    return (*ACKNOWLEDGED, *(Said(tag, trigger) for trigger in PERSONS))


COLLECTORS = {
    "collector, restarts": collectors(1000, *RESTART),
    "collector, fan": collectors(4000, *FAN),
    "collector, link": collectors(1500, *LINK),
    "collector, a person at the high": collectors(2000, *asked(HIGH), latching=False, auto_clear_s=None),
}
LONG_COLLECTORS = {
    "collector, a person at the high-high": collectors(2500, *asked(HIGH_HIGH), latching=False, auto_clear_s=None),
    "collector, a person at the bad signal": collectors(2000, *asked(BAD), latching=False, auto_clear_s=None),
    "collector, all from outside, longer": collectors(25_000, *FAN, *LINK, *RESTART, on_s=2.0),
    "collector, a person at the high, fan and link": collectors(
        50_000, *asked(HIGH), *FAN, *LINK, *RESTART, auto_clear_s=None
    ),
}
WORLDS = ALARMS | COLLECTORS | LONG_ALARMS | LONG_COLLECTORS


def of_each_alarm(invariant):
    """An invariant of an alarm, asked of every alarm of the collector."""

    @wraps(invariant)
    def holds(turn):
        verdicts = [invariant(stride) for stride in turn.alarms if stride.same_in_two is None]
        said = [verdict for verdict in verdicts if verdict is not None]
        return all(said) if said else None

    return holds


IN_A_COLLECTOR = [of_each_alarm(one) for one in OF_AN_ALARM if one is not time_cut_in_pieces_changes_nothing]


#: Every way in which a state was seen to change.
CHANGES = set()


def takes_down_what_happened(stride):
    """No invariant: it has never anything to say."""
    CHANGES.update((one.before, one.happened, one.state, one.cause) for one in stride.fired)


@cache
def explored(name) -> Found:
    world = WORLDS[name].world
    if isinstance(world, one_alarm.World):
        return explore(one_alarm.Place(), world.moves, [*OF_AN_ALARM, takes_down_what_happened])
    return explore(collector.Place(), world.moves, [*OF_A_COLLECTOR, *IN_A_COLLECTOR])


def is_normal(place):
    alarms = [place.alarm] if isinstance(place, one_alarm.Place) else place.alarms
    return all(alarm.state is AlarmState.NORMAL for alarm in alarms)


def hold_everywhere(name, record_property):
    found = explored(name)
    record_property("counts", f"{found.states} states, {found.transitions} transitions explored")

    assert not found.broken, "\n".join(f"{one}\n  {story}" for one, story in found.broken.items())
    assert found.states >= WORLDS[name].floor
    assert unable_to_reach(found, is_normal) == [], "no deadlock: normal is reachable from every state"


@pytest.mark.parametrize("name", [*ALARMS, *COLLECTORS])
def test_every_invariant_holds_in_every_reachable_state(name, record_property):
    hold_everywhere(name, record_property)


@pytest.mark.long
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("name", [*LONG_ALARMS, *LONG_COLLECTORS])
def test_every_invariant_holds_with_longer_timers_and_more_at_once(name, record_property):
    hold_everywhere(name, record_property)


def test_every_invariant_had_something_to_say():
    checked = sum((explored(name).checked for name in [*ALARMS, *COLLECTORS]), Counter())

    assert [one.__name__ for one in (*OF_AN_ALARM, *OF_A_COLLECTOR) if checked[one.__name__] < 100] == []


def test_every_row_of_the_table_was_taken(record_property):
    everything = [explored(name) for name in [*ALARMS, *COLLECTORS]]
    states, transitions = sum(one.states for one in everything), sum(one.transitions for one in everything)
    record_property("counts", f"{states} states, {transitions} transitions in all")

    assert {(state, row.happened, row.state, row.cause) for state, _, _, row in rows()} == CHANGES
    assert states >= 15_000
    assert transitions >= 300_000
