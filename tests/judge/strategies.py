"""What Hypothesis draws: settings of an alarm, and what a plant, a person and a power cut may do to it."""

from hypothesis import strategies as st

from monitor.judge.alarm import Presence
from monitor.judge.settings import AlarmSettings
from monitor.judge.table import Trigger
from monitor.words import Hold, HoldReason, Priority

delays_s = st.sampled_from([0.0, 1.0, 2.5, 7.0, 15.0])


@st.composite
def alarm_settings(draw):
    return AlarmSettings(
        tag="PDAH-101",
        priority=Priority.HIGH,
        on_delay_s=draw(delays_s),
        off_delay_s=draw(delays_s),
        latching=draw(st.booleans()),
        auto_clear_s=draw(st.sampled_from([None, 0.0, 3.0, 10.0, 30.0])),
    )


looks = st.sampled_from(list(Presence))
commands = st.sampled_from([Trigger.ACKNOWLEDGE, Trigger.CLEAR])
steps_s = st.sampled_from([0.0, 0.25, 1.0, 1.0, 2.0, 5.0, 20.0, 100.0])
days = st.lists(st.tuples(steps_s, st.one_of(looks, looks, looks, commands)), max_size=40)

#: Everything that a person may ask, and everything that may hold an alarm back; FREE is the end of that.
FREE = "free"
asked = st.sampled_from(
    [Trigger.ACKNOWLEDGE, Trigger.CLEAR, Trigger.SHELVE, Trigger.UNSHELVE, Trigger.REMOVE, Trigger.RESTORE]
)
holds = st.sampled_from(
    [FREE, Hold(HoldReason.FAN_STOPPED), Hold(HoldReason.START_UP), Hold(HoldReason.CONSEQUENCE, "PDAHH-101")]
)
full_days = st.lists(st.tuples(steps_s, st.one_of(looks, looks, looks, asked, asked, holds)), max_size=50)
shelves_s = st.sampled_from([0.5, 3.0, 8.0, 60.0])
