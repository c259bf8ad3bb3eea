"""``cakewatch rehearse``: what a person sees in a pipe and on a terminal, and what is wrong said in a sentence."""

import asyncio
import json
import os
import pty
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner
from pyarrow import csv, parquet

from monitor.cli.main import main
from tests.remember.making import DP_101, a_reading, opened

TRACES = Path(__file__).parents[2] / "fixtures" / "traces"
NOW, BETTER, RECORDING = TRACES / "now.yaml", TRACES / "better.yaml", TRACES / "alder-mill.csv"
T0 = 1_772_352_000


def ask(*arguments):
    return CliRunner().invoke(main, ["rehearse", *map(str, arguments)])


def told_json(*arguments):
    told = ask(*arguments, "--json")
    assert (told.exit_code, told.stderr) == (0, "")
    return json.loads(told.stdout)


@pytest.fixture
def own(tmp_path):
    """The better site file in a folder of its own, so that its store is there too."""
    path = tmp_path / "site.yaml"
    path.write_text(BETTER.read_text() + "store: {folder: store, history_step: 10 s}\n")
    return path


def test_every_alarm_is_listed_with_its_end_and_what_ended_it():
    told = ask(BETTER, RECORDING)

    assert (told.exit_code, told.stderr) == (0, "")
    assert told.stdout.startswith("With better.yaml you would have had 3 alarms.\n")
    row = next(line for line in told.stdout.splitlines() if line.startswith("PDAH-101"))
    assert re.search(r"2026-03-01 08:32:24 .*9 min .*7\.73 .*timer 08:51:16", row)


def test_two_site_files_stand_side_by_side():
    told = ask(BETTER, RECORDING, "--against", NOW).stdout

    headline = "With the set points of better.yaml you would have had 3 alarms instead of 29 with now.yaml.\n"
    assert told.startswith(headline)
    assert re.search(r"^all +3 +29 *$", told, re.MULTILINE)


def test_every_band_has_a_row_through_time_that_needs_no_colour():
    told = ask(BETTER, RECORDING).stdout

    rows = {line.split()[0]: line.split()[1] for line in told.splitlines() if re.match(r" *PD\S+ [·█▄▂░]+$", line)}
    assert rows.keys() == {"PDAH-101", "PDT-101-BAD", "PDAH-102", "PDAL-102", "PDT-102-BAD"}
    assert {"█", "▄"} <= set(rows["PDAH-101"])
    assert set(rows["PDT-101-BAD"]) == {"·"}
    assert len({len(row) for row in rows.values()}) == 1


@pytest.mark.parametrize("columns", [80, 140])
def test_on_a_terminal_no_line_is_wider_than_it(columns):
    told = on_a_terminal([BETTER, RECORDING, "--against", NOW], columns)

    plain = re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", told)
    assert "instead of 29" in " ".join(plain.split())
    assert max(len(line.rstrip()) for line in re.split(r"[\r\n]+", plain)) <= columns
    assert "\x1b[" in told  # there is colour


def on_a_terminal(arguments, columns):
    """What the command writes to a terminal so many columns wide."""
    ours, its = pty.openpty()
    environment = {**os.environ, "COLUMNS": str(columns), "TERM": "xterm-256color"}
    with subprocess.Popen(
        [sys.executable, "-m", "monitor", "rehearse", *map(str, arguments)],
        stdin=subprocess.DEVNULL,
        stdout=its,
        stderr=its,
        env=environment,
    ) as process:
        os.close(its)
        pieces = []
        while True:
            try:
                piece = os.read(ours, 65536)
            except OSError:  # Linux says so when the other side is closed
                break
            if not piece:
                break
            pieces.append(piece)
    os.close(ours)
    assert process.returncode == 0
    return b"".join(pieces).decode()


def test_a_terminal_gets_a_progress_bar_and_a_pipe_does_not():
    assert "rehearsing" in on_a_terminal([BETTER, RECORDING], 100)
    assert ask(BETTER, RECORDING).stderr == ""


def test_the_json_has_every_alarm_and_every_change_of_state():
    shown = told_json(BETTER, RECORDING)["rehearsals"][0]

    raising = shown["collectors"][0]["raisings"][0]
    assert (raising["tag"], raising["ending"], raising["active_s"]) == ("PDAH-101", "timer", 532.0)
    assert (raising["raised_utc_s"], raising["back_utc_s"], raising["ended_utc_s"]) == (
        T0 + 1944,
        T0 + 2476,
        T0 + 3076,
    )
    states = [change["state"] for change in shown["collectors"][0]["states"]["PDAH-101"]]
    assert states == ["unacknowledged", "latched_unacknowledged", "normal"]


def test_the_slow_way_finds_the_same():
    assert told_json(NOW, RECORDING) == told_json(NOW, RECORDING, "--exact")


def test_a_part_of_the_time_may_be_asked_for():
    shown = told_json(NOW, RECORDING, "--since", "2026-03-01T08:30", "--until", "2026-03-01T10:00+01:00")
    asked = shown["rehearsals"][0]
    assert (asked["begins_utc_s"], asked["ends_utc_s"]) == (T0 + 1800, T0 + 3600 - 4)
    raised = [one["raised_utc_s"] for collector in asked["collectors"] for one in collector["raisings"]]
    assert raised
    assert all(T0 + 1800 <= at <= T0 + 3600 for at in raised)


class Page(HTMLParser):
    """Every tag and every address in a page."""

    def __init__(self):
        super().__init__()
        self.tags, self.addresses = [], []

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.addresses += [value for name, value in attributes if name in ("src", "href", "xlink:href")]


def test_the_page_needs_nothing_but_itself(tmp_path):
    ask(BETTER, RECORDING, "--against", NOW, "--html", tmp_path / "page.html")
    text = (tmp_path / "page.html").read_text()

    page = Page()
    page.feed(text)
    assert page.addresses == []
    assert not {"script", "link", "img", "iframe"} & set(page.tags)
    assert not re.search(r"url\(|@import|https?://(?!www\.w3\.org/)", text)
    assert "prefers-color-scheme" in text
    assert "3 alarms instead of 29" in text


def test_the_picture_is_an_svg_that_stands_alone(tmp_path):
    ask(BETTER, RECORDING, "--svg", tmp_path / "picture.svg")
    text = (tmp_path / "picture.svg").read_text()

    assert ET.fromstring(text).tag == "{http://www.w3.org/2000/svg}svg"
    assert "PDAH-101" in text
    assert "prefers-color-scheme" in text
    assert "<script" not in text


def test_names_from_a_file_cannot_write_into_the_page(tmp_path):
    site = tmp_path / "site.yaml"
    site.write_text(BETTER.read_text().replace("planer line", "<script>alert(1)</script> & co"))
    ask(site, RECORDING, "--html", tmp_path / "page.html", "--svg", tmp_path / "picture.svg")

    assert "<script" not in (tmp_path / "page.html").read_text()
    assert "&lt;script" in (tmp_path / "page.html").read_text()
    ET.fromstring((tmp_path / "picture.svg").read_text())


def record(folder, values, begins=T0):
    async def story() -> None:
        async with opened(folder, keep_history_s=1e11, history_step_s=10.0) as store:
            for number, value in enumerate(values):
                store.record(DP_101, a_reading(begins + number, value))
            await store.flush()

    asyncio.run(story())


#: An hour at 4.5 inH2O with ten minutes at 8 in the middle, a reading a second.
AN_HOUR = [8.0 + at % 7 / 100 if 1500 <= at < 2100 else 4.5 + at % 7 / 100 for at in range(3600)]


def test_the_daemons_own_history_is_rehearsed(own):
    record(own.parent / "store", AN_HOUR)
    before = (own.parent / "store" / "history.db").read_bytes()

    shown = told_json(own, "--history")["rehearsals"][0]

    (raising,) = [one for one in shown["collectors"][0]["raisings"] if one["tag"] == "PDAH-101"]
    assert raising["raised_utc_s"] == pytest.approx(T0 + 1500, abs=120)
    assert raising["highest_inh2o"] > 8
    assert any("each step of 10 s is taken as one reading, its last" in note for note in shown["notes"])
    assert (own.parent / "store" / "history.db").read_bytes() == before
    assert not (own.parent / "store" / "history.db-wal").exists()


def test_the_history_is_rehearsed_while_the_daemon_writes(own):
    async def story() -> None:
        async with opened(own.parent / "store", keep_history_s=1e11, history_step_s=10.0) as store:
            for at, value in enumerate(AN_HOUR):
                store.record(DP_101, a_reading(T0 + at, value))
            await store.flush()
            asked = await asyncio.create_subprocess_exec(
                *(sys.executable, "-m", "monitor", "rehearse", str(own), "--history", "--json"),
                stdout=subprocess.PIPE,
            )
            store.record(DP_101, a_reading(T0 + 4000.0, 4.0))
            await store.flush()
            answer, _ = await asked.communicate()
            assert asked.returncode == 0
            assert "PDAH-101" in answer.decode()
            assert store.figures().healthy

    asyncio.run(story())


def test_a_history_that_is_not_there_is_a_sentence(own):
    told = ask(own, "--history")

    assert told.exit_code == 3
    assert "no daemon has run with this site file yet" in told.stderr
    assert not (own.parent / "store").exists()


@pytest.mark.parametrize(
    ("arguments", "code", "sentence"),
    [
        ([BETTER], 2, "Name a TRACE to rehearse with, or --history"),
        ([RECORDING, RECORDING], 2, "alder-mill.csv"),
        ([BETTER, RECORDING, "--zone", "Mars/Olympus"], 2, "must be UTC, +01:00 or a name such as Europe/Berlin"),
        ([BETTER, RECORDING, "--zone", "../../etc/passwd"], 2, "must be UTC, +01:00 or a name"),
        ([BETTER, RECORDING, "--map", "DP"], 2, "is not of the form COLUMN=POINT"),
        ([BETTER, RECORDING, "--map", "DP=PDT-101"], 3, "no recording has a column headed 'DP'"),
        ([BETTER, RECORDING, "--since", "yesterday"], 2, "'yesterday' is no time known here"),
        ([BETTER, RECORDING, "--since", "2027-01-01"], 3, "Nothing to rehearse"),
        (
            [BETTER, RECORDING, "--since", "2026-03-01T09:00", "--until", "2026-03-01T08:30"],
            3,
            "Nothing to rehearse",
        ),
        ([BETTER, TRACES / "gone.csv"], 3, "gone.csv cannot be read (No such file or directory)"),
        ([BETTER, TRACES], 3, "cannot be read"),
        ([BETTER, RECORDING, RECORDING], 3, "overlap"),
        ([BETTER, RECORDING, "--html", "/nowhere/page.html"], 3, "cannot be written"),
        ([BETTER, BETTER], 3, "better.yaml"),
    ],
)
def test_what_is_wrong_is_a_sentence(arguments, code, sentence):
    told = ask(*arguments)

    assert told.exit_code == code, told.output
    assert sentence in " ".join(told.stderr.split())
    assert told.exception is None or isinstance(told.exception, SystemExit)


@pytest.mark.parametrize("junk", [b"", b"\n", b"\x00\x01\x02", b"time\n", b"time,PDT-101\n", b"\xff\xfe", b'"'])
def test_junk_is_a_sentence_and_never_a_traceback(tmp_path, junk):
    path = tmp_path / "junk.csv"
    path.write_bytes(junk)
    for ending in (".csv", ".parquet", ".csv.gz"):
        other = path.with_suffix(ending)
        other.write_bytes(junk)
        told = ask(BETTER, other)
        assert told.exit_code == 3
        assert isinstance(told.exception, SystemExit)
        assert other.name in told.stderr


def test_a_parquet_file_gives_the_same_alarms_as_the_csv(tmp_path):
    path = tmp_path / "alder-mill.parquet"
    table = csv.read_csv(RECORDING)
    parquet.write_table(table, path, row_group_size=500)

    ours, theirs = told_json(BETTER, path), told_json(BETTER, RECORDING)
    for rehearsal in (ours["rehearsals"][0], theirs["rehearsals"][0]):
        rehearsal.pop("notes")
    assert ours == theirs


def test_without_the_library_a_parquet_file_is_a_sentence(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    path = tmp_path / "some.parquet"
    path.write_bytes(b"PAR1")

    told = ask(BETTER, path)
    assert told.exit_code == 3
    assert "install cakewatch[parquet], or save it as CSV" in told.stderr


def test_a_collector_of_which_the_history_knows_nothing_is_left_out_and_named(own):
    record(own.parent / "store", AN_HOUR)

    shown = told_json(own, "--history")["rehearsals"][0]

    assert [one["collector"] for one in shown["collectors"]] == ["DC-101"]
    assert any("DC-102: the recordings hold nothing of its DP; it is left out" in note for note in shown["notes"])
