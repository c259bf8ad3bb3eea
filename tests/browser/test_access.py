"""Logging in and out in the browser, and what a stranger, a looker and a forged request cannot do."""

import json

from playwright.sync_api import expect

from tests.browser import people
from tests.browser.eyes import LIVE, Eyes, has_alarm
from tests.browser.mill import Mill
from tests.browser.visit import PHONE, UNREACHABLE

#: A request that a proxy on this machine handed on is nobody's on the machine itself.
ELSEWHERE = {"extra_http_headers": {"X-Forwarded-For": "192.0.2.7"}}
REFUSED = r"status of (401|403)"
ASK = """
([path, body, headers]) => fetch(path, {method: "POST", body: JSON.stringify(body),
  headers: {"Content-Type": "application/json", ...headers}}).then(async one => [one.status, await one.text()])
"""


def mill_with_people(rig, count=2):
    return Mill(rig, count, commands=people.block(), environ=people.environ())


def stranger(visitors, mill, **how):
    visit = visitors(mill.base, forgives=f"{REFUSED}|{UNREACHABLE.pattern}", **(ELSEWHERE | how))
    eyes = Eyes(visit)
    visit.open()
    expect(eyes.page.get_by_label("Password")).to_be_visible()
    return eyes


def log_in(eyes, person, password):
    eyes.page.get_by_label("Name").fill(person)
    eyes.page.get_by_label("Password").fill(password)
    eyes.page.get_by_role("button", name="Log in").click()


def asked(eyes, path, body, **headers):
    status, text = eyes.page.evaluate(ASK, [path, body, headers])
    return status, json.loads(text)


def test_nothing_is_shown_before_the_right_password(rig, visitors):
    mill = mill_with_people(rig)
    mill.raise_it()
    eyes = stranger(visitors, mill)
    assert "DC-101" not in eyes.page.content()
    assert "PDAH-101" not in eyes.page.content()
    log_in(eyes, "anna", "wrong password")
    expect(eyes.page.get_by_text("wrong name or password", exact=False)).to_be_visible()
    log_in(eyes, "anna", people.PASSWORD["anna"])
    eyes.visit.until(LIVE)

    eyes.visit.until(has_alarm("PDAH-101", "High"))
    assert eyes.page.evaluate("fetch('/api/v1/me').then(one => one.json()).then(one => one.person)") == "anna"


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(rig, visitors):
    eyes = stranger(visitors, mill_with_people(rig))
    log_in(eyes, "anna", people.PASSWORD["anna"])
    eyes.visit.until(LIVE)
    (cookie,) = eyes.page.context.cookies()

    assert (cookie["httpOnly"], cookie["sameSite"], cookie["path"]) == (True, "Strict", "/")
    assert eyes.page.evaluate("document.cookie") == ""
    assert len(cookie["value"]) >= 43, "256 bits"


def test_anna_acknowledges_under_her_own_name(rig, visitors):
    mill = mill_with_people(rig)
    mill.raise_it()
    eyes = stranger(visitors, mill, **PHONE)
    log_in(eyes, "anna", people.PASSWORD["anna"])
    eyes.visit.until(LIVE)
    eyes.button("Acknowledge PDAH-101").tap()

    event = rig.listener.await_event("PDAH-101", "acknowledged", 5)
    assert event["by"] == "anna"


def test_who_may_only_look_finds_nothing_to_press_and_is_refused_all_the_same(rig, visitors):
    mill = mill_with_people(rig)
    mill.raise_it()
    eyes = stranger(visitors, mill)
    log_in(eyes, "ben", people.PASSWORD["ben"])
    eyes.visit.until(LIVE)
    eyes.visit.until(has_alarm("PDAH-101", "High"))
    expect(eyes.button("Acknowledge PDAH-101")).to_have_count(0)
    eyes.collector("DC-101")
    expect(eyes.page.get_by_role("button", name="PDAH-101")).to_have_count(0)
    csrf = eyes.page.evaluate("fetch('/api/v1/me').then(one => one.json()).then(one => one.csrf)")
    command = {"command_id": "forced-1", "command": "acknowledge", "tag": "PDAH-101"}
    status, answer = asked(eyes, "/api/v1/commands", command, **{"X-Cakewatch-Token": csrf})

    assert (status, answer["code"]) == (403, "not_allowed")
    rig.listener.prove()
    assert rig.listener.events(happened="acknowledged") == []


def test_a_command_without_the_token_against_forgery_changes_nothing(rig, visitors):
    mill = mill_with_people(rig)
    mill.raise_it()
    eyes = stranger(visitors, mill)
    log_in(eyes, "anna", people.PASSWORD["anna"])
    eyes.visit.until(LIVE)
    command = {"command_id": "forged-1", "command": "acknowledge", "tag": "PDAH-101"}
    without, _ = asked(eyes, "/api/v1/commands", command)
    wrong, _ = asked(eyes, "/api/v1/commands", command, **{"X-Cakewatch-Token": "x" * 43})

    assert (without, wrong) == (403, 403)
    rig.listener.prove()
    assert rig.listener.events(happened="acknowledged") == []


def test_a_session_outlives_the_daemon_and_ends_with_the_logout(rig, visitors):
    mill = mill_with_people(rig)
    eyes = stranger(visitors, mill)
    log_in(eyes, "anna", people.PASSWORD["anna"])
    eyes.visit.until(LIVE)
    mill.watch.stop()
    eyes.visit.until("() => !window.__live()", 12)
    mill.watch.start()
    eyes.visit.until(LIVE, 12)
    cookie = eyes.page.context.cookies()
    eyes.button("Menu").click()
    eyes.sheet.get_by_role("button", name="Log out").click()

    expect(eyes.page.get_by_label("Password")).to_be_visible()
    eyes.page.context.add_cookies(cookie)
    assert eyes.page.evaluate("fetch('/api/v1/plant').then(one => one.status)") == 401, (
        "the old cookie still opens"
    )


def test_no_other_page_may_frame_it(rig, visitors):
    mill = mill_with_people(rig)
    visit = visitors(mill.base, forgives="frame-ancestors|X-Frame-Options|Refused to (frame|display)|Framing")
    visit.page.set_content(f'<iframe src="{mill.base}/"></iframe>')
    visit.page.wait_for_function("window.frames.length === 1")
    visit.until("() => true")
    frame = visit.page.frames[1]
    frame.wait_for_load_state()

    assert frame.url.startswith("chrome-error:")
    assert "DC-101" not in frame.content()
