"""The alarms of one collector together: deadbands, and a calm that decides nothing by itself."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.judge.alarm import Presence
from monitor.judge.calm import Bands, Seen, Watch, presence_of
from monitor.judge.settings import AlarmSettings, Band, Judged, Side
from monitor.judge.table import Trigger
from monitor.judge.watch import begin, look, tell, wait
from monitor.words import AlarmState, Instant, Priority, Shelf


def alarm(tag, on_delay_s=2.0, off_delay_s=1.0, *, latching=True, auto_clear_s=20.0):
    return AlarmSettings(
        tag=tag,
        priority=Priority.HIGH,
        on_delay_s=on_delay_s,
        off_delay_s=off_delay_s,
        latching=latching,
        auto_clear_s=auto_clear_s,
    )


def band(tag, side, setpoint, deadband=0.2, judged=Judged.DAMPED, **timing):
    return Band(
        alarm=alarm(tag, **timing), side=side, setpoint_inh2o=setpoint, deadband_inh2o=deadband, judged=judged
    )


# Common practice, no source: cleaning between 5 and 4 in. w.c., alarms at 7 and 2.
BANDS = Bands(
    bands=(
        band("PDAHH-101", Side.ABOVE, 9.0),
        band("PDAH-101", Side.ABOVE, 7.0),
        band("PDAL-101", Side.BELOW, 2.0, latching=False),
        band("PDAH-101R", Side.ABOVE, 5.0, judged=Judged.RESIDUAL),
    ),
    bad_signal=alarm("PDT-101-BAD", on_delay_s=3.0, off_delay_s=0.0, latching=False),
)


def at(mono_s):
    return Instant(mono_s, 1_700_000_000.0 + mono_s)


# The ≥ / < convention of a published PLC alarm instruction; the standard leaves it open.
@pytest.mark.parametrize(
    ("before", "value", "after"),
    [
        (False, 5.99, False),
        (False, 6.00, True),
        (True, 5.81, True),
        (True, 5.80, True),
        (True, 5.79, False),
        (False, 5.90, False),
    ],
)
def test_the_deadband_holds_between_its_two_edges(before, value, after):
    high = band("PDAH-101", Side.ABOVE, 6.0)
    low = band("PDAL-101", Side.BELOW, -6.0)

    assert presence_of(high, before, value) is (Presence.PRESENT if after else Presence.ABSENT)
    assert presence_of(low, before, -value) is (Presence.PRESENT if after else Presence.ABSENT)


def test_a_deadband_edge_is_the_decimal_number_a_person_means():
    # 1.1 - 0.2 is 0.9000000000000001 in binary.
    assert presence_of(band("PDAH-1", Side.ABOVE, 1.1), True, 0.9) is Presence.PRESENT


def test_a_value_that_is_no_number_is_blindness():
    assert presence_of(BANDS.bands[0], True, math.nan) is Presence.BLIND


def test_losing_the_signal_raises_its_own_alarm_and_holds_the_others():
    watch = begin(BANDS, {})
    said = []
    for second, damped in [(0, 7.5), (1, 7.5), (3, 7.5), (4, None), (10, None), (600, None)]:
        watch, fired = look(BANDS, watch, Seen(damped, None, None), at(second))
        said += [(one.at.mono_s, one.tag, one.happened) for one in fired]

    assert said == [(3, "PDAH-101", "raised"), (7, "PDT-101-BAD", "raised")]
    assert watch.alarms["PDAH-101"].state is AlarmState.UNACKNOWLEDGED


def test_a_remembered_alarm_goes_on_and_a_forgotten_tag_begins_normal():
    watch = begin(BANDS, {})
    for second in (0, 5):
        watch, _ = look(BANDS, watch, Seen(7.5, None, None), at(second))
    changed = replace(BANDS, bands=(*BANDS.bands[1:], band("PDAHHH-101", Side.ABOVE, 12.0)))

    again = begin(changed, watch.alarms)

    assert again.alarms["PDAH-101"].state is AlarmState.UNACKNOWLEDGED
    assert again.alarms["PDAHHH-101"].state is AlarmState.NORMAL
    assert "PDAHH-101" not in again.alarms


def test_a_person_reaches_one_alarm_and_no_other():
    watch = begin(BANDS, {})
    for second in (0, 5):
        watch, _ = look(BANDS, watch, Seen(9.5, None, None), at(second))
    watch, fired = tell(BANDS, watch, "PDAHH-101", Trigger.ACKNOWLEDGE, at(6))

    assert [one.tag for one in fired] == ["PDAHH-101"]
    assert watch.alarms["PDAH-101"].state is AlarmState.UNACKNOWLEDGED


values = st.one_of(st.none(), st.sampled_from([1.9, 2.0, 2.3, 4.0, 5.0, 6.79, 6.8, 7.0, 7.3, 8.8, 9.0, 12.0]))


@given(st.lists(st.tuples(st.sampled_from([0.0, 0.5, 1.0, 3.0, 30.0]), values, values), max_size=60))
def test_the_calm_never_changes_a_judgement(day):
    """The short cut against the long way: the same watch with its calm thrown away before each look."""
    quick = slow = begin(BANDS, {})
    now_s, looked_s = 0.0, None
    for passed_s, damped, residual in day:
        now_s += passed_s
        seen = Seen(damped, residual, None)
        quick, fired = look(BANDS, quick, seen, at(now_s), looked_s)
        slow, fired_slow = look(
            BANDS, Watch(slow.alarms, (), -math.inf, -math.inf, slow.held), seen, at(now_s), looked_s
        )
        looked_s = None if damped is None else now_s

        assert fired == fired_slow
        assert quick.alarms == slow.alarms


def test_time_without_a_look_before_it_ends_a_shelf_and_counts_for_nothing_else():
    shelf = Shelf(6.0, 1_700_000_006.0, "anna", "spare part is on its way", 1_700_000_001.0)
    watch = begin(BANDS, {})
    watch, _ = look(BANDS, watch, Seen(7.5, None, None), at(0))
    watch, _ = tell(BANDS, watch, "PDAH-101", Trigger.SHELVE, at(1), 0.0, shelf)
    watch, fired = wait(BANDS, watch, Seen(7.5, None, None), at(6))

    assert [(one.tag, one.happened, one.at.mono_s) for one in fired] == [("PDAH-101", "unshelved", 6.0)]
    assert not watch.alarms["PDAH-101"].stands
