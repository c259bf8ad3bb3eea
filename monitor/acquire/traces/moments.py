"""Moments: the time column of a recording becomes Unix seconds.

Known are ISO 8601 (``2026-03-01T08:12:03Z``, ``2026-03-01 08:12:03+01:00``, and without a zone where one is given
beside it) and Unix seconds, milliseconds or microseconds. ``01/03/2026`` is refused: nobody knows which of them is
the month.
"""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta, tzinfo
from math import isfinite

#: Unix time by its size: seconds from 1973 to the year 5138, then milliseconds, then microseconds.
_SMALLEST_S, _SMALLEST_MS, _SMALLEST_US, _BEYOND = 1e8, 1e11, 1e14, 1e17
_EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001  local times are counted from a local epoch
#: Within ten minutes of local time the distance from UTC changes only at their beginning (common practice of the
#: zones of today; the tz database has older oddities).
_KEY_LENGTH = len("2026-03-01T08:1")
#: Local times that happen twice are kept for this many different ten minutes.
_MAX_KEYS = 10_000

Moments = Callable[[Sequence[str]], list[float]]


def moments_of(example: str, zone: tzinfo | None) -> Moments:
    """The way to read a time column, by one of its cells.

    Args:
        example: a cell of the column.
        zone: where times without a zone were recorded; None: such times are refused.

    Returns:
        A function of cells to Unix seconds, which raises ValueError where one is written otherwise.

    Raises:
        ValueError: no known notation; the message says what would be.
    """
    number = _number(example)
    if number is not None:
        return _unix(example, number)
    try:
        seen = datetime.fromisoformat(example.strip())
    except ValueError:
        raise ValueError(
            f"{example!r} is no time known here: write ISO 8601 (2026-03-01T08:12:03Z) or Unix seconds"
        ) from None
    if seen.tzinfo is not None:
        return _aware
    if zone is None:
        raise ValueError(
            f"{example!r} does not say in which time zone: add Z or +01:00 to the times, "
            "or say where they were recorded with --zone (--zone UTC, --zone Europe/Berlin)"
        )
    return _Local(zone)


def one_moment(text: str, zone: tzinfo | None) -> float:
    """One moment that a person wrote.

    Raises:
        ValueError: as ``moments_of``.
    """
    return moments_of(text, zone)([text])[0]


def unix_factor(number: float) -> float:
    """What one of a Unix time of this size is in seconds.

    Raises:
        ValueError: it is too small or too large for any.
    """
    for smallest, beyond, factor in (
        (_SMALLEST_S, _SMALLEST_MS, 1.0),
        (_SMALLEST_MS, _SMALLEST_US, 1e-3),
        (_SMALLEST_US, _BEYOND, 1e-6),
    ):
        if smallest <= number < beyond:
            return factor
    raise ValueError(
        f"{number:.15g} is no Unix time of our days: write Unix seconds (1772352723) or ISO 8601 "
        "(2026-03-01T08:12:03Z); seconds since the beginning of the recording do not say when it was"
    )


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _unix(example: str, number: float) -> Moments:
    # Eight digits are a date in ISO 8601's basic form, but nobody records days.
    del example
    factor = unix_factor(number)

    def read(cells: Sequence[str]) -> list[float]:
        seconds = [float(cell) * factor for cell in cells] if factor != 1.0 else list(map(float, cells))
        # NaN and infinities compare false, and so do times of another size.
        if seconds and not (
            min(seconds) >= _SMALLEST_S and max(seconds) < _SMALLEST_MS and isfinite(sum(seconds))
        ):
            raise ValueError("not all of them are Unix times of one size")
        return seconds

    return read


def _aware(cells: Sequence[str]) -> list[float]:
    read = datetime.fromisoformat
    moments = [read(cell) for cell in cells]
    for moment in moments:
        if moment.tzinfo is None:
            raise ValueError(f"{moment.isoformat()} has no zone, the others have")
    return [moment.timestamp() for moment in moments]


class _Local:
    """Local times of one zone; in the hour that happens twice, a time that would go back is of the second."""

    def __init__(self, zone: tzinfo) -> None:
        self._zone = zone
        self._offsets: dict[str, tuple[float, float]] = {}
        self._last_s = float("-inf")

    def __call__(self, cells: Sequence[str]) -> list[float]:
        read, offsets, epoch = datetime.fromisoformat, self._offsets, _EPOCH
        moments, last_s = [], self._last_s
        for cell in cells:
            local = read(cell)
            if local.tzinfo is not None:
                raise ValueError(f"{cell} has a zone, the others have none")
            key = cell[:_KEY_LENGTH]
            first_s, second_s = offsets.get(key) or self._learn(key, local)
            local_s = (local - epoch).total_seconds()
            utc_s = local_s - first_s
            if utc_s < last_s <= local_s - second_s:
                utc_s = local_s - second_s
            moments.append(utc_s)
            last_s = utc_s
        self._last_s = last_s
        return moments

    def _learn(self, key: str, local: datetime) -> tuple[float, float]:
        if len(self._offsets) >= _MAX_KEYS:
            self._offsets.clear()
        both = tuple(_offset_s(local.replace(tzinfo=self._zone, fold=fold)) for fold in (0, 1))
        self._offsets[key] = found = (both[0], both[1])
        return found


def _offset_s(moment: datetime) -> float:
    return (moment.utcoffset() or timedelta(0)).total_seconds()


def told(utc_s: float) -> str:
    """A moment for a sentence, in UTC."""
    return f"{datetime.fromtimestamp(utc_s, UTC):%Y-%m-%d %H:%M:%S} UTC"
