"""Commands: rules for people and their tokens. No sentence ever repeats a token, nor where it was looked for."""

from collections.abc import Iterator, Mapping

from monitor.site.problems import KeyPath
from monitor.site.rules.fault import Fault
from monitor.site.shape.commands import Commands, Person

#: Fewer can be guessed (our choice).
SHORTEST_TOKEN = 16


def faults(shape: Commands, tokens: Mapping[str, str]) -> Iterator[Fault]:
    """Yield tokens that are too weak, or that two people share; ``tokens`` by name, those that could be read."""
    owners: dict[str, str] = {}
    for name, token in tokens.items():
        path = _path(name, shape.people[name])
        yield from _token_faults(path, token)
        owner = owners.setdefault(token, name)
        if owner != name:
            yield Fault(path, f"must be a token of one's own: {owner} has the same one")


def _path(name: str, person: Person) -> KeyPath:
    key = "token_env" if person.token_env is not None else "token_file"
    return "commands", "people", name, key


def _token_faults(path: KeyPath, token: str) -> Iterator[Fault]:
    if len(token) < SHORTEST_TOKEN:
        yield Fault(path, f"must hold a token of {SHORTEST_TOKEN} characters or more: shorter ones are guessed")
    elif not all("!" <= character <= "~" for character in token):
        yield Fault(path, "must hold a token of letters, digits and signs of ASCII, without blanks")
