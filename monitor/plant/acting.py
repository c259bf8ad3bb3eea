"""Acting: what acts on a trial's collector at a moment: its mishaps, and what people changed on purpose."""

import math

from monitor.plant.mishaps import Forces, bend, usual
from monitor.plant.trial_settings import Trial
from monitor.troubles import Trouble


class Acting:
    """Ask in the order of time.

    Attributes:
        filters: sets of filters that were put in so far.
    """

    def __init__(self, trial: Trial) -> None:
        self._build = trial.build
        self._mishaps = trial.mishaps
        self._changes = sorted(trial.changes, key=lambda one: one.at_h)
        self._set_points: tuple[float, float] | None = None
        self.filters = 0

    def at(self, time_s: float) -> tuple[Forces, tuple[Trouble, ...]]:
        """Return what acts then, and the troubles that are there."""
        time_h = time_s / 3600.0
        self._change(time_h)
        forces = usual(self._build)
        if self._set_points is not None:
            forces.start_inh2o, forces.stop_inh2o = self._set_points
        for mishap in self._mishaps:
            bend(forces, mishap, self._build, time_h)
        return forces, tuple(one.trouble for one in self._mishaps if one.holds(time_h))

    def next_edge_s(self, time_s: float) -> float:
        """Return the next moment at which a mishap comes or goes, or somebody changes something."""
        edges = [edge * 3600.0 for one in self._mishaps for edge in (one.from_h, one.to_h)]
        edges += [one.at_h * 3600.0 for one in self._changes]
        return min((edge for edge in edges if edge > time_s), default=math.inf)

    def _change(self, time_h: float) -> None:
        """Carry out what people have done up to that hour."""
        while self._changes and self._changes[0].at_h <= time_h:
            change = self._changes.pop(0)
            self.filters += change.new_filters
            if change.start_inh2o is not None and change.stop_inh2o is not None:
                self._set_points = (change.start_inh2o, change.stop_inh2o)
