"""Past: a history as a daemon would have written it, so that a page has something to draw.

Each collector's DP climbs and is cleaned, and the whole of it rises and falls over the day; some collectors have
an hour in which nothing was read. The live registers of the test go on from there.
"""

import math
import sqlite3
from collections import deque
from collections.abc import Sequence
from pathlib import Path

from monitor.remember.history_file import HistoryFile
from monitor.remember.settings import StoreSettings
from monitor.remember.thinning import Good, PointRow
from monitor.words import HistoryRow, PointId, Reason, Role

STEP_S = 10
#: This long before its end the history of every third collector is blind, for an hour.
BLIND_FROM_S, BLIND_UNTIL_S = 7 * 3600, 6 * 3600


def dp_inh2o(seed: int, utc_s: float, *, period_s: float = 900.0) -> float:
    """The DP of a collector at a moment: cycles of ``period_s``, a slow climb over a day, a little unrest."""
    cycle = utc_s / (period_s * (1.0 + 0.07 * (seed % 5))) + seed * 0.37
    place = cycle % 1.0
    climb = place / 0.85 if place < 0.85 else (1.0 - place) / 0.15
    slow = 0.35 * math.sin(utc_s / 86400.0 * 2.0 * math.pi + seed)
    unrest = 0.05 * math.sin(utc_s * 0.61 + seed * 3) + 0.04 * math.sin(utc_s * 0.173 + seed)
    return 3.3 + 0.12 * (seed % 7) + slow + 1.2 * climb + unrest


def register(seed: int, utc_s: float) -> int:
    """The same as thousandths."""
    return round(1000.0 * dp_inh2o(seed, utc_s))


def fill(folder: Path, names: Sequence[str], until_utc_s: float, for_s: int = 86_400) -> None:
    """Write the steps, minutes and hours of so long before that moment."""
    folder.mkdir(parents=True, exist_ok=True)
    file = HistoryFile(folder / "history.db", StoreSettings(folder=folder), lambda: until_utc_s)
    file.open()
    last = int(until_utc_s) // STEP_S * STEP_S
    parts = deque(
        _part(PointId(name, Role.DP), seed, start, blind=seed % 3 == 1 and _is_blind(last - start))
        for start in range(last - for_s, last, STEP_S)
        for seed, name in enumerate(names)
    )
    # One sync for all of it: the file is the test's own.
    file.connection.execute("PRAGMA synchronous = OFF")
    while parts:
        file.write(parts)
    file.close()


def rows_in(folder: Path) -> int:
    """Steps in the file, for whoever doubts it."""
    with sqlite3.connect(f"file:{folder / 'history.db'}?mode=ro", uri=True) as file:
        return int(file.execute("SELECT count(*) FROM history").fetchone()[0])


def _is_blind(before_s: int) -> bool:
    return BLIND_UNTIL_S < before_s <= BLIND_FROM_S


def _part(point: PointId, seed: int, start: int, *, blind: bool) -> PointRow:
    values = [dp_inh2o(seed, start + at) for at in (0, 3, 6, 9)]
    if blind:
        row = HistoryRow(
            start_utc_s=start, last=None, lowest=None, highest=None, mean=None,
            good=0, uncertain=0, bad=10, worst=Reason.NO_ANSWER,
        )  # fmt: skip
        return PointRow(point, row, start // 60 * 60, 0.0, None)
    mean = sum(values) / len(values)
    row = HistoryRow(
        start_utc_s=start, last=values[-1], lowest=min(values), highest=max(values), mean=mean,
        good=10, uncertain=0, bad=0, worst=Reason.NONE,
    )  # fmt: skip
    good = Good(mean * 10, min(values), max(values), start + 0.5, start + 9.5)
    return PointRow(point, row, start // 60 * 60, mean * 10, good)
