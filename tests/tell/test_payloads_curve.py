"""What is read from a curve, as machines get it: by the published schema, and in the exposition."""

import json
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest

from monitor.interpret.curve import CurveState
from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.tracker import BEGIN as UNTRACKED
from monitor.interpret.settings import AirSettings, CleaningSettings, CurveSettings
from monitor.interpret.trend.forecast import Forecast, Outlook
from monitor.tell import payloads, payloads_curve, series_curve
from monitor.tell.plant_view import PlantView
from monitor.tell.wording import sentence
from monitor.troubles import Clue, Sign, Suspicion, Trouble
from tests.tell.journal import event
from tests.tell.mill import NOW, SITE, plan, state

SCHEMA = json.loads((Path(__file__).parents[2] / "config" / "mqtt.schema.json").read_text())

CYCLE = Cycle(
    begin_s=100.0,
    begin_utc_s=NOW.utc_s - 300.0,
    end_s=160.0,
    end_utc_s=NOW.utc_s - 240.0,
    peak_inh2o=5.0,
    residual_inh2o=4.0,
    cycle_s=600.0,
    rise_inh2o_min=0.11,
    pulses=7,
    counted=True,
    dip_psi=20.0,
)
OUTLOOK = Forecast(
    Outlook.EXPECTED,
    residual_inh2o=4.0,
    slope_inh2o_d=0.01,
    slope_low_inh2o_d=0.008,
    slope_high_inh2o_d=0.012,
    days=90.0,
    due_utc_s=NOW.utc_s + 200 * 86400,
    earliest_utc_s=NOW.utc_s + 160 * 86400,
    latest_utc_s=NOW.utc_s + 260 * 86400,
    order_by_utc_s=NOW.utc_s + 118 * 86400,
)
WARNED = ((Sign.CLEANING_TOO_OFTEN, Clue("cycles_often", 9.0, 4.0, "1/h")),)
READ = CurveState(tracker=UNTRACKED._replace(last=CYCLE), cycles=12, outlook=OUTLOOK, signs=WARNED)
SETTINGS = CurveSettings(cleaning=CleaningSettings(rows=8), air=AirSettings(per_pulse_ft3=3.5))


def watched(read=READ):
    own = replace(plan(), curve=SETTINGS)
    return own, replace(state(own), curve=read)


def check(kind, payload):
    read = json.loads(payloads.encode(payload))
    schema = {"$ref": f"#/$defs/{kind}", "$defs": SCHEMA["$defs"]}
    jsonschema.Draft202012Validator(schema).validate(read)
    return read


def test_a_curve_tells_cycle_filters_warnings_and_air_by_the_schema():
    told = check("collector_curve", payloads_curve.collector_curve(SITE, *watched(), NOW))

    assert (told["last_cycle"]["peak"], told["last_cycle"]["residual"]) == (5.0, 4.0)
    assert (told["last_cycle"]["cleaning_s"], told["last_cycle"]["pulses_counted"]) == (60.0, True)
    assert told["filters"]["outlook"] == "expected"
    assert told["filters"]["order_by"] < told["filters"]["earliest"] < told["filters"]["due"]
    assert told["early_warnings"][0]["early_warning"] == "cleaning_too_often"
    assert told["compressed_air"]["per_pulse_from"] == "given"


def test_a_curve_of_which_nothing_is_known_says_so_with_null():
    told = check("collector_curve", payloads_curve.collector_curve(SITE, *watched(CurveState()), NOW))

    assert told["last_cycle"] is None
    assert told["filters"]["due"] is None
    assert told["early_warnings"] == []


def test_only_what_is_new_is_told_again():
    same = READ._replace(gathering=READ.gathering)

    assert payloads_curve.told_of(same) == payloads_curve.told_of(READ)
    assert payloads_curve.told_of(READ._replace(cycles=13)) != payloads_curve.told_of(READ)
    assert payloads_curve.told_of(READ._replace(signs=())) != payloads_curve.told_of(READ)


BEHIND = (
    Suspicion(Trouble.HEADER_PRESSURE_LOST, 0.7, (Clue("header_low", 42.0, 90.0, "psi"),)),
    Suspicion(Trouble.PULSES_DEAD, 0.2),
)


def test_a_raised_alarm_says_what_may_be_behind_it_with_evidence_and_first_check():
    raised = event(1, happened="raised", suspicions=BEHIND)
    told = check("event", payloads.event(SITE, raised))

    assert [one["trouble"] for one in told["suspicions"]] == ["header_pressure_lost", "pulses_dead"]
    assert told["suspicions"][0]["clues"][0]["value"] == 42.0
    assert "compressor" in told["suspicions"][0]["check"]
    assert "42 psi" in told["cause_text"]
    assert "local codes and licensed people" in told["cause_text"]


def test_its_sentence_names_them_in_order_and_checks_the_likeliest_first():
    text = sentence(event(1, happened="raised", text="", suspicions=BEHIND))

    assert "; likely header pressure lost, or no cleaning pulses; check first: header gauge" in text


def test_where_the_evidence_does_not_tell_nothing_is_suspected():
    told = check("event", payloads.event(SITE, event(1, happened="raised")))

    assert (told["suspicions"], told["cause_text"]) == ([], None)


def series(read=READ):
    own, one = watched(read)
    view = PlantView(plans={"DC-101": own}, states={"DC-101": one}, last_good={}, now=NOW)
    families = [family(view) for family in series_curve.FAMILIES]
    return {
        (family.name, *sample.labels.values()): sample.value for family in families for sample in family.samples
    }


def test_the_series_carry_the_same_figures():
    found = series()

    assert found[("cakewatch_cycle_peak_inh2o", "DC-101")] == 5.0
    assert found[("cakewatch_cleaning_cycles", "DC-101")] == 12
    assert found[("cakewatch_early_warning", "DC-101", "cleaning_too_often")] == 1.0
    assert found[("cakewatch_early_warning", "DC-101", "signal_still")] == 0.0
    assert found[("cakewatch_order_by_timestamp_seconds", "DC-101")] == pytest.approx(OUTLOOK.order_by_utc_s)
    assert found[("cakewatch_change_out_outlook", "DC-101", "expected")] == 1.0


def test_what_is_not_known_has_no_sample():
    found = series(CurveState())

    assert ("cakewatch_cycle_peak_inh2o", "DC-101") not in found
    assert ("cakewatch_change_out_due_timestamp_seconds", "DC-101") not in found
