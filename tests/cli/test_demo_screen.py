"""What the demonstration shows fits its terminal and says everything that stands in the view."""

from dataclasses import replace
from io import StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from monitor.cli import demo_chart
from monitor.cli.demo_plain import plain_lines
from monitor.cli.demo_screen import screen
from monitor.cli.demo_view import Addresses, AlarmView, CollectorView, DemoView, Trend, duration
from monitor.judge.settings import AlarmSettings, Band, Side
from monitor.words import AlarmState, Event, EventKind, Instant, Priority, Quality, Reading, Reason, Role

START = Instant(0.0, 1_700_000_000.0)


def reading(value: float | None, reason: Reason = Reason.NONE) -> Reading:
    quality = Quality.GOOD if reason is Reason.NONE else Quality.BAD
    return Reading(quality, reason, START, value=value)


def band(tag: str, setpoint_inh2o: float, side: Side) -> Band:
    alarm = AlarmSettings(
        tag=tag, priority=Priority.HIGH, on_delay_s=60.0, off_delay_s=60.0, latching=True, auto_clear_s=1200.0
    )
    return Band(alarm=alarm, side=side, setpoint_inh2o=setpoint_inh2o, deadband_inh2o=0.5)


def event(at_s: float, text: str) -> Event:
    return Event(kind=EventKind.ALARM, happened="raised", at_utc_s=START.utc_s + at_s, text=text, seq=int(at_s))


PLANER = CollectorView(
    name="DC-101",
    description="planer line",
    readings={
        Role.DP: reading(7.418),
        Role.FAN_RUNNING: reading(1.0),
        Role.CLEANING_ACTIVE: reading(0.0),
        Role.HEADER_PRESSURE: reading(3.2),
        Role.AIR_FLOW: reading(19_650.0),
    },
    bands=(band("PDAH-101", 7.0, Side.ABOVE), band("PDAL-101", 2.0, Side.BELOW)),
    alarms=(
        AlarmView("PDAH-101", AlarmState.UNACKNOWLEDGED, START.utc_s + 2172.0),
        AlarmView("PDAL-101", AlarmState.NORMAL),
    ),
    trend=tuple(4.0 + 0.05 * number for number in range(60)),
)
SANDER = replace(
    PLANER,
    name="DC-102",
    readings={Role.DP: reading(None, Reason.LOOP_FAILED_LOW)},
    alarms=(AlarmView("PDAH-102", AlarmState.NORMAL),),
    trend=(4.0, 4.1, None, None),
)
VIEW = DemoView(
    site="Alder Mill",
    started=START,
    now=Instant(2400.0, START.utc_s + 2400.0),
    speed=60.0,
    collectors=(PLANER, SANDER, replace(SANDER, name="DC-103")),
    events=(
        event(
            2172.0, "DC-101: DP 7.02 inH2O reached PDAH-101 (7 inH2O): alarm raised, since 2026-01-02 03:04:05 UTC"
        ),
    ),
    addresses=Addresses(
        modbus="127.0.0.1:5020",
        mqtt_host="127.0.0.1",
        mqtt_port=1883,
        base_topic="cakewatch",
        http_url="http://127.0.0.1:9464",
    ),
)


def drawn(view: DemoView, width: int = 80, height: int = 24, colours: bool = False) -> str:
    out = StringIO()
    console = Console(file=out, width=width, force_terminal=colours, color_system="truecolor" if colours else None)
    console.print(screen(view, width=width, height=height))
    return out.getvalue()


@pytest.mark.parametrize("height", [24, 30, 40, 60])
@pytest.mark.parametrize("width", [80, 100, 132])
def test_the_picture_fits_its_terminal(width: int, height: int) -> None:
    lines = drawn(VIEW, width, height).splitlines()
    assert len(lines) <= height
    assert max(len(line) for line in lines) <= width


@pytest.mark.parametrize(
    "shown",
    [
        "Alder Mill",
        "plant time 0:40:00   60× real time",
        "7.42 inH2O",
        "good",
        "fan running · not cleaning · header 3 psi · flow 19,650 cfm",
        "PDAH-101 active, not acknowledged since 0:36:12",
        "--- inH2O",
        "bad: the loop current signals a failure, low",
        "DP 7.02 inH2O reached PDAH-101 (7 inH2O): alarm raised",
        "127.0.0.1:1883",
        "mosquitto_sub -h 127.0.0.1 -p 1883 -t 'cakewatch/#' -v",
        "http://127.0.0.1:9464/metrics",
        "http://127.0.0.1:9464/ ",
        "127.0.0.1:5020",
    ],
)
def test_a_newcomer_finds_it_on_the_smallest_screen(shown: str) -> None:
    assert shown in drawn(VIEW)


def test_set_points_stand_at_the_axis_where_there_is_room() -> None:
    lines = drawn(VIEW, height=40).splitlines()
    assert any(line.startswith("      7 ") for line in lines)
    assert any(line.startswith("      2 ") for line in lines)


def test_an_active_alarm_stands_out() -> None:
    assert "\x1b[1;37;41mPDAH-101 active" in drawn(VIEW, colours=True)


def test_stamps_of_the_sped_up_wall_clock_are_left_out() -> None:
    assert "2026-01-02" not in drawn(VIEW)
    assert all("2026-01-02" not in line for line in plain_lines(None, VIEW))


def test_a_bad_reading_shows_no_number() -> None:
    """Not even one that a careless writer left in it."""
    bad = replace(VIEW.collectors[1].readings[Role.DP], value=4.44)
    sick = replace(SANDER, readings={Role.DP: bad}, trend=())
    assert "4.44" not in drawn(replace(VIEW, collectors=(sick,), events=()))


def test_the_newest_event_is_always_there() -> None:
    many = tuple(event(float(second), f"happening number {second}") for second in range(1, 40))
    assert "happening number 39" in drawn(replace(VIEW, events=many))


def test_a_problem_stands_above_all_else() -> None:
    assert "the broker is gone" in drawn(replace(VIEW, problem="the broker is gone")).splitlines()[2]


def test_plain_output_begins_with_where_to_look_and_then_says_only_what_is_new() -> None:
    opening = plain_lines(None, VIEW)
    assert "Alder Mill" in opening[0]
    assert any("mosquitto_sub" in line for line in opening)
    assert any(line.startswith("0:36:12  DC-101: DP 7.02") for line in opening)
    assert plain_lines(VIEW, VIEW) == []
    later = replace(VIEW, now=Instant(2410.0, START.utc_s + 2410.0), events=(*VIEW.events, event(2405.0, "news")))
    assert plain_lines(VIEW, later) == ["0:40:05  news"]


def test_plain_output_gives_a_status_every_five_real_seconds() -> None:
    assert not any("fan running" in line for line in plain_lines(None, VIEW))
    later = replace(VIEW, now=Instant(2700.0, START.utc_s + 2700.0))
    lines = plain_lines(VIEW, later)
    assert [line.split()[1] for line in lines] == ["DC-101", "DC-102", "DC-103"]
    assert "PDAH-101 active" in lines[0]


values = st.lists(st.one_of(st.none(), st.floats(0.0, 30.0)), max_size=120)
setpoints = st.lists(st.floats(0.0, 20.0), max_size=4)


@given(values, setpoints, st.integers(1, 100), st.integers(1, 8))
def test_a_chart_is_as_large_as_it_was_asked_to_be(
    shown: list[float | None], at: list[float], width: int, height: int
) -> None:
    chart = demo_chart.draw(shown, at, demo_chart.scale_of(shown, at), width=width, height=height)
    assert [len(line) for line in chart.lines] == [width] * height
    assert len(chart.band_rows) == height


@given(st.lists(st.floats(0.0, 30.0), min_size=2, max_size=60))
def test_a_higher_value_never_has_a_lower_column(shown: list[float]) -> None:
    ordered = sorted(shown)
    chart = demo_chart.draw(ordered, (), demo_chart.scale_of(ordered, ()), width=len(ordered), height=4)
    heights = [sum(" ▁▂▃▄▅▆▇█".index(line[column]) for line in chart.lines) for column in range(len(ordered))]
    assert heights == sorted(heights)
    assert min(heights) >= 1


def test_a_missing_value_is_a_dot_and_not_a_zero() -> None:
    assert demo_chart.sparkline([4.0, None, 4.0], width=3)[1] == demo_chart.HOLE


def test_a_trend_is_the_mean_of_each_stretch_with_holes_where_nothing_was_good() -> None:
    trend = Trend(step_s=20.0, length=4)
    for second, value in [(0.0, 4.0), (10.0, 5.0), (25.0, 6.0), (70.0, 7.0)]:
        trend.note(Reading(Quality.GOOD, Reason.NONE, Instant(second, second), value=value))
    assert trend.shown() == (4.5, 6.0, None, 7.0)
    trend.note(Reading(Quality.BAD, Reason.STALE, Instant(90.0, 90.0)))
    assert trend.shown() == (6.0, None, 7.0, None)
    trend.note(Reading(Quality.GOOD, Reason.NONE, Instant(9000.0, 9000.0), value=1.0))
    assert trend.shown() == (None, None, None, 1.0)


def test_durations_read_as_hours_minutes_and_seconds() -> None:
    assert [duration(seconds) for seconds in (-1.0, 59.9, 3661.0)] == ["0:00:00", "0:00:59", "1:01:01"]
