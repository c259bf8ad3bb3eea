"""Bands are clear of the sawtooth, and move only where they are not."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.interpret.advice.bands import BandSetting, BandWhy, Normal, Quantity, place_all

NORMAL = Normal(3.8, 5.1, 4.0, 4.2, 4.8, 1.0, 10.0)


def high(setpoint, deadband=1.0, delay=30.0, tag="PDAH-101", quantity=Quantity.DAMPED):
    return BandSetting(tag, True, quantity, setpoint, deadband, delay)


def low(setpoint, deadband=1.0, delay=30.0, tag="PDAL-101"):
    return BandSetting(tag, False, Quantity.DAMPED, setpoint, deadband, delay)


def only(band, normal=NORMAL):
    return place_all(normal, [band])[0]


def test_a_clear_band_stays():
    assert only(high(6.5)).why == ()
    assert only(low(2.0)).why == ()


@pytest.mark.parametrize(
    ("band", "setpoint", "why"),
    [
        # An inch above 5.1, and below 3.8, rounded away from what is normal.
        (high(4.9), 6.1, BandWhy.IN_SAWTOOTH),
        (high(5.4), 6.1, BandWhy.TOO_NEAR),
        (low(3.9), 2.8, BandWhy.IN_SAWTOOTH),
        (low(3.5), 2.8, BandWhy.TOO_NEAR),
        # The residual DP is 4.0 at most: half an inch above it; the average 4.8.
        (high(4.0, 0.2, quantity=Quantity.RESIDUAL), 4.5, BandWhy.IN_SAWTOOTH),
        (high(4.9, 0.2, quantity=Quantity.AVERAGE), 5.3, BandWhy.TOO_NEAR),
    ],
)
def test_a_band_within_reach_of_normal_cleaning_moves(band, setpoint, why):
    told = only(band)

    assert told.advised.setpoint_inh2o == pytest.approx(setpoint)
    assert told.why == (why,)


def test_a_narrow_deadband_and_a_short_delay_are_widened_in_place():
    told = only(high(6.8, deadband=0.2, delay=5.0))

    assert told.advised == high(6.8, deadband=1.0, delay=15.0)
    assert told.why == (BandWhy.DEADBAND, BandWhy.DELAY)


def test_a_residual_band_needs_no_deadband_of_the_sawtooth():
    assert only(high(5.0, 0.2, quantity=Quantity.RESIDUAL)).why == ()


def test_the_next_band_keeps_its_distance():
    told = place_all(NORMAL, [high(6.2, tag="PDAHH-101"), high(5.2)])

    assert [one.advised.setpoint_inh2o for one in told] == [7.2, 6.2] or [
        one.advised.setpoint_inh2o for one in told
    ] == [7.1, 6.1]
    assert BandWhy.NEXT_BAND in told[0].why


def test_a_band_for_which_there_is_no_room_stays_and_says_so():
    told = only(high(5.0), NORMAL._replace(top_inh2o=6.0))

    assert told.advised == told.now
    assert BandWhy.NO_ROOM in told.why


@given(
    st.lists(st.tuples(st.booleans(), st.floats(0.3, 9.5), st.floats(0, 2), st.floats(0, 60)), max_size=4),
    st.floats(2.5, 4.5),
    st.floats(0.8, 1.5),
)
def test_every_advised_band_is_clear_of_the_sawtooth(drawn, stop, swing):
    normal = Normal(stop - 0.3, stop + swing + 0.1, stop, stop + 0.2, stop + swing - 0.2, swing, 12.0)
    bands = [
        BandSetting(f"PDA-{number}", is_high, Quantity.DAMPED, setpoint, deadband, delay)
        for number, (is_high, setpoint, deadband, delay) in enumerate(drawn)
    ]
    for told in place_all(normal, bands):
        if BandWhy.NO_ROOM in told.why:
            continue
        one = told.advised
        distance = one.setpoint_inh2o - normal.high_inh2o if one.is_high else normal.low_inh2o - one.setpoint_inh2o
        assert distance > 0.0
        assert one.deadband_inh2o >= swing - 1e-6
        # Once raised it can go while cleaning goes on as usual.
        assert distance + swing + 1e-6 >= one.deadband_inh2o - 1e-6 or told.why == ()
        assert one.on_delay_s >= 15.0
