"""An alarm is on the page within a second of being raised, as shape and word, and so is its end."""

import statistics
from datetime import datetime

from tests.browser.eyes import Eyes, has_alarm, has_strip
from tests.browser.mill import HIGH, VERY_HIGH, Mill
from tests.rig.asking import by_http
from tests.rig.waiting import until

SAMPLES = 20
BOUND_S = 1.0


def at_s(event) -> float:
    return datetime.fromisoformat(event["happened_at"]).timestamp()


def acknowledged_and_gone(mill, number, tag, sample):
    asked = {"command_id": f"gone-{sample}", "command": "acknowledge", "tag": f"{tag}-{number}", "by": "anna"}
    assert by_http(mill.rig.http_port, asked)[0] == 200
    mill.calm(number)
    until(lambda: mill.state(number, tag) == "normal", 5, mill.rig.listener.short)


def test_an_alarm_is_on_the_page_within_a_second_of_being_raised(rig, visitors, record_property):
    """Both moments are taken by the machine's clock: the journal's stamp, and the change of the page."""
    mill = Mill(rig, 4, latching="no")
    eyes = Eyes(visitors(mill.base)).open()
    listed, titled, painted = [], [], []
    for sample in range(SAMPLES):
        number = 101 + sample % 4
        eyes.visit.until(f"() => !window.__alarm('PDAH-{number}') && !/alarm/.test(document.title)")
        eyes.visit.watch("listed", has_alarm(f"PDAH-{number}", "High", "above 7", "8.00 inH₂O", "since"))
        eyes.visit.watch("title", "() => /^1 alarm /.test(document.title)")
        raised_s = at_s(mill.raise_it(number, HIGH))
        listed.append(eyes.visit.moment_s("listed", 5) - raised_s)
        titled.append(eyes.visit.moment_s("title", 5) - raised_s)
        painted.append(eyes.visit.painted_s("listed") - raised_s)
        acknowledged_and_gone(mill, number, "PDAH", sample)
    record_property(
        "counts",
        f"{SAMPLES} alarms on the page after: median {statistics.median(listed):.3f} s, most {max(listed):.3f} s; "
        f"painted {statistics.median(painted):.3f} s, most {max(painted):.3f} s",
    )

    assert min(listed) > 0.0, "an alarm on the page before it was raised: a clock is wrong"
    assert max(listed) <= BOUND_S
    assert max(titled) <= BOUND_S
    assert max(painted) <= BOUND_S


def test_an_alarm_has_shape_and_word_wherever_it_shows(rig, visitors):
    mill = Mill(rig, 3)
    eyes = Eyes(visitors(mill.base)).open()
    mill.raise_it(101, VERY_HIGH, "PDAHH")
    mill.raise_it(102, HIGH)
    mill.raise_it(103, 500, "PDAL")

    for number, tag, word in ((101, "PDAHH", "Urgent"), (102, "PDAH", "High"), (103, "PDAL", "Low")):
        eyes.visit.until(has_alarm(f"{tag}-{number}", word))
        eyes.visit.until(has_strip(f"DC-{number}", f"{word} alarm"))
    shapes = eyes.page.evaluate(
        "() => ['PDAHH-101', 'PDAH-102', 'PDAL-103'].map(tag => window.__alarm(tag).querySelector('use')"
        ".getAttribute('href'))"
    )
    drawn = eyes.page.evaluate("hrefs => hrefs.map(one => document.querySelector(one).innerHTML)", shapes)
    assert len(set(drawn)) == 3, f"priorities that look alike: {shapes}"
    assert eyes.page.title().startswith("3 alarms")


def test_what_waits_for_a_person_still_shows_after_its_cause_is_gone(rig, visitors):
    mill = Mill(rig, 1)
    eyes = Eyes(visitors(mill.base)).open()
    mill.raise_it()
    eyes.visit.until(has_alarm("PDAH-101", "Not acknowledged"))
    mill.calm()

    eyes.visit.until(has_alarm("PDAH-101", "Gone again"))
    eyes.visit.until(has_strip("DC-101", "Wants a look"))
