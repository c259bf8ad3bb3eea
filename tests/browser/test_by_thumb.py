"""What a thumb does on a phone travels to MQTT and stops the calling."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser.eyes import Eyes, has_alarm, has_strip
from tests.browser.gateway import PhoneGateway
from tests.browser.mill import Mill
from tests.browser.visit import PHONE
from tests.rig.waiting import until


@pytest.fixture
def gateway():
    standing = PhoneGateway()
    yield standing
    standing.close()


def phone(gateway, **route):
    """Anna at once, ben when she does not answer; their channels and what the daemon must know of them."""
    people = {
        name: {"channels": {"push": {"url_env": f"CAKEWATCH_{name.upper()}_PUSH"}}} for name in ("anna", "ben")
    }
    steps = [{"people": ["anna"]}, {"after": "4 s", "people": ["ben"]}]
    block = {"gather": "0 s", "people": people, "routes": {"all": {"steps": steps} | route}}
    return block, {f"CAKEWATCH_{name.upper()}_PUSH": gateway.url(name) for name in people}


def by_thumb(visitors, mill):
    eyes = Eyes(visitors(mill.base, **PHONE)).open()
    eyes.page.evaluate("localStorage.setItem('cakewatch.name', 'anna')")
    return eyes


def test_the_first_acknowledgement_on_the_machine_itself_asks_for_a_name_once(rig, visitors):
    mill = Mill(rig, 2)
    mill.raise_it(101)
    mill.raise_it(102)
    eyes = Eyes(visitors(mill.base, **PHONE)).open()
    eyes.button("Acknowledge PDAH-101").tap()
    eyes.sheet.get_by_role("textbox").fill("shift lead")
    eyes.sheet.get_by_role("textbox").press("Enter")
    assert rig.listener.await_event("PDAH-101", "acknowledged", 5)["by"] == "shift lead"
    eyes.button("Acknowledge PDAH-102").tap()

    assert rig.listener.await_event("PDAH-102", "acknowledged", 5)["by"] == "shift lead"
    eyes.visit.until(has_alarm("PDAH-102", "Acknowledged"))


def test_a_thumb_stops_the_escalation_and_the_others_are_told(rig, visitors, gateway):
    block, environ = phone(gateway)
    people = {"people": {name: {"may": "all"} for name in ("anna", "ben")}}
    mill = Mill(rig, 2, phone=block, environ=environ, commands=people)
    eyes = by_thumb(visitors, mill)
    mill.raise_it(102)
    until(lambda: gateway.to("ben", "PDAH-102"), 15, lambda: list(map(str, gateway.posted)))
    calls = len(gateway.to("ben", "PDAH-102"))
    eyes.button("Acknowledge PDAH-102").tap()
    rig.listener.await_event("PDAH-102", "acknowledged", 5)
    until(lambda: len(gateway.to("ben", "PDAH-102")) > calls, 10, lambda: list(map(str, gateway.posted)))
    mill.raise_it(101)
    eyes.button("Acknowledge PDAH-101").tap()
    rig.listener.await_event("PDAH-101", "acknowledged", 5)
    until(lambda: gateway.to("anna", "PDAH-101"), 10, lambda: list(map(str, gateway.posted)))
    eyes.page.wait_for_timeout(6_000)  # longer than ben would have to wait for his call

    assert re.search("acknowledge", f"{gateway.to('ben', 'PDAH-102')[-1]}", re.IGNORECASE)
    assert gateway.to("ben", "PDAH-101") == []


def test_shelving_by_thumb_asks_why_and_how_long(rig, visitors):
    mill = Mill(rig, 1)
    mill.raise_it()
    eyes = by_thumb(visitors, mill).collector("DC-101")
    eyes.button("Shelve PDAH-101").tap()
    expect(eyes.sheet).to_be_visible()
    eyes.sheet.get_by_label(re.compile("why|reason", re.IGNORECASE)).fill("hopper work")
    eyes.sheet.get_by_role("radio", name="2 h").tap()
    eyes.sheet.get_by_role("button", name="Shelve").tap()
    event = rig.listener.await_event("PDAH-101", "shelved", 5)

    assert event["by"] == "anna"
    eyes.visit.until(has_alarm("PDAH-101", "Shelved until", "by anna", "hopper work"))
    eyes.yard()
    eyes.visit.until(has_strip("DC-101", "hopper work"))


def test_out_of_service_and_back_by_thumb(rig, visitors):
    mill = Mill(rig, 1)
    mill.raise_it()
    eyes = by_thumb(visitors, mill).collector("DC-101")
    eyes.button("Out of service PDAH-101").tap()
    eyes.sheet.get_by_label(re.compile("why|reason", re.IGNORECASE)).fill("loop check")
    eyes.sheet.get_by_role("button", name="Out of service").tap()
    rig.listener.await_event("PDAH-101", "taken_out_of_service", 5)
    eyes.visit.until(has_alarm("PDAH-101", "Out of service", "loop check"))
    expect(eyes.sheet).to_have_count(0)
    eyes.button("Return to service PDAH-101").tap()
    eyes.sheet.get_by_role("button", name="Return to service").tap()

    until(lambda: mill.state() == "unacknowledged", 5, rig.listener.short)


def test_a_sheet_left_without_doing_anything_does_nothing(rig, visitors):
    mill = Mill(rig, 1)
    mill.raise_it()
    eyes = by_thumb(visitors, mill).collector("DC-101")
    eyes.button("Shelve PDAH-101").tap()
    expect(eyes.sheet).to_be_visible()
    eyes.page.keyboard.press("Escape")
    expect(eyes.sheet).to_have_count(0)
    rig.listener.prove()

    assert rig.listener.events(happened="shelved") == []
    assert "PDAH-101" in eyes.focused()
