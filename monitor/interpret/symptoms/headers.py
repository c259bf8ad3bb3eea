"""Headers: does the pulse header dip at each pulse, and does it come back before the next?

A pulse takes a bite out of the header pressure that the supply fills up within seconds. Dips can be counted where
the header is read several times in a parcel; slower reading sees some of them by chance, and then nothing is said
of missing ones.
"""

from typing import NamedTuple

from monitor.interpret.digest import Digest
from monitor.interpret.settings import CleaningSettings

#: A dip is deeper than these; our choice, well above what a gauge wavers and well below a pulse's bite.
DIP_PSI = 2.0
DIP_SHARE_OF_TOP = 0.1
DIP_SHARE_OF_USUAL = 0.35
#: The header has come back when it holds so much of its usual pressure; our choice.
BACK_SHARE = 0.9
#: Readings in a parcel, from which on dips can be counted (a reading every second or so).
COUNTABLE = 4
#: Pulses after which a share of missing ones is told, and those over which it is taken; our choice.
FEWEST_PULSES = 8
MOST_PULSES = 40.0
#: Of a pulse interval, by which a cleaning seems longer than it is, because parcels are counted whole.
SLACK_SHARE = 0.1


class Header(NamedTuple):
    """What the header has done lately.

    Attributes:
        top_psi: where it stands between pulses; it follows a fall slowly.
        last_psi: last reading.
        best_psi: highest since the last dip.
        dip_at_s: when the last dip was seen; ``dip_psi`` how deep the last ones were.
        short: share of the last pulses before which it had not come back; None: not known.
        expected, seen: pulses that should have been and that were, in the last cleanings.
        run_expected, run_seen: the same in the present cleaning.
    """

    top_psi: float | None = None
    last_psi: float | None = None
    best_psi: float = 0.0
    dip_at_s: float | None = None
    dip_psi: float | None = None
    short: float | None = None
    expected: float = 0.0
    seen: float = 0.0
    run_expected: int = 0
    run_seen: int = 0


BEGIN = Header()


def advance(
    settings: CleaningSettings, state: Header, digest: Digest, usual_psi: float | None, usual_dip_psi: float | None
) -> Header:
    """Take in one parcel that has a header pressure."""
    low, high, last = digest.header_low_psi, digest.header_high_psi, digest.header_psi
    if low is None or high is None or last is None:
        return state
    top = state.top_psi
    top = high if top is None or high > top else top + 0.02 * (high - top)
    deep = DIP_SHARE_OF_TOP * top if usual_dip_psi is None else DIP_SHARE_OF_USUAL * usual_dip_psi
    limit = top - (deep if deep > DIP_PSI else DIP_PSI)
    if low >= limit or not _fresh(state.last_psi, low, limit, top):
        best = high if high > state.best_psi else state.best_psi
        return tuple.__new__(Header, (top, last, best, *state[3:]))
    return _dipped(settings, state, digest.end_s, (top, low, high, last), usual_psi)


def _fresh(before: float | None, low: float, limit: float, top: float) -> bool:
    """Whether it fell just now, rather than still coming back from the dip before."""
    return before is None or before >= limit or low < before - (top - limit)


def _dipped(
    settings: CleaningSettings,
    state: Header,
    now_s: float,
    seen: tuple[float, float, float, float],
    usual_psi: float | None,
) -> Header:
    top, low, high, last = seen
    best = max(state.best_psi, high)
    deep = best - low
    dip = deep if state.dip_psi is None else state.dip_psi + 0.2 * (deep - state.dip_psi)
    in_row = state.dip_at_s is not None and now_s - state.dip_at_s <= 2.5 * settings.pulse_every_s
    short = state.short
    if in_row and usual_psi is not None:
        missed = float(best < BACK_SHARE * usual_psi)
        short = missed if short is None else short + 0.2 * (missed - short)
    return Header(
        top, last, last, now_s, dip, short, state.expected, state.seen, state.run_expected, state.run_seen + 1
    )


def pulses(settings: CleaningSettings, state: Header, called_s: float) -> Header:
    """Note how many pulses there should have been in a cleaning that has been called for so long."""
    # Parcels are called for as a whole: on average half of the first and of the last was not.
    exactly_s = max(called_s - SLACK_SHARE * settings.pulse_every_s, 0.0)
    return state._replace(run_expected=int(exactly_s / settings.pulse_every_s) + 1)


def cleaning_over(state: Header, *, countable: bool) -> Header:
    """End the count of this cleaning."""
    expected, seen = state.expected, state.seen
    if countable:
        expected, seen = expected + state.run_expected, seen + min(state.run_seen, state.run_expected)
    if expected > MOST_PULSES:
        expected, seen = expected / 2.0, seen / 2.0
    return state._replace(expected=expected, seen=seen, run_expected=0, run_seen=0)


def missing(state: Header) -> float | None:
    """Share of the expected pulses without a dip; None: too few to say."""
    expected = state.expected + state.run_expected
    if expected < FEWEST_PULSES or state.top_psi is None:
        return None
    return max(0.0, 1.0 - (state.seen + min(state.run_seen, state.run_expected)) / expected)
