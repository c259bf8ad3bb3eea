"""The plan: what a checked site file comes to, in the rooms' own settings."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.acquire.settings import LinkPlan
from monitor.remember.settings import StoreSettings
from monitor.report.permit.settings import PermitSettings
from monitor.scan.settings import CollectorPlan, CommandRules, LinkAlarmPlan, PlantPlan
from monitor.tell.phone.settings import PhoneSettings
from monitor.tell.settings import AnnunciatorSettings, HttpSettings, MqttSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class SitePlan:
    """Everything the daemon is built from.

    Attributes:
        inch_of_water: which inch every inH2O of this site is: ``conventional``, ``4 degC``, ``60 degF``
            or ``68 degF``.
        pa_per_inh2o: its pascals.
        phone_alarm: stands while nobody can be reached; None where nobody is to be called.
        permits: by collector, what a permit asks for.
        time_zone: in which days and months of the records are counted, a name of the IANA time zone database.
        warnings: risky settings found, each one sentence with its place; the file is valid all the same.
    """

    name: str
    inch_of_water: str
    pa_per_inh2o: float
    links: Mapping[str, LinkPlan]
    collectors: Mapping[str, CollectorPlan]
    store: StoreSettings
    mqtt: MqttSettings | None = None
    http: HttpSettings | None = None
    link_alarms: Mapping[str, LinkAlarmPlan] = field(default_factory=dict)
    commands: CommandRules = field(default_factory=CommandRules)
    annunciator: AnnunciatorSettings | None = None
    phone: PhoneSettings | None = None
    phone_alarm: LinkAlarmPlan | None = None
    permits: Mapping[str, PermitSettings] = field(default_factory=dict)
    time_zone: str = "UTC"
    warnings: tuple[str, ...] = field(default=())

    @property
    def plant(self) -> PlantPlan:
        """What the core judges by."""
        links = self.link_alarms
        if self.phone_alarm is not None:
            links = {**links, self.phone_alarm.name: self.phone_alarm}
        return PlantPlan(collectors=self.collectors, links=links, commands=self.commands)
