"""Answers: every body is what the OpenAPI document says, and every wrong question gets a sentence."""

from dataclasses import replace

import jsonschema
import pytest

from monitor.interpret.settings import CleaningSettings, CurveSettings
from monitor.judge.alarm import Alarm
from monitor.tell.page.addresses import page_addresses
from monitor.tell.page.files import PageFiles
from monitor.words import AlarmState, Event, EventKind, PointId, Priority, Role, Shelf
from tests.tell import mill
from tests.tell.page.test_chart import sawtooth
from tests.tell.page.yard import Yard, later, served

pytestmark = pytest.mark.anyio


def schema(yard: Yard, path: str, status: int = 200):
    (address,) = [one for one in page_addresses(yard.page, PageFiles()) if one.path == path]
    return address.openapi["responses"][str(status)]["content"]["application/json"]["schema"]


def whole_yard() -> Yard:
    """Two collectors: one with everything that can be shown, one blind."""
    yard = Yard()
    curve = CurveSettings(cleaning=CleaningSettings(start_inh2o=5.0, stop_inh2o=3.0))
    yard.plans["DC-101"] = replace(yard.plans["DC-101"], curve=curve, link="mill", area="north")
    shelf = Shelf(2000.0, mill.NOW.utc_s + 600, "anna", "hopper work", mill.NOW.utc_s)
    shelved = Alarm(state=AlarmState.SHELVED, stands=True, shelf=shelf, since_utc_s=mill.NOW.utc_s)
    yard.put("DC-101", alarms={"PDAH-101": mill.active(), "PDAL-101": shelved})
    yard.put("DC-102", mill.BAD, alarms={"PDT-102-BAD": mill.active(seen=True)})
    rows, _ = sawtooth(5.0)
    first = rows[0].start_utc_s
    yard.rows = {PointId("DC-101", Role.DP): rows}
    yard.at = later(first + 5 * 3600 - mill.NOW.utc_s)
    yard.events = [
        Event(
            kind=EventKind.ALARM, happened="raised", at_utc_s=first + 600.0 * n, text=f"number {n}",
            collector="DC-101", tag="PDAH-101", priority=Priority.HIGH, seq=n, event_id=f"e-{n}",
            state=AlarmState.UNACKNOWLEDGED if n % 2 else AlarmState.NORMAL,
        )
        for n in range(1, 21)
    ]  # fmt: skip
    return yard


@pytest.mark.parametrize(
    ("path", "asked"),
    [
        ("/api/v1/plant", "/api/v1/plant"),
        ("/api/v1/trends", "/api/v1/trends?collector=DC-102"),
        ("/api/v1/collectors/{name}", "/api/v1/collectors/DC-101"),
        ("/api/v1/collectors/{name}", "/api/v1/collectors/DC-102"),
        ("/api/v1/collectors/{name}/chart", "/api/v1/collectors/DC-101/chart?points=100"),
        ("/api/v1/collectors/{name}/chart", "/api/v1/collectors/DC-102/chart"),
        ("/api/v1/events", "/api/v1/events?limit=3"),
    ],
)
async def test_every_body_is_what_the_document_says(path, asked):
    yard = whole_yard()
    async with served(yard) as page:
        status, headers, _ = await page.get(asked)
        assert (status, headers["cache-control"]) == (200, "no-store")
        _, body = await page.json(asked)
        jsonschema.validate(body, schema(yard, path), cls=jsonschema.Draft202012Validator)


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        ("/api/v1/trends?collector=DC-999", 400),
        ("/api/v1/trends?x=1", 400),
        ("/api/v1/collectors/DC-999", 404),
        ("/api/v1/collectors/DC-101?x=1", 400),
        ("/api/v1/collectors/DC-999/chart", 404),
        ("/api/v1/collectors/DC-101/chart?points=0", 400),
        ("/api/v1/events?collector=DC-999", 400),
        ("/api/v1/events?limit=x", 400),
    ],
)
async def test_a_wrong_question_gets_a_sentence(asked, status):
    async with served(whole_yard()) as page:
        found, body = await page.json(asked)
        assert found == status
        assert len(body["error"].split()) > 3


async def test_a_disk_that_does_not_answer_is_said_and_the_plant_is_shown_all_the_same():
    yard = whole_yard()
    yard.is_disk_gone = True
    async with served(yard) as page:
        for path in ("collectors/DC-101", "collectors/DC-101/chart", "events"):
            status, body = await page.json(f"/api/v1/{path}")
            assert (status, body["error"]) == (503, "the history cannot be read: the disk is gone")
        assert (await page.get("/api/v1/plant"))[0] == 200


async def test_a_chart_shows_rows_cycles_residual_and_alarms_of_its_span():
    yard = whole_yard()
    async with served(yard) as page:
        _, body = await page.json("/api/v1/collectors/DC-101/chart?points=100")
        (asked,) = yard.asked
        assert asked[1] == "steps"
        assert asked[2] <= body["from_utc_s"] - 3 * 3600
        assert 50 <= len(body["rows"]) <= 100
        assert min(low for _, low, *_ in body["rows"]) == pytest.approx(2.98, abs=0.05)
        assert body["residual"][-1][1] == pytest.approx(3.0, abs=0.1)
        assert len(body["cleanings"]) >= 10
        assert len(body["alarms"]) == 10
        assert body["alarms"][0]["until_utc_s"] - body["alarms"][0]["from_utc_s"] == 600.0


async def test_the_detail_says_what_to_check_and_with_what_caution():
    async with served(whole_yard()) as page:
        for name, tag in (("DC-101", "PDAH-101"), ("DC-102", "PDT-102-BAD")):
            _, body = await page.json(f"/api/v1/collectors/{name}")
            assert {check["tag"] for check in body["checks"]} == {tag}
            assert all(check["check"] and "licensed people" in check["caution"] for check in body["checks"])
            assert {alarm["collector"] for alarm in body["alarms"]} == {name}


async def test_events_come_newest_first_and_say_whether_there_are_more():
    async with served(whole_yard()) as page:
        _, first = await page.json("/api/v1/events?limit=15")
        assert ([one["seq"] for one in first["events"]][:2], first["more"]) == ([20, 19], True)
        _, rest = await page.json(f"/api/v1/events?limit=15&before_seq={first['events'][-1]['seq']}")
        assert ([one["seq"] for one in rest["events"]], rest["more"]) == ([5, 4, 3, 2, 1], False)


async def test_a_name_that_is_no_safe_text_stays_a_text():
    yard = Yard()
    name = '<script>"\u2028</script>\n'
    yard.plans = {name: mill.plan(101, name)}
    yard.states = {name: mill.state(yard.plans[name])}
    async with served(yard) as page:
        _, headers, _ = await page.get("/api/v1/plant")
        assert headers["content-type"] == "application/json"
        _, body = await page.json("/api/v1/plant")
        assert body["collectors"][0]["name"] == name
