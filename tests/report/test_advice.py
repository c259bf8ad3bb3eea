"""An advice reads as it is: what to do, why, how far to believe it, and never as an order."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from monitor.interpret.advice.advising import advise
from monitor.interpret.advice.bands import BandSetting, Quantity
from monitor.interpret.advice.learning import Lack
from monitor.interpret.advice.setpoints import Why
from monitor.interpret.settings import AirSettings, CleaningSettings, CurveSettings
from monitor.report import advice_chart
from monitor.report.advice import AdviceStory, SiteAdvice
from monitor.report.advice_json import as_json
from monitor.report.advice_page import page
from monitor.report.advice_rows import alarm_cells, rows
from monitor.report.advice_words import CAUTIONS, LACKS, doubts, headline, reasons
from monitor.report.rehearsal import AlarmLine, CollectorStory, Ending, Raising, Sight
from monitor.report.rehearsal_curve import Curve
from monitor.words import Priority
from tests.interpret.advice.days import UTC, even_cycles, even_seen

CURVE = Curve(UTC, 60.0, (4.0, 4.5), (4.2, 5.0), (0.0, 0.0))
SETTINGS = CurveSettings(
    cleaning=CleaningSettings(start_inh2o=5.0, stop_inh2o=4.6, rows=8),
    air=AirSettings(per_pulse_ft3=1.5, cost_per_1000_ft3=0.3, currency="EUR"),
)
BANDS = (
    BandSetting("PDAH-101", True, Quantity.DAMPED, 4.9, 0.2, 5.0),
    BandSetting("PDAL-101", False, Quantity.DAMPED, 2.0, 1.0, 30.0),
)


def story(times, active_s=10.0):
    raisings = tuple(
        Raising(
            collector="DC-101",
            tag="PDAH-101",
            priority=Priority.HIGH,
            raised_utc_s=UTC + number * 100.0,
            back_utc_s=UTC + number * 100.0 + active_s,
            ended_utc_s=None,
            ending=Ending.PROCESS,
        )
        for number in range(times)
    )
    line = AlarmLine(tag="PDAH-101", priority=Priority.HIGH, side="above", judged="damped", setpoint_inh2o=4.9)
    return CollectorStory(
        name="DC-101", description="", alarms=(line,), raisings=raisings, curve=CURVE, sight=Sight(samples=10)
    )


@pytest.fixture
def told():
    found = advise(SETTINGS, even_seen(even_cycles(start=5.0, stop=4.6, pulses=3, cleaning_s=20.0)), BANDS, 10.0)
    assert not isinstance(found, Lack)
    return AdviceStory(
        "DC-101",
        "planer line",
        story(14),
        advice=found,
        after=story(1),
        before_replayed=story(12),
        after_replayed=story(0),
        was=((UTC, 4.6), (UTC + 60.0, 4.8), (UTC + 900.0, 4.7)),
    )


def test_the_headline_says_what_to_set_and_what_it_is_now(told):
    assert re.match(
        r"DC-101: clean from \d\.?\d? down to \d\.?\d? inH2O \(now 5 to 4\.6\); move PDAH-101\.", headline(told)
    )


@pytest.mark.parametrize("lack", list(Lack))
def test_every_lack_has_one_sentence_of_its_own(told, lack):
    words = headline(replace(told, advice=None, lack=lack))

    assert words.startswith("DC-101: no advice, for ")
    assert words[-1] in ".?"
    assert len(set(LACKS.values())) == len(Lack)


def test_endless_cleaning_says_where_it_hangs(told):
    words = headline(replace(told, advice=None, lack=Lack.NEVER_ENDS, level_inh2o=4.37))

    assert "holds the DP at about 4.4 inH2O" in words


@pytest.mark.parametrize("why", list(Why))
def test_every_reason_has_its_sentence(told, why):
    points = told.advice.setpoints._replace(why=(why,))
    words = list(reasons(told.advice._replace(setpoints=points)))

    assert words[0].endswith(".")
    assert "{" not in "".join(words)


def test_what_was_assumed_and_what_was_checked_are_told(told):
    words = " ".join(doubts(told.advice))

    assert "Checked: replaying the present set points" in words
    assert "Not measured, but assumed" in words
    assert "less than a week" in words


def test_the_rows_hold_air_money_and_life(told):
    found = {row.name: row for row in rows(told.advice, "EUR")}
    then = told.advice.then

    assert found["compressed air, ft3 a day"].after == f"{then.rates.pulses_d * 1.5:,.0f}"
    assert found["compressed air, EUR a year"].after == f"{then.rates.pulses_d * 1.5 * 0.0003 * 365.25:,.0f}"
    assert "life of a new diaphragm" in found


def test_alarms_stand_side_by_side_with_their_sum(told):
    cells = alarm_cells(told)

    # Fourteen and twelve times ten seconds.
    assert cells[0] == ("PDAH-101", "14 (2 min)", "1 (10 s)", "12 (2 min)", "–")
    assert cells[-1] == ("all", "14", "1", "12", "0")


@pytest.mark.parametrize("width", [1040.0, 360.0])
def test_the_chart_is_sound_and_stays_within_its_frame(told, width):
    drawn, height = advice_chart.chart(told, told.advice, width)
    root = ET.fromstring(f"<svg>{drawn}</svg>")

    for element in root.iter():
        for name in ("x", "x1", "x2"):
            assert -1.0 <= float(element.get(name, 0)) <= width
        for name in ("y", "y1", "y2"):
            assert -1.0 <= float(element.get(name, 0)) <= height
    # A hole in the recording is a hole in its line.
    was = next(one for one in root.iter("path") if one.get("class") == "was")
    assert was.get("d").count("M") >= 1


def test_page_and_json_carry_the_cautions_and_escape_names(told):
    odd = replace(told, name="DC<1>")
    site = SiteAdvice("Alder & Mill", "site.yaml", UTC, UTC + 86_400.0, (odd,), ("A note.",))
    shown = page(site, ["EUR"])

    assert "DC<1>" not in shown
    assert "DC&lt;1&gt;" in shown
    assert "Alder &amp; Mill" in shown
    assert as_json(site)["cautions"] == list(CAUTIONS)
    assert "A note." in shown


def test_no_sentence_gives_an_order_to_a_machine(told):
    words = " ".join([headline(told), *reasons(told.advice), *doubts(told.advice), *CAUTIONS])

    assert "Nothing was set" in words
    assert "lock-out" in words
