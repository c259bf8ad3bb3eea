"""The forms of the records: text, CSV, JSON and the page say what was worked out, and nothing else."""

import csv
import io
import json
from datetime import date
from html.parser import HTMLParser

import pytest

from monitor.report.permit import csv_tables, json_form, page, text
from monitor.report.permit.local_days import days, year
from monitor.report.permit.printing import Printing, length, percent
from monitor.report.permit.records import records
from monitor.report.permit.settings import PermitSettings
from monitor.report.permit.sources import Entry
from tests.report.permit import worked_month
from tests.report.permit.making import NEW_YORK, full_hour, sources
from tests.report.permit.worked_month import TOLD, feb

PRINTING = Printing("Alder Mill", "site.yaml", "0.1.0", feb(28, 12), "conventional", "UTC")
EVIL = Entry(feb(12, 14, 30), feb(27), "ben <b>", '=HYPERLINK("http://x"), "quoted"\r\nline', "<script>x</script>")


@pytest.fixture(scope="module")
def worked():
    return records(worked_month.month())


def read(words):
    """The rows, after what RFC 4180 asks of every line."""
    assert words.endswith("\r\n")
    return list(csv.DictReader(io.StringIO(words, newline=""), strict=True))


@pytest.fixture(scope="module")
def tables(worked):
    return {name: read(words) for name, words in csv_tables.tables([worked], PRINTING).items()}


# ---------------------------------------------------------------- CSV


def test_every_hour_has_its_line_and_is_traceable(tables):
    hours = tables["hours.csv"]
    eighth = next(row for row in hours if row["begins_utc"] == "2026-02-03T08:00:00Z")

    assert len(hours) == 672
    assert (eighth["state"], eighth["mean_inh2o"], eighth["readings"]) == ("valid", "6.5000", "3600")
    assert (eighth["readings_q1"], eighth["average_outside"]) == ("900", "above")
    assert (eighth["first_reading_utc"], eighth["last_reading_utc"]) == (
        "2026-02-03T08:00:00Z",
        "2026-02-03T08:59:59Z",
    )


def test_the_figures_of_the_page_can_be_worked_out_from_the_hours_file(tables):
    valid = [row for row in tables["hours.csv"] if row["state"] == "valid"]
    operating = [row for row in tables["hours.csv"] if row["state"] in ("valid", "invalid")]

    assert (len(valid), len(operating)) == (236, 241)
    assert sum(float(row["mean_inh2o"]) for row in valid) == pytest.approx(718)
    assert sum(int(row["operating_s"]) for row in tables["hours.csv"]) == 865_200


def test_the_month_is_the_sum_of_its_days(tables):
    (month,) = tables["months.csv"]

    assert len(tables["days.csv"]) == 28
    for name in ("hours", "valid_hours", "invalid_hours", "operating_s", "readings"):
        assert sum(int(row[name]) for row in tables["days.csv"]) == int(month[name])
    assert (month["month"], month["availability"], month["enough"]) == ("2026-02", "0.9793", "yes")


def test_an_excursion_says_its_cause_or_that_it_is_unknown(tables):
    first, second = tables["excursions.csv"]

    assert (first["duration_s"], first["worst_inh2o"], first["side"]) == ("7200", "7.0000", "above")
    assert (first["cause"], first["corrective_action"]) == ("header pressure lost (anna)", TOLD.action)
    assert (second["cause"], second["corrective_action"]) == ("unknown (none recorded)", "")


def test_downtime_has_a_line_for_each_cause(tables):
    assert [(row["incident"], row["cause"], row["cause_s"]) for row in tables["downtime.csv"]] == [
        ("1", "not_good", "6301"),
        ("2", "not_running", "7201"),
    ]


def test_the_files_say_by_what_and_from_what_they_were_made(worked, tables):
    about = {row["what"]: row["value"] for row in tables["about.csv"]}

    assert about["readings_sha256"] == worked.readings_digest
    assert about["valid_hour"] == "four-quarters"
    assert about["readings_by"].startswith(
        "cakewatch export site.yaml --collector DC-101 --point dp --since 2026-"
    )


def test_what_people_wrote_comes_back_whole_and_is_no_formula():
    found = records(worked_month.month(entries=(EVIL,)))
    row = read(csv_tables.tables([found], PRINTING)["excursions.csv"])[1]

    assert row["cause"] == f"'{EVIL.cause} (ben <b>)"
    assert row["corrective_action"] == EVIL.action


def test_the_hour_that_comes_twice_is_told_by_its_offset():
    span = days(date(2026, 11, 1), date(2026, 11, 2), NEW_YORK)
    rows = [full_hour(start) for start in range(int(span.start_utc_s), int(span.end_utc_s), 3600)]
    found = records(sources(rows, *span, zone=NEW_YORK))
    begins = [row["begins"] for row in read(csv_tables.tables([found], PRINTING)["hours.csv"])]

    assert begins[1:3] == ["2026-11-01T01:00:00-04:00", "2026-11-01T01:00:00-05:00"]
    assert len(set(begins)) == 25


# ---------------------------------------------------------------- JSON


def test_the_json_form_carries_every_hour_and_the_totals(worked):
    shown = json.loads(json.dumps(json_form.as_json(worked, PRINTING), allow_nan=False))

    assert len(shown["hours"]) == 672
    assert (shown["total"]["valid_hours"], shown["total"]["operating_hours"]) == (236, 241)
    assert (shown["total"]["excursion_s"], shown["total"]["downtime_s"]) == (10_800.0, 13_502.0)
    assert shown["excursions"][0]["recorded"][0]["by"] == "anna"
    assert shown["other_entries"][0]["by"] == "ben"


# ---------------------------------------------------------------- text


def test_the_text_stays_in_its_columns(worked):
    shown = text.text(worked, PRINTING)

    assert all(len(line) <= text.WIDTH for line in shown.splitlines())
    assert "Valid hours                        236 of 241" in shown
    assert "Data availability                  97.9 %" in shown
    words = " ".join(shown.split())

    assert "worst 1.50 inH2O. Cause: unknown (none recorded). Action: none recorded." in words
    assert "cakewatch record-action site.yaml DC-101 --at 2026-02-12T14:00:00+00:00" in words
    assert "The permit decides" in words


def test_too_few_valid_hours_are_said_aloud():
    found = records(worked_month.month(replace_permit(least_available=0.99)))

    assert "FEWER than 99 % of the operating hours are valid." in text.text(found, PRINTING)


def replace_permit(**more):
    return PermitSettings(low_inh2o=2.0, high_inh2o=6.0, **more)


# ---------------------------------------------------------------- page


class Page(HTMLParser):
    """Reads a page, and finds what is not closed, what is fetched, and what its tables say."""

    VOID = frozenset({"meta", "br", "line", "rect", "path", "text"})

    def __init__(self, words):
        super().__init__()
        self.open, self.tags, self.links, self.rows, self.words = [], [], [], [], []
        self.feed(words)
        self.close()
        assert not self.open

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.links += [value for name, value in attrs if name in ("src", "href", "xlink:href", "action")]
        if tag not in ("meta", "br"):
            self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th") and self.rows:
            self.rows[-1].append("")

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)
        if self.rows and self.rows[-1]:
            self.rows[-1][-1] += data


@pytest.fixture(scope="module")
def shown(worked):
    return Page(page.page([worked], PRINTING))


def test_the_page_is_whole_and_fetches_nothing(worked, shown):
    assert shown.links == []
    assert "script" not in shown.tags
    assert "url(" not in page.page([worked], PRINTING)
    assert "@import" not in page.page([worked], PRINTING)


def test_the_page_says_the_figures_of_each_day(shown):
    sixteenth = next(row for row in shown.rows if row[0] == "2026-02-16")

    assert sixteenth[1:6] == ["12", "9", "3", "12", "75.0 %"]


def test_the_page_has_every_hour_where_the_clock_has_it(shown):
    third = next(row for row in shown.rows if row[0] == "3 Tue")
    sixteenth = next(row for row in shown.rows if row[0] == "16 Mon")

    assert third[1 + 8 : 1 + 11] == ["6.50", "7.00", "6.00"]
    assert (third[1 + 5], third[1 + 6]) == ("–", "3.00")
    assert sixteenth[1 + 9 : 1 + 12] == ["×", "×", "×"]


def test_the_page_has_room_for_a_signature_a_caution_and_its_own_digest(worked, shown):
    words = " ".join(shown.words)

    assert "signature and date" in words
    assert "The permit decides" in words
    assert worked.readings_digest in words
    assert "cakewatch 0.1.0" in words


def test_the_page_repeats_its_head_on_paper_and_starts_each_collector_anew(worked):
    twice = Page(page.page([worked, worked], PRINTING))

    assert sum("printed 2026-02-28 12:00 UTC" in word for word in twice.words) == 2
    assert "break-before:page" in page.page([worked], PRINTING)


def test_what_people_wrote_is_text_and_no_markup():
    words = page.page([records(worked_month.month(entries=(EVIL,)))], PRINTING)

    assert "<script" not in words
    assert "script" not in Page(words).tags
    assert "&lt;script&gt;" in words


def test_the_autumn_hour_shows_both_averages_and_the_spring_hour_none():
    for first, cell in ((date(2026, 11, 1), "2.003.00"), (date(2026, 3, 8), "3.00")):
        span = days(first, first.replace(day=first.day + 1), NEW_YORK)
        starts = range(int(span.start_utc_s), int(span.end_utc_s), 3600)
        rows = [full_hour(start, 1.0 + number) for number, start in enumerate(starts)]
        found = Page(page.page([records(sources(rows, *span, zone=NEW_YORK))], PRINTING))
        row = next(one for one in found.rows if one[0] == f"{first.day} Sun")

        if first.month == 11:
            assert row[1 + 1] == cell
        else:
            assert (row[1 + 2], row[1 + 3]) == ("", cell)


def test_a_year_has_a_chart_for_each_month():
    span = year(2026, NEW_YORK)
    rows = [full_hour(start) for start in range(int(span.start_utc_s), int(span.end_utc_s), 3600)]
    found = Page(page.page([records(sources(rows, *span, zone=NEW_YORK))], PRINTING))

    assert found.tags.count("svg") == 2 * 12


def test_a_period_without_a_single_reading_is_a_page_all_the_same():
    found = records(sources([], feb(1), feb(2), known_from_utc_s=None))

    assert "the history holds no hour of PDT-101 at all" in page.page([found], PRINTING)
    assert "Data availability                  –" in text.text(found, PRINTING)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "0 min"), (40, "40 s"), (60, "1 min"), (3600, "1 h"), (8100, "2 h 15 min"), (3_600_000, "1,000 h")],
)
def test_lengths_read_well(seconds, words):
    assert length(seconds) == words


def test_a_share_is_never_rounded_up_to_the_whole_nor_down_to_nothing():
    assert (percent(0.9999), percent(1.0), percent(0.75), percent(None)) == ("99.9 %", "100.0 %", "75.0 %", "–")
    assert (percent(0.0004), percent(0.0)) == ("<0.1 %", "0.0 %")
