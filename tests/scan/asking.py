"""A plant that is asked for things: plans with a fan, links with an alarm, and people with their commands."""

from dataclasses import replace

from monitor.condition.channel import DiscreteChannel
from monitor.judge.settings import Side
from monitor.scan.settings import CommandRules, LinkAlarmPlan, PersonRights, PlantPlan, PointPlan
from monitor.scan.turn import Tick, begin, turn
from monitor.words import Command, CommandKind, Door, LinkChange, Role
from tests.scan.plans import LINK, alarm, at, band, dp_scan, plan

EVERYTHING = frozenset(CommandKind)


def rules(**people):
    """Who may do what; a person is given as what she may do, through every door."""
    return CommandRules(people={name: PersonRights(may=frozenset(may)) for name, may in people.items()})


def link_alarm(units=(1,), on_delay_s=2.0):
    own = alarm("mill-gateway-LOST", on_delay_s=on_delay_s, off_delay_s=0.0, latching=False)
    return LinkAlarmPlan(name=LINK, alarm=replace(own, counts_back=True), units=frozenset(units))


def chained(number="101", **changes):
    """A collector whose alarms name their causes: link over bad signal over bands, HH over H."""
    name, bad = f"DC-{number}", f"PDT-{number}-BAD"
    bands = (
        band(f"PDAHH-{number}", Side.ABOVE, 9.0),
        band(f"PDAH-{number}", Side.ABOVE, 7.0),
        band(f"PDAL-{number}", Side.BELOW, 2.0, latching=False),
    )
    causes = {f"PDAH-{number}": (bad, f"PDAHH-{number}")}
    bands = tuple(
        replace(one, alarm=replace(one.alarm, causes=causes.get(one.alarm.tag, (bad,)))) for one in bands
    )
    whole = plan(name, number, bands=bands, **changes)
    return replace(whole, bad_signal=replace(whole.bad_signal, causes=("mill-gateway-LOST",)))


def with_cleaning(one):
    point = PointPlan(tag="XL-101", place="test", channel=DiscreteChannel(stale_after_s=5.0))
    return replace(one, points={**one.points, Role.CLEANING_ACTIVE: point})


class Shift:
    """A plant through time, in whole sentences: what was said, when, of what."""

    def __init__(self, *collectors, links=(), commands=None):
        self.plan = PlantPlan(
            collectors={one.name: one for one in collectors},
            links={one.name: one for one in links},
            commands=commands or CommandRules(),
        )
        self.state = begin(self.plan, at(0))
        self.said = []
        self.events = []
        self.answers = []

    def take(self, second, what):
        outcome = turn(self.plan, self.state, what, at(second))
        self.state = outcome.onto(self.state)
        self.said += [(second, event.tag or event.link, event.happened) for event in outcome.events]
        self.answers += outcome.answers
        self.events += outcome.events
        return outcome.events

    def dp(self, seconds, value, collector="DC-101", **beside):
        """The same reading at each of these seconds, a tick behind each."""
        for second in seconds:
            self.take(second, dp_scan(second, value, collector, **beside))
            self.take(second, Tick())
        return self

    def link(self, second, connected):
        self.take(second, LinkChange(LINK, connected, at(second), "test"))
        return self

    def ticks(self, seconds):
        for second in seconds:
            self.take(second, Tick())
        return self

    def ask(self, second, kind, tag="PDAH-101", **more):
        """Ask for something from the machine itself; the answer."""
        given = {"command_id": f"id-{len(self.answers)}", "by": "anna", "door": Door.COMMAND_LINE, **more}
        self.take(second, Command(kind=kind, tag=tag, **given))
        return self.answers[-1]

    def alarm(self, tag):
        for one in self.state.collectors.values():
            if tag in one.watch.alarms:
                return one.watch.alarms[tag]
        return next(self.state.links[one.name].alarm for one in self.plan.links.values() if one.alarm.tag == tag)

    def state_of(self, tag):
        return self.alarm(tag).state

    def story(self, tag):
        return [(second, happened) for second, which, happened in self.said if which == tag]
