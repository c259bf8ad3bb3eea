"""Series of the alarms: how every alarm of the collectors and links stands, for Prometheus."""

from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

from monitor.judge.alarm import Alarm
from monitor.judge.settings import AlarmSettings
from monitor.judge.table import ACTIVE, HELD
from monitor.tell.exposition import Family, Kind, Sample
from monitor.tell.plant_view import PlantView
from monitor.words import AlarmState

#: The values of ``cakewatch_alarm_state``, in the order of how much they want a person: 4 and above are active,
#: above 0 somebody is waited for, below 0 the alarm is held and warns nobody.
STATE_NUMBER: Mapping[AlarmState, int] = {
    AlarmState.OUT_OF_SERVICE: -3,
    AlarmState.SHELVED: -2,
    AlarmState.SUPPRESSED_BY_DESIGN: -1,
    AlarmState.NORMAL: 0,
    AlarmState.RETURNED_UNACKNOWLEDGED: 1,
    AlarmState.LATCHED_ACKNOWLEDGED: 2,
    AlarmState.LATCHED_UNACKNOWLEDGED: 3,
    AlarmState.ACKNOWLEDGED: 4,
    AlarmState.UNACKNOWLEDGED: 5,
}


class _Known(NamedTuple):
    where: dict[str, str]
    settings: AlarmSettings
    alarm: Alarm

    @property
    def labels(self) -> dict[str, str]:
        return {**self.where, "tag": self.settings.tag, "priority": self.settings.priority.value}


def alarm_state(view: PlantView) -> Family:
    """Every alarm; that of a link has the label ``link`` instead of ``collector``."""
    text = (
        "0 normal, 1 returned unacknowledged, 2 latched acknowledged, 3 latched unacknowledged, "
        "4 active acknowledged, 5 active unacknowledged, "
        "-1 suppressed by design, -2 shelved, -3 out of service."
    )
    samples = [Sample(known.labels, STATE_NUMBER[known.alarm.state]) for known in _alarms(view)]
    return Family("cakewatch_alarm_state", Kind.GAUGE, text, samples)


def alarm_held_standing(view: PlantView) -> Family:
    """Of the held alarms alone: whether the condition is there all the same."""
    samples = [
        Sample(known.labels, int(known.alarm.stands)) for known in _alarms(view) if known.alarm.state in HELD
    ]
    text = "1 for each held alarm whose condition is there, 0 for each whose condition is not."
    return Family("cakewatch_alarm_held_standing", Kind.GAUGE, text, samples)


def alarm_setpoint(view: PlantView) -> Family:
    """Every set point."""
    samples = [
        Sample(
            {"collector": name, "tag": band.alarm.tag, "side": band.side.value, "judged": band.judged.value},
            band.setpoint_inh2o,
        )
        for name, plan in view.plans.items()
        for band in plan.bands
    ]
    text = "Set point of a band, the side it warns of and the quantity it judges."
    return Family("cakewatch_alarm_setpoint_inh2o", Kind.GAUGE, text, samples, "inh2o")


def active_alarms(view: PlantView) -> Family:
    """Active alarms of the site by priority; bounded, for a panel that shows the whole site."""
    counts = {settings.priority.value: 0 for _, plan, _ in view.collectors() for settings in plan.alarms} | {
        link.alarm.priority.value: 0 for link in view.link_plans.values()
    }
    for known in _alarms(view):
        counts[known.settings.priority.value] += known.alarm.state in ACTIVE
    samples = [Sample({"priority": priority}, count) for priority, count in counts.items()]
    return Family("cakewatch_active_alarms", Kind.GAUGE, "Active alarms of the site by priority.", samples)


def held_alarms(view: PlantView) -> Family:
    """Alarms of the site that warn nobody, by how they are held; bounded as well."""
    counts = {state: 0 for state in AlarmState if state in HELD}
    for known in _alarms(view):
        if known.alarm.state in counts:
            counts[known.alarm.state] += 1
    samples = [Sample({"state": state.value}, count) for state, count in counts.items()]
    text = "Alarms of the site that warn nobody: shelved, suppressed by design, out of service."
    return Family("cakewatch_held_alarms", Kind.GAUGE, text, samples)


FAMILIES: tuple[Callable[[PlantView], Family], ...] = (
    alarm_state,
    alarm_held_standing,
    alarm_setpoint,
    active_alarms,
    held_alarms,
)


def _alarms(view: PlantView) -> Iterator[_Known]:
    for name, plan, state in view.collectors():
        for settings in plan.alarms:
            alarm = state.watch.alarms.get(settings.tag)
            if alarm is not None:
                yield _Known({"collector": name}, settings, alarm)
    for name, link in view.link_plans.items():
        alarm = view.link_alarms.get(name)
        if alarm is not None:
            yield _Known({"link": name}, link.alarm, alarm)
