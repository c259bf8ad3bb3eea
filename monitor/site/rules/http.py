"""HTTP: rules for where it listens and who may come in."""

from collections.abc import Iterator, Mapping

from monitor.site.hosts import is_loopback
from monitor.site.rules.fault import Fault
from monitor.site.shape.whole import SiteFile
from monitor.tell.web_passwords import is_hash


def faults(file: SiteFile, hashes: Mapping[str, str]) -> Iterator[Fault]:
    """Yield what breaks a rule; ``hashes`` of passwords by name, those that could be read."""
    for name, text in hashes.items():
        if not is_hash(text):
            person = file.commands.people[name]
            key = "password_hash_env" if person.password_hash_env is not None else "password_hash_file"
            path = ("commands", "people", name, key)
            yield Fault(path, "must hold a hash as cakewatch password prints it, never the password itself")
    http = file.http
    if http is None:
        return
    if not is_loopback(http.host) and not _has_visitors(file):
        wanted = (
            "must be this machine alone (127.0.0.1) while nobody can log in: give somebody a password_hash_file"
        )
        yield Fault(("http", "host"), f"{wanted} or a token_file under commands.people", f'"{http.host}"')
    if http.metrics is not None and http.metrics.port == http.port:
        yield Fault(("http", "metrics", "port"), "must be another port than that of http", f'"{http.port}"')


def _has_visitors(file: SiteFile) -> bool:
    return any(
        person.token_env or person.token_file or person.password_hash_env or person.password_hash_file
        for person in file.commands.people.values()
    )
