"""What the core really tells on a day full of holds, as the night shift reads it."""

from dataclasses import replace

from monitor.judge.settings import Side
from monitor.scan.settings import LinkAlarmPlan, PlantPlan
from monitor.scan.turn import Tick, begin, turn
from monitor.tell.wording import sentence
from monitor.tell.wording_answers import answer_sentence
from monitor.words import Command, CommandKind, Door, LinkChange
from tests.scan.plans import LINK, alarm, at, band, dp_scan, plan


class Day:
    """One collector behind one link, and every sentence that was told, the answers among them."""

    def __init__(self, **timing):
        high = band("PDAH-101", Side.ABOVE, 7.0, **timing)
        high = replace(high, alarm=replace(high.alarm, causes=("PDAHH-101", "mill-LOST")))
        one = plan(bands=(high, band("PDAHH-101", Side.ABOVE, 9.0)))
        link = LinkAlarmPlan(name=LINK, alarm=alarm("mill-LOST"), units=frozenset({1}))
        self.plant = PlantPlan(collectors={one.name: one}, links={LINK: link})
        self.state = begin(self.plant, at(0))
        self.told: list[str] = []
        self._count = 0
        self.take(LinkChange(link=LINK, connected=True, at=at(0), detail="connected"), 0)
        self.told.clear()

    def take(self, what, second):
        outcome = turn(self.plant, self.state, what, at(second))
        self.state = outcome.onto(self.state)
        self.told += [sentence(event) for event in outcome.events]
        self.told += [
            answer_sentence(what, answer.code, answer.state, self.plant.commands) for answer in outcome.answers
        ]

    def read(self, dp, first, last):
        for second in range(first, last + 1):
            self.take(dp_scan(second, dp), second)

    def ask(self, kind, second, tag="PDAH-101", **changes):
        self._count += 1
        self.take(
            Command(command_id=str(self._count), kind=kind, by="anna", door=Door.COMMAND_LINE, tag=tag, **changes),
            second,
        )


def test_a_shelf_is_told_from_its_beginning_to_the_alarm_that_is_announced_again():
    day = Day()
    day.read(7.5, 1, 4)
    day.told.clear()
    day.ask(CommandKind.SHELVE, 4.5, for_s=6.0, reason="filter change")
    day.read(7.5, 5, 12)
    shelved, answered, over, again = day.told

    assert shelved.startswith(
        "DC-101: PDAH-101 shelved by anna until 2023-11-14 22:13:30 UTC, because: filter change "
        "(it was active, not acknowledged); "
    )
    assert answered.startswith("PDAH-101 shelved by anna for 6 s, because: filter change; ")
    assert over.startswith(
        "DC-101: the shelving of PDAH-101 has come to its end (shelved by anna, because: filter change); "
    )
    assert "alarm raised again, priority high, first raised 2023-11-14 22:13:23 UTC; check first: " in again


def test_a_refused_clearing_is_told_to_the_sender_and_to_the_journal():
    day = Day()
    day.read(7.5, 1, 4)
    day.ask(CommandKind.CLEAR, 4.5)

    journaled, answered = day.told[-2:]

    assert journaled == (
        "command refused: anna asked on the command line to clear PDAH-101, but its condition is still there"
    )
    assert answered == (
        "PDAH-101 cannot be cleared while its condition is still there: it is active, not acknowledged; "
        "acknowledge it, or shelve it with an end and a reason"
    )


def test_a_high_is_told_to_be_held_back_under_its_high_high():
    day = Day(on_delay_s=0.0)
    day.read(7.5, 1, 1)
    day.read(9.5, 2, 5)

    assert day.told[-1] == (
        "DC-101: PDAH-101 held back under PDAHH-101, which explains it (it was active, not acknowledged): "
        "it warns nobody, and is still watched and recorded"
    )


def test_a_lost_link_is_told_once_and_what_it_holds_back_is_named():
    day = Day()
    day.read(7.5, 1, 4)
    day.told.clear()
    day.take(LinkChange(link=LINK, connected=False, at=at(5), detail="gone"), 5)
    for second in range(5, 9):
        day.take(Tick(), second)
    lost, raised, *held = day.told

    assert lost == "link mill-gateway lost: its collectors cannot be seen (gone)"
    assert raised.startswith(
        "link mill-gateway: its collectors cannot be seen (not connected): alarm mill-LOST raised, priority high, "
    )
    assert raised.endswith("; check first: power of the gateway, its cable, its address")
    assert [text for text in held if "PDAH-101 held back under mill-LOST" in text]


def test_out_of_service_test_and_silence_read_as_what_they_are():
    day = Day()
    day.read(4.0, 1, 2)
    day.ask(CommandKind.OUT_OF_SERVICE, 2.1, reason="calibration")
    day.ask(CommandKind.RETURN_TO_SERVICE, 2.2)
    day.ask(CommandKind.TEST, 2.3)
    day.ask(CommandKind.SILENCE, 2.4, tag="")
    out, _, back, _, tested, _, silenced, _ = day.told

    assert out.startswith("DC-101: PDAH-101 taken out of service by anna, because: calibration; ")
    assert back.startswith(
        "DC-101: PDAH-101 returned to service by anna (taken out by anna, because: calibration); "
    )
    assert tested.startswith("DC-101: test of PDAH-101 by anna: this is no alarm")
    assert silenced.startswith("horn silenced by anna; ")
