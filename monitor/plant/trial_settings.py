"""Trial settings: one collector, one stretch of time, what goes wrong in it and what people do."""

from dataclasses import dataclass, field

from monitor.interpret.settings import CleaningMode, CleaningSettings
from monitor.plant.build import Build, Mode
from monitor.plant.mishaps import Mishap

#: Monday, 1 January 2024, 00:00 UTC.
_MONDAY_UTC_S = 1_704_067_200.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What people do on purpose at an hour of the trial: no trouble, and no alarm should come of it.

    Attributes:
        new_filters: a new set is put in.
        start_inh2o, stop_inh2o: the controller's new set points; both or neither.
    """

    at_h: float
    new_filters: bool = False
    start_inh2o: float | None = None
    stop_inh2o: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What is played.

    One collector is simulated; the others on its link (``build.signal.others``) are only counted: while the
    gateway is frozen all of them repeat too, at any other time none does.

    Attributes:
        name: what the trial is about.
        seed: of everything that is random in it.
        every_s: scan period, 0.5 to 600.
        first_dp_inh2o: true DP at the beginning.
        away: stretches in which nobody scans, hours from and to.
    """

    name: str
    seed: int = 1
    duration_s: float = 86_400.0
    every_s: float = 1.0
    start_utc_s: float = _MONDAY_UTC_S
    first_dp_inh2o: float = 4.2
    build: Build = field(default_factory=Build)
    mishaps: tuple[Mishap, ...] = ()
    changes: tuple[Change, ...] = ()
    away: tuple[tuple[float, float], ...] = ()

    @property
    def cleaning_settings(self) -> CleaningSettings:
        """What a site file would say of the cleaning."""
        cleaning = self.build.cleaning
        timed = cleaning.mode is Mode.TIMED
        return CleaningSettings(
            mode=CleaningMode.TIMED if timed else CleaningMode.ON_DEMAND,
            start_inh2o=None if timed else cleaning.start_inh2o,
            stop_inh2o=None if timed else cleaning.stop_inh2o,
            pulse_every_s=cleaning.pulse_every_s,
            pulse_s=cleaning.pulse_s,
            rows=self.build.cloth.rows,
        )
