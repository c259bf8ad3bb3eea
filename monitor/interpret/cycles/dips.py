"""Dips: the header pressure falls at each pulse; where it is read often enough, pulses are counted by that."""

from typing import NamedTuple

from monitor.interpret.digest import Digest

OFTEN_S = 2.1  #: Read more rarely, the header has recovered before anybody looks.
LEAST_PSI = 1.5
LEAST_SHARE = 0.04  #: of the header pressure.
USUAL_SHARE = 0.35  #: of the usual dip.
KEPT = 8
BELIEVED = 6  #: After so many dips the header is believed when it says nothing.
FORGOTTEN_S = 2 * 86400.0
MISSED_PULSES = 3.5  #: So many pulse intervals without a dip, and cleaning is over: two dead valves in a row.


class Dips(NamedTuple):
    """The pulses that the header showed.

    Attributes:
        last_psi: newest reading; None where it is not read, or not often enough.
        at_s, first_s: moment of the last dip, and of the first one of its group.
        group: dips in that group.
        total: of all dips.
        sizes, intervals_s: of the last dips.
    """

    last_psi: float | None = None
    at_s: float = 0.0
    first_s: float = 0.0
    group: int = 0
    total: int = 0
    sizes: tuple[float, ...] = ()
    intervals_s: tuple[float, ...] = ()


NONE = Dips()


def follow(dips: Dips, digest: Digest, pulse_every_s: float) -> Dips:
    """Take in a digest."""
    low, high, last = digest.header_low_psi, digest.header_high_psi, digest.header_psi
    if low is None or high is None or last is None or not _often(digest):
        return dips if dips.last_psi is None else dips._replace(last_psi=None)
    before = dips.last_psi
    if before is None:
        return dips._replace(last_psi=last)
    least = max(LEAST_PSI, LEAST_SHARE * high, USUAL_SHARE * dip_psi(dips) if dips.sizes else 0.0)
    if before - low >= least:
        return _pulse(dips, 0.5 * (digest.begin_s + digest.end_s), before - low, last, pulse_every_s)
    if high - last >= least:
        return _pulse(dips, digest.end_s, high - last, last, pulse_every_s)
    return Dips(last, *dips[1:])


def _often(digest: Digest) -> bool:
    """Whether it is read often enough to see a dip."""
    readings = digest.good + digest.bad
    return readings > 1 and digest.end_s - digest.begin_s <= OFTEN_S * (readings - 1)


def _pulse(dips: Dips, now_s: float, size: float, last: float, pulse_every_s: float) -> Dips:
    """One more."""
    since_s = now_s - dips.at_s
    same = dips.group > 0 and 0.0 <= since_s <= patience_s(dips, pulse_every_s)
    intervals = (*dips.intervals_s, since_s)[-KEPT:] if dips.group and 0.0 < since_s <= 60.0 else dips.intervals_s
    sizes = (*dips.sizes, size)[-KEPT:]
    first_s, count = (dips.first_s, dips.group + 1) if same else (now_s, 1)
    return Dips(last, now_s, first_s, count, dips.total + 1, sizes, intervals)


def patience_s(dips: Dips, pulse_every_s: float) -> float:
    """So long without a dip, and the group is over."""
    usual_s = _median(dips.intervals_s) if len(dips.intervals_s) > 2 else pulse_every_s
    return MISSED_PULSES * max(5.0, usual_s)


def calling(dips: Dips, now_s: float, pulse_every_s: float) -> bool | None:
    """Whether the header says that it is being cleaned; None where it cannot say."""
    since_s = now_s - dips.at_s
    if dips.last_psi is None or dips.total < BELIEVED or not 0.0 <= since_s < FORGOTTEN_S:
        return None
    return since_s <= patience_s(dips, pulse_every_s)


def dip_psi(dips: Dips) -> float:
    """The usual dip; there must have been one."""
    return _median(dips.sizes)


def _median(values: tuple[float, ...]) -> float:
    return sorted(values)[len(values) // 2]
