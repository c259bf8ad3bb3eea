"""Risks: where each warning begins and where it does not; the sentences stand in fixtures/site/risky."""

from pathlib import Path

import pytest

from monitor.site.load import load
from monitor.site.risks.bands import letters_of

FIRST = (Path(__file__).parents[2] / "fixtures" / "site" / "good" / "first.yaml").read_text(encoding="utf-8")
BAND = "        priority: high\n"
FAN = "    fan_running: {tag: YS-101, link: mill-gateway, unit_id: 1, reference_number: 10001}\n"
LOOP = "counts_at_4_ma: 819, counts_at_20_ma: 4095, full_scale_counts: 4095"


def warnings(tmp_path: Path, *edits: tuple[str, str]) -> str:
    text = FIRST
    for old, new in edits:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "site.yaml"
    path.write_text(text, encoding="utf-8")
    return "\n".join(load(path, {}).warnings)


@pytest.mark.parametrize(
    ("auto_clear", "is_risky"), [("299 s", True), ("5 min", False), ("30 d", False), ("never", True)]
)
def test_five_minutes_are_enough_to_notice(tmp_path, auto_clear, is_risky):
    found = warnings(tmp_path, (BAND, f"{BAND}        auto_clear: {auto_clear}\n"))

    assert ("PDAH-101.auto_clear" in found) is is_risky


def test_never_is_no_risk_where_nothing_latches(tmp_path):
    assert warnings(tmp_path, (BAND, f"{BAND}        auto_clear: never\n        latching: no\n")) == ""


def test_the_alarm_for_a_bad_signal_must_be_noticed_too(tmp_path):
    assert "bad_signal.auto_clear" in warnings(tmp_path, (BAND, f"{BAND}    bad_signal: {{auto_clear: 10 s}}\n"))


@pytest.mark.parametrize(
    ("full_scale", "above", "is_risky"),
    [
        # One count below the end of a converter that ends at 20 mA: (4094 - 819) / 3276 × 10 inH2O.
        ("4095", "9.99 inH2O", False),
        ("4095", "10 inH2O", True),
        # 20.5 mA, the end of measurement information (NAMUR NE 43): 10.3125 inH2O.
        ("none", "10.31 inH2O", False),
        ("none", "10.32 inH2O", True),
        # 3.8 mA is -0.125 inH2O: a high alarm at or below it is always raised.
        ("none", "0.3 inH2O", False),
        ("none", "-0.13 inH2O", True),
    ],
)
def test_a_high_band_lies_within_what_the_loop_can_show(tmp_path, full_scale, above, is_risky):
    found = warnings(
        tmp_path,
        ("full_scale_counts: 4095", f"full_scale_counts: {full_scale}"),
        ("above: 7 inH2O", f"above: {above}"),
    )

    assert ("PDAH-101.above" in found) is is_risky


def test_a_reversed_range_turns_the_reach_round(tmp_path):
    reverse = ("at_4_ma: 0 inH2O, at_20_ma: 10 inH2O", "at_4_ma: 10 inH2O, at_20_ma: 0 inH2O")

    assert "never be raised" not in warnings(tmp_path, reverse, ("above: 7 inH2O", "above: 10.1 inH2O"))
    assert "never be raised" in warnings(tmp_path, reverse, ("above: 7 inH2O", "above: 10.2 inH2O"))


@pytest.mark.parametrize(("deadband", "is_risky"), [("2 inH2O", False), ("2.01 inH2O", True)])
def test_a_deadband_may_reach_the_next_band_and_not_pass_it(tmp_path, deadband, is_risky):
    more = f"{BAND}      PDAHH-101: {{above: 9 inH2O, priority: urgent, deadband: {deadband}}}\n"

    assert ("wider than the distance" in warnings(tmp_path, (BAND, more))) is is_risky


def test_bands_that_judge_different_things_are_not_compared(tmp_path):
    more = f"{BAND}      PDAHH-101: {{above: 6 inH2O, priority: urgent, deadband: 3 inH2O, judges: residual}}\n"

    assert warnings(tmp_path, (BAND, more)) == ""


def test_the_usual_set_points_are_no_risk(tmp_path):
    """Clean between 5 and 4, alarms at 7 and 2 (common practice), on the running average."""
    more = (
        f"{BAND}        judges: average\n      PDAL-101: {{below: 2 inH2O, judges: average}}\n"
        "    cleaning: {start: 5 inH2O, stop: 4 inH2O}\n"
        f"{FAN}"
    )

    assert warnings(tmp_path, (BAND, more)) == ""


@pytest.mark.parametrize(
    ("tag", "letters"),
    [
        ("PDAHH-101", "HH"),
        ("PDAH-101", "H"),
        ("PDAL-101", "L"),
        ("PDALL-101", "LL"),
        ("pdah101", "H"),
        ("PDSH-101", ""),
        ("PDT-101", ""),
        ("PDT-101-BAD", ""),
        ("101-PDAL", ""),
        ("AL-1", ""),
    ],
)
def test_the_letters_of_a_tag_are_those_behind_its_a(tag, letters):
    assert letters_of(tag) == letters


@pytest.mark.parametrize(
    ("encoding", "at_4_ma", "at_20_ma", "sees_a_broken_wire", "ends_at_20_ma"),
    [
        pytest.param("uint16", 819, 4095, True, True, id="12 bits for 0 to 20 mA"),
        pytest.param("int16", 6553.4, 32767, True, True, id="15 bits for 0 to 20 mA"),
        pytest.param("uint16", 13107, 65535, True, True, id="16 bits for 0 to 20 mA"),
        pytest.param("int16", 0, 27648, True, False, id="4 to 20 mA as 0 to 27648, signed"),
        pytest.param("uint16", 0, 27648, False, False, id="the same, unsigned"),
        pytest.param("int16", 5529.6, 27648, True, False, id="0 to 20 mA as 0 to 27648"),
        pytest.param("int16", 0, 32767, True, True, id="4 to 20 mA as 0 to 32767, signed"),
        pytest.param("uint16", 0, 10000, False, False, id="4 to 20 mA as 0 to 10000, unsigned"),
        pytest.param("uint16", 4000, 20000, True, False, id="microamps"),
        pytest.param("uint16", 65535, 0, False, True, id="counts that fall"),
    ],
)
def test_each_usual_converter_is_known_for_what_it_cannot_show(
    tmp_path, encoding, at_4_ma, at_20_ma, sees_a_broken_wire, ends_at_20_ma
):
    loop = f"counts_at_4_ma: {at_4_ma}, counts_at_20_ma: {at_20_ma}"
    found = warnings(tmp_path, (LOOP, loop), ("int16", encoding))

    assert ("broken wire" not in found) is sees_a_broken_wire
    assert ("is taken to end" in found) is ends_at_20_ma


@pytest.mark.parametrize(
    ("host", "is_risky"),
    [
        ("127.0.0.1", False),
        ("127.9.9.9", False),
        ("::1", False),
        ("localhost", False),
        ("0.0.0.0", True),
        ("192.0.2.7", True),
        ("::1234", True),
        ("localhost.plant.example", True),
        ("127.plant.example", True),
    ],
)
def test_only_the_loopback_is_reached_by_nobody_else(tmp_path, host, is_risky):
    metrics = f'{{host: "{host}", port: 9465}}'
    found = warnings(tmp_path, ("\nlinks:\n", f"\nhttp:\n  metrics: {metrics}\n\nlinks:\n"))

    assert ("reaches this address" in found) is is_risky


@pytest.mark.parametrize(
    ("fan", "suppress", "below", "way_out"),
    [
        ("", "", "2 inH2O", "give the collector fan_running"),
        (FAN, "", "2 inH2O", ""),
        (FAN, ", suppress: {fan_stopped: no}", "2 inH2O", "write suppress: {fan_stopped: yes}"),
        (FAN, ", suppress: {fan_stopped: no}", "0 inH2O", "write suppress: {fan_stopped: yes}"),
        ("", "", "-0.1 inH2O", ""),
    ],
)
def test_a_low_band_needs_to_know_that_the_fan_stands_still(tmp_path, fan, suppress, below, way_out):
    low = f"{BAND}      PDAL-101: {{below: {below}{suppress}}}\n{fan}"
    found = warnings(
        tmp_path, (BAND, low), (LOOP, LOOP.replace("full_scale_counts: 4095", "full_scale_counts: none"))
    )

    assert ("whenever the fan stops" in found) is bool(way_out)
    assert way_out in found
