"""Headings: which column of a recording is which point of the site, and in which unit.

A column is found by the point's tag (``PDT-101``), by collector and role (``DC-101.dp``), or by what the command
line says of it (``--map "Bag dP=PDT-101:kPa"``). The unit may stand in the heading: ``PDT-101 (inH2O)`` or with
square brackets.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from monitor.acquire.traces.cells import Reader
from monitor.acquire.traces.trace import Column, TraceError
from monitor.condition import units
from monitor.words import UNIT_OF_ROLE, PointId, Role

_TIME_NAMES = frozenset(
    (
        *("time", "timestamp", "time stamp", "datetime", "date time", "date/time", "date", "utc", "utc time"),
        *("time utc", "at", "when", "t", "ts", "unix", "epoch"),
    )
)
_WITH_UNIT = re.compile(r"^(?P<name>.*?)\s*[(\[]\s*(?P<unit>[^()\[\]]*?)\s*[)\]]$")


@dataclass(frozen=True, slots=True)
class Mapped:
    """What the command line says of one column: ``COLUMN=POINT[:UNIT]``."""

    heading: str
    point: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class KnownPoints:
    """The points that a recording may name.

    Attributes:
        by_name: by tag and by ``collector.role``, casefolded.
        tags: the tag of each, as it is written.
        pa_per_inh2o: the pascals of the site's inch of water.
        mapped: what the command line says of columns.
    """

    by_name: Mapping[str, PointId]
    tags: Mapping[PointId, str]
    pa_per_inh2o: float
    mapped: tuple[Mapped, ...] = ()


@dataclass(frozen=True, slots=True)
class Found:
    """A recording's columns: where the time stands, and where each point does."""

    time: int
    columns: Mapping[int, Column]
    readers: Mapping[int, Reader]
    ignored: tuple[str, ...]


def parse_map(text: str) -> Mapped:
    """``COLUMN=POINT[:UNIT]`` in its parts.

    Raises:
        ValueError: it is not of that form.
    """
    heading, equals, point = text.rpartition("=")
    if not equals or not heading.strip() or not point.strip():
        raise ValueError(f"{text!r} is not of the form COLUMN=POINT or COLUMN=POINT:UNIT (Bag dP=PDT-101:kPa)")
    point, _, unit = point.partition(":")
    return Mapped(heading.strip(), point.strip(), unit.strip())


def find_columns(file: str, headings: Sequence[str], known: KnownPoints) -> Found:
    """Find the time and the points among the headings.

    Raises:
        TraceError: no time, no point of the site, one point twice, or a unit that cannot be.
    """
    time = _time_column(file, headings)
    columns: dict[int, Column] = {}
    readers: dict[int, Reader] = {}
    for index, heading in enumerate(headings):
        if index != time and (meant := _meant(file, heading, known)) is not None:
            columns[index], readers[index] = meant
    _refuse_twice(file, columns.values(), known)
    if not columns:
        raise TraceError(_nothing_found(file, [one for at, one in enumerate(headings) if at != time], known))
    ignored = [one for at, one in enumerate(headings) if at != time and at not in columns and one.strip()]
    return Found(time, columns, readers, tuple(ignored))


def _time_column(file: str, headings: Sequence[str]) -> int:
    plain = [_split(heading)[0].casefold().replace("_", " ") for heading in headings]
    for index, name in enumerate(plain):
        if name in _TIME_NAMES:
            return index
    raise TraceError(
        f"{file}: no column is headed time or timestamp: the first line must name the columns, one of them the "
        f"time (found: {_listed(headings)})."
    )


def _meant(file: str, heading: str, known: KnownPoints) -> tuple[Column, Reader] | None:
    """What one heading stands for; None where it is no point of the site."""
    heading = heading.strip()
    name, unit = _split(heading)
    for mapped in known.mapped:
        if mapped.heading.casefold() in (heading.casefold(), name.casefold()):
            point = known.by_name.get(mapped.point.casefold())
            if point is None:
                raise TraceError(_unknown_point(mapped, known))
            return _taken(file, heading, point, mapped.unit or unit, known)
    point = known.by_name.get(heading.casefold())
    if point is not None:
        return _taken(file, heading, point, "", known)
    point = known.by_name.get(name.casefold())
    return None if point is None else _taken(file, heading, point, unit, known)


def _taken(file: str, heading: str, point: PointId, unit: str, known: KnownPoints) -> tuple[Column, Reader]:
    inside = UNIT_OF_ROLE.get(point.role)
    if inside is None:
        return Column(heading=heading, point=point, unit="", is_unit_stated=True), Reader(is_yes_no=True)
    try:
        factor = units.factor(unit or inside, inside, known.pa_per_inh2o)
    except ValueError as error:
        raise TraceError(
            f'{file}: column {heading!r}: {error}. Say it with --map "{heading}={known.tags[point]}:{inside}".'
        ) from None
    shown = units.canonical(unit) if unit else inside
    return Column(heading=heading, point=point, unit=shown, is_unit_stated=bool(unit)), Reader(factor=factor)


def _split(heading: str) -> tuple[str, str]:
    """A heading without its unit, and the unit; empty where there is none."""
    match = _WITH_UNIT.match(heading.strip())
    return (heading.strip(), "") if match is None else (match["name"], match["unit"])


def _refuse_twice(file: str, columns: Iterable[Column], known: KnownPoints) -> None:
    seen: dict[PointId, str] = {}
    for column in columns:
        if column.point in seen:
            raise TraceError(
                f"{file}: {seen[column.point]!r} and {column.heading!r} are both {known.tags[column.point]}: "
                "leave one of them out."
            )
        seen[column.point] = column.heading


def _nothing_found(file: str, headings: Sequence[str], known: KnownPoints) -> str:
    dp = next((tag for point, tag in known.tags.items() if point.role is Role.DP), "PDT-101")
    example = headings[0].strip() if headings else "DP"
    way_out = f'Say which is which: --map "{example}={dp}:inH2O".'
    return (
        f"{file}: no column is headed by a point of the site file. Its columns are {_listed(headings)}; the "
        f"site's points are {_listed(list(known.tags.values()))}. {way_out}"
    )


def _unknown_point(mapped: Mapped, known: KnownPoints) -> str:
    return (
        f"--map {mapped.heading}={mapped.point}: the site file has no point {mapped.point!r}; it has "
        f"{_listed(list(known.tags.values()))} (a point may also be named DC-101.dp)."
    )


def _listed(names: Sequence[str]) -> str:
    shown = ", ".join(name.strip() or "(no heading)" for name in names[:12])
    return shown + (f" and {len(names) - 12} more" if len(names) > 12 else "") if names else "none"
