"""How moments, numbers and lengths of time are written."""

import math
from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.tell.notation import duration, figure, moment, number, rfc3339


@pytest.mark.parametrize(
    ("utc_s", "text"),
    [
        (0.0, "1970-01-01T00:00:00.000Z"),
        (1_800_000_000.25, "2027-01-15T08:00:00.250Z"),
        (0.9996, "1970-01-01T00:00:01.000Z"),
        (-5.0, "1970-01-01T00:00:00.000Z"),
        (math.inf, "1970-01-01T00:00:00.000Z"),
        (1e300, "9999-12-31T23:59:59.000Z"),
    ],
)
def test_a_moment_is_rfc_3339_in_utc_with_milliseconds(utc_s, text):
    assert rfc3339(utc_s) == text


@given(st.floats(0, 4e9))
def test_a_written_moment_reads_back_to_the_millisecond(utc_s):
    assert datetime.fromisoformat(rfc3339(utc_s)).timestamp() == pytest.approx(utc_s, abs=0.00051)


@given(st.floats(allow_nan=True, allow_infinity=True))
def test_no_float_can_keep_a_moment_from_being_written(utc_s):
    assert rfc3339(utc_s).endswith("Z")
    assert moment(utc_s).endswith(" UTC")


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (7.0, "7"),
        (7.23, "7.23"),
        (7.2300001, "7.23"),
        (100.0, "100"),
        (0.0, "0"),
        (0.012, "0.012"),
        (-2.5, "-2.5"),
    ],
)
def test_a_figure_carries_no_decimals_that_say_nothing(value, text):
    assert figure(value) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0, "0 s"), (90, "90 s"), (120, "2 min"), (150, "2 min 30 s"), (1800, "30 min"), (9000, "2 h 30 min")],
)
def test_a_duration_reads_as_a_person_would_say_it(seconds, text):
    assert duration(seconds) == text


def test_a_number_that_json_cannot_carry_is_none():
    assert [number(math.nan), number(math.inf), number(None), number(4.123456789)] == [None, None, None, 4.12346]
