"""Loading: what a valid file comes to, default by default."""

import re
import subprocess
import sys
import time
from pathlib import Path

import pytest

from monitor.acquire.settings import Address, Parity, Protocol, SerialPort, Source
from monitor.condition.channel import DiscreteChannel
from monitor.condition.registers import Encoding, Order, RegisterFormat
from monitor.condition.scaling import LinearScaling, LoopScaling
from monitor.judge.settings import AlarmSettings, Band, Judged, Side
from monitor.site.load import load
from monitor.site.problems import SiteFileError
from monitor.words import PointId, Priority, Role, Table

ROOT = Path(__file__).parents[2]
GOOD = ROOT / "fixtures" / "site" / "good"
FIRST = (GOOD / "first.yaml").read_text(encoding="utf-8")


def load_text(text: str, folder: Path, environ=None):
    path = folder / "site.yaml"
    path.write_text(text, encoding="utf-8")
    return load(path, environ or {})


def test_the_smallest_file_gets_every_default(tmp_path):
    plan = load_text(FIRST, tmp_path)
    link, collector = plan.links["mill-gateway"], plan.collectors["DC-101"]

    assert (plan.name, plan.inch_of_water, plan.pa_per_inh2o) == ("Alder Mill", "conventional", 249.08891)
    assert (link.link.protocol, link.link.where) == (Protocol.TCP, Address(host="127.0.0.1", port=502))
    assert (link.link.timeout_s, link.link.scan_period_s, link.link.max_registers, link.link.max_gap) == (
        1,
        1,
        125,
        8,
    )
    assert link.sources == (
        Source(
            point=PointId("DC-101", Role.DP), link="mill-gateway", unit_id=1, table=Table.INPUT_REGISTER, address=0
        ),
    )
    assert collector.bands == (
        Band(
            alarm=AlarmSettings(
                tag="PDAH-101",
                priority=Priority.HIGH,
                on_delay_s=15,
                off_delay_s=15,
                latching=True,
                auto_clear_s=1800,
                causes=("PDT-101-BAD",),
            ),
            side=Side.ABOVE,
            setpoint_inh2o=7.0,
            deadband_inh2o=pytest.approx(0.2),
            judged=Judged.DAMPED,
        ),
    )
    assert collector.bad_signal.tag == "PDT-101-BAD"
    assert (plan.store.folder, plan.mqtt) == (tmp_path / "data", None)
    assert (plan.http.host, plan.http.port) == ("127.0.0.1", 9464)


def test_a_dp_channel_is_what_the_file_says(tmp_path):
    point = load_text(FIRST, tmp_path).collectors["DC-101"].points[Role.DP]

    assert point.place == "mill-gateway unit 1, input register, protocol address 0 (reference 30001)"
    assert point.channel.format == RegisterFormat(Encoding.INT16)
    assert point.channel.scaling == LoopScaling(819, 4095, 0.0, 10.0, full_scale_counts=4095)
    assert (point.channel.span, point.channel.unit) == (10.0, "inH2O")
    assert (point.channel.frozen_after_s, point.channel.stale_after_s) == (600, 5)
    assert (point.channel.median_samples, point.channel.lag_s) == (None, None)


def test_stale_follows_the_scan_period_of_the_link(tmp_path):
    text = FIRST.replace("host: 127.0.0.1", "host: 127.0.0.1\n    scan_period: 10 s\n    timeout: 2 s")
    channel = load_text(text, tmp_path).collectors["DC-101"].points[Role.DP].channel

    assert channel.stale_after_s == 32


@pytest.mark.parametrize(
    ("encoding", "at_20_ma", "full_scale"),
    [
        ("uint16", 4095, 4095),
        ("int16", 32767, 32767),
        ("uint16", 65535, 65535),
        ("int16", 27648, None),
        ("uint16", 20000, None),
    ],
)
def test_a_converter_that_ends_at_20_ma_is_known_by_its_counts(tmp_path, encoding, at_20_ma, full_scale):
    text = FIRST.replace("full_scale_counts: 4095, ", "").replace(
        "counts_at_20_ma: 4095", f"counts_at_20_ma: {at_20_ma}"
    )
    plan = load_text(text.replace("int16", encoding), tmp_path)

    assert plan.collectors["DC-101"].points[Role.DP].channel.scaling.full_scale_counts == full_scale


def test_full_scale_none_means_that_the_converter_reaches_beyond(tmp_path):
    plan = load_text(FIRST.replace("full_scale_counts: 4095", "full_scale_counts: none"), tmp_path)

    assert plan.collectors["DC-101"].points[Role.DP].channel.scaling.full_scale_counts is None


@pytest.mark.parametrize(("inch", "pa"), [("4 degC", 249.082), ("60 degF", 248.84), ("68 degF", 248.642)])
def test_the_site_s_inch_decides_what_a_pascal_is(tmp_path, inch, pa):
    text = FIRST.replace("name: Alder Mill", f"name: Alder Mill\n  inch_of_water: {inch}").replace(
        "7 inH2O", "1500 Pa"
    )
    plan = load_text(text, tmp_path)

    assert plan.pa_per_inh2o == pa
    assert plan.collectors["DC-101"].bands[0].setpoint_inh2o == pytest.approx(1500 / pa)
    assert plan.collectors["DC-101"].points[Role.DP].channel.scaling.value_at_20_ma == 10.0


def test_serial_links_words_and_ranges_come_out_as_written():
    plan = load(GOOD / "serial.yaml", {})
    serial, server = plan.links["sander-bus"].link, plan.links["boiler-server"].link

    assert serial.where == SerialPort(device="/dev/ttyRS485", baud=9600, parity=Parity.NONE, stop_bits=2)
    assert (server.protocol, server.where.host, server.late_answer_s) == (Protocol.RTU_OVER_TCP, "::1", 0.5)
    compound = plan.collectors["DC-201"].points[Role.DP].channel
    assert (compound.scaling.value_at_4_ma, compound.scaling.value_at_20_ma, compound.span) == (-1, 9, 10)
    reverse = plan.collectors["DC-202"].points[Role.DP].channel
    assert reverse.format == RegisterFormat(Encoding.INT32, Order.LOW_FIRST, Order.LOW_FIRST)
    assert reverse.scaling.value_at_4_ma == pytest.approx(2500 / 248.642)
    assert reverse.frozen_after_s is None
    assert plan.links["boiler-server"].sources[0].width == 2
    assert (plan.http, plan.mqtt) == (None, None)


def test_what_yaml_would_guess_at_is_read_as_written():
    plan = load(GOOD / "as_written.yaml", {})
    collector = plan.collectors["017"]

    assert (plan.name, collector.description) == ("12:30:00", "on")
    assert plan.links["no"].link.where.port == 502
    assert plan.links["no"].link.timeout_s == pytest.approx(0.1)
    assert {source.unit_id for source in plan.links["no"].sources} == {10, 255}
    assert collector.points[Role.DP].tag == "yes"
    assert collector.points[Role.FAN_RUNNING].channel == DiscreteChannel(inverted=True, stale_after_s=5.0)
    assert collector.bands[0].alarm.tag == "1e3"


def test_the_reference_example_comes_out_whole():
    plan = load(ROOT / "config" / "site.example.yaml", {})
    first, second = plan.collectors["DC-101"], plan.collectors["DC-201"]

    assert set(first.points) == set(Role)
    assert first.points[Role.CLEANING_ACTIVE].channel.bit == 4
    assert first.points[Role.AIR_FLOW].channel.scaling == LinearScaling(scale=10.0)
    amps = second.points[Role.FAN_RUNNING].channel
    assert (amps.at_least, amps.deadband, amps.scaling.scale) == (12.0, 1.0, 0.1)
    assert second.bands[0].deadband_inh2o == pytest.approx(0.02 * 2500 / 249.08891)
    assert (first.cleaning.start_inh2o, first.cleaning.stop_inh2o) == (5, 4)
    assert plan.mqtt.client_id == "cakewatch-alder-mill"
    assert plan.links["mill-gateway"].forbidden[0].last == 49


def test_a_common_header_pressure_may_serve_two_collectors(tmp_path):
    header = (
        "    header_pressure: {tag: PT-1, link: mill-gateway, unit_id: 1, reference_number: 30009, "
        "encoding: uint16, engineering: {unit: psi, scale: 0.1}}\n"
    )
    one = FIRST.replace("    bands:", header + "    bands:")
    other = one[one.index("  DC-101:") :].replace("-101", "-102")

    assert len(load_text(one + other, tmp_path).links["mill-gateway"].sources) == 4
    with pytest.raises(SiteFileError, match="PT-1"):
        load_text(one + other.replace("30009", "30010"), tmp_path)


@pytest.mark.parametrize("word", ["none", "off"])
def test_an_outlet_is_switched_off_by_a_word(tmp_path, word):
    assert load_text(f"{FIRST}http: {word}\n", tmp_path).http is None


@pytest.mark.parametrize(
    ("name", "reason"), [("absent.yaml", "no such file"), (".", "is a directory"), ("a\0b", "path")]
)
def test_a_file_that_cannot_be_read_is_one_problem(tmp_path, name, reason):
    with pytest.raises(SiteFileError, match=re.escape(reason)) as caught:
        load(tmp_path / name, {})

    assert len(caught.value.problems) == 1


def test_faults_in_one_part_do_not_hide_those_in_another(tmp_path):
    text = FIRST.replace("above: 7 inH2O", "above: 7") + FIRST[FIRST.index("  DC-101:") :].replace(
        "DC-101", "DC-102"
    )
    with pytest.raises(SiteFileError) as caught:
        load_text(text + "mqtt: {host: 127.0.0.1, password_env: NOT_SET}\n", tmp_path)
    keys = [problem.key for problem in caught.value.problems]

    assert keys == [
        "collectors.DC-101.bands.PDAH-101.above",
        "collectors.DC-102.dp.tag",
        "mqtt.password_env",
    ]


def test_problems_come_in_the_order_of_the_file(tmp_path):
    with pytest.raises(SiteFileError) as caught:
        load(ROOT / "fixtures" / "site" / "bad" / "several_at_once.yaml", {})
    lines = [problem.line for problem in caught.value.problems]

    assert lines == sorted(lines)
    assert len(lines) == 5


def many_points(collectors: int) -> str:
    text = FIRST[: FIRST.index("  DC-101:")]
    one = FIRST[FIRST.index("  DC-101:") :]
    return text + "".join(
        one.replace("101", str(number)).replace("protocol_address: 0", f"protocol_address: {number}")
        for number in range(1000, 1000 + collectors)
    )


def test_five_hundred_points_are_read_in_half_a_second(tmp_path):
    path = tmp_path / "site.yaml"
    path.write_text(many_points(500), encoding="utf-8")
    took_s = []
    for _ in range(3):
        began = time.perf_counter()
        plan = load(path, {})
        took_s.append(time.perf_counter() - began)

    assert len(plan.collectors) == 500
    assert min(took_s) < 0.5


def test_reading_a_site_file_loads_no_protocol_library():
    """The check of a file on a laptop needs neither Modbus nor MQTT, and starts at once without them."""
    program = "import sys, monitor.site.load; print(*sorted({name.partition('.')[0] for name in sys.modules}))"
    loaded = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True)

    assert not {"pymodbus", "paho", "starlette", "uvicorn", "prometheus_client", "sqlite3", "rich"} & set(
        loaded.stdout.split()
    )
