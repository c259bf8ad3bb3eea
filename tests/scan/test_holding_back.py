"""What holds alarms back: fan, start-up, cleaning; and one cause for many consequences."""

from dataclasses import replace

from monitor.daemon import snapshot
from monitor.scan import judging
from monitor.scan.settings import Suppression
from monitor.scan.turn import Tick, begin
from monitor.words import (
    AlarmState,
    Block,
    BlockRead,
    CommandKind,
    Failure,
    PointId,
    Reason,
    Role,
    Slot,
    Table,
    UnitScan,
)
from tests.scan.asking import Shift, chained, link_alarm, with_cleaning
from tests.scan.plans import LINK, at, dp_scan, plan

SUPPRESSED = AlarmState.SUPPRESSED_BY_DESIGN


def fanned(after_fan_start_s=0.0):
    own = plan(with_fan=True)
    held = Suppression(fan_stopped=True, after_fan_start_s=after_fan_start_s)
    return replace(own, suppression={"PDAL-101": held, "PDAH-101": held})


def test_a_low_dp_with_the_fan_stopped_is_no_alarm_and_is_still_recorded():
    shift = Shift(fanned()).dp(range(3), 4.0, fan=1).dp(range(3, 60), 0.0, fan=0)

    assert shift.story("PDAL-101") == [(3, "suppressed")]
    assert shift.state_of("PDAL-101") is SUPPRESSED
    assert shift.state.collectors["DC-101"].readings[Role.DP].value == 0.0


def test_after_the_fan_has_started_the_on_delay_begins_anew():
    shift = Shift(fanned()).dp(range(3), 4.0, fan=1).dp(range(3, 60), 0.0, fan=0)
    shift.dp(range(60, 64), 0.0, fan=1)

    assert shift.story("PDAL-101") == [(3, "suppressed"), (60, "released"), (62, "raised")]


def test_the_hold_off_after_the_start_lasts_as_long_as_it_says():
    shift = Shift(fanned(after_fan_start_s=30.0)).dp(range(3), 0.0, fan=0)
    shift.dp(range(3, 100), 0.0, fan=1)

    assert shift.story("PDAL-101") == [(0, "suppressed"), (33, "released"), (35, "raised")]


def test_a_fan_that_was_running_when_first_seen_has_no_hold_off():
    shift = Shift(fanned(after_fan_start_s=30.0)).dp(range(5), 0.0, fan=1)

    assert shift.story("PDAL-101") == [(2, "raised")]


def test_a_band_that_does_not_say_so_is_not_held_back():
    shift = Shift(replace(fanned(), suppression={})).dp(range(5), 0.0, fan=0)

    assert shift.story("PDAL-101") == [(2, "raised")]


def test_a_fan_of_which_nothing_is_known_any_more_holds_nothing_back():
    """Its point is believed for its five seconds, then the low DP is an alarm again."""
    shift = Shift(fanned()).dp(range(3), 0.0, fan=0)
    shift.dp(range(3, 30), 0.0, fan=Reason.NO_ANSWER)

    (_, suppressed), (released_s, released), (raised_s, raised) = shift.story("PDAL-101")
    assert (suppressed, released, raised) == ("suppressed", "released", "raised")
    assert 7.0 <= released_s <= 8.0
    assert raised_s == released_s + 2


def test_an_alarm_that_stood_when_the_fan_stopped_is_not_lost():
    shift = Shift(fanned()).dp(range(4), 7.5, fan=1).dp(range(4, 60), 0.0, fan=0)
    assert shift.state_of("PDAH-101") is SUPPRESSED
    shift.dp(range(60, 62), 4.0, fan=1)

    assert shift.story("PDAH-101") == [(2, "raised"), (4, "suppressed"), (60, "released"), (60, "latched")]


def test_an_alarm_that_waits_for_an_answer_stays_in_sight_when_the_fan_stops():
    shift = Shift(fanned()).dp(range(4), 7.5, fan=1).dp(range(4, 8), 4.0, fan=1)
    shift.dp(range(8, 12), 0.0, fan=0)

    assert shift.state_of("PDAH-101") is AlarmState.LATCHED_UNACKNOWLEDGED
    assert shift.ask(12, CommandKind.ACKNOWLEDGE).state is AlarmState.LATCHED_ACKNOWLEDGED
    assert shift.ask(13, CommandKind.CLEAR).state is SUPPRESSED


def cleaning_scan(second, dp, cleans):
    scan = dp_scan(second, dp)
    block = Block(1, Table.DISCRETE_INPUT, 1, 1, (Slot(PointId("DC-101", Role.CLEANING_ACTIVE), 0, 1),))
    return UnitScan(LINK, 1, (BlockRead(block, at(second), words=(cleans,)), *scan.reads))


def test_a_band_that_says_so_is_held_back_during_a_called_for_cleaning_and_not_for_ever():
    own = with_cleaning(plan())
    held = Suppression(cleaning=True, longest_cleaning_s=20.0)
    shift = Shift(replace(own, suppression={"PDAH-101": held}))
    for second in range(40):
        shift.take(second, cleaning_scan(second, 7.5, int(second >= 1)))
        shift.take(second, Tick())

    assert shift.story("PDAH-101") == [(1, "suppressed"), (21, "released"), (23, "raised")]


def test_a_restart_keeps_what_the_fan_holds_back_without_a_word():
    shift = Shift(fanned()).dp(range(3), 4.0, fan=1).dp(range(3, 10), 0.0, fan=0)
    one = shift.state.collectors["DC-101"]
    shift.said.clear()
    again = judging.begin(
        shift.plan.collectors["DC-101"],
        at(10),
        snapshot.read_alarms(snapshot.write_alarms(one.watch.alarms)),
        known=snapshot.read_context(snapshot.write_context(one.context)),
    )
    shift.state = begin(shift.plan, at(10), {"DC-101": again})
    shift.ticks([10, 11]).dp(range(12, 30), 0.0, fan=0)

    assert shift.said == []
    assert shift.state_of("PDAL-101") is SUPPRESSED


# ------------------------------------------------------------------ causes and consequences


def test_one_dead_link_is_one_alarm_not_forty():
    shift = Shift(*(chained(str(number)) for number in range(101, 141)), links=[link_alarm()])
    shift.link(0, True)
    for number in range(101, 141):
        shift.dp([0], 4.0, f"DC-{number}")
    shift.link(1, False)
    for second in range(1, 60):
        for number in range(101, 141):
            shift.take(second, dp_scan(second, Reason.NO_CONNECTION, f"DC-{number}"))
        shift.take(second, Tick())

    assert [(second, tag) for second, tag, happened in shift.said if happened == "raised"] == [
        (3, "mill-gateway-LOST")
    ]
    assert shift.state_of("PDT-140-BAD") is SUPPRESSED
    assert shift.alarm("PDT-140-BAD").hold.under == "mill-gateway-LOST"
    assert shift.alarm("PDAH-140").hold.under == "PDT-140-BAD"


def test_what_is_still_wrong_when_the_link_is_back_is_announced_then():
    shift = Shift(chained("101"), chained("102"), links=[link_alarm()]).link(0, True)
    shift.dp([0], 4.0).dp([0], 4.0, "DC-102").link(1, False)
    for second in range(1, 20):
        shift.dp([second], Reason.NO_CONNECTION).dp([second], Reason.NO_CONNECTION, "DC-102")
    shift.link(20, True)
    for second in range(20, 30):
        shift.dp([second], 4.0).dp([second], Reason.NO_ANSWER, "DC-102")

    assert shift.story("PDT-101-BAD") == [(3, "suppressed"), (20, "released")]
    # It has its own on-delay of three seconds to answer.
    assert shift.story("PDT-102-BAD")[-2:] == [(20, "released"), (23, "raised")]


def unit_scan(second, unit, answers):
    block = Block(unit, Table.INPUT_REGISTER, 0, 1, ())
    read = BlockRead(
        block, at(second), (0,) if answers else (), None if answers else Failure(Reason.NO_ANSWER, "x")
    )
    return UnitScan(LINK, unit, (read,))


def test_a_gateway_whose_far_side_is_dead_is_a_lost_link_though_it_is_connected():
    shift = Shift(links=[link_alarm(units=(1, 2))]).link(0, True)
    for second in range(1, 6):
        shift.take(second, unit_scan(second, 1, answers=False))
        shift.take(second, unit_scan(second, 2, answers=second < 3))
        shift.take(second, Tick())
    assert shift.story("mill-gateway-LOST") == [(5, "raised")]

    shift.take(6, unit_scan(6, 2, answers=True))
    assert shift.story("mill-gateway-LOST")[-1][1] == "returned"


def test_one_silent_unit_of_one_is_the_transmitters_own_trouble():
    shift = Shift(links=[link_alarm(units=(1,))]).link(0, True)
    for second in range(1, 30):
        shift.take(second, unit_scan(second, 1, answers=False))
        shift.take(second, Tick())

    assert shift.story("mill-gateway-LOST") == []


def test_high_high_takes_the_place_of_high_and_gives_it_back():
    shift = Shift(chained()).dp(range(5), 7.5).dp(range(5, 10), 9.5).dp(range(10, 15), 7.5)

    assert shift.story("PDAHH-101") == [(7, "raised"), (11, "latched")]
    assert shift.story("PDAH-101") == [(2, "raised"), (7, "suppressed"), (11, "released")]
    assert shift.state_of("PDAH-101") is AlarmState.UNACKNOWLEDGED


def test_a_jump_beyond_high_high_is_one_alarm():
    shift = Shift(chained()).dp(range(10), 9.5)

    assert [tag for _, tag, happened in shift.said if happened == "raised"] == ["PDAHH-101"]


def test_an_out_of_service_cause_holds_nothing_back():
    shift = Shift(chained()).dp(range(2), 4.0)
    shift.ask(2, CommandKind.OUT_OF_SERVICE, tag="PDAHH-101", reason="set point under review")
    shift.dp(range(3, 8), 9.5)

    assert shift.story("PDAH-101") == [(5, "raised")]


def test_a_shelved_cause_still_explains_its_consequences():
    shift = Shift(chained()).dp(range(5), 9.5)
    shift.ask(5, CommandKind.SHELVE, tag="PDAHH-101", reason="known", for_s=60.0)
    shift.dp(range(6, 20), 9.5)

    assert shift.story("PDAH-101") == [(2, "suppressed")]


def test_a_watch_that_stood_still_while_a_link_died_announces_the_link_alone():
    """Both delays ran out unnoticed: the cause comes first all the same."""
    shift = Shift(chained("101"), chained("102"), links=[link_alarm()]).link(0, True)
    shift.dp([0], 4.0).dp([0], 4.0, "DC-102").link(1, False)
    shift.take(1, dp_scan(1, Reason.NO_CONNECTION))
    shift.take(1, dp_scan(1, Reason.NO_CONNECTION, "DC-102"))
    shift.ticks([30, 31])

    assert [tag for _, tag, happened in shift.said if happened == "raised"] == ["mill-gateway-LOST"]
