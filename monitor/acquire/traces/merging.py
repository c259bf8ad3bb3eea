"""Merging: several recordings become one, in the order of time.

Where recordings have a point in common they follow one another; others run side by side (one file for each tag,
as historians export them), and rows of the same moment become one row.
"""

from collections.abc import Iterator, Sequence
from heapq import merge
from itertools import groupby
from operator import itemgetter

from monitor.acquire.traces.moments import told
from monitor.acquire.traces.trace import CHUNK_ROWS, Cell, Chunk, Trace, TraceError
from monitor.words import PointId

_Row = tuple[float, int, dict[PointId, Cell]]


def in_groups(traces: Sequence[Trace]) -> list[list[Trace]]:
    """Traces that share no collector have nothing to do with one another; each group is one that has."""
    groups: list[tuple[set[str], list[Trace]]] = []
    for trace in sorted(traces, key=lambda one: one.begins_utc_s):
        names, members = {point.collector for point in trace.points}, [trace]
        for group in [one for one in groups if one[0] & names]:
            groups.remove(group)
            names |= group[0]
            members = group[1] + members
        groups.append((names, members))
    return [sorted(members, key=lambda one: one.begins_utc_s) for _, members in groups]


def merged(traces: Sequence[Trace]) -> Iterator[Chunk]:
    """The rows of all traces of one group, oldest first.

    Raises:
        TraceError: two recordings of one point overlap in time.
    """
    lanes = _lanes(traces)
    if len(lanes) == 1:
        yield from _in_a_row(lanes[0], 1.0)
        return
    points = sorted({point for trace in traces for point in trace.points})
    share = 1.0 / len(lanes)
    done = [0.0] * len(lanes)
    rows = merge(*(_rows(lane, number, done, share) for number, lane in enumerate(lanes)), key=itemgetter(0))
    yield from _chunks(rows, points, done)


def _lanes(traces: Sequence[Trace]) -> list[list[Trace]]:
    """Traces in as few lanes as possible, so that a point is in one lane only."""
    lanes: list[tuple[set[PointId], list[Trace]]] = []
    for trace in traces:
        points, members = set(trace.points), [trace]
        for lane in [one for one in lanes if one[0] & points]:
            lanes.remove(lane)
            points |= lane[0]
            members = lane[1] + members
        lanes.append((points, members))
    return [sorted(members, key=lambda one: one.begins_utc_s) for _, members in lanes]


def _in_a_row(lane: Sequence[Trace], share: float) -> Iterator[Chunk]:
    """The chunks of traces that follow one another."""
    last_s, before = float("-inf"), ""
    for number, trace in enumerate(lane):
        for chunk in trace.chunks:
            if chunk.utc_s[0] < last_s:
                raise TraceError(
                    f"{before} and {trace.name} overlap: the first ends {told(last_s)}, the second has "
                    f"{told(chunk.utc_s[0])}, and both record the same point. Cut one of them, or leave it out."
                )
            last_s = chunk.utc_s[-1]
            read = share * (number + chunk.share) / len(lane)
            yield Chunk(chunk.utc_s, chunk.columns, chunk.holes, read)
        before = trace.name


def _rows(lane: Sequence[Trace], number: int, done: list[float], share: float) -> Iterator[_Row]:
    for chunk in _in_a_row(lane, share):
        done[number] = chunk.share
        for at, at_s in enumerate(chunk.utc_s):
            yield at_s, number, {point: cells[at] for point, cells in chunk.columns.items()}


def _chunks(rows: Iterator[_Row], points: Sequence[PointId], done: Sequence[float]) -> Iterator[Chunk]:
    utc_s: list[float] = []
    columns: dict[PointId, list[Cell]] = {point: [] for point in points}
    for at_s, same in groupby(rows, key=itemgetter(0)):
        utc_s.append(at_s)
        for point in points:
            columns[point].append(None)
        for _, _, cells in same:
            for point, cell in cells.items():
                if cell is not None:
                    columns[point][-1] = cell
        if len(utc_s) >= CHUNK_ROWS:
            yield _chunk(utc_s, columns, sum(done))
            utc_s, columns = [], {point: [] for point in points}
    if utc_s:
        yield _chunk(utc_s, columns, 1.0)


def _chunk(utc_s: list[float], columns: dict[PointId, list[Cell]], share: float) -> Chunk:
    holes = {
        point: [at for at, cell in enumerate(cells) if not isinstance(cell, float)]
        for point, cells in columns.items()
    }
    return Chunk(utc_s, columns, holes, share)
