"""Gathering: samples in, digests out, one at a time or a whole recording at once.

Parcels are cut on a fixed grid of the scan clock, so that the same readings make the same parcels whoever reads
them and whenever one begins. A parcel is handed on by the first sample after it; where samples come more rarely
than the grid, each is its own parcel. Both ways use one and the same ``_parcel``, so they cannot differ.

A step from one reading to the next is also counted from the last reading of the parcel before, or slow sampling
would have no unrest at all; but only between two samples that follow one another, both good and at most
``STEP_S`` apart.
"""

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from operator import mul, sub
from typing import NamedTuple, cast

from monitor.interpret.digest import Digest, Sample

STEP_S = 120.0  #: Two readings further apart say nothing of the unrest (our choice: twice the slowest usual scan).
MOST = 100  #: A parcel is handed on early with so many samples in it, so that the state stays small.
NO_RANGE = (None, None, None)


class Gathering(NamedTuple):
    """The parcel that is being filled.

    Attributes:
        slot: its place on the grid; None before the first sample.
        samples: what lies in it so far, at most ``MOST``.
        before_s, before_inh2o: moment and good DP of the last sample before it; None where there is none.
    """

    slot: float | None = None
    samples: tuple[Sample, ...] = ()
    before_s: float = 0.0
    before_inh2o: float | None = None


EMPTY = Gathering()


class _Columns(NamedTuple):
    """Samples of any number side by side; a point that is not there has no column."""

    at_s: Sequence[float]
    utc_s: Sequence[float]
    dp: Sequence[float | None]
    header: Sequence[float | None] | None
    flow: Sequence[float | None] | None
    fan: Sequence[bool | None] | None
    cleaning: Sequence[bool | None] | None


def gather(digest_s: float, state: Gathering, sample: Sample) -> tuple[Gathering, Digest | None]:
    """Take in one sample, and the parcel that it completed, if it did. ``digest_s``: seconds, above 0."""
    slot = sample[0] // digest_s
    samples = state.samples
    if not samples:
        return Gathering(slot, (sample,), state.before_s, state.before_inh2o), None
    if slot == state.slot and len(samples) < MOST:
        return Gathering(slot, (*samples, sample), state.before_s, state.before_inh2o), None
    last = samples[-1]
    return Gathering(slot, (sample,), last.at_s, last.dp_inh2o), _close(state)


def gather_many(  # noqa: PLR0913, PLR0917  # a recording has so many columns
    digest_s: float,
    state: Gathering,
    at_s: Sequence[float],
    utc_s: Sequence[float],
    dp: Sequence[float | None],
    header: Sequence[float | None] | None = None,
    flow: Sequence[float | None] | None = None,
    fan: Sequence[bool | None] | None = None,
    cleaning: Sequence[bool | None] | None = None,
) -> tuple[Gathering, list[Digest]]:
    """Take in a stretch of a recording: the same as ``gather`` for each sample, only quicker.

    All sequences are of one length; None for a point that the collector does not have.
    """
    columns = _Columns(at_s, utc_s, dp, _any_at_all(header), _any_at_all(flow), fan, cleaning)
    digests: list[Digest] = []
    start = _fill_up(digest_s, state, columns)
    for index in range(start):
        state, digest = gather(digest_s, state, _sample(columns, index))
        if digest is not None:
            digests.append(digest)
    if start == len(at_s):
        return state, digests
    return _cut(digest_s, state, columns, start, digests)


def _any_at_all(column: Sequence[float | None] | None) -> Sequence[float | None] | None:
    """The column, or None where there is nothing in it."""
    return None if column is None or column.count(None) == len(column) else column


def _fill_up(digest_s: float, state: Gathering, columns: _Columns) -> int:
    """How many samples go into the parcel that is already open, and the first one after it."""
    if not state.samples:
        return 0
    room = MOST - len(state.samples)
    for index, at_s in enumerate(columns.at_s):
        if at_s // digest_s != state.slot or index == room:
            return index + 1
    return len(columns.at_s)


def _cut(
    digest_s: float, state: Gathering, columns: _Columns, start: int, digests: list[Digest]
) -> tuple[Gathering, list[Digest]]:
    """Cut the rest into parcels; the last one stays open."""
    begin, before_s, before = start - len(state.samples), state.before_s, state.before_inh2o
    at_s, dp = columns.at_s, columns.dp
    append = digests.append
    for end in _cuts(digest_s, at_s, begin):
        append(_parcel(columns, begin, end, before_s, before))
        before_s, before = at_s[end - 1], dp[end - 1]
        begin = end
    samples = tuple(_sample(columns, index) for index in range(begin, len(at_s)))
    return Gathering(at_s[begin] // digest_s, samples, before_s, before), digests


def _cuts(digest_s: float, at_s: Sequence[float], begin: int) -> Iterator[int]:
    """Where a new parcel begins, after the one that begins at ``begin``."""
    slots = [moment // digest_s for moment in at_s]
    slot = slots[begin]
    for index in range(begin + 1, len(slots)):
        if slots[index] != slot or index - begin == MOST:
            slot = slots[index]
            begin = index
            yield index


def _sample(columns: _Columns, index: int) -> Sample:
    """One of them by itself."""
    return Sample(*(None if column is None else column[index] for column in columns))  # type: ignore[arg-type]  # two columns are always there


def _close(state: Gathering) -> Digest:
    """The parcel as it stands."""
    return _parcel(
        _Columns(*zip(*state.samples, strict=True)), 0, len(state.samples), state.before_s, state.before_inh2o
    )


def _parcel(columns: _Columns, begin: int, end: int, before_s: float, before: float | None) -> Digest:
    """One parcel of the samples from ``begin`` up to, not with, ``end``."""
    at_s, utc_s, dp, header, flow, fan, cleaning = columns
    begin_s = at_s[begin]
    figures = (
        begin_s,
        at_s[end - 1],
        utc_s[end - 1],
        *_pressure(dp[begin:end], before if begin_s - before_s <= STEP_S else None),
        *(NO_RANGE if header is None else _range(header[begin:end])),
        None if flow is None else _mean(flow[begin:end]),
        None if fan is None else _all(fan[begin:end]),
        None if cleaning is None else _any(cleaning[begin:end]),
    )
    return tuple.__new__(Digest, figures)  # half the time of Digest(...), and a year has millions of them


def _pressure(readings: Sequence[float | None], before: float | None) -> tuple[float, ...]:
    """The figures of the DP, from ``good`` to ``repeats``."""
    count = len(readings)
    if None in readings:
        return _pressure_with_holes(readings, before)
    good = cast("Sequence[float]", readings)  # None is not among them
    last = good[-1]
    if count == 1:
        step = last - before if before is not None else 0.0
        return 1, 0, last, last, last, last, step * step, int(step == 0.0 and before is not None)
    steps = list(map(sub, good[1:], good))
    if before is not None:
        steps.append(good[0] - before)
    unrest = sum(map(mul, steps, steps)) / len(steps)
    return count, 0, sum(good) / count, min(good), max(good), last, unrest, steps.count(0.0)


def _pressure_with_holes(readings: Sequence[float | None], before: float | None) -> tuple[float, ...]:
    """The same where some readings are not good: slower."""
    good = [reading for reading in readings if reading is not None]
    if not good:
        return 0, len(readings), 0.0, math.inf, -math.inf, 0.0, 0.0, 0
    steps = [b - a for a, b in pairwise([before, *readings]) if a is not None and b is not None]
    unrest = sum(map(mul, steps, steps)) / len(steps) if steps else 0.0
    bad = len(readings) - len(good)
    return len(good), bad, sum(good) / len(good), min(good), max(good), good[-1], unrest, steps.count(0.0)


def _there(column: Sequence[float | None]) -> Sequence[float]:
    """What is there of a column."""
    if None in column:
        return [value for value in column if value is not None]
    return cast("Sequence[float]", column)


def _range(column: Sequence[float | None]) -> tuple[float | None, float | None, float | None]:
    """Lowest, highest and last of what is there."""
    there = _there(column)
    return (min(there), max(there), there[-1]) if there else NO_RANGE


def _mean(column: Sequence[float | None]) -> float | None:
    """Mean of what is there."""
    there = _there(column)
    return sum(there) / len(there) if there else None


def _all(column: Sequence[bool | None]) -> bool | None:
    """Whether it was so all the time."""
    if False in column:
        return False
    return None if None in column else True


def _any(column: Sequence[bool | None]) -> bool | None:
    """Whether it was so at any time."""
    if True in column:
        return True
    return None if None in column else False
