"""Answers late at random, some of them later than the site file fears: a reading may be missing, never another's.

RTU framing carries neither transaction nor address, so a late answer looks like the answer to whatever was asked
last. Each collector reads three registers that lie apart, by requests whose answers have the same shape.
"""

import time

from tests.peers.fault_device import OK, Fault, Kind, register_value
from tests.rig import sites
from tests.rig.waiting import until

READ_INPUT = 4
LATE_S = 0.45
TROUBLED_S = 4.5
AT = {"dp": 10, "header_pressure": 400, "air_flow": 700}
PAIRS = 3


def link(device):
    if device.framing == "tcp":
        return sites.link(device.port)
    return sites.link(device.port, "modbus-rtu-over-tcp", late_answer="300 ms")


def three_registers(number, link):
    header = sites.point(f"PT-{number}", link, 1, AT["header_pressure"]) | {"engineering": {"unit": "psi"}}
    flow = sites.point(f"FT-{number}", link, 1, AT["air_flow"]) | {"engineering": {"unit": "cfm"}}
    return sites.collector(number, link, 1, AT["dp"], header_pressure=header, air_flow=flow)


def test_a_late_answer_is_never_taken_for_another_registers(rig):
    framings = ["tcp", "rtu"] * PAIRS
    devices = [rig.field.device(each, shared_line=each == "rtu", seed=seed) for seed, each in enumerate(framings)]
    links = {f"link-{i}": link(device) for i, device in enumerate(devices)}
    names = [f"DC-{101 + i}" for i in range(len(devices))]
    rig.site(links, {name: three_registers(101 + i, f"link-{i}") for i, name in enumerate(names)})
    # What is owed would be feared for a minute after the trouble.
    watch = rig.daemon(bent=True, RIG_FORGET_S="2.5")
    for name in names:
        rig.listener.await_good(name, 8)
    for device in devices:
        rig.field.suffer(device, Fault(Kind.LATE_AT_RANDOM, LATE_S))
    time.sleep(TROUBLED_S)
    for device in devices:
        rig.field.suffer(device, OK)
    for name in names:
        until(lambda n=name: qualities(rig.listener.last(f"collectors/{n}/state")) == {"good"}, 20, name)
    told = [one.json["points"] for one in rig.listener.heard if one.topic.endswith("/state")]
    seen = {role: {points[role]["raw"] for points in told} for role in AT}
    assert seen == {role: {None, register_value(1, READ_INPUT, at)} for role, at in AT.items()}
    for name in links:
        late = watch.metric("cakewatch_link_failures_total", link=name, reason="no_answer")
        assert late >= 3, f"hardly anything was late on {name}"


def qualities(state):
    return {point["quality"] for point in state["points"].values()}
