"""A whole month, blocks, days on which the clocks change; every figure worked out by hand beside it."""

import time
from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.judge.performance.span import Span
from monitor.judge.settings import Side
from monitor.report.permit.averages import AverageState
from monitor.report.permit.downtime import Cause, Why
from monitor.report.permit.hour import HourState
from monitor.report.permit.local_days import days, month, year
from monitor.report.permit.records import records, total_by_cause
from monitor.report.permit.settings import PermitSettings, ValidHour
from monitor.report.permit.sources import Entry, Maintenance
from monitor.words import Reason
from tests.report.permit import worked_month
from tests.report.permit.making import H0, NEW_YORK, UTC_ZONE, at, full_hour, sources
from tests.report.permit.worked_month import ALARM, ELSEWHERE, TOLD, feb


@pytest.fixture(scope="module")
def worked():
    return records(worked_month.month())


def test_the_hours_of_the_month_are_counted(worked):
    """28 × 24 = 672; 20 × 12 + 1 = 241 of operation; 3 + 2 of them not valid."""
    whole = worked.whole

    assert (whole.hours, whole.operating, whole.not_operating, whole.not_kept) == (672, 241, 431, 0)
    assert (whole.valid, whole.invalid) == (236, 5)
    assert whole.available == 236 / 241
    assert whole.is_enough(0.75) is True


def test_the_operating_time_holds_the_part_of_an_hour(worked):
    assert worked.whole.operating_s == 240 * 3600 + 20 * 60


def test_the_mean_is_of_the_valid_hourly_averages(worked):
    """231 hours of 3.0, and 6.5 + 7.0 + 6.0 + 1.5 + 4.0 = 25.0: 718 / 236."""
    whole = worked.whole

    assert whole.mean_inh2o == pytest.approx(718 / 236)
    assert (whole.lowest_inh2o, whole.highest_inh2o) == (1.5, 7.0)


def test_the_readings_of_the_averages_are_counted(worked):
    """234 hours of 3,600 good readings, one of 1,200 (twenty minutes) and one of 2,400 (forty)."""
    assert worked.whole.points == 234 * 3600 + 1200 + 2400


def test_the_excursion_of_two_hours_has_its_cause_and_its_alarm(worked):
    first = worked.excursions[0]

    assert first.span == Span(feb(3, 8), feb(3, 10))
    assert (first.side, first.bound_inh2o, first.worst_inh2o, first.averages) == (Side.ABOVE, 6.0, 7.0, 2)
    assert (first.operating_s, first.entries, first.alarms) == (7200.0, (TOLD,), (ALARM,))


def test_the_excursion_nobody_told_of_has_none(worked):
    second = worked.excursions[1]

    assert second.span == Span(feb(12, 14), feb(12, 15))
    assert (second.side, second.worst_inh2o, second.entries, second.alarms) == (Side.BELOW, 1.5, (), ())


def test_excursions_take_their_share_of_the_operating_time(worked):
    assert len(worked.excursions) == 2
    assert worked.excursion_s == 10_800.0
    assert worked.share_of_operation(worked.excursion_s) == pytest.approx(10_800 / 865_200)


def test_downtime_reaches_from_the_last_good_reading_to_the_first(worked):
    """09:29:59 to 11:15:00, and 12:59:59 to 15:00:00."""
    no_answer, nobody = worked.downtimes

    assert no_answer.span == Span(feb(16, 9, 29, 59), feb(16, 11, 15))
    assert no_answer.causes == ((Cause(Why.NOT_GOOD, Reason.NO_ANSWER), 6301.0),)
    assert nobody.span == Span(feb(20, 12, 59, 59), feb(20, 15))
    assert nobody.causes == ((Cause(Why.NOT_RUNNING), 7201.0),)
    assert worked.downtime_s == 13_502.0


def test_the_hour_of_maintenance_is_valid_without_what_was_driven(worked):
    """Its second quarter has :15 to :20 and its third :40 to :45: five minutes each."""
    hour = next(one for one in worked.hours if one.start_utc_s == feb(25, 10))

    assert (hour.state, hour.mean_inh2o, hour.quarters) == (HourState.VALID, 3.0, (900, 300, 300, 900))
    assert hour.left_out == 1200


def test_a_day_with_three_quarters_of_its_hours_is_just_enough(worked):
    day = next(one for one in worked.days if one.label == "2026-02-16")

    assert (day.operating, day.valid, day.available, day.is_enough(0.75)) == (12, 9, 0.75, True)
    assert day.is_enough(0.76) is False


def test_a_sunday_has_no_share_at_all(worked):
    day = worked.days[0]

    assert (day.label, day.operating, day.available, day.is_enough(0.75), day.mean_inh2o) == (
        "2026-02-01",
        0,
        None,
        None,
        None,
    )


def test_what_belongs_to_no_excursion_is_not_lost(worked):
    assert worked.loose == (ELSEWHERE,)


def test_nothing_is_left_of_a_month_before_the_history():
    found = records(worked_month.month(known_from_utc_s=worked_month.END))

    assert (found.whole.not_kept, found.whole.hours, found.downtimes, found.excursions) == (672, 672, (), ())


def test_the_same_rows_have_the_same_digest_and_one_reading_more_has_another(worked):
    made = worked_month.month()
    hours = list(made.hours)
    hours[100] = replace(hours[100], good=hours[100].good + 1)
    again, other = records(made), records(replace(made, hours=hours))

    assert again.readings_digest == worked.readings_digest
    assert other.readings_digest != worked.readings_digest
    assert other.entries_digest == worked.entries_digest


def test_a_cause_recorded_later_changes_the_other_digest_alone(worked):
    later = Entry(feb(12, 14, 30), feb(27), "anna", "not known", "taps blown out")
    found = records(worked_month.month(entries=(TOLD, ELSEWHERE, later)))

    assert found.excursions[1].entries == (later,)
    assert found.readings_digest == worked.readings_digest
    assert found.entries_digest != worked.entries_digest


# ---------------------------------------------------------------- blocks


def blocks(means, permit, start=H0 - 12 * 3600, zone=UTC_ZONE, **more):
    """Hours from midnight on; None: not valid."""
    rows = [
        full_hour(start + 3600 * number, 0.0 if mean is None else mean, **({"each": 0} if mean is None else {}))
        for number, mean in enumerate(means)
    ]
    return records(sources(rows, start, start + 3600 * len(rows), permit, zone, **more))


THREE_H = PermitSettings(average_h=3, high_inh2o=6.0)


def test_a_block_of_three_hours_is_the_mean_of_its_hours():
    """(5.0 + 6.0 + 7.5) / 3 = 6.17 is outside, though two of its hours are not; 7.5 + 5.0 + 5.0 is inside."""
    found = blocks([5.0, 6.0, 7.5, 7.5, 5.0, 5.0], THREE_H)

    assert [one.mean_inh2o for one in found.averages] == [pytest.approx(18.5 / 3), pytest.approx(17.5 / 3)]
    assert [one.span for one in found.excursions] == [Span(H0 - 12 * 3600, H0 - 9 * 3600)]


def test_two_of_three_hours_make_no_block_and_end_an_excursion():
    found = blocks([7.0, 7.0, 7.0, 7.0, 7.0, None, 7.0, 7.0, 7.0], THREE_H)
    states = [one.state for one in found.averages]

    assert states == [AverageState.VALID, AverageState.INVALID, AverageState.VALID]
    assert len(found.excursions) == 2


@pytest.mark.parametrize(("valid", "state"), [(18, AverageState.VALID), (17, AverageState.INVALID)])
def test_a_day_needs_18_of_24_hours(valid, state):
    found = blocks([3.0] * valid + [None] * (24 - valid), PermitSettings(average_h=24))

    assert [one.state for one in found.averages] == [state]


def test_under_the_rule_of_three_quarters_every_hour_of_a_block_must_be_valid():
    permit = PermitSettings(valid_hour=ValidHour.THREE_QUARTERS, average_h=24, least_available=0.5)

    assert blocks([3.0] * 23 + [None], permit).averages[0].state is AverageState.INVALID


def test_a_block_that_is_not_over_is_not_compared():
    found = blocks([7.0, 7.0, 7.0, 9.0, 9.0], THREE_H)

    assert found.averages[-1].state is AverageState.NOT_OVER
    assert found.averages_compared == 1
    assert found.excursions[0].worst_inh2o == 7.0


def test_an_excursion_ends_where_the_side_changes():
    found = blocks([7.0, 1.0, 7.0], PermitSettings(low_inh2o=2.0, high_inh2o=6.0))

    assert [one.side for one in found.excursions] == [Side.ABOVE, Side.BELOW, Side.ABOVE]


def test_without_a_range_nothing_is_an_excursion():
    assert blocks([50.0] * 3, PermitSettings()).excursions == ()


# ---------------------------------------------------------------- downtime


def test_a_downtime_of_two_causes_says_how_long_each_was():
    """Two hours out of service, then two quarters in which the device did not answer."""
    start = H0
    rows = [
        full_hour(start),
        full_hour(start + 3600),
        full_hour(start + 7200),
        full_hour(start + 10800, quarters=(0, 0, 900, 900), bad=1800, worst=Reason.NO_ANSWER),
    ]
    service = Maintenance(Span(start + 3600, start + 10800), "ben", "zero checked")
    found = records(sources(rows, start, start + 14400, maintenance=(service,)))

    assert len(found.downtimes) == 1
    assert found.downtimes[0].span == Span(start + 3599, start + 12600)
    assert found.downtimes[0].causes == (
        (Cause(Why.OUT_OF_SERVICE, words="zero checked (ben)"), 7201.0),
        (Cause(Why.NOT_GOOD, Reason.NO_ANSWER), 1800.0),
    )


def test_a_short_calibration_explains_no_longer_silence():
    """Silent for an hour; ben had it out of service from :20 to :35 and answers for those 15 minutes alone."""
    row = full_hour(H0, quarters=(0, 0, 0, 0), bad=3600, worst=Reason.NO_ANSWER)
    service = Maintenance(Span(H0 + 1200, H0 + 2100), "ben", "cal")
    found = records(sources([row], H0, H0 + 3600, maintenance=(service,)))

    assert dict(found.downtimes[0].causes) == {
        Cause(Why.OUT_OF_SERVICE, words="cal (ben)"): 900.0,
        Cause(Why.NOT_GOOD, Reason.NO_ANSWER): 2700.0,
    }


def test_a_reading_between_parts_two_downtimes():
    """One reading at :20: 00:00 to :20, and :20 to 02:00, are two incidents and not one."""
    row = full_hour(H0, quarters=(0, 1, 0, 0), first=H0 + 1200.0, last=H0 + 1200.0)
    found = records(sources([row], H0, H0 + 7200))

    assert [one.span for one in found.downtimes] == [Span(H0, H0 + 1200), Span(H0 + 1200, H0 + 7200)]


def test_no_readings_from_a_daemon_that_ran_are_of_unknown_cause():
    found = records(sources([full_hour(H0)], H0, H0 + 7200, watched=(Span(H0, H0 + 7200),)))

    assert found.downtimes[0].causes == ((Cause(Why.UNKNOWN), 3601.0),)


def test_a_standing_unit_has_no_downtime():
    fan = [full_hour(H0, 0.0), full_hour(H0 + 3600, 0.0)]
    found = records(sources([full_hour(H0)], H0, H0 + 7200, fan_hours=fan))

    assert (found.downtimes, found.whole.not_operating) == ((), 2)


# ---------------------------------------------------------------- days on which the clocks change


def test_the_day_in_autumn_has_25_hours_and_that_in_spring_23():
    for first, end, count in (
        (date(2026, 11, 1), date(2026, 11, 2), 25),
        (date(2026, 3, 8), date(2026, 3, 9), 23),
        (date(2026, 3, 9), date(2026, 3, 10), 24),
    ):
        span = days(first, end, NEW_YORK)
        rows = [full_hour(start, 3.0) for start in range(int(span.start_utc_s), int(span.end_utc_s), 3600)]
        found = records(sources(rows, *span, zone=NEW_YORK))

        assert [(day.label, day.hours, day.valid) for day in found.days] == [(first.isoformat(), count, count)]


def test_the_block_of_the_autumn_night_has_four_hours_and_that_of_the_spring_night_two():
    """1 Nov 2026: 00, 01, 01 again, 02 are 1, 2, 3, 4: their mean is 2.5. 8 Mar 2026: 00, 01 are 1, 2: 1.5."""
    for first, count, mean in ((date(2026, 11, 1), 4, 2.5), (date(2026, 3, 8), 2, 1.5)):
        span = days(first, first.replace(day=first.day + 1), NEW_YORK)
        starts = range(int(span.start_utc_s), int(span.end_utc_s), 3600)
        rows = [full_hour(start, 1.0 + number) for number, start in enumerate(starts)]
        found = records(sources(rows, *span, PermitSettings(average_h=3), NEW_YORK))

        assert len(found.averages) == 8
        assert (len(found.averages[0].hours), found.averages[0].mean_inh2o) == (count, mean)
        assert all(len(one.hours) == 3 for one in found.averages[1:])


def test_months_and_years_are_those_of_the_sites_clock():
    assert month(2026, 11, NEW_YORK) == Span(at("2026-11-01T00:00"), at("2026-12-01T00:00"))
    assert month(2026, 11, NEW_YORK).length_s == (30 * 24 + 1) * 3600
    assert year(2026, NEW_YORK).length_s == 8760 * 3600
    assert year(2028, UTC_ZONE).length_s == 8784 * 3600


# ---------------------------------------------------------------- what must add up

HOURS = st.lists(
    st.tuples(
        st.sampled_from(["none", "good", "holes"]),
        st.tuples(*[st.sampled_from([0, 0, 1, 900])] * 4),
        st.sampled_from([None, 0.0, 1.0]),
        st.floats(0.0, 8.0),
    ),
    min_size=1,
    max_size=80,
)


def random_records(drawn, permit, known_from, maintenance):
    rows, fan = [], []
    for number, (kind, quarters, running, mean) in enumerate(drawn):
        start = H0 + 3600 * number
        if kind != "none":
            chosen = {"each": 900} if kind == "good" else {"quarters": quarters, "bad": 7, "worst": Reason.STALE}
            rows.append(full_hour(start, mean, **chosen))
        if running is not None:
            fan.append(full_hour(start, running))
    spans = [Span(H0 + 60 * first, H0 + 60 * (first + length)) for first, length in maintenance]
    return records(
        sources(
            rows,
            H0,
            H0 + 3600 * len(drawn),
            permit,
            NEW_YORK,
            fan_hours=fan,
            known_from_utc_s=H0 + 3600 * known_from,
            maintenance=tuple(Maintenance(span, "ben", "checked") for span in spans),
            watched=(Span(H0 + 5000, H0 + 90_000),),
        )
    )


PERMITS = st.builds(
    PermitSettings,
    valid_hour=st.sampled_from(ValidHour),
    low_inh2o=st.just(2.0),
    high_inh2o=st.just(6.0),
    average_h=st.sampled_from([1, 3, 5, 24]),
)
SERVICES = st.lists(st.tuples(st.integers(0, 4000), st.integers(1, 300)), max_size=3)


@given(HOURS, PERMITS, st.integers(0, 5), SERVICES)
@settings(deadline=None)
def test_hours_durations_and_days_add_up(drawn, permit, known_from, maintenance):
    found = random_records(drawn, permit, known_from, maintenance)
    whole = found.whole

    assert whole.valid + whole.invalid + whole.not_operating + whole.not_kept == whole.hours == len(drawn)
    for name in ("hours", "valid", "invalid", "not_operating", "not_kept", "operating_s", "points"):
        for parts in (found.days, found.months):
            assert sum(getattr(part, name) for part in parts) == pytest.approx(getattr(whole, name))
    assert sum(len(one.hours) for one in found.averages) == len(drawn)
    assert sum(seconds for _, _, seconds in total_by_cause(found.downtimes)) == pytest.approx(found.downtime_s)
    for one in found.downtimes:
        assert sum(seconds for _, seconds in one.causes) == pytest.approx(one.span.length_s)


@given(HOURS, PERMITS, st.integers(0, 5), SERVICES)
@settings(deadline=None)
def test_excursions_and_downtimes_are_in_order_and_apart(drawn, permit, known_from, maintenance):
    found = random_records(drawn, permit, known_from, maintenance)

    for spans in ([one.span for one in found.excursions], [one.span for one in found.downtimes]):
        assert all(one.end_utc_s <= after.start_utc_s for one, after in pairwise(spans))
        assert all(one.length_s > 0 for one in spans)
    assert sum(one.averages for one in found.excursions) == sum(one.beyond is not None for one in found.averages)
    assert found.excursion_s <= whole_operation(found) + 1e-6


def whole_operation(found):
    return sum(hour.operating_s for hour in found.hours if hour.state is not HourState.NOT_KEPT)


def test_a_leap_year_is_worked_out_in_seconds():
    span = year(2028, NEW_YORK)
    starts = range(int(span.start_utc_s), int(span.end_utc_s), 3600)
    rows = [full_hour(start, 3.0 + (start // 3600 % 50) / 10) for start in starts]
    fan = [full_hour(start, float(start // 3600 % 24 < 20)) for start in starts]
    made = sources(rows, *span, PermitSettings(high_inh2o=7.0), NEW_YORK, fan_hours=fan)
    begun = time.perf_counter()
    found = records(made)
    lasted_s = time.perf_counter() - begun

    assert (found.whole.hours, len(found.days), len(found.months)) == (8784, 366, 12)
    assert lasted_s < 5.0, f"{lasted_s:.1f} s"


def test_the_moments_of_the_worked_month_are_what_their_names_say():
    assert datetime.fromtimestamp(feb(3, 8), UTC).isoformat() == "2026-02-03T08:00:00+00:00"
