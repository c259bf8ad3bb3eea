"""Annunciator: risks of a horn that would stay silent."""

from collections.abc import Iterator

from monitor.judge.settings import AlarmSettings
from monitor.site.plan import SitePlan
from monitor.site.problems import KeyPath
from monitor.site.reference import mistaken_for_address, reference_of
from monitor.site.risks.risk import Risk

_HERE: KeyPath = ("annunciator",)


def risks(plan: SitePlan) -> Iterator[Risk]:
    """Yield what is risky about the annunciator of a site."""
    if plan.annunciator is None:
        return
    least = plan.annunciator.least_priority
    if all(alarm.priority.rank < least.rank for alarm in _alarms(plan)):
        yield Risk((*_HERE, "least_priority"), f"is {least}, and no alarm of this site is: it will never call")
    link = plan.links[plan.annunciator.link]
    if "heartbeat" not in [output.name for output in link.outputs]:
        yield Risk(
            _HERE,
            "has no heartbeat: when cakewatch or the wire dies, horn and beacon stay as they were written last, "
            "and nobody is called",
        )
    for output in link.outputs:
        meant = mistaken_for_address(output.table, output.address)
        if meant is not None:
            number = reference_of(output.table, meant)
            yield Risk(
                (*_HERE, output.name, "protocol_address"),
                f"looks like a reference number: {number} is protocol address {meant}; if it is one, write "
                f"reference_number: {number}",
            )


def _alarms(plan: SitePlan) -> Iterator[AlarmSettings]:
    for collector in plan.collectors.values():
        yield from collector.alarms
    for link in plan.link_alarms.values():
        yield link.alarm
