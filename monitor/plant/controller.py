"""Controller: when the rows are pulsed. It sees the DP it believes, and whether the fan runs."""

from monitor.plant.build import Cleaning, Mode
from monitor.plant.mishaps import Forces


class CleaningController:
    """The cleaning controller of one collector.

    Attributes:
        cleaning: whether it is in a cleaning phase.
        due_s: when the next row is to be called.
        down_left: pulses that are still to follow the fan's stop.

    Args:
        due_s: timed cleaning does not start on a round figure, or slow scans would always meet the same moment.
    """

    __slots__ = ("_called_s", "_next_row", "_rows", "_settings", "cleaning", "down_left", "due_s")

    def __init__(self, settings: Cleaning, rows: int, due_s: float) -> None:
        self._settings = settings
        self._rows = rows
        self._next_row = 0
        self._called_s = -settings.looks_after_s
        self.cleaning = False
        self.due_s = due_s
        self.down_left = 0

    @property
    def awaits_start(self) -> bool:
        """Whether the DP's rise to the start set point is what comes next."""
        return not self.cleaning and self._settings.mode is not Mode.TIMED

    def fan_stops(self, now_s: float, forces: Forces) -> None:
        """A fan that was stopped may be followed by some pulses."""
        self.down_left = self._settings.clean_down_pulses
        self.due_s = now_s + forces.pulse_every_s

    def decide(self, now_s: float, seen_inh2o: float, forces: Forces, *, fan: bool) -> None:
        """Begin or end a cleaning phase."""
        wanted = fan and self._wants(now_s, seen_inh2o, forces)
        if wanted and not self.cleaning:
            self.due_s = max(self.due_s, now_s)
        self.cleaning = wanted

    def is_due(self, now_s: float) -> bool:
        """Whether a row is to be called now."""
        return (self.cleaning or self.down_left > 0) and now_s >= self.due_s

    def call(self, now_s: float, forces: Forces) -> int:
        """Call the next row and return it; the controller goes on whether its valve opens or not."""
        row = self._next_row
        self._next_row = (row + 1) % self._rows
        self._called_s = now_s
        self.due_s = now_s + forces.pulse_every_s
        if self._next_row == 0 and self._settings.mode is Mode.TIMED and not forces.never_stops:
            self.due_s += self._settings.pause_s
        self.down_left = max(0, self.down_left - 1)
        return row

    def next_look_s(self, now_s: float) -> float:
        """Return the next moment at which it may do something that a growing DP alone does not bring about."""
        if not self.cleaning:
            busy = self.down_left > 0 or self._settings.mode is Mode.TIMED
            return self.due_s if busy and self.due_s > now_s else float("inf")
        believes_s = self._called_s + self._settings.looks_after_s
        return min(moment for moment in (believes_s, self.due_s, float("inf")) if moment > now_s)

    def _wants(self, now_s: float, seen_inh2o: float, forces: Forces) -> bool:
        if forces.never_stops:
            return True
        if self._settings.mode is Mode.TIMED:
            return self._by_the_clock(now_s, forces)
        if not self.cleaning:
            return seen_inh2o >= forces.start_inh2o
        too_early = now_s < self._called_s + self._settings.looks_after_s
        within_round = self._settings.mode is Mode.ROUNDS and self._next_row != 0
        return too_early or within_round or seen_inh2o > forces.stop_inh2o

    def _by_the_clock(self, now_s: float, forces: Forces) -> bool:
        """A round is over with its last row; the next begins when its first pulse is due."""
        if self._settings.pause_s <= 0.0:
            return True
        if self.cleaning:
            return not (self._next_row == 0 and self.due_s - now_s > forces.pulse_every_s)
        return now_s >= self.due_s
