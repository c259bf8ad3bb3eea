"""Everybody can use it: WCAG 2.2 AA by axe in every view, keyboard alone, narrow screens, no colour at all."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser import people
from tests.browser.eyes import LIVE, NOT_LIVE, Eyes, has_alarm
from tests.browser.mill import HIGH, VERY_HIGH, Mill
from tests.browser.test_access import ELSEWHERE, REFUSED, log_in
from tests.browser.visit import DESK, PHONE, UNREACHABLE
from tests.browser.wcag import violations

SCREENS = {"phone": PHONE, "desk": DESK}
PRIORITIES = {"PDAHH-101": "Urgent", "PDAH-102": "High", "PDAL-103": "Low"}


def troubled(rig, **changes):
    """Three priorities, one of them acknowledged, one alarm shelved, one signal that cannot be read."""
    mill = Mill(rig, 5, commands=people.block(), environ=people.environ(), **changes)
    mill.raise_it(101, VERY_HIGH, "PDAHH")
    mill.raise_it(102, HIGH)
    mill.raise_it(103, 500, "PDAL")
    mill.device.refuses.add((5, 0))
    rig.listener.await_event("PDT-105-BAD", "raised", 8)
    return mill


def named(visit):
    """On the machine itself a name is asked for once; here it has been."""
    visit.page.add_init_script("try { localStorage.setItem('cakewatch.name', 'anna'); } catch {}")
    return Eyes(visit)


def faults_of(eyes, where, found):
    eyes.visit.until("() => document.getAnimations().every(one => one.playState !== 'running')")
    found += [f"{where}: {fault}" for fault in violations(eyes.page)]


@pytest.mark.parametrize(
    ("screen", "theme"),
    [
        ("phone", "light"),
        ("desk", "dark"),
        pytest.param("phone", "dark", marks=pytest.mark.long),
        pytest.param("desk", "light", marks=pytest.mark.long),
    ],
)
def test_axe_finds_nothing_in_any_view(rig, visitors, screen, theme):
    mill = troubled(rig)
    visit = visitors(mill.base, forgives=UNREACHABLE.pattern, color_scheme=theme, **SCREENS[screen])
    eyes = named(visit).open()
    found: list[str] = []
    eyes.visit.until(has_alarm("PDAHH-101", "Urgent"))
    faults_of(eyes, "yard", found)
    eyes.button("Menu").click()
    expect(eyes.sheet).to_be_visible()
    faults_of(eyes, "menu", found)
    eyes.page.keyboard.press("Escape")
    eyes.collector("DC-101")
    eyes.button("Shelve PDAHH-101").wait_for()
    faults_of(eyes, "collector", found)
    for action in ("Shelve PDAHH-101", "Out of service PDAHH-101"):
        eyes.button(action).click()
        expect(eyes.sheet).to_be_visible()
        faults_of(eyes, f"sheet of {action}", found)
        eyes.page.keyboard.press("Escape")
    eyes.yard()
    mill.watch.kill()
    eyes.visit.until(NOT_LIVE, 12)
    faults_of(eyes, "not live", found)

    assert found == []


@pytest.mark.parametrize("theme", ["light", pytest.param("dark", marks=pytest.mark.long)])
def test_axe_finds_nothing_in_the_login(rig, visitors, theme):
    mill = Mill(rig, 1, commands=people.block(), environ=people.environ())
    visit = visitors(mill.base, forgives=REFUSED, color_scheme=theme, **(PHONE | ELSEWHERE))
    eyes = Eyes(visit)
    visit.open()
    expect(eyes.page.get_by_label("Password")).to_be_visible()
    found: list[str] = []
    faults_of(eyes, "login", found)
    log_in(eyes, "anna", "wrong password")
    expect(eyes.page.get_by_text("wrong name or password")).to_be_visible()
    faults_of(eyes, "login refused", found)

    assert found == []


def focus_is_seen(page):
    """Whether the element with the keyboard looks otherwise than without it."""
    return page.evaluate(
        """() => {
          const node = document.activeElement;
          const look = () => { const s = getComputedStyle(node);
            return [s.outlineStyle, s.outlineWidth, s.outlineColor, s.boxShadow, s.backgroundColor, s.borderColor]
              .join("|"); };
          const style = getComputedStyle(node);
          const lined = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
          const focused = look();
          node.blur();
          const without = look();
          node.focus({focusVisible: true, preventScroll: true});
          return lined || focused !== without;
        }"""
    )


def tab_to(eyes, name, most=80):
    """Press the tabulator until that control has the keyboard; it must be seen at every stop."""
    for _ in range(most):
        eyes.page.keyboard.press("Tab")
        if eyes.page.evaluate("document.activeElement === document.body"):
            continue  # the browser's own bar has it: between the last control and the first
        assert focus_is_seen(eyes.page), f"nobody sees that {eyes.focused()!r} has the keyboard"
        if re.search(name, eyes.focused()):
            return
    raise AssertionError(f"{name} cannot be reached with the tabulator")


def test_everything_is_done_by_keyboard_alone(rig, visitors):
    mill = Mill(rig, 3)
    mill.raise_it(101)
    mill.raise_it(102)
    eyes = named(visitors(mill.base)).open()
    tab_to(eyes, "^Acknowledge PDAH-101$")
    eyes.page.keyboard.press("Enter")
    rig.listener.await_event("PDAH-101", "acknowledged", 5)
    eyes.visit.until("() => document.activeElement !== document.body")
    eyes.page.evaluate("document.activeElement.blur()")
    tab_to(eyes, "^DC-102")
    eyes.page.keyboard.press("Enter")
    eyes.visit.until("() => document.title.includes('DC-102') && document.activeElement !== document.body")
    tab_to(eyes, "^Shelve PDAH-102$")
    eyes.page.keyboard.press("Enter")
    expect(eyes.sheet).to_be_visible()
    assert eyes.page.evaluate("document.querySelector('dialog,[role=dialog]').contains(document.activeElement)")
    tab_to(eyes, "(?i)why|reason", 20)
    eyes.page.keyboard.type("hopper work")
    tab_to(eyes, "^Shelve", 20)
    eyes.page.keyboard.press("Enter")

    assert rig.listener.await_event("PDAH-102", "shelved", 5)["facts"]["reason"] == "hopper work"
    eyes.visit.until("() => document.activeElement !== document.body")


def test_the_keyboard_is_where_it_was_when_a_sheet_is_left(rig, visitors):
    mill = Mill(rig, 1)
    mill.raise_it()
    eyes = named(visitors(mill.base)).open().collector("DC-101")
    tab_to(eyes, "^Shelve PDAH-101$")
    eyes.page.keyboard.press("Enter")
    expect(eyes.sheet).to_be_visible()
    for _ in range(25):
        eyes.page.keyboard.press("Tab")
        assert eyes.page.evaluate(
            "document.querySelector('dialog[open],[role=dialog]').contains(document.activeElement)"
            " || document.activeElement === document.body"
        ), "the keyboard has left the open sheet"
    eyes.page.keyboard.press("Escape")
    expect(eyes.sheet).to_have_count(0)

    assert eyes.focused() == "Shelve PDAH-101"


def test_nothing_has_to_be_scrolled_sideways_at_320_pixels(rig, visitors):
    mill = troubled(rig)
    how = PHONE | {"viewport": {"width": 320, "height": 640}}
    eyes = named(visitors(mill.base, **how)).open()
    eyes.visit.no_torn_words()
    eyes.visit.no_sideways()
    eyes.button("Menu").click()
    expect(eyes.sheet).to_be_visible()
    eyes.visit.no_sideways()
    eyes.page.keyboard.press("Escape")
    eyes.collector("DC-101")
    eyes.button("Shelve PDAHH-101").wait_for()
    eyes.visit.no_sideways()
    eyes.visit.no_torn_words()
    eyes.button("Shelve PDAHH-101").click()
    expect(eyes.sheet).to_be_visible()
    eyes.visit.no_sideways()
    eyes.visit.no_torn_words()


def test_without_any_colour_every_priority_has_its_word_and_its_shape(rig, visitors):
    mill = troubled(rig)
    eyes = named(visitors(mill.base)).open()
    with eyes.visit.devtools() as session:
        session.send("Emulation.setEmulatedVisionDeficiency", {"type": "achromatopsia"})
        pictures = set()
        for tag, word in PRIORITIES.items():
            eyes.visit.until(has_alarm(tag, word))
            sign = eyes.page.locator("li.alarm", has=eyes.page.get_by_text(tag, exact=True)).locator("svg").first
            pictures.add(sign.screenshot())

    assert len(pictures) == len(PRIORITIES), "two priorities look alike without colour"


def test_who_hears_the_page_is_told_of_a_new_alarm_and_of_silence(rig, visitors):
    mill = Mill(rig, 1)
    eyes = named(visitors(mill.base, forgives=UNREACHABLE.pattern)).open()
    mill.raise_it()
    expect(eyes.page.get_by_role("alert").filter(has_text="High alarm")).to_have_count(1)
    mill.watch.kill()

    expect(eyes.page.get_by_role("alert").filter(has_text="Not live")).to_be_visible(timeout=12_000)
    mill.watch.start()
    eyes.visit.until(LIVE, 12)
