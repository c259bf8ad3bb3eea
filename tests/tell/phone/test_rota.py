"""Who is on duty: by the wall clock, without a hole and without handing back, winter and summer."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from monitor.tell.phone.quiet import quiet_until_utc_s
from monitor.tell.phone.rota import meant, on_duty
from monitor.tell.phone.settings import Person, PhoneSettings, Rota, Shift, Span
from monitor.tell.phone.spans import bounds, end_utc_s, last_utc_s, next_utc_s, reached_utc_s

BERLIN, NEW_YORK = ZoneInfo("Europe/Berlin"), ZoneInfo("America/New_York")
#: Zones with their oddest days: half an hour, midnight itself, a whole day skipped, back over midnight.
ODD = {
    "Europe/Berlin": [date(2026, 3, 29), date(2026, 10, 25)],
    "America/New_York": [date(2026, 3, 8), date(2026, 11, 1)],
    "Australia/Lord_Howe": [date(2026, 4, 5), date(2026, 10, 4)],
    "America/Asuncion": [date(2023, 10, 1), date(2024, 3, 24)],
    "America/St_Johns": [date(2010, 3, 14), date(2010, 11, 7)],
    "Pacific/Apia": [date(2011, 12, 30), date(2011, 9, 24)],
    "Asia/Kolkata": [date(2026, 6, 1)],
    "UTC": [date(2026, 1, 1)],
}
HOUR = 3600


def utc(text):
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


def hours(from_h, until_h, days=range(7)):
    return Span(days=frozenset(days), from_s=int(from_h * HOUR), until_s=int(until_h * HOUR))


def shifts(*of):
    return Rota(
        name="r", shifts=tuple(Shift(span=span, people=(name,)) for span, name in of), otherwise=("chief",)
    )


# Offsets and transitions as the IANA database gives them (Berlin: 01:00 UTC; New York: 07:00 and 06:00 UTC).
@pytest.mark.parametrize(
    ("zone", "day", "second", "expected"),
    [
        (BERLIN, date(2026, 1, 14), 6 * HOUR, "2026-01-14T05:00"),
        (BERLIN, date(2026, 7, 14), 6 * HOUR, "2026-07-14T04:00"),
        (BERLIN, date(2026, 3, 29), 2 * HOUR, "2026-03-29T01:00"),
        (BERLIN, date(2026, 3, 29), 2 * HOUR + 1800, "2026-03-29T01:00"),
        (BERLIN, date(2026, 3, 29), 3 * HOUR, "2026-03-29T01:00"),
        (BERLIN, date(2026, 3, 29), 4 * HOUR, "2026-03-29T02:00"),
        (BERLIN, date(2026, 10, 25), 2 * HOUR, "2026-10-25T00:00"),
        (BERLIN, date(2026, 10, 25), 2 * HOUR + 1800, "2026-10-25T00:30"),
        (BERLIN, date(2026, 10, 25), 3 * HOUR, "2026-10-25T02:00"),
        (BERLIN, date(2026, 10, 24), 24 * HOUR, "2026-10-24T22:00"),
        (NEW_YORK, date(2026, 3, 8), 2 * HOUR + 900, "2026-03-08T07:00"),
        (NEW_YORK, date(2026, 11, 1), 1 * HOUR + 900, "2026-11-01T05:15"),
        (ZoneInfo("Pacific/Apia"), date(2011, 12, 30), 12 * HOUR, "2011-12-30T10:00"),
    ],
)
def test_a_boundary_is_the_first_moment_at_which_the_clock_has_reached_it(zone, day, second, expected):
    assert reached_utc_s(zone, day, second) == utc(expected)


class Walk:
    """An oracle: the furthest that the wall clock has got, minute by minute, from two days before."""

    def __init__(self, zone, around):
        start = datetime(around.year, around.month, around.day, tzinfo=UTC) - timedelta(days=3)
        self.minutes = []
        furthest = start.astimezone(zone).replace(tzinfo=None)
        for number in range(6 * 24 * 60):
            moment = start + timedelta(minutes=number)
            furthest = max(furthest, moment.astimezone(zone).replace(tzinfo=None))
            self.minutes.append((moment.timestamp(), furthest))

    def covered(self, span, wall):
        for back in (-1, 0, 1):
            begin_day = wall.replace(hour=0, minute=0) - timedelta(days=back)
            length_s = (span.until_s - span.from_s) % 86400 or 86400
            begin = begin_day + timedelta(seconds=span.from_s)
            if begin_day.weekday() in span.days and begin <= wall < begin + timedelta(seconds=length_s):
                return True
        return False


WALKS = {(name, day): Walk(ZoneInfo(name), day) for name, days in ODD.items() for day in days}

minutes = st.integers(0, 24 * 60).map(lambda minute: minute * 60)
spans = st.builds(
    Span,
    days=st.frozensets(st.integers(0, 6), min_size=1),
    from_s=minutes.filter(lambda one: one < 86400),
    until_s=minutes,
)


@given(st.sampled_from(sorted(WALKS)), spans, st.integers(2 * 24 * 60, 5 * 24 * 60 - 1))
@example(("Europe/Berlin", date(2026, 10, 25)), hours(22, 2.5), 3 * 24 * 60 + 45)
def test_a_span_covers_what_a_walk_through_the_minutes_says(which, span, number):
    utc_s, wall = WALKS[which].minutes[number]
    covered = end_utc_s(ZoneInfo(which[0]), span, utc_s) is not None
    assert covered is WALKS[which].covered(span, wall)


@given(st.sampled_from(sorted(WALKS)), st.lists(minutes, min_size=1, max_size=4, unique=True))
def test_shifts_that_follow_one_another_leave_no_hole_and_never_hand_back(which, cuts):
    cuts = sorted({cut % 86400 for cut in cuts})
    rota = shifts(
        *[
            (Span(from_s=one, until_s=other), str(number))
            for number, (one, other) in enumerate(zip(cuts, cuts[1:] + cuts[:1], strict=True))
        ]
    )
    zone, walk = ZoneInfo(which[0]), WALKS[which].minutes
    seen = [on_duty(rota, zone, utc_s)[0] for utc_s, _ in walk[2 * 24 * 60 : 4 * 24 * 60 : 15]]
    assert "chief" not in seen
    changes = [(one, other) for one, other in pairwise(seen) if one != other]
    # A day that is skipped leaves out whole shifts, so the next is asked for only where each hour is there.
    if which[0] != "Pacific/Apia" and min(_lengths(cuts)) >= 2 * HOUR:
        assert all(int(other) == (int(one) + 1) % len(cuts) for one, other in changes)


def _lengths(cuts):
    return [(other - one) % 86400 or 86400 for one, other in zip(cuts, cuts[1:] + cuts[:1], strict=True)]


@pytest.mark.parametrize(
    ("moment", "expected"),
    [
        ("2026-10-24T19:59", "day"),
        ("2026-10-24T20:00", "night"),
        ("2026-10-25T00:29", "night"),
        ("2026-10-25T00:30", "early"),
        ("2026-10-25T01:10", "early"),
        ("2026-10-25T05:00", "day"),
    ],
)
def test_the_repeated_hour_belongs_to_the_shift_that_had_it_taken_over(moment, expected):
    rota = shifts((hours(22, 2.5), "night"), (hours(2.5, 6), "early"), (hours(6, 22), "day"))
    assert on_duty(rota, BERLIN, utc(moment)) == (expected,)


def test_the_first_shift_that_covers_the_moment_counts_and_otherwise_where_none_does():
    rota = shifts((hours(6, 14), "anna"), (hours(8, 18), "ben"))
    noon = utc("2026-01-14T12:00")
    zone = ZoneInfo("UTC")
    assert [on_duty(rota, zone, noon + after * HOUR)[0] for after in (0, 3, 7)] == ["anna", "ben", "chief"]


def test_a_span_over_midnight_belongs_to_the_day_on_which_it_begins():
    friday_night = hours(22, 6, days=[4])
    zone = ZoneInfo("UTC")
    saturday = datetime(2026, 1, 17, tzinfo=UTC).timestamp()
    assert end_utc_s(zone, friday_night, saturday + 5 * HOUR) == saturday + 6 * HOUR
    assert end_utc_s(zone, friday_night, saturday - 19 * HOUR) is None
    assert end_utc_s(zone, friday_night, saturday + 23 * HOUR) is None


def test_a_span_of_equal_ends_lasts_a_whole_day_of_23_or_25_hours():
    lengths = {
        (until - begin) / HOUR
        for day in (28, 29, 30)
        for begin, until in [bounds(BERLIN, hours(6, 6), date(2026, 3, day))]
    }
    assert lengths == {23.0, 24.0}


def test_who_is_meant_is_named_once_and_known():
    settings = PhoneSettings(
        people={name: Person(name=name, channels=()) for name in ("anna", "ben")},
        routes=(),
        rotas={"r": shifts((hours(0, 24), "anna"))},
    )
    assert meant(settings, ("ben", "gone", "anna"), ("r", "no such"), 0.0) == ("ben", "anna")


def test_quiet_hours_that_follow_one_another_are_one_night():
    anna = Person(name="anna", channels=(), quiet=(hours(22, 24), hours(0, 6)))
    midnight = datetime(2026, 1, 14, tzinfo=UTC).timestamp()
    zone = ZoneInfo("UTC")
    assert quiet_until_utc_s(anna, zone, midnight - 1 * HOUR) == midnight + 6 * HOUR
    assert quiet_until_utc_s(anna, zone, midnight + 6 * HOUR) is None


def test_who_is_always_quiet_is_quiet_for_ever():
    anna = Person(name="anna", channels=(), quiet=(Span(),))
    assert quiet_until_utc_s(anna, BERLIN, utc("2026-10-24T12:00")) == float("inf")


@given(st.sampled_from(sorted(ODD)), st.integers(0, 86399), st.integers(0, 5 * 86400))
def test_hours_of_a_day_come_one_after_the_other(name, second, offset):
    zone = ZoneInfo(name)
    day = ODD[name][0]
    moment = datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp() - 2 * 86400 + offset
    last, following = last_utc_s(zone, range(7), (second,), moment), next_utc_s(zone, range(7), (second,), moment)
    assert last <= moment < following
    assert next_utc_s(zone, range(7), (second,), last) == following
    assert last_utc_s(zone, range(7), (second,), following) == following
