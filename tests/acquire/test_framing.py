"""Is what came in the answer to what was asked?"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.acquire.framing import Malformed, MbapStream, RtuLine, Shape, crc16
from tests.peers.fault_device import crc as crc_by_bits

ASKED = Shape(3, 6)
PDU = bytes.fromhex("0306022B00000064")  # the answer of §6.3: 555, 0, 100


def mbap(pdu=PDU, transaction=7, unit_id=1, protocol=0, length=None):
    length = len(pdu) + 1 if length is None else length
    return b"".join(n.to_bytes(2, "big") for n in (transaction, protocol, length)) + bytes((unit_id,)) + pdu


def rtu(pdu=PDU, unit_id=1):
    frame = bytes((unit_id,)) + pdu
    return frame + crc_by_bits(frame)


def stream(asked=ASKED):
    wire = MbapStream()
    wire.expect(1, asked)
    return wire


def line(asked=ASKED, owed=()):
    wire = RtuLine()
    wire.expect(1, asked, owed)
    return wire


@pytest.mark.parametrize(
    ("message", "wire"),
    [
        ("0207", "4112"),  # Serial Line V1.02 p41, worked shift by shift
        ("313233343536373839", "374b"),  # check value of CRC-16/MODBUS
        ("010300000001", "840a"),
        ("010300000002", "c40b"),
        ("01030000000a", "c5cd"),
        ("010400000001", "31ca"),
        ("010400000002", "71cb"),
        ("1103006b0003", "7687"),
        ("110306022b00000064", "c8ba"),
        ("018302", "c0f1"),
        ("018402", "c2c1"),
        ("01030401f40064", "bbd6"),
    ],
)
def test_the_crc_vectors(message, wire):
    assert crc16(bytes.fromhex(message)).to_bytes(2, "little").hex() == wire


@given(st.binary(max_size=260))
def test_the_crc_over_a_frame_with_its_crc_is_zero(data):
    assert crc16(data) == int.from_bytes(crc_by_bits(data), "little")
    assert crc16(data + crc_by_bits(data)) == 0


@given(st.lists(st.integers(1, 16), max_size=8))
def test_a_right_answer_is_found_however_it_is_cut(sizes):
    for wire, frame in ((stream(), mbap()), (line(), rtu())):
        at = 0
        seen = []
        for size in [*sizes, 300]:
            seen.append(wire.feed(frame[at : at + size], 7) if frame[at : at + size] else None)
            at += size
        assert [one for one in seen if one is not None] == [frame]


@pytest.mark.parametrize(
    ("frame", "detail", "in_step"),
    [
        (mbap(unit_id=2), "answer of unit 2, asked unit 1", True),
        (mbap(bytes.fromhex("0304022B0000")), "4 bytes of data, 6 asked", True),
        (mbap(bytes.fromhex("0300")), "0 bytes of data, 6 asked", True),
        (mbap(bytes.fromhex("0308022B000000640001")), "8 bytes of data, 6 asked", True),
        (mbap(bytes.fromhex("0307022B0000006401")), "7 bytes of data, 6 asked", True),
        (mbap(bytes.fromhex("0306022B0000")), "6 bytes of data, 6 asked", True),
        (mbap(bytes.fromhex("0406022B00000064")), "function 04 in answer to 03", True),
        (mbap(bytes.fromhex("8402")), "function 84 in answer to 03", True),
        (mbap(protocol=1), "not a Modbus TCP frame", False),
        (mbap(length=0), "not a Modbus TCP frame", False),
        (mbap(length=9999), "not a Modbus TCP frame", False),
        (b"HTTP/1.1 400 Bad Request", "not a Modbus TCP frame", False),
    ],
)
def test_on_tcp_an_answer_that_does_not_fit_is_none(frame, detail, in_step):
    assert stream().feed(frame, 7) == Malformed(detail, in_step)


def test_on_tcp_an_exception_to_our_function_fits():
    assert stream().feed(mbap(b"\x83\x02"), 7) == mbap(b"\x83\x02")


def test_on_tcp_an_earlier_transaction_is_skipped_in_front_of_ours():
    assert stream().feed(mbap(transaction=6) + mbap(), 7) == mbap()
    assert stream().feed(mbap(transaction=6), 7) is None


def test_on_tcp_a_late_answer_cut_by_our_request_is_still_skipped():
    wire = stream()
    late = mbap(transaction=6)
    wire.rest(unanswered=True)
    wire.feed(late[:5], 6)
    wire.expect(1, ASKED)

    assert wire.feed(late[5:] + mbap(), 7) == mbap()


def test_transaction_zero_is_believed_only_while_no_answer_is_owed():
    assert stream().feed(mbap(transaction=0), 7) == mbap(transaction=0)
    wire = stream()
    wire.rest(unanswered=True)
    wire.expect(1, ASKED)

    assert isinstance(wire.feed(mbap(transaction=0), 7), Malformed)


def test_what_comes_unasked_is_dropped():
    wire = stream()
    wire.rest(unanswered=False)
    assert wire.feed(mbap(), 7) is None
    serial = line()
    serial.rest(unanswered=False)
    assert serial.feed(rtu(), 0) is None
    serial.expect(1, ASKED)
    assert serial.feed(rtu(), 0) == rtu()


@pytest.mark.parametrize(
    "before", [b"", b"\x00", b"\xff\x81\x00", rtu(unit_id=2), bytes.fromhex("0103006b00037417")]
)
@pytest.mark.parametrize("after", [b"", b"\x00\xff", rtu(unit_id=3)])
def test_on_rtu_noise_echo_and_other_units_around_the_answer_are_dropped(before, after):
    assert line().feed(before + rtu() + after, 0) == rtu()


def test_on_rtu_an_owed_answer_in_front_of_ours_is_skipped():
    late = rtu(bytes.fromhex("0304000A000B"))

    assert line(owed={Shape(3, 4)}).feed(late + rtu(), 0) == rtu()
    assert line(owed={Shape(4, 4)}).feed(late + rtu(), 0) == Malformed("4 bytes of data, 6 asked", in_step=False)


def test_on_rtu_an_exception_is_late_if_only_an_owed_request_had_its_function():
    assert line(owed={Shape(4, 4)}).feed(rtu(b"\x84\x02") + rtu(), 0) == rtu()
    assert isinstance(line().feed(rtu(b"\x84\x02"), 0), Malformed)
    assert line().feed(rtu(b"\x83\x02"), 0) == rtu(b"\x83\x02")


def test_on_rtu_a_wrong_crc_is_no_answer():
    assert line().feed(rtu()[:-1] + b"\x00", 0) is None


@given(st.binary(max_size=80))
def test_noise_never_raises_and_never_passes_without_a_crc(noise):
    seen = line().feed(noise, 0)

    assert seen is None or isinstance(seen, Malformed) or crc16(seen) == 0
    assert stream().feed(noise, 7) in (None, Malformed("not a Modbus TCP frame", in_step=False)) or noise[:2] in (
        b"\x00\x07",
        b"\x00\x00",
    )
