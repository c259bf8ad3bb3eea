"""History: the daemon's own history as a recording.

A step of the history is one row; its last reading is taken for the whole of it, at its end. That is a true
reading, as a slower scan would have brought it; what happened between two of them is not seen.
"""

from collections.abc import Iterator, Sequence
from itertools import groupby
from operator import itemgetter

from monitor.acquire.traces.trace import CHUNK_ROWS, Cell, Chunk, Column, Trace, TraceError
from monitor.remember.history_reading import HistoryReader, Step
from monitor.words import UNIT_OF_ROLE, Failure, PointId, Reason

_NOTE = (
    "Of the history each step of {step_s:g} s is taken as one reading, its last, at the step's end: "
    "what was over within a step is not seen."
)


def history_trace(
    reader: HistoryReader, points: Sequence[PointId], step_s: float, since_utc_s: float, until_utc_s: float
) -> Trace:
    """The history of these points as a recording.

    Args:
        reader: open until the trace has been walked through.
        points: those of the site file; one that was never recorded is not in the trace.
        step_s: of the history, seconds.
        since_utc_s: from which step on.
        until_utc_s: up to and without which step.

    Raises:
        TraceError: there is nothing in that time.
        StoreError: it cannot be read.
    """
    span = reader.span(since_utc_s, until_utc_s)
    recorded = set(reader.points().values())
    points = [point for point in points if point in recorded]
    if span is None or not points:
        raise TraceError("The history holds nothing of that time, or of these collectors.")
    columns = [
        Column(
            heading=point.role.value,
            point=point,
            unit=UNIT_OF_ROLE.get(point.role, ""),
            is_unit_stated=True,
            step_s=step_s,
        )
        for point in points
    ]
    return Trace(
        name="the history",
        begins_utc_s=span[0] + step_s,
        columns=tuple(columns),
        chunks=_chunks(reader, points, step_s, (since_utc_s, until_utc_s), span),
        notes=(_NOTE.format(step_s=step_s),),
    )


def _chunks(
    reader: HistoryReader,
    points: Sequence[PointId],
    step_s: float,
    asked: tuple[float, float],
    span: tuple[int, int],
) -> Iterator[Chunk]:
    steps = (step for page in reader.pages(*asked) for step in page)
    utc_s: list[float] = []
    columns: dict[PointId, list[Cell]] = {point: [] for point in points}
    for start_s, same in groupby(steps, key=itemgetter(0)):
        utc_s.append(start_s + step_s)
        for column in columns.values():
            column.append(None)
        for step in same:
            if step[1] in columns:
                columns[step[1]][-1] = _cell(step)
        if len(utc_s) >= CHUNK_ROWS:
            yield _chunk(utc_s, columns, (start_s - span[0]) / max(1, span[1] - span[0]))
            utc_s, columns = [], {point: [] for point in points}
    if utc_s:
        yield _chunk(utc_s, columns, 1.0)


def _cell(step: Step) -> Cell:
    _, _, last, worst = step
    if last is not None:
        return float(last)
    reason = Reason.NO_ANSWER if worst is Reason.NONE else worst
    return Failure(reason, "no good reading in this step of the history")


def _chunk(utc_s: list[float], columns: dict[PointId, list[Cell]], share: float) -> Chunk:
    holes = {
        point: [at for at, cell in enumerate(cells) if not isinstance(cell, float)]
        for point, cells in columns.items()
    }
    return Chunk(utc_s, columns, holes, share)
