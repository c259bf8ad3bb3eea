"""``cakewatch export``: what the history says, in files that others read, and what is wrong said in a sentence."""

import asyncio
import csv
import io
import json
import sys
from datetime import UTC, datetime
from pathlib import Path

import pyarrow.parquet
import pytest
from click.testing import CliRunner

from monitor.cli.main import main
from monitor.words import PointId, Quality, Role
from tests.remember.making import DP_101, a_reading, opened

BETTER = Path(__file__).parents[2] / "fixtures" / "traces" / "better.yaml"
T0 = 1_772_352_000
FAN = PointId("DC-101", Role.FAN_RUNNING)
DP_102 = PointId("DC-102", Role.DP)
PERIOD = ("--since", "2026-03-01T08:00", "--until", "2026-03-01T10:00")


def ask(*arguments):
    return CliRunner().invoke(main, ["export", *map(str, arguments)])


def table(*arguments):
    told = ask(*arguments)
    assert (told.exit_code, told.stderr) == (0, "")
    return list(csv.DictReader(io.StringIO(told.stdout, newline="")))


@pytest.fixture
def site(tmp_path):
    """The better site file in a folder of its own, so that its store is there too."""
    path = tmp_path / "site.yaml"
    path.write_text(BETTER.read_text() + "store: {folder: store, history_step: 10 s}\n")
    return path


def record(site, readings):
    async def story() -> None:
        async with opened(
            site.parent / "store", keep_history_s=1e11, keep_minutes_s=1e11, keep_hours_s=1e11, history_step_s=10.0
        ) as store:
            for point, reading in readings:
                store.record(point, reading)
            await store.flush()

    asyncio.run(story())


def an_hour(values, point=DP_101):
    return [(point, a_reading(T0 + second, value)) for second, value in enumerate(values)]


@pytest.fixture
def recorded(site):
    """An hour of a sawtooth, the fan beside it, ten seconds without a signal."""
    readings = an_hour([3 + second % 90 / 45 for second in range(3600)])
    readings[600:610] = [(DP_101, a_reading(T0 + 600 + n, None, Quality.BAD)) for n in range(10)]
    record(site, readings + [(FAN, a_reading(T0 + 5 * n, float(n % 2))) for n in range(60)])
    return site


def test_a_minute_says_lowest_mean_highest_last_count_and_shares(recorded):
    rows = table(recorded, *PERIOD, "--collector", "DC-101", "--point", "dp")

    assert len(rows) == 60
    assert list(rows[0]) == [
        *("begins", "time", "DC-101.dp (inH2O)", "DC-101.dp min (inH2O)", "DC-101.dp mean (inH2O)"),
        *("DC-101.dp max (inH2O)", "DC-101.dp count", "DC-101.dp good share", "DC-101.dp uncertain share"),
        "DC-101.dp bad share",
    ]
    first, eleventh = rows[0], rows[10]
    assert (first["begins"], first["time"]) == ("2026-03-01T08:00:00Z", "2026-03-01T08:01:00Z")
    values = [3 + second / 45 for second in range(60)]
    wanted = [values[-1], values[0], sum(values) / 60, values[-1], 60, 1, 0, 0]
    assert [float(cell) for cell in list(first.values())[2:]] == pytest.approx(wanted, abs=1e-6)
    assert float(eleventh["DC-101.dp bad share"]) == pytest.approx(10 / 60)
    assert float(eleventh["DC-101.dp good share"]) == pytest.approx(50 / 60)


def test_an_hour_is_one_line_and_its_mean_is_of_the_good_readings(recorded):
    (row,) = table(recorded, *PERIOD, "--every", "hour", "--point", "dp")

    good = [3 + second % 90 / 45 for second in range(3600) if not 600 <= second < 610]
    assert float(row["DC-101.dp mean (inH2O)"]) == pytest.approx(sum(good) / 3590, abs=1e-7)
    assert row["DC-101.dp count"] == "3600"


def test_a_step_without_a_good_reading_says_bad_and_a_point_without_a_row_nothing(recorded):
    rows = {row["begins"]: row for row in table(recorded, *PERIOD, "--every", "step")}

    assert len(rows) == 360
    silent = rows["2026-03-01T08:10:00Z"]
    assert (silent["DC-101.dp (inH2O)"], silent["DC-101.dp mean (inH2O)"]) == ("bad", "")
    assert silent["DC-101.fan_running"] == silent["DC-101.fan_running count"] == ""
    assert rows["2026-03-01T08:00:00Z"]["DC-101.fan_running"] == "1.0"


def test_lines_end_and_cells_stand_as_in_rfc_4180(recorded, tmp_path):
    assert ask(recorded, *PERIOD, "--csv", tmp_path / "out.csv").exit_code == 0

    lines = (tmp_path / "out.csv").read_bytes().split(b"\r\n")
    assert len(lines) == 62
    assert lines[-1] == b""
    assert not any(b"\n" in line for line in lines)
    assert list(tmp_path.glob("*.part")) == []


def test_parquet_has_typed_columns_that_know_their_units(recorded, tmp_path):
    told = ask(recorded, *PERIOD, "--parquet", tmp_path / "out.parquet", "--csv", tmp_path / "out.csv")
    assert (told.exit_code, told.output) == (0, "")

    found = pyarrow.parquet.read_table(tmp_path / "out.parquet")
    assert str(found.schema.field("time").type) == "timestamp[ms, tz=UTC]"
    mean = found.schema.field("DC-101.dp mean (inH2O)")
    assert (str(mean.type), mean.metadata[b"unit"], mean.metadata[b"figure"]) == ("double", b"inH2O", b"mean")
    assert str(found.schema.field("DC-101.fan_running count").type) == "int32"
    assert b"unit" not in found.schema.field("DC-101.fan_running").metadata
    with (tmp_path / "out.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    for heading in ("DC-101.dp mean (inH2O)", "DC-101.dp max (inH2O)", "DC-101.fan_running mean"):
        column = found.column(heading).to_pylist()
        assert column == [float(row[heading]) if row[heading] else None for row in rows]
    assert found.column("begins")[0].as_py() == datetime(2026, 3, 1, 8, tzinfo=UTC)


#: An hour at 4.5 inH2O with ten minutes at 8 in the middle and a minute without a signal.
STORY = [None if 3000 <= at < 3060 else (8.0 if 1500 <= at < 2100 else 4.5) + at % 7 / 100 for at in range(3600)]


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_what_is_exported_is_rehearsed_like_the_history_itself(site, tmp_path, ending):
    good, bad = Quality.GOOD, Quality.BAD
    record(
        site,
        [(DP_101, a_reading(T0 + at, value, bad if value is None else good)) for at, value in enumerate(STORY)],
    )
    out = tmp_path / f"out.{ending}"
    assert ask(site, *PERIOD, "--every", "step", f"--{ending}", out).exit_code == 0

    def rehearsed(*what):
        told = CliRunner().invoke(main, ["rehearse", str(site), *map(str, what), "--json"])
        assert told.exit_code == 0, told.output
        return json.loads(told.stdout)["rehearsals"][0]["collectors"][0]

    own, exported = rehearsed("--history"), rehearsed(out)
    assert {one["tag"] for one in own["raisings"]} == {"PDAH-101", "PDT-101-BAD"}
    if ending == "csv":
        assert exported == own
        return
    # A Parquet column of numbers has no word for a bad reading: a hole there is a time without any.
    high, exported_high = (
        [one for one in each["raisings"] if one["tag"] == "PDAH-101"] for each in (own, exported)
    )
    assert exported_high == high != []


def test_a_collector_that_left_the_site_file_is_still_exported_by_name(site):
    gone = PointId("DC-099", Role.DP)
    record(site, an_hour([3.0] * 60, gone) + an_hour([4.0] * 60))

    assert [name for name in table(site, *PERIOD)[0] if "099" in name] == []
    assert table(site, *PERIOD, "--collector", "DC-099")[0]["DC-099.dp (inH2O)"] == "3.0"


def test_since_is_taken_and_until_is_not(recorded):
    rows = table(recorded, "--since", "2026-03-01T08:10", "--until", "2026-03-01T08:12")

    assert [row["begins"] for row in rows] == ["2026-03-01T08:10:00Z", "2026-03-01T08:11:00Z"]


def test_while_the_daemon_writes_nothing_is_hurt(site):
    async def story() -> None:
        async with opened(site.parent / "store", keep_history_s=1e11, history_step_s=10.0) as store:
            for point, reading in an_hour([3.0] * 100):
                store.record(point, reading)
            await store.flush()
            told = await asyncio.to_thread(ask, site, *PERIOD)
            assert (told.exit_code, len(told.stdout.splitlines())) == (0, 3)
            assert store.figures().healthy

    asyncio.run(story())


@pytest.mark.parametrize(
    ("arguments", "code", "sentence"),
    [
        (["--collector", "DC-999"], 3, "There is no collector 'DC-999'; the site file has DC-101, DC-102."),
        (["--collector", "DC-102"], 3, "The history holds no such point of these collectors"),
        (["--point", "air_flow"], 3, "The history holds no such point of these collectors"),
        (["--since", "2020-01-01", "--until", "2020-01-02"], 3, "holds nothing of that time. It has steps since "),
        (["--since", "yesterday"], 2, "must be a date or a time such as 2026-03-01"),
        (["--last", "forever"], 2, "must be a duration from "),
        (["--since", "2026-03-01", "--last", "1d"], 2, "give one of them"),
        (["--since", "2026-03-02", "--until", "2026-03-01"], 2, "ends before it begins"),
        (
            [*PERIOD, "--csv", "no/such/folder/out.csv"],
            3,
            "out.csv cannot be written (No such file or directory).",
        ),
        ([*PERIOD, "--csv", "/dev/full/x"], 3, "cannot be written (Not a directory)."),
        ([*PERIOD, "--parquet", "no/such/folder/out.parquet"], 3, "out.parquet cannot be written"),
    ],
)
def test_what_is_wrong_is_a_sentence(recorded, arguments, code, sentence):
    told = ask(recorded, *arguments)

    assert told.exit_code == code
    assert sentence in " ".join(told.stderr.split())
    assert told.stdout == ""


def test_without_a_history_it_says_so(site):
    told = ask(site)

    assert told.exit_code == 3
    assert "no daemon has run with this site file yet" in told.stderr


def test_without_the_library_csv_is_the_way_out(recorded, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)

    told = ask(recorded, *PERIOD, "--parquet", tmp_path / "out.parquet")

    assert told.exit_code == 3
    assert "install cakewatch[parquet], or export --csv" in told.stderr
    assert not list(tmp_path.glob("out*"))
