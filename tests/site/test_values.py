"""Single values: what each kind takes, and the sentence for what it does not."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.condition.units import PA_PER_INCH_OF_WATER, Kind, known_units
from monitor.site import durations, quantities, values
from monitor.site.values import UnfitError

PA = PA_PER_INCH_OF_WATER["conventional"]


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("1 s", 1),
        ("1s", 1),
        ("250 ms", 0.25),
        ("1.5 min", 90),
        ("2 h", 7200),
        ("1 d", 86400),
        ("1e1 s", 10),
        ("+3 sec", 3),
    ],
)
def test_a_duration_is_seconds(text, seconds):
    assert durations.duration(text, 0, 86400) == pytest.approx(seconds, rel=1e-12)


@pytest.mark.parametrize(
    "text", ["", "s", "1", "1 m", "1 x", "-1 s", "1,5 s", "1 s s", "inf s", "nan s", "0x1 s", "١ s"]
)
def test_what_is_no_duration_is_refused(text):
    with pytest.raises(UnfitError, match="must be a duration from 0 s to 1 d"):
        durations.duration(text, 0, 86400)


@pytest.mark.parametrize("value", [None, [], {}, 5, 1.0, True])
def test_what_is_no_text_is_refused(value):
    for read in (durations.duration,):
        with pytest.raises(UnfitError):
            read(value, 0, 1)
    for read in (values.yes_no,):
        with pytest.raises(UnfitError):
            read(value)
    with pytest.raises(UnfitError):
        quantities.quantity(value, Kind.PRESSURE, "6 inH2O")


@given(st.sampled_from([0.1, 1.0, 10.0, 15.0, 60.0, 90.0, 600.0, 3600.0, 5400.0, 86400.0, 7776000.0]))
def test_a_duration_that_is_written_is_read_again(seconds):
    assert durations.duration(durations.as_duration(seconds), 0, 1e9) == pytest.approx(seconds)


@pytest.mark.parametrize(
    ("text", "answer"), [("yes", True), ("Yes", True), ("true", True), ("no", False), ("FALSE", False)]
)
def test_yes_and_no_are_truth_values_where_one_is_asked_for(text, answer):
    assert values.yes_no(text) is answer


@pytest.mark.parametrize("text", ["on", "off", "y", "n", "1", "0", "", "maybe"])
def test_nothing_else_is_a_truth_value(text):
    with pytest.raises(UnfitError, match="must be yes or no"):
        values.yes_no(text)


@pytest.mark.parametrize(("text", "number"), [("017", 17), ("7", 7), ("+7", 7), ("0", 0)])
def test_a_whole_number_is_decimal_whatever_it_begins_with(text, number):
    assert values.whole(text, 0, 100, "x") == number


@pytest.mark.parametrize("text", ["0x11", "1e1", "1.0", "1_0", "101", "-1", "1 0", "٣", "9" * 400])
def test_what_is_no_whole_number_is_refused(text):
    with pytest.raises(UnfitError):
        values.whole(text, 0, 100, "x")


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_finite_number_is_read_as_python_writes_it(number):
    assert values.number(repr(number), "x") == number


@pytest.mark.parametrize("unit", ["Pa", "hPa", "kPa", "MPa", "mbar", "bar", "psi", "mmH2O", "cmH2O", "inH2O"])
def test_pressures_agree_with_an_independent_library(unit):
    registry = pint.UnitRegistry()
    ours = quantities.quantity(f"3.7 {unit}", Kind.PRESSURE, "x").to("inH2O", PA)
    theirs = registry.Quantity(3.7, unit).to("inH2O").magnitude

    assert ours == pytest.approx(theirs, rel=1e-9)


@pytest.mark.parametrize("unit", known_units(Kind.PRESSURE))
@given(number=st.floats(-1e6, 1e6))
def test_every_known_unit_is_read_as_written(unit, number):
    found = quantities.quantity(f"{number!r} {unit}", Kind.PRESSURE, "x")

    assert (found.number, found.unit) == (number, unit)


@pytest.mark.parametrize(
    ("text", "note"),
    [
        ("6", "no unit"),
        ("6 s", "unit of duration"),
        ("6 inH20", 'did you mean "inH2O"'),
        ("6,5 Pa", "decimal point"),
        ("−6 Pa", "minus sign"),
        ("1e999 Pa", "too large"),
        ("6 wc", "inches or millimetres"),
        ("6 cfm", "unit of flow"),
    ],
)
def test_a_wrong_pressure_says_what_is_odd_about_it(text, note):
    with pytest.raises(UnfitError) as caught:
        quantities.quantity(text, Kind.PRESSURE, "6 inH2O")

    assert caught.value.wanted == 'must be a pressure with its unit, such as "6 inH2O"'
    assert note in caught.value.note


@pytest.mark.parametrize(("text", "megabytes"), [("500 MB", 500), ("2 GB", 2000), ("5000 kB", 5)])
def test_a_size_is_megabytes(text, megabytes):
    assert durations.megabytes(text, 1, 1_000_000) == megabytes


@given(st.text(max_size=50))
def test_any_text_is_read_or_refused(text):
    for read in (
        lambda: durations.duration(text, 0, 1),
        lambda: quantities.quantity(text, Kind.PRESSURE, "x"),
        lambda: quantities.any_quantity(text, "x"),
        lambda: quantities.unit(text, Kind.FLOW),
        lambda: values.whole(text, 0, 1, "x"),
        lambda: values.name(text, "x"),
        lambda: values.choice(text, ("a", "b")),
    ):
        try:
            found = read()
        except UnfitError:
            continue
        assert not isinstance(found, float) or math.isfinite(found)
