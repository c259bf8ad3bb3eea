"""What the judge must still know after a power cut comes back from its text as it was."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.daemon.snapshot import read_window, write_windows
from monitor.interpret.window import Window, add, pause


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
