"""Years of rows: a history file filled as a daemon would have filled it, only faster.

Steps and minutes go in through the store's own writing; hours, which are merged from sixty minutes each, go in
as they end up (``test_sizes`` shows that this makes the same size).
"""

import random
from collections import deque
from collections.abc import Iterator, Sequence
from pathlib import Path

from monitor.remember import gathering, history, numbering
from monitor.remember.history_file import HistoryFile
from monitor.remember.settings import StoreSettings
from monitor.remember.thinning import Good, PointRow
from monitor.remember.tier import Tier
from monitor.words import HistoryRow, PointId, Reason, Role

T0 = 1_772_352_000
DP_ONLY = (Role.DP,)
ALL_ROLES = (Role.DP, Role.HEADER_PRESSURE, Role.AIR_FLOW, Role.FAN_RUNNING, Role.CLEANING_ACTIVE)
#: Middle and spread of the readings; a yes/no point is on in this share of the steps.
_ANALOG = {Role.DP: (4.0, 0.6), Role.HEADER_PRESSURE: (88.0, 2.0), Role.AIR_FLOW: (21_000.0, 300.0)}
_ON = {Role.FAN_RUNNING: 1.0, Role.CLEANING_ACTIVE: 0.2}
#: Length of a row, and the share of rows with a bad reading in them.
_LENGTH_S = {Tier.STEPS: 10, Tier.MINUTES: 60, Tier.HOURS: 3600}
_BAD = {Tier.STEPS: 0.001, Tier.MINUTES: 0.003, Tier.HOURS: 0.1}
_AT_ONCE_S = 86_400


def points(roles: Sequence[Role], collectors: int = 10) -> list[PointId]:
    return [PointId(f"DC-{101 + n}", role) for n in range(collectors) for role in roles]


def open_file(folder: Path) -> HistoryFile:
    folder.mkdir(parents=True, exist_ok=True)
    file = HistoryFile(folder / "history.db", StoreSettings(folder=folder), lambda: T0)
    file.open()
    return file


def a_part(dice: random.Random, point: PointId, start: int, tier: Tier) -> PointRow:
    """One row of a tier, a reading each second."""
    count = _LENGTH_S[tier]
    bad = dice.randrange(1, 10) if dice.random() < _BAD[tier] else 0
    lowest, last, mean, highest = _values(dice, point.role)
    row = HistoryRow(
        start_utc_s=start,
        last=last,
        lowest=lowest,
        highest=highest,
        mean=mean,
        good=count - bad,
        uncertain=0,
        bad=bad,
        worst=Reason.NO_ANSWER if bad else Reason.NONE,
    )
    total = mean * row.good
    good = Good(total, lowest, highest, start + 0.2 + bad, start + count - 0.8)
    return PointRow(point, row, start // 60 * 60, total, good)


def _values(dice: random.Random, role: Role) -> list[float]:
    if role in _ON:
        on = dice.random() < _ON[role]
        return [float(on)] * 4
    middle, spread = _ANALOG[role]
    return sorted(dice.gauss(middle, spread) for _ in range(4))


def live(file: HistoryFile, whose: Sequence[PointId], for_s: int) -> None:
    """As a daemon: each ten seconds the finished steps, with their minutes and hours."""
    dice = random.Random(1)
    for start in range(T0, T0 + for_s, 10):
        finished = deque(a_part(dice, point, start, Tier.STEPS) for point in whose)
        while finished:
            file.write(finished)


def fill(file: HistoryFile, tier: Tier, whose: Sequence[PointId], for_s: int) -> None:
    """One tier alone, a day in a transaction."""
    dice = random.Random(1)
    known: dict[PointId, numbering.Numbered] = {}
    for day in range(T0, T0 + for_s, _AT_ONCE_S):
        starts = range(day, min(day + _AT_ONCE_S, T0 + for_s), _LENGTH_S[tier])
        parts = (a_part(dice, point, start, tier) for start in starts for point in whose)
        file.connection.execute("BEGIN")
        _put(file, tier, parts, known)
        file.connection.execute("COMMIT")


def _put(
    file: HistoryFile, tier: Tier, parts: Iterator[PointRow], known: dict[PointId, numbering.Numbered]
) -> None:
    if tier is Tier.STEPS:
        history.add(file.connection, parts, known)
        return
    numbered = ((part, numbering.numbered(file.connection, part.point, known)) for part in parts)
    if tier is Tier.MINUTES:
        file.connection.executemany(
            gathering._MERGE_MINUTE, (gathering._minute(part, point) for part, point in numbered)
        )
    else:
        file.connection.executemany(gathering._MERGE_HOUR, (_whole_hour(part, point) for part, point in numbered))


def _whole_hour(part: PointRow, point: numbering.Numbered) -> tuple[object, ...]:
    """As after sixty merges: the good readings stand in all four quarters."""
    row = list(gathering._hour(part, point))
    good = part.row.good
    row[6:10] = [900, 900, 900, good - 2700]
    return tuple(row)


def bytes_a_row(file: HistoryFile, tier: Tier) -> float:
    """Bytes of the file, its inner pages too, for each row of a tier."""
    asked = file.connection.execute("SELECT sum(pgsize) FROM dbstat WHERE name = ?", (tier.value,))
    return asked.fetchone()[0] / file.connection.execute(f"SELECT count(*) FROM {tier}").fetchone()[0]
