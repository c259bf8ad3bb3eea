"""Recordings of every shape come in as the same numbers, and wrong ones bring a sentence."""

import gzip
import math
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyarrow import parquet

from monitor.acquire.traces.headings import KnownPoints, Mapped, parse_map
from monitor.acquire.traces.merging import in_groups, merged
from monitor.acquire.traces.moments import moments_of
from monitor.acquire.traces.opening import open_trace
from monitor.acquire.traces.trace import TraceError
from monitor.words import Failure, PointId, Role

DP = PointId("DC-101", Role.DP)
FAN = PointId("DC-101", Role.FAN_RUNNING)
OTHER = PointId("DC-102", Role.DP)
TAGS = {DP: "PDT-101", FAN: "YL-101", OTHER: "PDT-102"}
BEGINS = datetime(2026, 3, 1, 8, tzinfo=UTC).timestamp()


def known(*mapped):
    names = {tag.casefold(): point for point, tag in TAGS.items()}
    names |= {f"{point.collector}.{point.role.value}".casefold(): point for point in TAGS}
    return KnownPoints(names, TAGS, 249.08891, mapped)


def write(tmp_path, text, name="day.csv"):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def read(tmp_path, text, *mapped, zone=None, name="day.csv"):
    """All rows of one point after the other, and the trace."""
    trace = open_trace(write(tmp_path, text, name), known(*mapped), zone)
    chunks = list(trace.chunks)
    utc_s = [at for chunk in chunks for at in chunk.utc_s]
    cells = {point: [cell for chunk in chunks for cell in chunk.columns[point]] for point in trace.points}
    return utc_s, cells, trace


def complaint(tmp_path, text, *mapped, zone=None):
    with pytest.raises(TraceError) as told:
        read(tmp_path, text, *mapped, zone=zone)
    return str(told.value)


def test_a_column_is_found_by_its_tag_and_its_unit_is_converted(tmp_path):
    text = "time,PDT-101 (kPa),note\n2026-03-01T08:00:00Z,1,x\n2026-03-01T08:00:02Z,1.5,x\n"

    utc_s, cells, trace = read(tmp_path, text)

    assert utc_s == [BEGINS, BEGINS + 2]
    assert cells[DP] == pytest.approx([1000 / 249.08891, 1500 / 249.08891])
    assert trace.ignored == ("note",)
    assert trace.columns[0].step_s == 2.0


@pytest.mark.parametrize("heading", ["pdt-101", "DC-101.dp", "PDT-101 [inH2O]", "PDT-101(in. w.c.)", '"PDT-101"'])
def test_a_heading_is_understood_as_people_write_it(tmp_path, heading):
    _, cells, _ = read(tmp_path, f"Timestamp,{heading}\n2026-03-01 08:00:00Z,4.25\n")

    assert cells == {DP: [4.25]}


def test_a_column_may_be_mapped_with_its_unit(tmp_path):
    _, cells, trace = read(tmp_path, "t,Bag dP\n1772352000,25.4\n", Mapped("bag dp", "PDT-101", "mmH2O"))

    assert cells[DP] == [pytest.approx(1.0)]
    assert trace.columns[0].is_unit_stated


@pytest.mark.parametrize(
    ("text", "parts"),
    [("A=PDT-101", ("A", "PDT-101", "")), ("a=b = PDT-101:kPa", ("a=b", "PDT-101", "kPa"))],
)
def test_a_map_is_taken_apart_at_its_last_equals_sign(text, parts):
    mapped = parse_map(text)

    assert (mapped.heading, mapped.point, mapped.unit) == parts


@pytest.mark.parametrize("text", ["PDT-101", "=PDT-101", "A="])
def test_a_map_that_is_none_is_refused(text):
    with pytest.raises(ValueError, match="COLUMN=POINT"):
        parse_map(text)


def test_semicolons_decimal_commas_and_byte_order_marks_are_seen(tmp_path):
    text = "\ufefftime;PDT-101;YL-101\r\n2026-03-01T08:00:00,500Z;4,32;on\r\n2026-03-01T08:00:01Z;-0,5;off\r\n"

    utc_s, cells, trace = read(tmp_path, text)

    assert utc_s == [BEGINS + 0.5, BEGINS + 1]
    assert cells == {DP: [4.32, -0.5], FAN: [1.0, 0.0]}
    assert trace.notes


def test_a_spreadsheets_unicode_text_and_a_packed_file_are_read(tmp_path):
    text = "time\tPDT-101\n2026-03-01T08:00:00Z\t4.5\n"

    assert read(tmp_path, text.encode("utf-16"))[1] == {DP: [4.5]}
    assert read(tmp_path, gzip.compress(text.encode()), name="day.csv.gz")[1] == {DP: [4.5]}


def test_empty_cells_are_no_reading_and_bad_ones_are_failures(tmp_path):
    cells = ["4.5", "", "bad", "NaN", " 5 ", "#N/A", "null", "inf"]
    text = "time,PDT-101\n" + "".join(f"{1772352000 + at},{cell}\n" for at, cell in enumerate(cells))

    _, found, trace = read(tmp_path, text)

    kinds = [type(cell) for cell in found[DP]]
    assert kinds == [float, type(None), Failure, Failure, float, Failure, type(None), Failure]
    assert trace.complaints.count == 0


def test_wrong_lines_are_counted_named_and_left_out(tmp_path):
    text = "time,PDT-101\n1772352000,4\nyesterday,4\n\n1772352001,4,5\n1772352002,abc\n1772352003,5\n"

    utc_s, cells, trace = read(tmp_path, text)

    assert [at - BEGINS for at in utc_s] == [0, 2, 3]
    assert cells[DP] == [4.0, None, 5.0]
    assert trace.complaints.count == 3
    assert [line.split(":")[0] for line in trace.complaints.named] == [
        "day.csv, line 3",
        "day.csv, line 5",
        "day.csv, line 6, PDT-101",
    ]


def test_a_thousand_wrong_lines_are_counted_and_five_named(tmp_path):
    text = "time,PDT-101\n1772352000,4\n" + "1772352001,what\n" * 1000

    _, _, trace = read(tmp_path, text)

    assert (trace.complaints.count, len(trace.complaints.named)) == (1000, 5)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "nothing in it"),
        ("time,PDT-101\n", "no row with a time"),
        ("when is it,PDT-101\n1772352000,4\n", "headed time"),
        ("time,dp\n1772352000,4\n", '--map "dp=PDT-101:inH2O"'),
        ("time,PDT-101,DC-101.dp\n1772352000,4,4\n", "both PDT-101"),
        ("time,PDT-101 (cfm)\n1772352000,4\n", "does not convert"),
        ("time,PDT-101 (w.c.)\n1772352000,4\n", "inches or millimetres"),
        ("time,PDT-101\n01/03/2026 08:00,4\n", "ISO 8601"),
        ("time,PDT-101\n0,4\n", "no Unix time"),
        ("time,PDT-101\n2026-03-01T08:00:00,4\n", "--zone"),
        ("time,PDT-101\n1772352001,4\n1772352000,4\n", "line 3: time goes back"),
    ],
)
def test_what_cannot_be_taken_in_brings_a_sentence(tmp_path, text, words):
    told = complaint(tmp_path, text)

    assert words in told
    assert told.startswith("day.csv")


def test_a_map_to_an_unknown_point_names_the_known_ones(tmp_path):
    assert "PDT-102" in complaint(tmp_path, "time,x\n1772352000,4\n", Mapped("x", "PDT-999"))


def test_a_file_that_is_not_there_brings_a_sentence(tmp_path):
    with pytest.raises(TraceError, match="cannot be read"):
        open_trace(tmp_path / "none.csv", known())


def test_disorder_between_two_blocks_is_seen(tmp_path):
    lines = [f"{1772352000 + at},4" for at in range(6000)]
    lines[5095:5097] = reversed(lines[5095:5097])

    assert "time goes back" in complaint(tmp_path, "time,PDT-101\n" + "\n".join(lines))


@given(
    st.lists(st.integers(946_684_800_000, 2_840_140_800_000), min_size=1, max_size=20),
    st.sampled_from(["iso", "space", "offset", "unix", "ms", "us"]),
)
def test_every_notation_of_a_moment_means_the_same(moments, notation):
    moments = [datetime.fromtimestamp(moment / 1000, UTC) for moment in sorted(moments)]
    wanted = [moment.timestamp() for moment in moments]
    east = timezone(timedelta(hours=5, minutes=30))
    texts = {
        "iso": [moment.isoformat().replace("+00:00", "Z") for moment in moments],
        "space": [str(moment) for moment in moments],
        "offset": [moment.astimezone(east).isoformat() for moment in moments],
        "unix": [f"{at:.3f}" for at in wanted],
        "ms": [f"{at * 1e3:.0f}" for at in wanted],
        "us": [f"{at * 1e6:.0f}" for at in wanted],
    }[notation]

    assert moments_of(texts[0], None)(texts) == pytest.approx(wanted, abs=1e-4)


def test_local_times_are_right_through_both_changes_of_the_clock():
    zone = ZoneInfo("Europe/Berlin")
    for begins in (datetime(2026, 3, 29, 0, 30, tzinfo=UTC), datetime(2026, 10, 24, 23, 30, tzinfo=UTC)):
        moments = [begins + timedelta(minutes=7 * step) for step in range(30)]
        texts = [moment.astimezone(zone).replace(tzinfo=None).isoformat() for moment in moments]

        assert moments_of(texts[0], zone)(texts) == [moment.timestamp() for moment in moments]


def test_files_of_one_collector_run_side_by_side(tmp_path):
    first = write(tmp_path, "time,PDT-101\n1772352000,4\n1772352002,5\n", "a.csv")
    second = write(tmp_path, "time,YL-101\n1772352001,1\n1772352002,0\n", "b.csv")
    groups = in_groups([open_trace(first, known()), open_trace(second, known())])

    (chunk,) = merged(groups[0])

    assert len(groups) == 1
    assert [at - BEGINS for at in chunk.utc_s] == [0, 1, 2]
    assert chunk.columns == {DP: [4.0, None, 5.0], FAN: [None, 1.0, 0.0]}
    assert chunk.holes == {DP: [1], FAN: [0]}


def test_files_of_one_point_follow_one_another_whatever_their_order(tmp_path):
    first = write(tmp_path, "time,PDT-101\n1772352000,4\n", "a.csv")
    second = write(tmp_path, "time,PDT-101\n1772352010,5\n", "b.csv")
    (group,) = in_groups([open_trace(second, known()), open_trace(first, known())])

    assert [chunk.columns[DP] for chunk in merged(group)] == [[4.0], [5.0]]


def test_files_of_one_point_that_overlap_are_refused(tmp_path):
    first = write(tmp_path, "time,PDT-101\n1772352000,4\n1772352020,4\n", "a.csv")
    second = write(tmp_path, "time,PDT-101\n1772352010,5\n", "b.csv")
    (group,) = in_groups([open_trace(first, known()), open_trace(second, known())])

    with pytest.raises(TraceError, match=r"a\.csv and b\.csv overlap"):
        list(merged(group))


def test_files_of_different_collectors_have_nothing_to_do_with_one_another(tmp_path):
    first = write(tmp_path, "time,PDT-101\n1772352000,4\n", "a.csv")
    second = write(tmp_path, "time,PDT-102\n1772352000,5\n", "b.csv")

    assert len(in_groups([open_trace(first, known()), open_trace(second, known())])) == 2


class TestParquet:
    def table(self, tmp_path, **columns):
        parquet.write_table(pa.table(columns), tmp_path / "day.parquet")
        return tmp_path / "day.parquet"

    def rows(self, path, zone=None):
        trace = open_trace(path, known(), zone)
        (chunk,) = trace.chunks
        return chunk

    def test_stamps_numbers_and_gaps_come_as_in_csv(self, tmp_path):
        times = pa.array([1772352000000, 1772352001000, 1772352002000], pa.timestamp("ms", tz="UTC"))
        chunk = self.rows(
            self.table(
                tmp_path,
                time=times,
                **{"PDT-101 (kPa)": [1.0, None, math.nan], "YL-101": [True, False, None]},
            )
        )

        assert chunk.utc_s == [BEGINS, BEGINS + 1, BEGINS + 2]
        assert chunk.columns[DP][0] == pytest.approx(4.0146307)
        assert chunk.columns[DP][1] is None
        assert isinstance(chunk.columns[DP][2], Failure)
        assert chunk.columns[FAN] == [1.0, 0.0, None]

    def test_times_without_a_zone_need_one(self, tmp_path):
        path = self.table(tmp_path, time=[datetime.fromisoformat("2026-03-01T09:00")], **{"PDT-101": [4.0]})

        with pytest.raises(TraceError, match="--zone"):
            self.rows(path)
        assert self.rows(path, ZoneInfo("Europe/Berlin")).utc_s == [BEGINS]

    def test_unix_seconds_and_texts_are_taken(self, tmp_path):
        assert self.rows(self.table(tmp_path, time=[1772352000], **{"PDT-101": ["4.5"]})).columns[DP] == [4.5]

    def test_what_is_no_parquet_brings_a_sentence(self, tmp_path):
        with pytest.raises(TraceError, match="cannot be read as Parquet"):
            open_trace(write(tmp_path, "time\n", "day.parquet"), known())

    def test_without_the_library_the_way_out_is_told(self, tmp_path, monkeypatch):
        monkeypatch.setitem(__import__("sys").modules, "pyarrow", None)

        with pytest.raises(TraceError, match=r"cakewatch\[parquet\]"):
            open_trace(write(tmp_path, "", "day.parquet"), known())
