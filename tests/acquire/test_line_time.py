"""What a serial line can carry: Modbus over Serial Line V1.02 §2.5.1, and arithmetic on it."""

import pytest

from monitor.acquire.line_time import character_bits, exchange_s, fastest_scan_s, t35_s
from monitor.acquire.settings import Address, LinkSettings, Parity, Protocol, SerialPort
from monitor.words import Block, Table

PORT = "/dev/ttyS0"
ELEVEN = {"parity": Parity.EVEN, "stop_bits": 1}
TEN = {"parity": Parity.NONE, "stop_bits": 1}


@pytest.mark.parametrize(
    ("parity", "stop_bits", "bits"),
    [(Parity.EVEN, 1, 11), (Parity.ODD, 1, 11), (Parity.NONE, 2, 11), (Parity.NONE, 1, 10), (Parity.EVEN, 2, 12)],
)
def test_a_character_is_start_data_parity_and_stop(parity, stop_bits, bits):
    assert character_bits(SerialPort(device=PORT, parity=parity, stop_bits=stop_bits)) == bits


def test_the_default_port_has_the_eleven_bits_of_the_standard():
    assert character_bits(SerialPort(device=PORT)) == 11


@pytest.mark.parametrize(
    ("baud", "frame", "t35_ms", "cycles_ms"),
    [
        (9600, TEN, 3.6458, (22.917, 25.000, 41.667, 281.25)),
        (9600, ELEVEN, 4.0104, (25.208, 27.500, 45.833, 309.38)),
        (19200, TEN, 1.8229, (11.458, 12.500, 20.833, 140.63)),
        (19200, ELEVEN, 2.0052, (12.604, 13.750, 22.917, 154.69)),
        (38400, ELEVEN, 1.750, (7.797, 8.370, 12.953, 78.84)),
        (57600, ELEVEN, 1.750, (6.365, 6.747, 9.802, 53.73)),
        (115200, TEN, 1.750, (4.802, 4.976, 6.365, 26.33)),
        (115200, ELEVEN, 1.750, (4.932, 5.123, 6.651, 28.61)),
    ],
)
def test_the_line_times_of_the_standard(baud, frame, t35_ms, cycles_ms):
    port = SerialPort(device=PORT, baud=baud, **frame)

    assert t35_s(port) * 1000 == pytest.approx(t35_ms, abs=1e-4)
    for registers, cycle_ms in zip((1, 2, 10, 125), cycles_ms, strict=True):
        assert exchange_s(port, 2 * registers) * 1000 == pytest.approx(cycle_ms, abs=0.006)


def test_a_scan_takes_the_sum_of_its_requests():
    port = SerialPort(device=PORT)
    link = LinkSettings(name="north", protocol=Protocol.RTU, where=port)
    blocks = [Block(1, Table.HOLDING_REGISTER, 0, 10, ()), Block(2, Table.COIL, 0, 9, ())]

    assert fastest_scan_s(link, blocks) == pytest.approx(exchange_s(port, 20) + exchange_s(port, 2))


def test_a_network_sets_no_line_time():
    link = LinkSettings(name="north", protocol=Protocol.TCP, where=Address(host="127.0.0.1"))

    assert fastest_scan_s(link, [Block(1, Table.HOLDING_REGISTER, 0, 10, ())]) == 0.0
