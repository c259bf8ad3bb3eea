"""Memory: everything that is remembered of one collector's usual and of its last half hour."""

from typing import NamedTuple

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.symptoms import baselines, cleanings, headers, minutes, running, steps, stillness
from monitor.interpret.symptoms.baselines import Baselines
from monitor.interpret.symptoms.cleanings import Cleaning
from monitor.interpret.symptoms.headers import Header
from monitor.interpret.symptoms.minutes import Minute, Open
from monitor.interpret.symptoms.running import Running
from monitor.interpret.symptoms.steps import Steps
from monitor.interpret.symptoms.stillness import Still
from monitor.troubles import Clue, Sign


class Held(NamedTuple):
    """How long, seconds of running, the condition of a sign has been seen, and its opposite."""

    sign: Sign
    seen_s: float = 0.0
    gone_s: float = 0.0


class Looking(NamedTuple):
    """What is remembered of the collector's usual, and what shows now.

    Attributes:
        signs: the early warnings that stand now, each with the figures that show it.
        held: how near each sign is to standing, or to going.
        trail: the last half hour of running, minute by minute, at most ``minutes.TRAIL``.
        cycle, cycle_ran_s: the last cycle, and the seconds of running at its end.
        low_minutes: minutes since a long stop in which the DP stayed far below its usual residual; None: not so.
        answers: whether the DP came down at the last cleaning.
        timed: whether the rows are pulsed by the clock, as the site file says.
        countable: whether readings come often enough to see every dip of the header.
        stop_inh2o: the stop set point, as the site file says.
    """

    signs: tuple[tuple[Sign, Clue], ...] = ()
    held: tuple[Held, ...] = ()
    running: Running = running.BEGIN
    minute: Open = minutes.EMPTY
    trail: tuple[Minute, ...] = ()
    usual: Baselines = baselines.EMPTY
    header: Header = headers.BEGIN
    cleaning: Cleaning = cleanings.BEGIN
    steps: Steps = steps.BEGIN
    still: Still = stillness.BEGIN
    cycle: Cycle | None = None
    cycle_ran_s: float | None = None
    low_minutes: int | None = None
    answers: bool | None = None
    timed: bool = False
    stop_inh2o: float | None = None
    countable: bool = False
