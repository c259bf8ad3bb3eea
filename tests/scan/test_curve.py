"""The curve in the turns of the core: read as by hand, warned of as any alarm, and told once."""

from dataclasses import replace

from monitor.condition.channel import AnalogChannel, DiscreteChannel
from monitor.condition.registers import Encoding, RegisterFormat
from monitor.condition.scaling import LoopScaling
from monitor.interpret import curve
from monitor.interpret.digest import Sample
from monitor.interpret.settings import CleaningSettings, CurveSettings, FilterSettings
from monitor.scan.settings import PointPlan, Suppression
from monitor.troubles import Clue, Sign
from monitor.words import AlarmState, Cause, CommandKind, EventKind, HoldReason, Quality, Reason, Role
from tests.rig.sawtooth import Sawtooth
from tests.scan.asking import Shift
from tests.scan.plans import UTC, alarm, at, dp_scan, plan, shown_scan

HEADER = AnalogChannel(
    format=RegisterFormat(Encoding.UINT16), scaling=LoopScaling(0, 1000, 0.0, 100.0), stale_after_s=5.0, span=100.0
)
READ = CurveSettings(
    cleaning=CleaningSettings(start_inh2o=5.0, stop_inh2o=4.0, rows=8),
    filters=FilterSettings(change_out_inh2o=6.0),
)
STEP, STILL = "PDT-101-STEP", "PDT-101-STILL"
HEADER_TAG = "PDT-101-HEADER"
CLUE = Clue("step_down", -0.9, 5.0, "inH2O")


def watched(*signs, **changes):
    """A collector with header, fan and cleaning signal whose curve is read; these early warnings are alarms."""
    points = {
        Role.HEADER_PRESSURE: PointPlan(tag="PT-101", place="test", channel=HEADER),
        Role.FAN_RUNNING: PointPlan(tag="YL-101", place="test", channel=DiscreteChannel(stale_after_s=5.0)),
        Role.CLEANING_ACTIVE: PointPlan(tag="XL-101", place="test", channel=DiscreteChannel(stale_after_s=5.0)),
    }
    tags = {
        Sign.DP_STEPPED_DOWN: STEP,
        Sign.SIGNAL_STILL: STILL,
        Sign.HEADER_NOT_RECOVERING: HEADER_TAG,
    }
    one = plan()
    settings = {sign: replace(alarm(tags[sign], **changes), causes=(one.bad_signal.tag,)) for sign in signs}
    return replace(one, points={**one.points, **points}, curve=READ, warnings=settings)


def showing(shift, *signs, clue=CLUE):
    """From now on these stand in what was read from the curve; whoever reads it next carries them on."""
    one = shift.state.collectors["DC-101"]
    looking = one.curve.looking._replace(signs=tuple((sign, clue) for sign in signs))
    read = one.curve._replace(looking=looking, signs=tuple((sign, clue) for sign in signs))
    shift.state = replace(shift.state, collectors={**shift.state.collectors, "DC-101": replace(one, curve=read)})
    return shift


def read_of(shift):
    return shift.state.collectors["DC-101"].curve


# ---------------------------------------------------------------- reading it


def test_the_core_reads_the_curve_as_feeding_it_by_hand_does():
    """Bad readings, readings that never come, and a header that is not answered are what they are for both."""
    plant, shift, by_hand = Sawtooth(), Shift(watched()), curve.BEGIN
    for second in range(1, 3000):
        shows = plant.step()
        if second % 700 > 660:
            continue  # nobody asked
        dp = Reason.NO_ANSWER if second % 97 < 3 else shows.dp_inh2o
        header = Reason.NO_ANSWER if second % 53 == 0 else shows.header_psi
        shift.take(second, shown_scan(second, dp, header, shows.fan, shows.cleaning))
        # As the registers carry them: thousandths of an inch, tenths of a psi.
        seen_dp = None if isinstance(dp, Reason) else 10.0 * (round(1000 * dp) / 10_000)
        seen_header = None if isinstance(header, Reason) else 100.0 * (round(10 * header) / 1000)
        sample = Sample(second, UTC + second, seen_dp, seen_header, None, shows.fan, shows.cleaning)
        by_hand = curve.advance(READ, by_hand, sample)

    assert read_of(shift) == by_hand
    assert by_hand.cycles >= 4
    assert abs(by_hand.cycles - plant.cycles) <= 2  # what fell into the forty seconds in which nobody asked


def test_ticks_and_other_points_alone_leave_the_curve_alone():
    shift = Shift(watched()).dp(range(1, 20), 4.5, fan=1)
    before = read_of(shift)
    shift.ticks(range(20, 23))

    assert read_of(shift) is before


def test_a_collector_without_curve_settings_is_not_read():
    shift = Shift(plan()).dp(range(1, 200), 4.5)

    assert read_of(shift) is curve.BEGIN


def test_a_curve_is_read_from_the_undamped_dp():
    """Damping is for alarms; a median over many readings would hide what the curve is read for."""
    own = watched()
    dp = own.points[Role.DP]
    damped = replace(dp, channel=replace(dp.channel, median_samples=5))
    quick, slow = Shift(own), Shift(replace(own, points={**own.points, Role.DP: damped}))
    for second in range(1, 30):
        for shift in (quick, slow):
            shift.take(second, dp_scan(second, 6.0 if second % 7 == 0 else 4.0))

    assert slow.state.collectors["DC-101"].readings[Role.DP].damped == 4.0
    assert read_of(quick) == read_of(slow)
    assert 6.0 in {one.dp_inh2o for one in read_of(slow).gathering.samples}


# ---------------------------------------------------------------- warnings are alarms


def test_a_warning_waits_for_its_delays_and_latches_as_any_alarm():
    shift = Shift(watched(Sign.DP_STEPPED_DOWN, on_delay_s=3.0, off_delay_s=2.0, auto_clear_s=20.0))
    shift.dp(range(1, 10), 4.5, fan=1)
    showing(shift, Sign.DP_STEPPED_DOWN).dp(range(10, 20), 4.5, fan=1)
    showing(shift).dp(range(20, 60), 4.5, fan=1)

    assert shift.story(STEP) == [(13, "raised"), (22, "latched"), (42, "cleared")]


def test_a_warning_that_does_not_latch_waits_for_its_answer():
    shift = Shift(watched(Sign.SIGNAL_STILL, on_delay_s=0.0, off_delay_s=0.0, latching=False))
    shift.dp(range(1, 10), 4.5, fan=1)
    showing(shift, Sign.SIGNAL_STILL).dp(range(10, 15), 4.5, fan=1)
    showing(shift).dp(range(15, 20), 4.5, fan=1)

    assert shift.story(STILL) == [(10, "raised"), (15, "returned")]
    assert shift.ask(20, CommandKind.ACKNOWLEDGE, STILL).code.is_done
    assert shift.state_of(STILL) is AlarmState.NORMAL


def test_a_warning_says_what_shows_it():
    shift = Shift(watched(Sign.DP_STEPPED_DOWN, on_delay_s=0.0)).dp(range(1, 10), 4.5, fan=1)
    showing(shift, Sign.DP_STEPPED_DOWN).dp([10], 4.5, fan=1)
    (event,) = [one for one in shift.events if one.tag == STEP]

    assert (event.value, event.unit, event.setpoint) == (-0.9, "inH2O", None)
    assert event.facts["condition"] == "early_warning"
    assert (event.facts["sign"], event.facts["clue"], event.facts["usual"]) == (
        "dp_stepped_down", "step_down", 5.0
    )  # fmt: skip


def test_a_sign_that_is_no_alarm_raises_none():
    shift = Shift(watched(Sign.SIGNAL_STILL)).dp(range(1, 10), 4.5, fan=1)
    showing(shift, Sign.DP_STEPPED_DOWN).dp(range(10, 30), 4.5, fan=1)

    assert shift.said == []


def test_under_a_bad_signal_a_warning_is_held_back_and_comes_out_with_it():
    shift = Shift(watched(Sign.DP_STEPPED_DOWN, on_delay_s=0.0)).dp(range(1, 10), 4.5, fan=1)
    showing(shift, Sign.DP_STEPPED_DOWN).dp([10], 4.5, fan=1)
    shift.dp(range(11, 20), Reason.NO_ANSWER, fan=1)
    held = shift.alarm(STEP)
    shift.dp(range(20, 30), 4.5, fan=1)

    assert (held.state, held.hold.why, held.hold.under) == (
        AlarmState.SUPPRESSED_BY_DESIGN, HoldReason.CONSEQUENCE, "PDT-101-BAD"
    )  # fmt: skip
    assert shift.state_of(STEP) is AlarmState.UNACKNOWLEDGED
    assert [one for _, one in shift.story(STEP)][:2] == ["raised", "suppressed"]


def test_a_bad_signal_alone_moves_no_warning():
    """While nothing is seen neither comes nor goes what shows in the curve."""
    shift = Shift(replace(watched(Sign.DP_STEPPED_DOWN, on_delay_s=0.0)))
    shift.dp(range(1, 10), 4.5, fan=1)
    shift.dp(range(10, 12), Reason.NO_ANSWER, fan=1)
    showing(shift, Sign.DP_STEPPED_DOWN).dp([12], Reason.NO_ANSWER, fan=1)

    assert shift.story(STEP) == []


def test_with_the_fan_stopped_a_warning_is_suppressed_by_design():
    own = watched(Sign.DP_STEPPED_DOWN, on_delay_s=0.0)
    shift = Shift(replace(own, suppression={STEP: Suppression(fan_stopped=True)})).dp(range(1, 10), 4.5, fan=1)
    showing(shift, Sign.DP_STEPPED_DOWN).dp([10], 4.5, fan=1)
    shift.dp(range(11, 15), 0.0, fan=0)
    held = shift.alarm(STEP)
    shift.dp(range(15, 20), 4.5, fan=1)

    assert (held.state, held.hold.why) == (AlarmState.SUPPRESSED_BY_DESIGN, HoldReason.FAN_STOPPED)
    assert [one for _, one in shift.story(STEP)] == ["raised", "suppressed", "released"]


def test_a_warning_is_shelved_and_taken_out_of_service_as_any_alarm():
    shift = Shift(watched(Sign.DP_STEPPED_DOWN, on_delay_s=0.0)).dp(range(1, 10), 4.5, fan=1)
    showing(shift, Sign.DP_STEPPED_DOWN).dp([10], 4.5, fan=1)

    assert shift.ask(11, CommandKind.SHELVE, STEP, reason="fitter called", for_s=60.0).code.is_done
    assert shift.state_of(STEP) is AlarmState.SHELVED
    assert shift.ask(12, CommandKind.OUT_OF_SERVICE, STEP, reason="fitter called").code.is_done
    assert shift.state_of(STEP) is AlarmState.OUT_OF_SERVICE


def test_a_real_loss_of_header_pressure_goes_through_the_whole_core():
    plant, shift = Sawtooth(), Shift(watched(Sign.HEADER_NOT_RECOVERING, on_delay_s=0.0))
    for second in range(1, 9000):
        if second == 8000:
            plant.supply_psi = 0.0
        shows = plant.step()
        shift.take(second, shown_scan(second, shows.dp_inh2o, shows.header_psi, shows.fan, shows.cleaning))
    (when, what), *rest = shift.story(HEADER_TAG)
    (event,) = [one for one in shift.events if one.tag == HEADER_TAG]

    assert (what, rest) == ("raised", [])
    assert 8000 < when <= 8300
    assert event.suspicions[0].trouble.value == "header_pressure_lost"


# ---------------------------------------------------------------- filters


def test_a_noticed_change_of_filters_is_told_once(monkeypatch):
    """What notices it is tried elsewhere, over months; here is who is told of it, and how often."""
    shift, real = Shift(watched()).dp(range(1, 10), 4.5, fan=1), curve.ageing.advance
    changed_utc_s = UTC + 12.0

    def notices(settings, state, digest, cycle):
        after = real(settings, state, digest, cycle)
        is_time = digest.end_utc_s >= changed_utc_s and not after.noticed
        return after._replace(since_utc_s=changed_utc_s, noticed=True) if is_time else after

    monkeypatch.setattr(curve.ageing, "advance", notices)
    shift.dp(range(10, 60), 4.5, fan=1)
    events = [one for one in shift.events if one.happened == "filters_noticed"]

    assert [(one.kind, one.collector, one.cause, one.facts["about_utc_s"]) for one in events] == [
        (EventKind.SYSTEM, "DC-101", Cause.PROCESS, changed_utc_s)
    ]


def test_filters_that_somebody_told_of_are_not_noticed_as_well():
    shift = Shift(watched()).dp(range(1, 30), 4.5, fan=1)
    shift.ask(30, CommandKind.FILTERS_CHANGED, "", collector="DC-101")
    shift.dp(range(31, 60), 4.5, fan=1)

    assert [one.happened for one in shift.events] == ["filters_changed"]


def test_a_change_of_filters_ends_the_warning_of_the_old_set():
    shift = Shift(watched(Sign.DP_STEPPED_DOWN, on_delay_s=0.0)).dp(range(1, 10), 4.5, fan=1)
    showing(shift, Sign.DP_STEPPED_DOWN).dp([10], 4.5, fan=1)
    shift.ask(11, CommandKind.FILTERS_CHANGED, "", collector="DC-101")
    shift.dp(range(12, 16), 4.5, fan=1)

    assert [one for _, one in shift.story(STEP)] == ["raised", "latched"]


def test_a_reading_that_is_not_good_is_none_in_the_curve():
    shift = Shift(watched()).dp([1, 2], 4.5, fan=1)
    shift.take(3, dp_scan(3, Reason.NO_ANSWER))

    assert [one.dp_inh2o for one in read_of(shift).gathering.samples] == [4.5, 4.5, None]
    assert shift.state.collectors["DC-101"].readings[Role.DP].quality is not Quality.GOOD
    assert at(3).mono_s == read_of(shift).gathering.samples[-1].at_s
