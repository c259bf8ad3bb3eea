"""Days of even cycles, for tests: the same dust and the same pulses all the time."""

from monitor.interpret.advice.drives import Drive
from monitor.interpret.advice.learning import Seen
from monitor.interpret.cycles.cycle import Cycle

UTC = 1_772_352_000.0


def even_cycles(count=40, *, start=5.0, stop=4.0, filtering_s=300.0, cleaning_s=40.0, pulses=5, begins_s=0.0):
    """So many cycles one after another, all alike."""
    found, at_s = [], begins_s
    for _ in range(count):
        begin_s, end_s = at_s + filtering_s, at_s + filtering_s + cleaning_s
        found.append(
            Cycle(
                begin_s,
                UTC + begin_s,
                end_s,
                UTC + end_s,
                start,
                stop,
                cycle_s=filtering_s + cleaning_s,
                pulses=pulses,
            )
        )
        at_s = end_s
    return found


def even_seen(cycles=None, **more):
    """A recording that holds them and nothing else."""
    cycles = even_cycles() if cycles is None else cycles
    length_s = cycles[-1].end_s if cycles else 86_400.0
    told = {
        "cycles": tuple(cycles),
        "readings": 10_000,
        "watched_s": length_s,
        "running_s": length_s,
        "cleaning_s": sum(one.cleaning_s for one in cycles),
        "noise_inh2o": 0.03,
    }
    return Seen(**(told | more))


def even_drives(length_s=86_400.0, rise_inh2o_min=0.2, pull=0.25, level=4.5):
    """One stretch in which nothing changes."""
    return [Drive(UTC, UTC + length_s, 4.0, rise_inh2o_min / 60.0, pull, level)]
