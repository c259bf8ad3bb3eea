"""Lines with more than one unit, and lines that are pulled: what one fault costs the others."""

from datetime import datetime
from itertools import pairwise

from tests.peers.fault_device import OK, Fault, Kind
from tests.peers.serial_line import SerialLine
from tests.rig import sites

PERIOD_S, TIMEOUT_S = 0.1, 0.5
#: For a machine with other things to do.
SLACK_S = 0.35


def two_units(rig, framing, protocol):
    """DC-101 on unit 1 and DC-102 on unit 2, behind one link."""
    device = rig.field.device(framing, shared_line=framing == "rtu")
    timing = {"scan_period": "100 ms", "timeout": "500 ms"}
    rig.site(
        {"gateway": sites.link(device.port, protocol, **timing)},
        {"DC-101": sites.collector(101, "gateway", 1, 10), "DC-102": sites.collector(102, "gateway", 2, 10)},
    )
    return device


def longest_gap_s(moments):
    return max(later - earlier for earlier, later in pairwise(moments))


def silence_of_unit_1(rig, framing, protocol):
    """Have unit 1 silent for some seconds; the moments at which unit 2 was asked, and its states were heard."""
    device = two_units(rig, framing, protocol)
    rig.daemon()
    rig.listener.await_good("DC-101", 8)
    rig.listener.await_good("DC-102", 8)
    began, heard_before = len(device.requests), len(rig.listener.heard)
    device.units[1] = Fault(Kind.HANG)
    rig.listener.await_event("PDT-101-BAD", "raised", 8)
    rig.listener.await_dp("DC-101", lambda dp: dp["reason"] == "no_answer", 8)
    device.units[1] = OK
    rig.listener.await_event("PDT-101-BAD", "returned", 15)
    asked = [one.at_s for one in rig.field.requests(device)[began:] if one.unit_id == 2]
    states = [one.json for one in rig.listener.of("collectors/DC-102/state", heard_before)]
    return asked, states


def check_silence(rig, asked, states):
    assert longest_gap_s(asked) <= PERIOD_S + TIMEOUT_S + SLACK_S
    assert len(states) > 5
    moments = [datetime.fromisoformat(state["points"]["dp"]["at"]).timestamp() for state in states]
    assert max(late - early for early, late in pairwise(moments)) <= 0.2 + TIMEOUT_S + SLACK_S, (
        "as the subscriber saw it"
    )
    assert {state["points"]["dp"]["quality"] for state in states} == {"good"}
    assert rig.listener.events(tag="PDT-102-BAD") == []
    assert [one["happened"] for one in rig.listener.events(link="gateway")] == ["restored"]


def test_a_silent_unit_costs_the_other_one_timeout_at_most_on_modbus_tcp(rig):
    check_silence(rig, *silence_of_unit_1(rig, "tcp", "modbus-tcp"))


def test_a_silent_unit_costs_the_other_one_timeout_at_most_on_rtu_framing(rig):
    check_silence(rig, *silence_of_unit_1(rig, "rtu", "modbus-rtu-over-tcp"))


def test_a_serial_line_that_is_pulled_and_plugged_in_again_is_read_again(rig):
    line = SerialLine(rig.path)
    try:
        rig.site(
            {"bus": {
                "protocol": "modbus-rtu", "serial_port": str(line.near), "timeout": "200 ms",
                "scan_period": "200 ms", "late_answer": "300 ms",
            }},
            {"DC-101": sites.collector(101, "bus", 1, 100)},
        )  # fmt: skip
        rig.daemon()
        good = rig.listener.await_good("DC-101", 8)
        assert good["raw"] == 11 * 100 + 5, "the libmodbus device's input register 100"
        line.pull()
        bad = rig.listener.await_bad("DC-101", 8)
        assert (bad["value"], bad["reason"]) == (None, "no_connection")
        lost = rig.listener.await_event(None, "lost", 8, link="bus")
        rig.listener.await_event("PDT-101-BAD", "raised", 8)
        line.plug_in()
        assert rig.listener.await_good("DC-101", 12)["raw"] == 11 * 100 + 5
        rig.listener.await_event("PDT-101-BAD", "returned", 8)
        assert [one["happened"] for one in rig.listener.events(link="bus")] == ["restored", "lost", "restored"]
        assert lost["facts"]["detail"]
        line.deafen()
        assert rig.listener.await_bad("DC-101", 8)["reason"] == "no_answer"
        line.listen()
        rig.listener.await_good("DC-101", 20)
    finally:
        line.close()
    rig.listener.check()
    rig.ledger().check()
