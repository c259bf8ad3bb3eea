"""The trend and the times of a message, as they are said."""

from datetime import UTC
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.tell.phone.wording_times import by_the_clock, so_long
from monitor.tell.phone.wording_trend import trend_words
from tests.tell.phone.messages import NOW

NUMBER = st.floats(allow_nan=True, allow_infinity=True)


@pytest.mark.parametrize(
    ("now", "then", "minutes", "words"),
    [
        (7.6, 7.3, 60, "now 7.6 inH2O, up 0.3 in the last hour"),
        (3.1, 7.3, 30, "now 3.1 inH2O, down 4.2 in the last 30 min"),
        (7.62, 7.58, 60, "now 7.6 inH2O, steady in the last hour"),
        (7.6, None, 60, "now 7.6 inH2O"),
        (None, 7.3, 60, ""),
        (float("nan"), 7.3, 60, ""),
        (7.6, 7.3, 0, "now 7.6 inH2O"),
        (10.0, 5.0, 180, "now 10 inH2O, up 5 in the last 3 h"),
        (-0.2, 0.1, 60, "now -0.2 inH2O, down 0.3 in the last hour"),
    ],
)
def test_the_trend_says_the_value_now_and_how_it_got_there(now, then, minutes, words):
    assert trend_words(now, then, minutes, "inH2O") == words


def test_what_is_expected_comes_last():
    assert trend_words(4.1, 4.1, 60, "inH2O", "change-out in about 12 days").endswith(
        ", change-out in about 12 days"
    )
    assert trend_words(None, None, 60, "inH2O", "change-out in about 12 days") == "change-out in about 12 days"


@given(NUMBER, NUMBER, NUMBER)
def test_any_number_gives_words_on_one_line(now, then, minutes):
    assert trend_words(now, then, minutes, "inH2O").isprintable()


def test_a_moment_is_told_by_the_sites_clock_with_its_day_where_it_is_another():
    warsaw = ZoneInfo("Europe/Warsaw")

    assert by_the_clock(NOW, NOW, UTC) == "08:00"
    assert by_the_clock(NOW, NOW, warsaw) == "09:00"
    assert by_the_clock(NOW - 10 * 3600, NOW, warsaw) == "Thu 14 Jan 23:00"
    assert by_the_clock(NOW - 8.5 * 3600, NOW, warsaw) == "00:30", "today in Warsaw, yesterday in UTC"
    assert by_the_clock(NOW - 30 * 86400, NOW, UTC) == "Wed 16 Dec 2026 08:00"


@given(NUMBER, NUMBER, st.sampled_from(["UTC", "Asia/Kolkata", "America/St_Johns", "Pacific/Kiritimati"]))
def test_an_absurd_clock_never_keeps_a_message_from_being_worded(then, now, zone):
    assert by_the_clock(then, now, ZoneInfo(zone))
    assert so_long(then)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(59, "under 1 min"), (1559, "25 min"), (7500, "2 h 5 min"), (-5, "under 1 min"), (12.4 * 86400, "12 days")],
)
def test_how_long_is_told_as_a_person_would(seconds, words):
    assert so_long(seconds) == words
