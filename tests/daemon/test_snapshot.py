"""What the judge must still know after a power cut comes back from its text as it was."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.daemon.snapshot import (
    read_alarms,
    read_context,
    read_desk,
    read_window,
    write_alarms,
    write_context,
    write_windows,
)
from monitor.interpret.window import Window, add, pause
from monitor.judge.alarm import Alarm, Timer
from monitor.scan.context import UNKNOWN
from monitor.words import AlarmState, Hold, HoldReason, Removal, Shelf


def _filled(values):
    window = Window()
    for second, value in enumerate(values):
        window = add(window, value, float(second), 60.0)
    return window


@given(st.lists(st.floats(-10, 10), max_size=90))
def test_a_window_comes_back_paused_and_otherwise_as_it_was(values):
    window = _filled(values)
    text = write_windows({"residual": (60.0, window), "average": (60.0, window)})

    for name in ("residual", "average"):
        back = read_window(text, name, 60.0)
        assert (back.closed, back.open, back.last_s) == (window.closed, window.open, None)
        assert back.lowest == window.lowest
        assert back.mean == pytest.approx(window.mean)


def test_one_window_under_two_names_is_written_once():
    window = _filled([4.0] * 90)
    alone = write_windows({"residual": (60.0, window)})
    both = write_windows({"residual": (60.0, window), "average": (60.0, window)})
    two = write_windows({"residual": (60.0, window), "average": (60.0, pause(window))})

    assert len(both) < len(alone) + 30 < len(two)


def test_a_window_of_another_length_begins_anew():
    text = write_windows({"residual": (60.0, _filled([4.0] * 90)), "average": (90.0, _filled([4.0] * 90))})

    assert read_window(text, "residual", 90.0) == Window()
    assert read_window(text, "average", 90.0).closed


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"residual":"average"}', '{"residual":{"length_s":60.0}}'])
def test_a_text_that_is_no_snapshot_is_said_to_be_none(text):
    with pytest.raises(ValueError, match="not a snapshot of windows"):
        read_window(text, "residual", 60.0)


#: As the version before alarms could be held wrote them.
OF_AN_OLDER_VERSION = (
    '{"PDAH-101":{"state":"acknowledged","present":true,"blind":false,"delay":null,"returned":null,"seen":true,'
    '"raised_utc_s":1700000002.0,"since_utc_s":1700000003.0,"easing":null},'
    '"PDAL-101":{"state":"latched_unacknowledged","present":false,"blind":false,"delay":null,'
    '"returned":[4.5,null],"seen":false,"raised_utc_s":1700000002.0,"since_utc_s":1700000003.0}}'
)


def test_an_upgrade_in_mid_alarm_keeps_every_alarm():
    high, low = read_alarms(OF_AN_OLDER_VERSION).values()

    assert (high.state, high.raised_utc_s, high.stands) == (AlarmState.ACKNOWLEDGED, 1700000002.0, True)
    assert (low.state, low.stands, low.returned) == (AlarmState.LATCHED_UNACKNOWLEDGED, False, Timer(4.5, None))
    assert (high.hold, high.shelf, high.removal) == (None, None, None)


def test_a_held_alarm_comes_back_with_its_end_its_reason_and_its_person():
    alarms = {
        "PDAH-101": Alarm(state=AlarmState.SHELVED, shelf=Shelf(99.0, 1.7e9 + 99, "anna", "filter change", 1.7e9)),
        "PDAL-101": Alarm(
            state=AlarmState.SUPPRESSED_BY_DESIGN,
            kept=AlarmState.UNACKNOWLEDGED,
            stands=True,
            hold=Hold(HoldReason.CONSEQUENCE, "PDT-101-BAD"),
        ),
        "PDT-101-BAD": Alarm(state=AlarmState.OUT_OF_SERVICE, removal=Removal("ben", "loop check", 1.7e9)),
    }

    assert read_alarms(write_alarms(alarms)) == alarms


def test_what_the_fan_did_comes_back():
    context = UNKNOWN._replace(fan_runs=True, fan_said_s=70.0, fan_started_s=60.0)

    assert read_context(write_context(context)) == context


@pytest.mark.parametrize("text", ["", "7", "null", '{"fan_runs"'])
def test_a_text_that_is_no_context_is_not_believed(text):
    with pytest.raises(ValueError, match="not a snapshot of a context"):
        read_context(text)


@pytest.mark.parametrize("text", ["", "{}", "7", "[[1]]", '[["nonsense","","","","","",0]]'])
def test_a_text_that_is_no_desk_is_not_believed_or_is_empty(text):
    if text == "{}":
        assert read_desk(text).answered == {}
    else:
        with pytest.raises(ValueError, match="not a snapshot of commands"):
            read_desk(text)
