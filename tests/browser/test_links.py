"""The link in a message: opening it acknowledges nothing, its button does, and only once."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser import people
from tests.browser.eyes import Eyes
from tests.browser.gateway import PhoneGateway
from tests.browser.mill import Mill
from tests.browser.test_access import ELSEWHERE
from tests.browser.test_by_thumb import phone
from tests.browser.visit import PHONE
from tests.browser.wcag import violations
from tests.rig.waiting import until

LINK = re.compile(r"https?://\S+/ack/[A-Za-z0-9._~-]+")
#: Whoever comes with a used link is refused; that is what the test is about.
REFUSED = r"status of 4\d\d"


@pytest.fixture
def gateway():
    standing = PhoneGateway()
    yield standing
    standing.close()


def sent_link(rig, gateway):
    """A mill with an alarm, and the address that anna was sent."""
    block, environ = phone(gateway)
    mill = Mill(
        rig, 2, phone=block, commands=people.block(), environ=environ | people.environ(),
        http={"host": "127.0.0.1", "port": rig.http_port, "public_address": f"http://127.0.0.1:{rig.http_port}"},
    )  # fmt: skip
    mill.raise_it(102)
    until(lambda: gateway.to("anna", "PDAH-102"), 15, lambda: list(map(str, gateway.posted)))
    found = LINK.search(str(gateway.to("anna", "PDAH-102")[0]))
    assert found, f"no link in {gateway.to('anna', 'PDAH-102')[0]}"
    return mill, found[0]


@pytest.mark.parametrize("theme", ["light", pytest.param("dark", marks=pytest.mark.long)])
def test_a_link_is_good_for_one_acknowledgement_and_nothing_else(rig, visitors, gateway, theme):
    mill, link = sent_link(rig, gateway)
    visit = visitors(mill.base, forgives=REFUSED, color_scheme=theme, **(PHONE | ELSEWHERE))
    page = Eyes(visit).page
    for _ in range(2):
        page.goto(link)
        expect(page.get_by_text("PDAH-102").first).to_be_visible()
    rig.listener.prove()
    assert rig.listener.events(happened="acknowledged") == [], "a look alone acknowledged it"
    faults = violations(page)
    visit.no_sideways()
    page.get_by_role("button", name=re.compile("acknowledge", re.IGNORECASE)).tap()
    event = rig.listener.await_event("PDAH-102", "acknowledged", 5)
    expect(page.locator("body")).to_contain_text(re.compile("acknowledged", re.IGNORECASE))
    faults += violations(page)
    page.goto(link)
    again = page.locator("body").inner_text()
    faults += violations(page)

    assert event["by"] == "anna"
    assert faults == []
    assert re.search("used|already|no longer|over", again, re.IGNORECASE), again
    assert "Traceback" not in again
    page.goto(mill.base)
    expect(page.get_by_label("Password")).to_be_visible()  # the link opened nothing else
    rig.listener.prove()
    assert len(rig.listener.events(happened="acknowledged")) == 1
