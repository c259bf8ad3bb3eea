"""Trial: a collector's days or months played in seconds, sample by sample, with the truth beside each.

``shown(trial)`` gives what the daemon would see; ``cycles(trial)`` the cleaning phases as they really were. The
same trial with the same seed gives the same samples; another scan period or other instruments see the very same
plant.
"""

from collections.abc import Iterator

from monitor.plant.build import Ageing, Build, Cleaning, Cloth, Fan, Mode, Signal, Work
from monitor.plant.instruments import Instruments
from monitor.plant.mishaps import Mishap, Way
from monitor.plant.process import Process
from monitor.plant.telling import Shown, TrueCycle, Truth
from monitor.plant.trial_settings import Change, Trial

__all__ = [
    "Ageing",
    "Build",
    "Change",
    "Cleaning",
    "Cloth",
    "Fan",
    "Mishap",
    "Mode",
    "Shown",
    "Signal",
    "Trial",
    "TrueCycle",
    "Truth",
    "Way",
    "Work",
    "cycles",
    "shown",
]


def shown(trial: Trial) -> Iterator[Shown]:
    """Play the trial; one ``Shown`` for each scan."""
    instruments = Instruments(trial)
    number = 0
    due_s = instruments.jitter_s()
    for stride in Process(trial).strides():
        while due_s < stride.end_s:
            if not _nobody(trial, due_s):
                yield instruments.show(stride, due_s)
            number += 1
            due_s = number * trial.every_s + instruments.jitter_s()


def cycles(trial: Trial) -> tuple[TrueCycle, ...]:
    """Play the trial without instruments; every cleaning phase as it really was.

    Timed cleaning without a pause has none: it never begins and never ends.
    """
    process = Process(trial)
    for _ in process.strides():
        pass
    timed_all_along = trial.build.cleaning.mode is Mode.TIMED and trial.build.cleaning.pause_s <= 0.0
    return () if timed_all_along else tuple(process.cycles)


def _nobody(trial: Trial, at_s: float) -> bool:
    """Whether nobody scans at that moment."""
    return any(begin_h * 3600.0 <= at_s < end_h * 3600.0 for begin_h, end_h in trial.away) if trial.away else False
