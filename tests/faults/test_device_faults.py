"""Every fault of a device, as the subscriber sees it: bad with the reason, no value, an alarm; then good again.

All faults of one framing happen at the same time, each on a link of its own, under one daemon: the story is told
once, and each test holds one device's part of it against the law. Every register tells its own address, and each
collector reads two that lie apart, so an answer taken for another register's would show.
"""

from dataclasses import dataclass

import pytest

from tests.peers.fault_device import OK, Fault, Kind, register_value
from tests.rig import sites
from tests.rig.rig import Rig

FAULTY_S = 2.0
GOOD_AGAIN_S = 12.0
READ_INPUT = 4
DP_AT, HEADER_AT = 10, 400


@dataclass(frozen=True)
class Case:
    """One device: what befalls it, and what the subscriber must be told about it."""

    name: str
    reason: str
    fault: Fault = OK
    refuses: bool = False
    closes: bool = False
    loses_link: bool = False


def _exception(code: int) -> Case:
    reason = "no_answer" if code == 0x0B else "exception_code"
    return Case(f"exception code {code:#04x}", reason, Fault(Kind.EXCEPTION, code=code))


def _both(wrong: str, noise: str, half: str) -> list[Case]:
    """What may befall either framing; the arguments say what misfits are taken for."""
    return [
        Case("refuses connections", "no_connection", refuses=True, loses_link=True),
        Case("hangs", "no_answer", Fault(Kind.HANG)),
        Case("resets in the middle of a reply", "no_connection", Fault(Kind.RESET), loses_link=True),
        Case("drops the connection", "no_connection", Fault(Kind.DROP), loses_link=True),
        Case("answers late", "no_answer", Fault(Kind.LATE, 0.35)),
        Case("answers later than any patience", "no_answer", Fault(Kind.LATE, 0.9)),
        Case("sends half a reply", half, Fault(Kind.SHORT)),
        Case("sends a register too few", wrong, Fault(Kind.FEWER)),
        Case("sends a register too many", wrong, Fault(Kind.MORE)),
        Case("sends no register", wrong, Fault(Kind.ZERO)),
        Case("sends an odd byte", wrong, Fault(Kind.ODD)),
        Case("sends garbage", noise, Fault(Kind.GARBAGE)),
        Case("sends another unit's answer", noise, Fault(Kind.OTHER_UNIT)),
        Case("sends another function's answer", wrong, Fault(Kind.OTHER_FUNCTION)),
        *(_exception(code) for code in (2, 4, 6, 0x0B)),
        Case("accepts and closes", "no_connection", closes=True, loses_link=True),
    ]


#: On a serial line the answer is still waited for after what fits nothing; the visit after a misfit asks for a
#: proof first, which may find either.
UNFIT = "malformed_reply or no_answer"
FRAMINGS = {
    "tcp": (
        "modbus-tcp",
        [
            *_both("malformed_reply", "malformed_reply", "no_answer"),
            Case("sends another transaction's answer", "no_answer", Fault(Kind.WRONG_TRANSACTION)),
        ],
    ),
    "rtu": (
        "modbus-rtu-over-tcp",
        [*_both(UNFIT, UNFIT, UNFIT), Case("sends a wrong checksum", UNFIT, Fault(Kind.BAD_CRC))],
    ),
}


class Story:
    """What happened to all devices of one framing, and what was heard of it."""

    def __init__(self, rig: Rig, framing: str) -> None:
        protocol, self.cases = FRAMINGS[framing]
        self.rig = rig
        self.devices = [rig.field.device(framing, shared_line=framing == "rtu") for _ in self.cases]
        self.names = [f"DC-{101 + i}" for i in range(len(self.cases))]
        links = {
            f"link-{i}": sites.link(device.port, protocol, scan_period="200 ms")
            for i, device in enumerate(self.devices)
        }
        collectors = {name: self._collector(i) for i, name in enumerate(self.names)}
        rig.site(links, collectors)
        self.watch = rig.daemon()
        self.when_bad: dict[str, dict] = {}
        self.when_good: dict[str, dict] = {}

    @staticmethod
    def _collector(i: int) -> sites.Block:
        header = sites.point(f"PT-{101 + i}", f"link-{i}", 1, HEADER_AT + i) | {
            "engineering": {"unit": "psi", "scale": 0.01}
        }
        return sites.collector(101 + i, f"link-{i}", 1, DP_AT + i, header_pressure=header)

    def told(self) -> None:
        self._all_good(8.0)
        self._break()
        for name in self.names:
            self.when_bad[name] = self.rig.listener.await_bad(name, FAULTY_S + 6.0)
            self.rig.listener.await_event(f"PDT-{name[3:]}-BAD", "raised", 8.0)
        self._mend()
        self._all_good(GOOD_AGAIN_S)
        for name in self.names:
            self.rig.listener.await_event(f"PDT-{name[3:]}-BAD", "returned", 8.0)

    def _break(self) -> None:
        field = self.rig.field
        for device, case in zip(self.devices, self.cases, strict=True):
            field.suffer(device, case.fault)
            if case.refuses:
                field.refuse(device)
            if case.closes:
                device.accept_and_close = True
                field.hang_up(device)

    def _mend(self) -> None:
        field = self.rig.field
        for device, case in zip(self.devices, self.cases, strict=True):
            field.suffer(device, OK)
            device.accept_and_close = False
            if case.refuses:
                field.listen(device)

    def _all_good(self, within_s: float) -> None:
        for name in self.names:
            self.when_good[name] = self.rig.listener.await_good(name, within_s)


@pytest.fixture(scope="module", params=sorted(FRAMINGS))
def story(request, tmp_path_factory):
    """All faults of one framing, broken and mended once."""
    with Rig(tmp_path_factory.mktemp(f"devices-{request.param}")) as rig:
        told = Story(rig, request.param)
        told.told()
        yield told


def faults_of(story):
    return list(zip(story.names, story.cases, strict=True))


def test_every_fault_is_told_as_bad_with_its_reason_and_no_value(story):
    for name, case in faults_of(story):
        dp = story.when_bad[name]
        assert (dp["quality"], dp["value"], dp["damped"]) == ("bad", None, None), case.name
        assert dp["reason"] in case.reason, f"{case.name}: {dp}"
        assert dp["detail"], case.name


def test_every_fault_raises_the_alarm_for_a_bad_signal_which_says_why(story):
    for name, case in faults_of(story):
        (raised,) = story.rig.listener.events(tag=f"PDT-{name[3:]}-BAD", happened="raised")
        assert raised["facts"]["reason"] in case.reason, f"{case.name}: {raised}"
        assert raised["value"] is None, case.name


def test_every_device_is_read_again_by_itself_once_its_fault_is_gone(story):
    for i, (name, case) in enumerate(faults_of(story)):
        assert story.when_good[name]["raw"] == register_value(1, READ_INPUT, DP_AT + i), case.name
        (returned,) = story.rig.listener.events(tag=f"PDT-{name[3:]}-BAD", happened="returned")
        assert returned["cause"] == "process", case.name


def test_a_link_is_lost_and_restored_where_the_connection_was_and_only_there(story):
    for i, case in enumerate(story.cases):
        told = [one["happened"] for one in story.rig.listener.events(link=f"link-{i}")]
        assert told == (["restored", "lost", "restored"] if case.loses_link else ["restored"]), case.name


def test_no_subscriber_ever_saw_a_value_of_another_register(story):
    for i, (name, case) in enumerate(faults_of(story)):
        dp, header = (register_value(1, READ_INPUT, at + i) for at in (DP_AT, HEADER_AT))
        states = story.rig.listener.of(f"collectors/{name}/state")
        assert len(states) > 5
        for state in states:
            points = state.json["points"]
            assert points["dp"]["raw"] in (None, dp), f"{case.name}: {points}"
            assert points["dp"]["value"] in (None, pytest.approx(dp * 0.001, rel=1e-5)), f"{case.name}: {points}"
            assert points["header_pressure"]["raw"] in (None, header), f"{case.name}: {points}"


def test_a_bad_reading_carries_no_value_in_any_message(story):
    for state in (one.json for one in story.rig.listener.heard if one.topic.endswith("/state")):
        for point in state["points"].values():
            assert (point["value"] is None) == (point["quality"] == "bad"), state


def test_every_message_is_as_the_schema_says_and_the_books_agree(story):
    story.rig.listener.check()
    story.rig.ledger().check()


def test_the_daemon_is_well_whatever_the_devices_do(story):
    code, checks = story.watch.health()
    assert (code, checks["ok"]) == (200, True)
    assert "Traceback" not in story.watch.log()
