"""Years: how large the history of ten collectors is, and how fast it is read and exported.

Quick, a fiftieth is written and its bytes a row are multiplied; in full, all of it but five years of minutes. The
five points of a collector are DP, header pressure, flow, fan and cleaning.
"""

import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from monitor.cli.export_csv import write_csv
from monitor.cli.export_parquet import write_parquet
from monitor.cli.export_table import columns, lines
from monitor.remember.history_reading import HistoryReader
from monitor.remember.tier import Tier
from monitor.words import Role
from tests.benchmarks.figures import Figure
from tests.benchmarks.years_of_rows import ALL_ROLES, DP_ONLY, T0, bytes_a_row, fill, open_file, points

DAY_S = 86_400
FIVE_YEARS_S = 1_830 * DAY_S
_LENGTH_S = {Tier.STEPS: 10, Tier.MINUTES: 60, Tier.HOURS: 3600}
_WHAT = {
    Tier.STEPS: [("90 days of steps of 10 s", 90 * DAY_S)],
    Tier.MINUTES: [("400 days of minutes", 400 * DAY_S), ("5 years of minutes", FIVE_YEARS_S)],
    Tier.HOURS: [("5 years of hours", FIVE_YEARS_S)],
}
_NAME = {DP_ONLY: "DP alone", ALL_ROLES: "five points"}


def run(*, quick: bool) -> Iterator[Figure]:
    """Fill files, weigh them, read them."""
    with tempfile.TemporaryDirectory() as folder:
        for roles in (DP_ONLY, ALL_ROLES):
            for tier in Tier:
                yield from _weigh(Path(folder) / f"{tier}-{len(roles)}", tier, roles, quick=quick)
        yield from _read(Path(folder) / "reading", quick=quick)


def _weigh(folder: Path, tier: Tier, roles: tuple[Role, ...], *, quick: bool) -> Iterator[Figure]:
    file, whose = open_file(folder), points(roles)
    written_s = _WHAT[tier][0][1] // (50 if quick else 1)
    fill(file, tier, whose, written_s)
    each = bytes_a_row(file, tier)
    file.close()
    (folder / "history.db").unlink()
    for what, for_s in _WHAT[tier]:
        rows = for_s // _LENGTH_S[tier] * len(whose)
        note = f"{rows:,} rows of {each:.1f} bytes" + ("" if for_s == written_s else "; multiplied")
        yield Figure(what=f"{what}, 10 collectors, {_NAME[roles]}", value=each * rows / 1e6, unit="MB", note=note)


def _read(folder: Path, *, quick: bool) -> Iterator[Figure]:
    """A year of hours of one point among fifty, and a month of one collector's minutes and steps."""
    file, whose = open_file(folder), points(ALL_ROLES)
    days = 3 if quick else 30
    fill(file, Tier.HOURS, whose, 366 * DAY_S)
    fill(file, Tier.MINUTES, whose, days * DAY_S)
    fill(file, Tier.STEPS, whose, days * DAY_S)
    file.close()
    with HistoryReader(folder) as reader:
        begun = time.perf_counter()
        found = sum(1 for _ in reader.hours(whose[0]))
        yield Figure(
            what="a year of hours of one point, read", value=time.perf_counter() - begun, unit="s", bar=0.5,
            note=f"{found:,} rows",
        )  # fmt: skip
        for tier, name in ((Tier.MINUTES, "minutes"), (Tier.STEPS, "steps of 10 s")):
            yield from _export(reader, tier, f"a month of {name}, one collector", folder, whose[:5], 30 / days)


def _export(
    reader: HistoryReader, tier: Tier, what: str, folder: Path, whose: Sequence, times: float
) -> Iterator[Figure]:
    for ending in ("csv", "parquet"):
        begun, path = time.perf_counter(), folder / f"out.{ending}"
        table = lines(reader.rows_of(tier, whose, T0), whose, _LENGTH_S[tier])
        if ending == "csv":
            with path.open("w", newline="") as file:
                write_csv(file, columns(whose), table)
        else:
            write_parquet(path, columns(whose), table)
        seconds = (time.perf_counter() - begun) * times
        rows = 30 * DAY_S // _LENGTH_S[tier] * len(whose)
        note = f"{rows / seconds:,.0f} rows a second; {path.stat().st_size * times / 1e6:.0f} MB"
        yield Figure(what=f"{what}, as {ending}", value=seconds, unit="s", note=note)
