"""Count: how many pulses were given, over how much time, live and in a recording.

Pulses of a whole cycle are taken as the cycle has them (counted in the header pressure, or estimated from the
pulse interval). A cleaning that never ends brings no cycle; its pulses are estimated from how long it has gone on.
Timed cleaning pulses one row after another while the collector runs, whatever the DP: there the running time says
how many it were.
"""

from typing import NamedTuple

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.tracker import Tracker
from monitor.interpret.digest import Digest
from monitor.interpret.settings import CleaningMode, CleaningSettings, CurveSettings

#: A longer time between two digests was not watched (our choice: more than the slowest usual scan).
HOLE_S = 120.0
#: Where nobody says whether the fan runs, it does from this mean DP on, inH2O (our choice).
RUNS_FROM_INH2O = 0.3
#: A cycle is told some parcels after its end, five minutes at most; by then it is, or never will be (our choice).
LATE_S = 600.0
#: The usual dip of the header is a mean over about so many newest ones.
_DIPS = 50
#: A fall of the header by less than this share of its pressure is no pulse (our choice).
_DIP_SHARE = 0.05


class AirCount(NamedTuple):
    """What has been counted since it was begun (a new set of diaphragms, or the first start).

    Attributes:
        since_utc_s, until_utc_s: of the first and the last digest, Unix seconds; None before the first.
        last_s: scan second of the last digest.
        watched_s, running_s, cleaning_s: seconds in sight, of these with the fan on, of these under cleaning.
        cleanings: whole cleanings.
        pulses: rows pulsed in all cleanings that are over; ``counted`` of them were counted one by one.
        open_pulses: estimated of the cleaning that goes on, or whose cycle has not come to light yet.
        dip_psi: the usual dip of the header pressure at a pulse; None where it is not measured.
        dips: on how many dips that stands, up to 50.
        cleaned_s: scan second of the last digest under cleaning; None before the first.
    """

    since_utc_s: float | None = None
    until_utc_s: float | None = None
    last_s: float | None = None
    watched_s: float = 0.0
    running_s: float = 0.0
    cleaning_s: float = 0.0
    cleanings: int = 0
    pulses: float = 0.0
    counted: float = 0.0
    open_pulses: float = 0.0
    dip_psi: float | None = None
    dips: int = 0
    cleaned_s: float | None = None

    @property
    def all_pulses(self) -> float:
        """With those of the cleaning that goes on."""
        return self.pulses + self.open_pulses


BEGIN = AirCount()


def advance(
    settings: CurveSettings, state: AirCount, digest: Digest, tracker: Tracker, cycle: Cycle | None
) -> AirCount:
    """Take in one digest, after the tracker has: its new state, and the cycle that the digest completed."""
    step_s = _step_s(state, digest)
    running_s = step_s if _runs(digest) else 0.0
    cleaning = settings.cleaning
    if cleaning.mode is CleaningMode.TIMED:
        pulses, counted, open_pulses, cleans = state.pulses + running_s / cleaning.pulse_every_s, 0.0, 0.0, True
    else:
        pulses, counted, open_pulses, cleans = _on_demand(cleaning, state, digest, tracker, cycle)
    dip_psi, dips = _dip(state, _new_dip_psi(cleaning, digest, cycle))
    return AirCount(
        digest.end_utc_s if state.since_utc_s is None else state.since_utc_s,
        digest.end_utc_s,
        digest.end_s,
        state.watched_s + step_s,
        state.running_s + running_s,
        state.cleaning_s + (running_s if cleans else 0.0),
        state.cleanings + (cycle is not None),
        pulses,
        state.counted + counted,
        open_pulses,
        dip_psi,
        dips,
        state.cleaned_s if tracker.cleaning_since_s is None else digest.end_s,
    )


def _step_s(state: AirCount, digest: Digest) -> float:
    """How much time the digest adds; its own length after a time in which nothing was read."""
    if state.last_s is None or digest.begin_s - state.last_s > HOLE_S:
        return max(0.0, digest.end_s - digest.begin_s)
    return max(0.0, digest.end_s - state.last_s)


def _runs(digest: Digest) -> bool:
    if digest.fan is not None:
        return digest.fan
    return digest.good > 0 and digest.mean_inh2o >= RUNS_FROM_INH2O


def _on_demand(
    settings: CleaningSettings, state: AirCount, digest: Digest, tracker: Tracker, cycle: Cycle | None
) -> tuple[float, float, float, bool]:
    """Pulses of finished cleanings, of these newly counted ones, those of the open one, and whether it cleans."""
    since_s = tracker.cleaning_since_s
    open_pulses = 0.0 if since_s is None else estimated_pulses(settings, digest.end_s - since_s)
    if cycle is not None:
        return state.pulses + cycle.pulses, cycle.pulses * cycle.counted, open_pulses, True
    if since_s is None:
        # Its cycle comes to light some parcels later, with its own count; one that never does used air too.
        if state.cleaned_s is None or digest.end_s - state.cleaned_s >= LATE_S:
            return state.pulses + state.open_pulses, 0.0, 0.0, False
        return state.pulses, 0.0, state.open_pulses, False
    return state.pulses, 0.0, open_pulses, True


def estimated_pulses(settings: CleaningSettings, cleaning_s: float) -> int:
    """Rows pulsed in a cleaning of that length, the first one at once."""
    return max(0, int(cleaning_s / settings.pulse_every_s)) + 1


def _new_dip_psi(settings: CleaningSettings, digest: Digest, cycle: Cycle | None) -> float | None:
    """A dip of the header that was newly seen; timed cleaning has no cycles that would tell of it."""
    if cycle is not None and cycle.dip_psi is not None:
        return cycle.dip_psi
    low, high = digest.header_low_psi, digest.header_high_psi
    if settings.mode is CleaningMode.ON_DEMAND or low is None or high is None:
        return None
    return high - low if high - low > _DIP_SHARE * high else None


def _dip(state: AirCount, seen_psi: float | None) -> tuple[float | None, int]:
    if seen_psi is None:
        return state.dip_psi, state.dips
    dips = min(_DIPS, state.dips + 1)
    before = seen_psi if state.dip_psi is None else state.dip_psi
    return before + (seen_psi - before) / dips, dips
