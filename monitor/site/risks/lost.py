"""Lost: risks of the alarm of a lost link, which should come before those of its transmitters."""

from collections.abc import Iterator

from monitor.site.durations import as_duration
from monitor.site.plan import SitePlan
from monitor.site.risks.bands import clearing_risks
from monitor.site.risks.risk import Risk
from monitor.words import Role


def risks(plan: SitePlan) -> Iterator[Risk]:
    """Yield what is risky about the link alarms of a site."""
    for name, link_alarm in plan.link_alarms.items():
        path = ("links", name, "lost")
        yield from clearing_risks(path, link_alarm.alarm)
        earlier = [
            plan.collectors[source.point.collector].bad_signal
            for source in plan.links[name].sources
            if source.point.role is Role.DP
        ]
        earlier = [alarm for alarm in earlier if alarm.on_delay_s <= link_alarm.alarm.on_delay_s]
        if earlier:
            own, theirs = link_alarm.alarm.on_delay_s, min(alarm.on_delay_s for alarm in earlier)
            yield Risk(
                (*path, "on_delay"),
                f"({as_duration(own)}) is not shorter than that of {_listed([alarm.tag for alarm in earlier])} "
                f"({as_duration(theirs)}): when the link is lost, the transmitters raise their own alarms first",
            )


def _listed(tags: list[str]) -> str:
    """One lost link may have forty transmitters; three say enough."""
    rest = len(tags) - 3
    return ", ".join(tags[:3]) + (f" and {rest} more" if rest > 0 else "")
