"""Describing commands: who may do what, and what may be written, in plain words."""

from collections.abc import Iterator, Set

from monitor.acquire.settings import Output
from monitor.scan.settings import PersonRights
from monitor.site import reference
from monitor.site.durations import as_duration
from monitor.site.plan import SitePlan
from monitor.site.values import listed
from monitor.words import CommandKind, Door

_KIND_WORDS = {
    CommandKind.ACKNOWLEDGE: "acknowledge",
    CommandKind.CLEAR: "clear",
    CommandKind.SHELVE: "shelve",
    CommandKind.UNSHELVE: "unshelve",
    CommandKind.OUT_OF_SERVICE: "take out of service",
    CommandKind.RETURN_TO_SERVICE: "return to service",
    CommandKind.TEST: "test",
    CommandKind.SILENCE: "silence the horn",
    CommandKind.FILTERS_CHANGED: "begin a new set of filters",
    CommandKind.RECORD_ACTION: "record corrective actions",
    CommandKind.TEST_MESSAGE: "have test messages sent",
}


def of_commands(plan: SitePlan) -> Iterator[str]:
    """Yield the lines that say who may do what, and within which bounds."""
    rules = plan.commands
    who = f"anybody may {_may(rules.machine)}" if rules.machine else "nobody may do anything unnamed"
    yield f"commands: on this machine itself {who}"
    for name, rights in rules.people.items():
        yield f"  {name} may {_may(rights.may)}: {'; '.join(_doors(plan, name, rights))}"
    if not rules.people:
        yield "  from anywhere else nobody: commands.people is empty"
    longest, late = as_duration(rules.longest_shelving_s), as_duration(rules.late_after_s)
    yield f"  shelved for {longest} at most; refused when sent more than {late} ago"


def _may(kinds: Set[CommandKind]) -> str:
    if kinds == set(CommandKind):
        return "do everything"
    if not kinds:
        return "only look"
    return listed([_KIND_WORDS[kind] for kind in CommandKind if kind in kinds])


def _doors(plan: SitePlan, name: str, rights: PersonRights) -> Iterator[str]:
    """Yield the doors that are open indeed: one that is allowed may still be shut."""
    if Door.COMMAND_LINE in rights.doors:
        yield "from the command line"
    if Door.MQTT in rights.doors:
        is_open = plan.mqtt is not None and plan.mqtt.commands
        yield "by MQTT" if is_open else "not by MQTT, which takes no commands"
    if Door.HTTP in rights.doors:
        yield _http(plan, name)


def _http(plan: SitePlan, name: str) -> str:
    if plan.http is None:
        return "not by HTTP, which is off"
    ways = [
        *(["a token"] if name in plan.http.tokens else []),
        *(["a password"] if name in plan.http.password_hashes else []),
        *(["the links in messages"] if _has_links(plan, name) else []),
    ]
    return f"by HTTP with {' or '.join(ways)}" if ways else "not by HTTP, having neither token nor password"


def _has_links(plan: SitePlan, name: str) -> bool:
    person = plan.phone.people.get(name) if plan.phone is not None else None
    return person is not None and person.links


def of_annunciator(plan: SitePlan) -> Iterator[str]:
    """Yield the lines that name every address that may ever be written."""
    settings = plan.annunciator
    if settings is None:
        yield "annunciator: none; nothing is ever written to any device"
        return
    yield f"annunciator: calls for alarms of priority {settings.least_priority} and above; it is no safety system"
    for output in plan.links[settings.link].outputs:
        place = reference.place(settings.link, output.unit_id, output.table, output.address)
        pace = f" in turn, every {as_duration(settings.heartbeat_s)}" if output.name == "heartbeat" else ""
        yield f"  {output.name}  {place}: {_words(output)}{pace}"
    yield "  nothing else is ever written to any device"


def _words(output: Output) -> str:
    if output.name == "heartbeat":
        return f"writes {output.on} and {output.off}"
    return f"writes {output.on} for on, {output.off} for off"
