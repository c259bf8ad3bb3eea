"""Commands: risks of who may do what, of nobody who may, and of names that nobody proves."""

from collections.abc import Iterator

from monitor.scan.settings import CommandRules
from monitor.site.durations import as_duration
from monitor.site.plan import SitePlan
from monitor.site.problems import KeyPath
from monitor.site.risks.outlets import is_loopback
from monitor.site.risks.risk import Risk
from monitor.site.shape.commands import Person
from monitor.site.shape.whole import SiteFile
from monitor.tell.settings import MqttSettings
from monitor.words import Door

#: An alarm should come back while somebody still remembers why it was put aside (our choice).
REMEMBERED_S = 86400.0

_HERE: KeyPath = ("commands",)


def risks(shape: SiteFile, plan: SitePlan) -> Iterator[Risk]:
    """Yield what is risky about the commands of a site."""
    rules = plan.commands
    if not rules.machine and not rules.people:
        yield Risk((*_HERE, "machine"), "is none and people names nobody: no alarm can ever be acknowledged")
    if rules.longest_shelving_s > REMEMBERED_S:
        longest = as_duration(rules.longest_shelving_s)
        yield Risk(
            (*_HERE, "longest_shelving"),
            f"lets an alarm be shelved for {longest}: by then nobody remembers why; what shall be silent longer "
            "than a day is better taken out of service, where it stays on a list",
        )
    if plan.mqtt is not None and plan.mqtt.commands:
        yield from _mqtt_risks(plan.mqtt, rules)
    tokens = plan.http.tokens if plan.http else {}
    if plan.http is not None and tokens and not is_loopback(plan.http.host):
        yield Risk(
            ("http", "host"),
            f"lets tokens ({', '.join(tokens)}) come over the network in clear: keep 127.0.0.1, and a proxy with "
            "TLS before it",
        )
    for name, person in shape.commands.people.items():
        yield from _person_risks((*_HERE, "people", name), person, has_http=plan.http is not None)


def _mqtt_risks(mqtt: MqttSettings, rules: CommandRules) -> Iterator[Risk]:
    path: KeyPath = ("mqtt", "commands")
    if not any(Door.MQTT in rights.doors for rights in rules.people.values()):
        yield Risk(path, "is yes, and commands.people lets nobody come through mqtt: every command is refused")
    if mqtt.version != 5:
        yield Risk(
            path,
            f"is yes, and MQTT 3.1.1 has no response topic: every answer goes to {mqtt.base_topic}/answers, where "
            "all who may read that topic see it; version 5 sends it to the one who asked",
        )
    has_login = mqtt.username is not None or (mqtt.tls is not None and mqtt.tls.certificate_file is not None)
    if not has_login and not is_loopback(mqtt.host):
        yield Risk(
            path,
            "is yes, and this broker lets cakewatch in without a name: whoever reaches it can send a command in "
            f"anybody's name; give it users, and an access list for {mqtt.base_topic}/commands",
        )


def _person_risks(path: KeyPath, person: Person, *, has_http: bool) -> Iterator[Risk]:
    has_token = person.token_env is not None or person.token_file is not None
    if has_token and (Door.HTTP not in person.through or not has_http):
        why = "through does not name http" if has_http else "http is none"
        yield Risk(path, f"has a token that opens nothing: {why}")
    names_http = Door.HTTP in person.through and person.through != frozenset(Door)
    if names_http and not has_token and has_http:
        yield Risk((*path, "through"), "names http, and without token_env or token_file nobody is known there")
