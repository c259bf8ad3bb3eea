"""``cakewatch read`` against an independent Modbus TCP device (pyModbusTCP): the commissioning view."""

import json
import struct

import pytest
from click.testing import CliRunner
from pyModbusTCP.server import ModbusServer

from monitor.cli.main import main

SITE = """\
site: {{name: Alder Mill}}
links:
  mill-gateway: {{protocol: modbus-tcp, host: 127.0.0.1, port: {port}, timeout: 300 ms}}
collectors:
  DC-101:
    dp:
      tag: PDT-101
      link: mill-gateway
      unit_id: 1
      reference_number: 30003
      encoding: uint16
      loop: {{counts_at_4_ma: 819, counts_at_20_ma: 4095, at_4_ma: 0 inH2O, at_20_ma: 10 inH2O}}
    header_pressure:
      tag: PT-101
      link: mill-gateway
      unit_id: 1
      table: holding register
      protocol_address: 10
      encoding: float32
      word_order: low-first
      engineering: {{unit: psi}}
    fan_running:
      tag: YL-101
      link: mill-gateway
      unit_id: 1
      table: discrete input
      protocol_address: 3
"""


@pytest.fixture
def device():
    server = ModbusServer(host="127.0.0.1", port=0, no_block=True)
    server.start()
    server.port = server._service.server_address[1]
    yield server
    server.stop()


@pytest.fixture
def read(tmp_path, device):
    def run(*options):
        site = tmp_path / "site.yaml"
        site.write_text(SITE.format(port=device.port))
        return CliRunner().invoke(main, ["read", str(site), *options])

    device.data_bank.set_input_registers(2, [2457])  # 12.0 mA: half of the range
    high, low = struct.unpack(">HH", struct.pack(">f", 87.5))
    device.data_bank.set_holding_registers(10, [low, high])
    device.data_bank.set_discrete_inputs(3, [True])
    return run


def test_every_point_is_shown_from_the_raw_word_to_the_quality(read):
    result = read("--json")
    dp, fan, header = json.loads(result.output)

    assert result.exit_code == 0
    assert (dp["tag"], dp["words"], dp["raw"], dp["unit"], dp["quality"]) == (
        "PDT-101",
        [2457],
        2457,
        "inH2O",
        "good",
    )
    assert dp["current_ma"] == pytest.approx(12.0)
    assert dp["value"] == pytest.approx(5.0)
    assert (header["tag"], header["value"], header["unit"]) == ("PT-101", 87.5, "psi")
    assert (fan["tag"], fan["value"], fan["unit"]) == ("YL-101", 1.0, None)
    assert "protocol address 2 (reference 30003)" in dp["where"]


def test_the_table_has_one_line_for_each_point_and_no_colour_in_a_pipe(read):
    lines = read().output.splitlines()

    assert lines[1].split()[:6] == ["PDT-101", "2457", "0999", "12.000", "5.000", "inH2O"]
    assert any(line.startswith("YL-101") and " yes " in line for line in lines)
    assert "\x1b" not in "".join(lines)


def test_the_last_count_of_the_converter_is_never_a_full_scale(read, device):
    device.data_bank.set_input_registers(2, [4095])
    result = read()

    assert result.exit_code == 1
    assert "uncertain: loop saturated" in result.output


def test_a_broken_wire_is_named(read, device):
    device.data_bank.set_input_registers(2, [0])
    result = read("--json")
    dp = json.loads(result.output)[0]

    assert result.exit_code == 1
    assert (dp["quality"], dp["current_ma"]) == ("uncertain", 0.0)
    assert "3.6 mA" in dp["detail"]


def test_a_number_that_is_none_becomes_null_in_json(read, device):
    high, low = struct.unpack(">HH", struct.pack(">f", float("nan")))
    device.data_bank.set_holding_registers(10, [low, high])
    header = json.loads(read("--json").output)[2]

    assert (header["raw"], header["value"], header["reason"]) == (None, None, "not_a_number")


def test_a_device_that_is_not_there_is_bad_with_its_reason(read, device):
    device.stop()
    result = read()

    assert result.exit_code == 1
    assert "bad: no connection" in result.output


def test_a_wrong_site_file_ends_with_code_two(tmp_path):
    site = tmp_path / "site.yaml"
    site.write_text("site: {nam: Alder Mill}\n")
    result = CliRunner().invoke(main, ["read", str(site)])

    assert result.exit_code == 2
    assert "did you mean" in result.output
