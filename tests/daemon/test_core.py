"""What the outlets may see of a collector while the journal has not caught up."""

from dataclasses import replace

from monitor.daemon.core import Core
from monitor.judge.settings import Side
from monitor.scan.settings import PlantPlan
from monitor.tell import payloads
from monitor.tell.heading import SiteHeading
from monitor.words import AlarmState
from tests.scan.plans import at, band, dp_scan, plan


class SlowStore:
    """Takes everything, and has nothing on disk yet."""

    def __init__(self):
        self.snapshots = {}
        self.seq = 0

    def append(self, events, _snapshots, _scan_s):
        stamped = []
        for event in events:
            self.seq += 1
            stamped.append(replace(event, seq=self.seq, event_id=str(self.seq)))
        return tuple(stamped)

    def remember(self, _snapshots, _scan_s):
        pass

    def record(self, _point, _reading):
        pass


def core_with_a_raised_alarm():
    store = SlowStore()
    core = Core(store, at(0), lambda _names: None)
    core.restore(PlantPlan(collectors={"DC-101": plan()}), at(0))
    for second in range(4):
        core.take(dp_scan(second, 7.5), at(second))
    assert core.states["DC-101"].watch.alarms["PDAH-101"].state is AlarmState.UNACKNOWLEDGED
    return core, store


def told_alarms(core):
    return {tag: alarm.state for tag, alarm in core.told()["DC-101"].watch.alarms.items()}


def test_a_raised_alarm_is_told_when_its_event_is_on_disk():
    core, store = core_with_a_raised_alarm()
    before = told_alarms(core)["PDAH-101"]

    freed = core.committed(store.seq)

    assert before is AlarmState.NORMAL
    assert freed == ["DC-101"]
    assert told_alarms(core)["PDAH-101"] is AlarmState.UNACKNOWLEDGED


def test_a_reload_before_the_event_is_on_disk_leaves_nothing_to_tell_of_a_band_that_is_gone():
    core, store = core_with_a_raised_alarm()
    new = plan(bands=(band("PDAHH-101", Side.ABOVE, 9.0), band("PDAL-102", Side.BELOW, 1.0)))

    core.replace_plan(PlantPlan(collectors={"DC-101": new}), at(5))

    assert set(told_alarms(core)) == {"PDAHH-101", "PDAL-102", "PDT-101-BAD"}
    state = core.told_of("DC-101")
    for tag in state.watch.alarms:
        assert payloads.alarm_state(SiteHeading("Alder Mill"), new, state, tag, at(5))["tag"] == tag
    assert core.committed(store.seq) == ["DC-101"]
    assert set(told_alarms(core)) == {"PDAHH-101", "PDAL-102", "PDT-101-BAD"}


def test_a_reload_does_not_let_an_alarm_be_told_before_its_event_is_on_disk():
    core, store = core_with_a_raised_alarm()

    core.replace_plan(PlantPlan(collectors={"DC-101": replace(plan(), description="planer")}), at(5))
    held = told_alarms(core)["PDAH-101"]
    core.committed(store.seq)

    assert held is AlarmState.NORMAL
    assert told_alarms(core)["PDAH-101"] is AlarmState.UNACKNOWLEDGED
