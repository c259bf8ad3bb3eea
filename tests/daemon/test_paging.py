"""Paging: a real daemon on a real device: what the field shows, an open page hears; what was, a new one sees."""

import http.client
import json
import socket
import time
from contextlib import contextmanager

import pytest

from tests.rig import sites
from tests.rig.rig import Rig
from tests.rig.waiting import until

PDAH = {"PDAH-101": sites.band()}


class Stream:
    """One open page of the daemon."""

    def __init__(self, port: int) -> None:
        self._socket = socket.create_connection(("127.0.0.1", port), timeout=10.0)
        self._socket.sendall(b"GET /api/v1/stream HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        self._answer = http.client.HTTPResponse(self._socket)
        self._answer.begin()
        self.heard: list[str] = []

    def next(self, *kinds: str) -> dict:
        """The next message of one of these kinds."""
        found = ""
        while line := self._answer.readline().decode():
            if line.startswith("event: "):
                found = line[7:].strip()
                self.heard.append(found)
            elif line.startswith("data: ") and found in kinds:
                return json.loads(line[6:])
        raise EOFError("the stream has ended")

    def figure(self) -> float | None:
        """The DP that the next message shows, whether it comes alone or with its card."""
        told = self.next("values", "cards")
        if "dp" in told:
            return told["dp"]["DC-101"][0]
        return told["collectors"][0]["dp"]["value"] if told["collectors"] else None

    def close(self) -> None:
        self._answer.close()
        self._socket.close()


@contextmanager
def stream(port: int):
    page = Stream(port)
    try:
        yield page
    finally:
        page.close()


def ask(port: int, path: str) -> dict:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10.0)
    connection.request("GET", path)
    answer = connection.getresponse()
    body = answer.read()
    connection.close()
    assert answer.status == 200, body
    return json.loads(body)


@pytest.fixture(scope="module")
def mill(tmp_path_factory):
    with Rig(tmp_path_factory.mktemp("paging")) as rig:
        device = rig.field.device()
        device.values[(1, 0)] = 4000
        links = {"mill": sites.link(device.port)}
        rig.site(links, {"DC-101": sites.collector(101, "mill", 1, 0, bands=PDAH)})
        daemon = rig.daemon()
        yield rig, device, daemon


def shows(port: int, value: float) -> bool:
    (card,) = ask(port, "/api/v1/plant")["collectors"]
    return card["dp"]["value"] == value


def test_what_a_register_holds_is_on_an_open_page_within_a_second_and_a_half(mill):
    rig, device, _ = mill
    until(lambda: shows(rig.http_port, 4.0), 10.0, "no DP")
    with stream(rig.http_port) as page:
        assert page.next("plant")["collectors"][0]["dp"]["value"] == 4.0
        device.values[(1, 0)] = 5250
        begun = time.monotonic()
        while page.figure() != 5.25:
            pass
        assert time.monotonic() - begun < 1.5


def test_an_alarm_is_told_only_when_the_journal_has_it_and_at_once(mill):
    rig, device, _ = mill
    with stream(rig.http_port) as page:
        page.next("plant")
        device.values[(1, 0)] = 8000
        begun = time.monotonic()
        event = page.next("event")
        raised_s = time.monotonic() - begun
        alarms = page.next("alarms")["alarms"]
        assert (raised_s < 1.5, time.monotonic() - begun < 1.5) == (True, True), (raised_s, page.heard)
        assert (event["happened"], event["tag"]) == ("raised", "PDAH-101")
        assert [(one["tag"], one["state"]) for one in alarms] == [("PDAH-101", "unacknowledged")]
    newest = ask(rig.http_port, "/api/v1/events?collector=DC-101&limit=1")["events"][0]
    assert newest["event_id"] == event["event_id"]
    assert ask(rig.http_port, "/api/v1/plant")["latest_seq"] >= event["seq"]


def test_a_chart_has_what_was_read_and_what_was_raised(mill):
    rig, _, _ = mill

    def chart():
        since = time.time() - 120.0
        return ask(rig.http_port, f"/api/v1/collectors/DC-101/chart?from_utc_s={since}")

    until(lambda: max((row[2] for row in chart()["rows"]), default=0.0) == 8.0, 10.0, "no rows")
    found = chart()
    assert found["tier"] == "steps"
    assert [(span["tag"], span["until_utc_s"]) for span in found["alarms"]] == [("PDAH-101", None)]


def test_a_page_that_is_open_does_not_hold_up_the_end_and_a_restart_knows_what_was(mill):
    rig, device, daemon = mill
    device.values[(1, 0)] = 4000
    with stream(rig.http_port) as page:
        page.next("plant")
        begun = time.monotonic()
        daemon.stop()
        assert time.monotonic() - begun < 5.0
        with pytest.raises((EOFError, OSError)):
            page.next("never")
    daemon.start()
    until(lambda: shows(rig.http_port, 4.0), 10.0, "no DP")

    def trend():
        return ask(rig.http_port, "/api/v1/trends?collector=DC-101")["collectors"]["DC-101"]

    until(lambda: max(one or 0.0 for one in trend()["high"]) == 8.0, 10.0, "the past is not filled in")
    assert set(trend()["alarm"]) - {None}, trend()
