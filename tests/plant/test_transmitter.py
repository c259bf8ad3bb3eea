"""A DP reaches the wire as the loop, the converter and the register make it."""

import math
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.condition.registers import Encoding, Order, RegisterFormat
from monitor.condition.scaling import LinearScaling, LoopScaling
from monitor.plant.transmitter import DpSignal, counts_of, current_of, dp_words, words_of

TWELVE_BIT = LoopScaling(819.0, 4095.0, 0.0, 10.0, full_scale_counts=4095.0)
SIGNED = LoopScaling(0.0, 27648.0, 0.0, 10.0)
UINT16 = RegisterFormat(Encoding.UINT16)


@pytest.mark.parametrize(
    ("dp_inh2o", "current_ma"),
    [(0.0, 4.0), (2.5, 8.0), (5.0, 12.0), (7.5, 16.0), (10.0, 20.0), (30.0, 20.5), (-3.0, 3.8)],
)
def test_current_follows_the_range_and_stays_in_measurement_information(
    dp_inh2o: float, current_ma: float
) -> None:
    # The middle is arithmetic; the ends are NAMUR NE 43, measurement information 3.8 to 20.5 mA.
    assert current_of(TWELVE_BIT, dp_inh2o) == pytest.approx(current_ma)


def test_a_compound_range_has_its_zero_between_the_ends() -> None:
    # -1 to +9 inH2O: zero lies at 5.6 mA.
    assert current_of(LoopScaling(0.0, 27648.0, -1.0, 9.0), 0.0) == pytest.approx(5.6)


@pytest.mark.parametrize(
    ("current_ma", "counts"), [(4.0, 819), (8.0, 1638), (12.0, 2457), (16.0, 3276), (20.0, 4095)]
)
def test_a_12_bit_card_counts_0_to_4095_over_0_to_20_ma(current_ma: float, counts: int) -> None:
    assert counts_of(TWELVE_BIT, current_ma, 0) == counts


def test_a_converter_ends_where_it_ends() -> None:
    assert counts_of(TWELVE_BIT, 21.6, 0) == 4095
    assert counts_of(SIGNED, 21.0, -4864) == 29376
    assert counts_of(SIGNED, 0.0, -4864) == -4864


def test_a_broken_loop_reads_0_counts_on_a_0_to_20_ma_card() -> None:
    assert dp_words(DpSignal(format=UINT16, scaling=TWELVE_BIT), 5.0, loop_broken=True) == (0,)


def test_a_device_without_its_sensor_says_not_a_number() -> None:
    signal = DpSignal(format=RegisterFormat(Encoding.FLOAT32), scaling=LinearScaling())
    high, low = dp_words(signal, 5.0, loop_broken=True)
    assert math.isnan(struct.unpack(">f", struct.pack(">HH", high, low))[0])


def test_word_and_byte_order_are_the_formats() -> None:
    # 1.0 is 3F80 0000 in IEEE 754.
    of = words_of
    assert of(RegisterFormat(Encoding.FLOAT32), 1.0) == (0x3F80, 0x0000)
    assert of(RegisterFormat(Encoding.FLOAT32, Order.LOW_FIRST), 1.0) == (0x0000, 0x3F80)
    assert of(RegisterFormat(Encoding.FLOAT32, Order.HIGH_FIRST, Order.LOW_FIRST), 1.0) == (0x803F, 0x0000)
    assert of(RegisterFormat(Encoding.INT16), -2.0) == (0xFFFE,)


@given(st.floats(-1e12, 1e12), st.sampled_from([Encoding.INT16, Encoding.UINT16, Encoding.INT32, Encoding.UINT32]))
def test_an_integer_register_never_wraps(value: float, encoding: Encoding) -> None:
    words = words_of(RegisterFormat(encoding), value)
    assert len(words) == encoding.width
    assert all(0 <= word <= 0xFFFF for word in words)
    if value > 1e11:
        assert words[0] in (0x7FFF, 0xFFFF)
