"""Registers: every order, every width, both ways, against the specification and an independent library."""

import math
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymodbus.client.mixin import ModbusClientMixin

from monitor.condition.registers import Encoding, Order, RegisterFormat, decode, encode

HIGH, LOW = Order.HIGH_FIRST, Order.LOW_FIRST
UINT16 = RegisterFormat(Encoding.UINT16)
FORMATS = [RegisterFormat(kind, words, octets) for kind in Encoding for words in Order for octets in Order]
INTEGERS = [fmt for fmt in FORMATS if fmt.encoding is not Encoding.FLOAT32]
RANGE = {
    Encoding.INT16: (-32768, 32767),
    Encoding.UINT16: (0, 65535),
    Encoding.INT32: (-2147483648, 2147483647),
    Encoding.UINT32: (0, 4294967295),
}


@pytest.mark.parametrize(("octets", "number"), [(b"\x02\x2b", 555), (b"\x00\x00", 0), (b"\x00\x64", 100)])
def test_the_read_example_of_the_specification_decodes(octets: bytes, number: int) -> None:
    """Application Protocol V1.1b3 §6.3: registers 108 to 110 hold 555, 0 and 100."""
    assert decode(struct.unpack(">H", octets), UINT16) == number


def test_a_register_has_its_high_byte_first_unless_told_otherwise() -> None:
    """Application Protocol V1.1b3 §4.2: 0x1234 goes over the wire as 12, then 34."""
    assert decode((0x1234,), UINT16) == 0x1234
    assert decode((0x1234,), RegisterFormat(Encoding.UINT16, HIGH, LOW)) == 0x3412


@pytest.mark.parametrize(
    ("word", "signed"), [(0x0000, 0), (0x0001, 1), (0x7FFF, 32767), (0x8000, -32768), (0xFFFF, -1), (0xFD4D, -691)]
)
def test_int16_is_twos_complement(word: int, signed: int) -> None:
    assert decode((word,), RegisterFormat(Encoding.INT16)) == signed


@pytest.mark.parametrize(
    ("order", "octet_order", "words"),
    [
        pytest.param(HIGH, HIGH, (0x42F6, 0xE979), id="ABCD"),
        pytest.param(LOW, HIGH, (0xE979, 0x42F6), id="CDAB"),
        pytest.param(HIGH, LOW, (0xF642, 0x79E9), id="BADC"),
        pytest.param(LOW, LOW, (0x79E9, 0xF642), id="DCBA"),
    ],
)
def test_a_float_is_read_in_all_four_orders(order: Order, octet_order: Order, words: tuple[int, int]) -> None:
    """0x42F6E979 is 123.456 in single precision (worked by hand: 1.929 × 2^6)."""
    number = decode(words, RegisterFormat(Encoding.FLOAT32, order, octet_order))

    assert number == 0xF6E979 / 2**17
    assert number == pytest.approx(123.456, abs=1e-5)


@pytest.mark.parametrize(
    ("words", "number"),
    [
        ((0x3F80, 0x0000), 1.0),
        ((0xBF80, 0x0000), -1.0),
        ((0x4049, 0x0FDB), 3.1415927410125732),
        ((0x0000, 0x0001), 2.0**-149),
        ((0x7F7F, 0xFFFF), (2 - 2.0**-23) * 2.0**127),
        ((0x7F80, 0x0000), math.inf),
        ((0xFF80, 0x0000), -math.inf),
    ],
)
def test_known_single_precision_patterns(words: tuple[int, int], number: float) -> None:
    """IEEE 754 binary32: one, minus one, pi, the smallest, the largest, the infinities."""
    fmt = RegisterFormat(Encoding.FLOAT32)

    assert decode(words, fmt) == number
    assert encode(number, fmt) == words


@pytest.mark.parametrize("words", [(0x7FC0, 0x0000), (0xFFFF, 0xFFFF), (0x7F80, 0x0001)])
def test_nan_passes_through(words: tuple[int, int]) -> None:
    assert math.isnan(decode(words, RegisterFormat(Encoding.FLOAT32)))


@pytest.mark.parametrize("fmt", FORMATS, ids=str)
@pytest.mark.parametrize("length", [0, 1, 2, 3])
def test_only_the_right_number_of_words_is_taken(fmt: RegisterFormat, length: int) -> None:
    words = (1,) * length
    if length == fmt.encoding.width:
        assert encode(decode(words, fmt), fmt) == words
    else:
        with pytest.raises(ValueError, match=r"takes \d register"):
            decode(words, fmt)


@pytest.mark.parametrize("fmt", INTEGERS, ids=str)
def test_integers_out_of_range_are_refused(fmt: RegisterFormat) -> None:
    low, high = RANGE[fmt.encoding]
    for value in (low - 1, high + 1, low - 0.6, high + 0.5, 1e12, -1e12, math.nan, math.inf, -math.inf):
        with pytest.raises(ValueError, match="holds"):
            encode(value, fmt)
    for value in (low, high):
        assert decode(encode(value, fmt), fmt) == value


def test_a_float_too_large_for_single_precision_is_refused() -> None:
    with pytest.raises(ValueError, match="float32"):
        encode(3.5e38, RegisterFormat(Encoding.FLOAT32))


def test_an_integer_register_shows_the_nearest_count() -> None:
    assert encode(6553.4, UINT16) == (6553,)
    assert encode(-691.2, RegisterFormat(Encoding.INT16)) == (0x10000 - 691,)
    assert encode(65535.4, UINT16) == (65535,)


@given(data=st.data(), fmt=st.sampled_from(INTEGERS))
def test_every_integer_survives_the_way_there_and_back(data: st.DataObject, fmt: RegisterFormat) -> None:
    value = data.draw(st.integers(*RANGE[fmt.encoding]))

    back = decode(encode(value, fmt), fmt)

    assert back == value
    assert isinstance(back, int)


@given(value=st.floats(width=32, allow_nan=False), words=st.sampled_from(Order), octets=st.sampled_from(Order))
def test_every_float_survives_the_way_there_and_back(value: float, words: Order, octets: Order) -> None:
    fmt = RegisterFormat(Encoding.FLOAT32, words, octets)

    back = decode(encode(value, fmt), fmt)

    assert back == value
    assert math.copysign(1.0, back) == math.copysign(1.0, value)


@given(
    words=st.tuples(st.integers(0, 65535), st.integers(0, 65535)),
    order=st.sampled_from(Order),
    kind=st.sampled_from([Encoding.INT32, Encoding.UINT32, Encoding.FLOAT32]),
)
def test_an_independent_library_reads_the_same(words: tuple[int, int], order: Order, kind: Encoding) -> None:
    """The oracle knows word order only; byte order is held by the hand-made vectors above."""
    oracle = ModbusClientMixin.convert_from_registers(
        list(words),
        ModbusClientMixin.DATATYPE[kind.name],
        word_order="big" if order is HIGH else "little",
    )

    ours = decode(words, RegisterFormat(kind, order))

    assert ours == oracle or (math.isnan(ours) and math.isnan(oracle))
