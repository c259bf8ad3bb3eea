"""What Hypothesis draws: settings of an alarm, and what a plant, a person and a power cut may do to it."""

from itertools import chain

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
moments = st.tuples(steps_s, st.one_of(looks, looks, asked, asked, holds)).map(lambda moment: [moment])
#: A condition that stays for twenty seconds is established, or gone, with any of the delays above.
_COMES = [(1.0, Presence.PRESENT), (20.0, Presence.PRESENT)]
_GOES = [(1.0, Presence.ABSENT), (20.0, Presence.ABSENT)]
_ANSWERED = [(1.0, Trigger.ACKNOWLEDGE)]
spells = st.sampled_from([_COMES, _GOES, _COMES + _GOES, _COMES + _ANSWERED, _COMES + _ANSWERED + _GOES])
full_days = st.lists(st.one_of(moments, moments, spells), max_size=30).map(lambda day: list(chain(*day)))
shelves_s = st.sampled_from([0.5, 3.0, 8.0, 60.0])
