"""``cakewatch records`` on a real store: three days of March 2024 at Alder Mill, and what people asked wrongly."""

import asyncio
import csv
import json
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner

from monitor.cli.main import main
from monitor.words import AlarmState, Event, EventKind, Instant, PointId, Quality, Reading, Reason, Role
from tests.remember.making import opened

NEW_YORK = ZoneInfo("America/New_York")
POINT = """\
      link: mill-gateway
      unit_id: 1
      reference_number: 30003
      encoding: uint16
      loop: {counts_at_4_ma: 819, counts_at_20_ma: 4095, at_4_ma: 0 inH2O, at_20_ma: 10 inH2O}
"""
SITE = f"""\
site: {{name: Alder Mill, time_zone: America/New_York}}
store: {{folder: store}}
links:
  mill-gateway: {{protocol: modbus-tcp, host: 127.0.0.1}}
collectors:
  DC-101:
    dp:
      tag: PDT-101
{POINT}\
    fan_running: {{tag: RUN-101, link: mill-gateway, unit_id: 1, reference_number: 10001}}
    permit: {{low: 2 inH2O, high: 6 inH2O}}
  DC-102:
    dp:
      tag: PDT-102
{POINT.replace("unit_id: 1", "unit_id: 2")}"""


def at(text):
    return datetime.fromisoformat(text).replace(tzinfo=NEW_YORK).timestamp()


#: The clocks go forward on the 10th: 9, 10 and 11 March have 24 + 23 + 24 hours.
BEGIN, END = at("2024-03-09T00:00"), at("2024-03-12T00:00")
HIGH = (at("2024-03-11T08:00"), at("2024-03-11T10:00"))
SERVICE = (at("2024-03-11T14:00"), at("2024-03-11T14:30"))


def value(utc_s):
    if SERVICE[0] <= utc_s < SERVICE[1]:
        return 9.0
    return 7.0 if HIGH[0] <= utc_s < HIGH[1] else 3.0


def system(utc_s, happened, **more):
    return Event(kind=EventKind.SYSTEM, happened=happened, at_utc_s=utc_s, text="", **more)


def alarm(utc_s, happened, state, **more):
    return Event(
        kind=EventKind.ALARM,
        happened=happened,
        at_utc_s=utc_s,
        text="",
        collector="DC-101",
        tag="PDT-101-BAD",
        state=state,
        by="ben",
        **more,
    )


EVENTS = [
    system(BEGIN, "started"),
    system(at("2024-03-10T12:00"), "stopped"),
    system(at("2024-03-10T13:30"), "started"),
    system(
        at("2024-03-11T11:00"),
        "action_recorded",
        collector="DC-101",
        by="anna",
        facts={"about_utc_s": at("2024-03-11T08:30"), "cause": "dryer iced up", "action": "drained"},
    ),
    alarm(SERVICE[0], "taken_out_of_service", AlarmState.OUT_OF_SERVICE, facts={"reason": "five-point check"}),
    alarm(SERVICE[1], "returned_to_service", AlarmState.NORMAL),
    system(END, "stopped"),
]


def readings():
    """Every five minutes; the fan stands all through the 9th."""
    for utc_s in range(int(BEGIN), int(END), 300):
        if at("2024-03-10T12:00") <= utc_s < at("2024-03-10T13:30"):
            continue
        runs = float(utc_s >= at("2024-03-10T00:00"))
        yield PointId("DC-101", Role.DP), utc_s, value(utc_s) if runs else 0.02
        yield PointId("DC-101", Role.FAN_RUNNING), utc_s, runs


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    path = tmp_path_factory.mktemp("alder") / "site.yaml"
    path.write_text(SITE)
    forever = {"keep_history_s": 1e11, "keep_minutes_s": 1e11, "keep_hours_s": 1e11}

    async def story():
        async with opened(path.parent / "store", **forever) as store:
            store.append(EVENTS, {}, 1.0)
            for point, utc_s, found in readings():
                at_ = Instant(utc_s, utc_s)
                store.record(point, Reading(quality=Quality.GOOD, reason=Reason.NONE, at=at_, value=found))
            await store.flush()

    asyncio.run(story())
    return path


def ask(site, *options):
    return CliRunner().invoke(main, ["records", str(site), *options])


DAYS = ("--since", "2024-03-09", "--until", "2024-03-12")


def test_the_summary_says_what_happened(site):
    """71 hours: 24 stood, 47 ran; 12 and 13 h of the 10th are not valid (nobody, then half an hour of nobody)."""
    found = ask(site, *DAYS)
    words = " ".join(found.output.split())

    assert found.exit_code == 0, found.output
    assert "Hours 71 (24 not operating)" in words
    assert "Valid hours 45 of 47" in words
    assert (
        "2024-03-11 08:00 EDT, 2 h, above 6, worst 7.00 inH2O. Cause: dryer iced up (anna). Action: drained."
        in words
    )
    assert "2024-03-10 11:55 EDT, 1 h 35 min: cakewatch was not running" in words
    assert "monitor out of service: five-point check (ben)" in words


def test_the_json_form_has_the_hour_of_maintenance_without_what_was_driven(site):
    (shown,) = json.loads(ask(site, *DAYS, "--json").stdout)
    hour = next(one for one in shown["hours"] if one["begins_utc_s"] == SERVICE[0])

    assert (hour["state"], hour["maintenance"], hour["by_minutes"]) == ("valid", True, True)
    assert (hour["mean_inh2o"], hour["quarters"]) == (3.0, [0, 0, 3, 3])


def test_the_files_are_written_whole(site, tmp_path):
    folder, html = tmp_path / "deep" / "march", tmp_path / "march.html"
    found = ask(site, *DAYS, "--csv", str(folder), "--html", str(html))

    assert found.exit_code == 0, found.output
    assert sorted(path.name for path in folder.iterdir()) == [
        *("about.csv", "days.csv", "downtime.csv", "excursions.csv", "hours.csv", "months.csv"),
    ]
    with (folder / "days.csv").open(newline="", encoding="utf-8") as file:
        days = list(csv.DictReader(file))
    assert [(row["day"], row["hours"], row["valid_hours"]) for row in days] == [
        ("2024-03-09", "24", "0"),
        ("2024-03-10", "23", "21"),
        ("2024-03-11", "24", "24"),
    ]
    assert b"\r\n" in (folder / "hours.csv").read_bytes()
    assert b"\r\r\n" not in (folder / "hours.csv").read_bytes()
    assert html.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert not list(tmp_path.rglob("*.part"))


def test_a_month_is_counted_from_the_begin_of_the_history(site):
    (shown,) = json.loads(ask(site, "--month", "2024-03", "--json").stdout)

    assert shown["total"]["hours"] == 743
    assert shown["total"]["hours_not_in_history"] == 8 * 24
    assert shown["history_from_utc_s"] == BEGIN


def test_printing_twice_gives_the_same_digest(site):
    first, second = (json.loads(ask(site, "--year", "2024", "--json").stdout)[0] for _ in range(2))

    assert first["readings_sha256"] == second["readings_sha256"]
    assert first["hours"] == second["hours"]


@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        (("--month", "2024-13"), 2, "must be a month such as 2026-10"),
        (("--month", "March"), 2, "must be a month such as 2026-10"),
        (("--since", "yesterday"), 2, "must be a date such as 2026-10-01"),
        (("--since", "2024-03-09T06:00"), 2, "whole days on the site's clock"),
        (("--month", "2024-03", "--year", "2024"), 2, "give one of them"),
        (("--year", "2024", "--until", "2024-05-01"), 2, "give one of them"),
        (("--until", "2024-03-09"), 2, "--until needs --since"),
        (("--since", "2024-03-09", "--until", "2024-03-09"), 2, "ends before it begins"),
        (("--year", "9000"), 2, "No hour of this period is over yet"),
        (("--year", "9998"), 2, "No hour of this period is over yet"),
        (("--collector", "DC-109"), 2, "There is no collector 'DC-109'"),
        (("--collector", "DC-102"), 2, "write collectors.DC-102.permit"),
    ],
)
def test_what_is_asked_wrongly_gets_a_sentence(site, options, code, words):
    found = ask(site, *options)

    assert found.exit_code == code
    assert words in " ".join(found.output.split())
    assert "Traceback" not in found.output


def test_a_site_without_any_permit_is_told_the_way_out(tmp_path):
    path = tmp_path / "site.yaml"
    path.write_text(SITE.replace("    permit: {low: 2 inH2O, high: 6 inH2O}\n", ""))
    found = ask(path)

    assert found.exit_code == 2
    assert "No collector in" in found.output
    assert "collectors.<name>.permit" in found.output


def test_a_store_that_is_not_there_is_told(tmp_path):
    path = tmp_path / "site.yaml"
    path.write_text(SITE)
    found = ask(path, "--month", "2024-03")

    assert found.exit_code == 3
    assert "no daemon has run with this site file yet" in found.output


def test_a_file_that_cannot_be_written_is_told(site, tmp_path):
    (tmp_path / "taken").write_text("a file")

    for options in (("--csv", str(tmp_path / "taken")), ("--html", str(tmp_path / "nowhere" / "x.html"))):
        found = ask(site, *DAYS, *options)

        assert found.exit_code == 3
        assert "cannot be written" in found.output
