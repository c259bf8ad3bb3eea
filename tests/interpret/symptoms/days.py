"""Days: a sawtooth by the ruler, as digests of five seconds; no physics, only what a test wants to see.

The DP rises from 4 to 5 inH2O in ten minutes and comes down in two, with a small even unrest.
"""

from dataclasses import dataclass, replace

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.tracker import Tracker
from monitor.interpret.digest import Digest
from monitor.interpret.settings import CleaningSettings
from monitor.interpret.symptoms import looking
from monitor.interpret.symptoms.looking import Looking

SETTINGS = CleaningSettings(start_inh2o=5.0, stop_inh2o=4.0, rows=8)
RISE_S, CLEANING_S = 600.0, 120.0
HOUR_S = 3600.0


@dataclass(frozen=True)
class Day:
    """What acts; change it with ``but`` and go on."""

    looking: Looking = looking.BEGIN
    now_s: float = 0.0
    phase_s: float = 0.0
    offset_inh2o: float = 0.0
    unrest: float = 0.0008
    held_inh2o: float | None = None
    works: bool = True
    header_psi: float = 90.0
    fan: bool | None = True
    signal: bool = True
    rise_s: float = RISE_S
    dp: float = 4.0

    def but(self, **changes: object) -> "Day":
        return replace(self, **changes)

    def played(self, hours: float) -> "Day":
        """Go on for so long."""
        day = self
        for _ in range(int(hours * 720)):
            day = _next(day)
        return day

    @property
    def signs(self) -> list[str]:
        return [sign.value for sign, _ in self.looking.signs]


def _next(day: Day) -> Day:
    now_s = day.now_s + 5.0
    cleaning = day.fan is not False and day.phase_s >= day.rise_s
    dp, phase_s = day.dp, day.phase_s + (5.0 if day.fan is not False else 0.0)
    if cleaning and day.works:
        dp -= 5.0 / CLEANING_S
    elif day.fan is not False:
        dp += 5.0 / day.rise_s
    cycle = None
    if cleaning and day.works and phase_s >= day.rise_s + CLEANING_S:
        phase_s, dp = 0.0, 4.0
        cycle = _cycle(day, now_s)
    digest = _digest(day, now_s, dp, cleaning)
    tracker = Tracker(cleaning_since_s=now_s - 30.0 if cleaning else None)
    after = looking.advance(SETTINGS, day.looking, digest, tracker, cycle)
    return Day(
        after, now_s, phase_s, day.offset_inh2o, day.unrest, day.held_inh2o, day.works, day.header_psi, day.fan,
        day.signal, day.rise_s, dp,
    )  # fmt: skip


def _cycle(day: Day, now_s: float) -> Cycle:
    begin_s = now_s - CLEANING_S
    return Cycle(
        begin_s, begin_s, now_s, now_s, 5.0 + day.offset_inh2o, 4.0 + day.offset_inh2o, day.rise_s + CLEANING_S,
        60.0 / day.rise_s, 12, signalled=day.signal, dip_psi=20.0,
    )  # fmt: skip


def _digest(day: Day, now_s: float, dp: float, cleaning: bool) -> Digest:
    shown = dp + day.offset_inh2o if day.fan is not False else 0.0
    swing = day.unrest**0.5
    if day.held_inh2o is not None:
        shown, swing = day.held_inh2o, 0.0
    wiggle = swing * ((now_s // 5) % 3 - 1)
    low = day.header_psi - (20.0 if cleaning and (now_s // 5) % 2 and day.header_psi > 50 else 0.3)
    mean, last = shown + 0.3 * wiggle, shown + wiggle
    return Digest(
        now_s - 4.0, now_s, 1.7e9 + now_s, 5, 0, mean, shown - swing, shown + swing, last,
        swing * swing, 0 if swing else 5, low, day.header_psi, day.header_psi, None, day.fan,
        cleaning if day.signal else None,
    )  # fmt: skip
