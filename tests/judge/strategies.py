"""What Hypothesis draws: settings of an alarm, and what a plant, a person and a power cut may do to it."""

from hypothesis import strategies as st

from monitor.judge.alarm import Presence
from monitor.judge.settings import AlarmSettings
from monitor.judge.table import Trigger
from monitor.words import Priority

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
