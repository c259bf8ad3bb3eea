"""Commands: who may do what, as the file says it, becomes the rules of the core."""

from collections.abc import Iterable

from monitor.scan.settings import CommandRules, PersonRights
from monitor.site.shape.commands import Commands


def command_rules(shape: Commands, called: Iterable[str] = ()) -> CommandRules:
    """Return who may do what, and who can be called; tokens are no part of it, they only prove who somebody is."""
    return CommandRules(
        people={name: PersonRights(may=person.may, doors=person.through) for name, person in shape.people.items()},
        machine=shape.machine,
        longest_shelving_s=shape.longest_shelving,
        late_after_s=shape.late_after,
        called=frozenset(called),
    )
