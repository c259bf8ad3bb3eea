"""Risks of alarm management: where each warning begins and where it does not."""

from pathlib import Path

import pytest

from monitor.site.load import load
from monitor.site.problems import SiteFileError

FIRST = (Path(__file__).parents[2] / "fixtures" / "site" / "good" / "first.yaml").read_text(encoding="utf-8")
BAND = "        priority: high\n"
HOST = "    host: 127.0.0.1\n"
FAN = "    fan_running: {tag: YS-101, link: mill-gateway, unit_id: 1, reference_number: 10001}\n"
CLEANING = "    cleaning_active: {tag: YS-102, link: mill-gateway, unit_id: 1, reference_number: 10002}\n"
ANNA = "commands: {people: {anna: {may: all}}}\n"


def warnings(tmp_path: Path, text: str) -> str:
    path = tmp_path / "site.yaml"
    path.write_text(text, encoding="utf-8")
    return "\n".join(load(path, {}).warnings)


@pytest.mark.parametrize(
    ("suppress", "is_risky"),
    [
        ("{after_fan_start: 15 min}", False),
        ("{after_fan_start: 901 s}", True),
        ("{cleaning: yes, longest_cleaning: 1 h}", False),
        ("{cleaning: yes, longest_cleaning: 3601 s}", True),
        ("{cleaning: no, longest_cleaning: 3601 s}", False),
    ],
)
def test_an_alarm_is_held_back_for_a_while_only(tmp_path, suppress, is_risky):
    found = warnings(tmp_path, FIRST.replace(BAND, f"{BAND}        suppress: {suppress}\n{FAN}{CLEANING}"))

    assert ("hold" in found) is is_risky


@pytest.mark.parametrize(
    ("lost", "bad", "is_risky"), [("5 s", "5 s", True), ("5 s", "6 s", False), ("6 s", "5 s", True)]
)
def test_a_lost_link_is_told_before_its_transmitters(tmp_path, lost, bad, is_risky):
    text = FIRST.replace(HOST, f"{HOST}    lost: {{on_delay: {lost}}}\n")
    found = warnings(tmp_path, f"{text}    bad_signal: {{on_delay: {bad}}}\n")

    assert ("transmitters raise their own alarms first" in found) is is_risky


def test_a_link_that_carries_no_dp_may_be_told_late(tmp_path):
    spare = "  spare: {protocol: modbus-tcp, host: 192.0.2.9, lost: {on_delay: 1 min}}\n"
    text = FIRST.replace("links:\n", f"links:\n{spare}") + FAN.replace("mill-gateway", "spare")

    assert warnings(tmp_path, text) == ""


def test_three_transmitters_that_come_first_are_all_named(tmp_path):
    one = FIRST[FIRST.index("  DC-101:") :]
    more = "".join(one.replace("101", str(n)).replace("address: 0", f"address: {n}") for n in (102, 103))
    text = FIRST.replace(HOST, f"{HOST}    lost: {{on_delay: 10 s}}\n") + more

    assert "PDT-101-BAD, PDT-102-BAD, PDT-103-BAD (10 s)" in warnings(tmp_path, text)


@pytest.mark.parametrize(("longest", "is_risky"), [("1 d", False), ("25 h", True)])
def test_an_alarm_is_shelved_for_a_day_at_most(tmp_path, longest, is_risky):
    found = warnings(tmp_path, f"{FIRST}commands: {{longest_shelving: {longest}}}\n")

    assert ("nobody remembers why" in found) is is_risky


@pytest.mark.parametrize(
    ("rights", "is_risky"),
    [
        ("machine: none", True),
        ("machine: [clear]", True),
        ("machine: [acknowledge]", False),
        ("machine: none, people: {anna: {may: [clear]}}", True),
        ("machine: none, people: {anna: {may: [acknowledge]}}", False),
    ],
)
def test_somebody_must_be_able_to_acknowledge(tmp_path, rights, is_risky):
    found = warnings(tmp_path, f"{FIRST}commands: {{{rights}}}\n")

    assert ("no alarm is ever acknowledged" in found) is is_risky


@pytest.mark.parametrize(
    ("broker", "is_risky"),
    [
        ("host: 127.0.0.1", False),
        ("host: 192.0.2.20", True),
        ("host: 192.0.2.20, tls: {}", True),
        ("host: 192.0.2.20, tls: {certificate_file: site.yaml, key_file: site.yaml}", False),
        ("host: 192.0.2.20, username: mill", False),
    ],
)
def test_a_broker_that_lets_anybody_in_lets_anybody_command(tmp_path, broker, is_risky):
    found = warnings(tmp_path, f"{FIRST}{ANNA}mqtt: {{{broker}, commands: yes}}\n")

    assert ("in anybody's name" in found) is is_risky


@pytest.mark.parametrize("commands", ["", ", commands: no"])
def test_a_broker_that_takes_no_commands_is_no_risk(tmp_path, commands):
    assert warnings(tmp_path, f"{FIRST}{ANNA}mqtt: {{host: 192.0.2.20, version: 3.1.1{commands}}}\n") == ""


@pytest.mark.parametrize(("lost", "least", "is_risky"), [("low", "urgent", True), ("urgent", "urgent", False)])
def test_a_horn_calls_for_some_alarm_be_it_that_of_a_link(tmp_path, lost, least, is_risky):
    text = FIRST.replace(HOST, f"{HOST}    lost: {{priority: {lost}}}\n")
    outputs = "horn: {reference_number: 00001}, heartbeat: {reference_number: 00002}"
    found = warnings(
        tmp_path, f"{text}annunciator: {{link: mill-gateway, unit_id: 9, least_priority: {least}, {outputs}}}\n"
    )

    assert ("it will never call" in found) is is_risky


@pytest.mark.parametrize(
    ("unit_id", "is_right"), [(0, False), (1, True), (247, True), (248, False), (254, False), (255, True)]
)
def test_one_device_is_written_and_never_all_of_them(tmp_path, unit_id, is_right):
    text = f"{FIRST}annunciator: {{link: mill-gateway, unit_id: {unit_id}, horn: {{reference_number: 00001}}}}\n"
    if is_right:
        assert "no heartbeat" in warnings(tmp_path, text)
        return
    with pytest.raises(SiteFileError, match=r"annunciator\.unit_id: must be 1 to 247, or 255"):
        warnings(tmp_path, text)


def test_two_ports_of_one_address_are_two_devices(tmp_path):
    text = FIRST.replace("table: input register", "table: holding register")
    text = text.replace(HOST, f"{HOST}  horns: {{protocol: modbus-tcp, host: 127.0.0.1, port: 1502}}\n")
    horn = "annunciator: {link: horns, unit_id: 1, horn: {reference_number: 40001}}\n"

    assert "annunciator" in warnings(tmp_path, text + horn)
