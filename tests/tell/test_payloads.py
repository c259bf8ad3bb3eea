"""The messages as machines get them, judged by the published schema."""

import json
import math
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.tell import payloads
from monitor.words import AlarmState, Cause, Event, EventKind, HoldReason, Quality, Reason, Role
from tests.tell.journal import event
from tests.tell.mill import BAD, GOOD, NOW, SITE, active, latched, plan, state

SCHEMA = json.loads((Path(__file__).parents[2] / "config" / "mqtt.schema.json").read_text())


def check(kind: str, payload) -> dict:
    read = json.loads(payloads.encode(payload))
    schema = {"$ref": f"#/$defs/{kind}", "$defs": SCHEMA["$defs"]}
    jsonschema.Draft202012Validator(schema).validate(read)
    jsonschema.Draft202012Validator(SCHEMA).validate(read)
    return read


def test_the_schema_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_a_collector_tells_every_point_with_unit_quality_and_moment():
    told = check("collector_state", payloads.collector_state(SITE, plan(), state(plan()), NOW))

    assert told["points"]["dp"] == {
        "tag": "PDT-101",
        "value": 4.25,
        "unit": "inH2O",
        "quality": "good",
        "reason": "none",
        "detail": "",
        "at": "2027-01-15T08:00:00.250Z",
        "raw": 6800.0,
        "current_ma": 10.8,
        "damped": 4.2,
        "residual": 3.1,
        "average": 4.0,
    }
    assert told["points"]["fan_running"]["value"] is True
    assert told["points"]["header_pressure"]["unit"] == "psi"
    assert (told["inch_of_water"], told["pa_per_inh2o"]) == ("conventional", 249.089)


def test_a_bad_reading_has_no_value_and_says_why():
    # Even where a value is left in the reading by mistake, it must not get out.
    left = replace(BAD, value=4.2, damped=4.2)
    told = check("collector_state", payloads.collector_state(SITE, plan(), state(plan(), left), NOW))
    dp = told["points"]["dp"]

    assert [dp["value"], dp["damped"], dp["residual"], dp["average"]] == [None] * 4
    assert (dp["quality"], dp["reason"], dp["detail"], dp["current_ma"]) == (
        "bad",
        "loop_failed_low",
        "3.5 mA",
        3.5,
    )


def test_an_uncertain_reading_keeps_its_value_and_says_so():
    doubtful = replace(GOOD, quality=Quality.UNCERTAIN, reason=Reason.LOOP_BELOW_MEASURING)
    told = check("collector_state", payloads.collector_state(SITE, plan(), state(plan(), doubtful), NOW))

    assert (told["points"]["dp"]["value"], told["points"]["dp"]["quality"]) == (4.25, "uncertain")


def test_the_alarms_are_summed_up_with_the_highest_priority_of_the_active_ones():
    alarms = {"PDAH-101": latched(), "PDAL-101": active(), "PDT-101-BAD": active(seen=True)}
    told = check("collector_state", payloads.collector_state(SITE, plan(), state(plan(), alarms=alarms), NOW))

    assert told["alarms"] == {
        "active": 2,
        "unacknowledged": 2,
        "latched": 1,
        "shelved": 0,
        "suppressed_by_design": 0,
        "out_of_service": 0,
        "highest_priority": "medium",
    }


def test_an_alarm_tells_its_state_and_its_set_point_with_unit():
    here = state(plan(), alarms={"PDAH-101": active()})
    told = check("alarm_state", payloads.alarm_state(SITE, plan(), here, "PDAH-101", NOW))

    assert (told["state"], told["active"], told["seen"]) == ("unacknowledged", True, False)
    assert (told["setpoint"], told["unit"], told["side"], told["judged"]) == (7.0, "inH2O", "above", "damped")
    assert (told["raised"], told["at"]) == ("2027-01-15T07:59:00.250Z", "2027-01-15T08:00:00.250Z")


def test_a_bad_signal_alarm_has_no_set_point():
    told = check("alarm_state", payloads.alarm_state(SITE, plan(), state(plan()), "PDT-101-BAD", NOW))

    assert (told["condition"], told["setpoint"], told["unit"]) == ("bad_signal", None, None)


def test_a_tag_of_another_collector_is_refused():
    with pytest.raises(KeyError):
        payloads.alarm_state(SITE, plan(), state(plan()), "PDAH-102", NOW)


def test_an_event_says_when_it_happened_and_in_words_what():
    told = check("event", payloads.event(SITE, event(7)))

    assert (told["event_id"], told["seq"], told["happened_at"]) == ("id-7", 7, "2027-01-15T08:00:07.000Z")
    assert told["text"].startswith("DC-101: DP 7.23 inH2O reached")


@pytest.mark.parametrize(
    ("online", "at_utc_s", "why"), [(True, 0.0, ""), (False, 1.0, "stopped"), (False, None, "connection lost")]
)
def test_availability_says_whether_and_why(online, at_utc_s, why):
    made = payloads.availability(SITE, online=online, version="1.0", at_utc_s=at_utc_s, why=why)
    told = check("availability", made)

    assert (told["online"], told["why"]) == (online, why or None)


def test_the_schema_knows_every_state_every_cause_and_every_reason():
    known = SCHEMA["$defs"]

    assert set(known["alarm_state_name"]["enum"]) == {state.value for state in AlarmState}
    assert set(known["event"]["properties"]["cause"]["enum"]) == {None, *(cause.value for cause in Cause)}
    assert set(known["reason"]["enum"]) == {reason.value for reason in Reason}
    assert set(known["hold"]["properties"]["why"]["enum"]) == {why.value for why in HoldReason}


floats = st.one_of(st.none(), st.floats())


@given(quality=st.sampled_from(Quality), reason=st.sampled_from(Reason), numbers=st.tuples(*[floats] * 4))
def test_whatever_a_reading_holds_its_message_fits_the_schema(quality, reason, numbers):
    value, damped, raw, current_ma = numbers
    reading = replace(
        GOOD, quality=quality, reason=reason, value=value, damped=damped, raw=raw, current_ma=current_ma
    )
    here = state(plan(), reading, fan_running=reading, header_pressure=reading)
    told = check("collector_state", payloads.collector_state(SITE, plan(), here, NOW))

    if quality is Quality.BAD:
        assert {point["value"] for point in told["points"].values()} == {None}


@given(
    value=floats,
    facts=st.dictionaries(st.text(), st.one_of(st.none(), st.booleans(), st.floats(), st.text())),
    kind=st.sampled_from(EventKind),
    cause=st.one_of(st.none(), st.sampled_from(Cause)),
    at_utc_s=st.floats(),
)
def test_whatever_an_event_holds_its_message_fits_the_schema(value, facts, kind, cause, at_utc_s):
    check(
        "event", payloads.event(SITE, event(value=value, facts=facts, kind=kind, cause=cause, at_utc_s=at_utc_s))
    )


def test_text_that_is_no_unicode_does_not_keep_an_event_back():
    odd = Event(kind=EventKind.SYSTEM, happened="x", at_utc_s=0, text="\udcff", event_id="a", seq=1)

    assert json.loads(payloads.encode(payloads.event(SITE, odd)))["text"] == "?"


def test_a_point_that_the_plan_no_longer_names_is_not_told():
    here = state(plan(), air_flow=GOOD)
    told = check("collector_state", payloads.collector_state(SITE, plan(), here, NOW))

    assert Role.AIR_FLOW.value not in told["points"]


def test_nan_never_reaches_json():
    with pytest.raises(ValueError, match="JSON"):
        payloads.encode({"value": math.nan})
