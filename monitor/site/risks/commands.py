"""Commands: risks of who may do what, of nobody who may, and of names that nobody proves."""

from collections.abc import Iterator

from monitor.scan.settings import CommandRules
from monitor.site.durations import as_duration
from monitor.site.hosts import is_loopback
from monitor.site.plan import SitePlan
from monitor.site.problems import KeyPath
from monitor.site.risks.risk import Risk
from monitor.site.shape.commands import Person
from monitor.site.shape.whole import SiteFile
from monitor.tell.settings import MqttSettings
from monitor.words import CommandKind, Door

#: An alarm should come back while somebody still remembers why it was put aside (our choice).
REMEMBERED_S = 86400.0

_HERE: KeyPath = ("commands",)


def risks(shape: SiteFile, plan: SitePlan) -> Iterator[Risk]:
    """Yield what is risky about the commands of a site."""
    rules = plan.commands
    may = rules.machine.union(*(rights.may for rights in rules.people.values()))
    if CommandKind.ACKNOWLEDGE not in may:
        yield Risk(
            (*_HERE, "machine"),
            "leaves acknowledging to people, and nobody there may: no alarm is ever acknowledged",
        )
    if rules.longest_shelving_s > REMEMBERED_S:
        longest = as_duration(rules.longest_shelving_s)
        yield Risk(
            (*_HERE, "longest_shelving"),
            f"lets an alarm be shelved for {longest}: by then nobody remembers why; what shall be silent longer "
            "than a day is better taken out of service, where it stays on a list",
        )
    if plan.mqtt is not None and plan.mqtt.commands:
        yield from _mqtt_risks(plan.mqtt, rules)
    http = plan.http
    if http is not None and http.tls is None and not is_loopback(http.host):
        known = ", ".join(dict.fromkeys((*http.tokens, *http.password_hashes)))
        yield Risk(
            ("http", "host"),
            f"lets passwords and tokens ({known}) come over the network in clear: give http.tls, or keep "
            "127.0.0.1 and a proxy with TLS before it; who comes through it is then on this machine itself, "
            "so write commands.machine: none",
        )
    for name, person in shape.commands.people.items():
        yield from _person_risks((*_HERE, "people", name), person, _open_doors(plan, person))


def _open_doors(plan: SitePlan, person: Person) -> frozenset[Door]:
    """The doors through which commands of this person are taken at all."""
    shut = set()
    if plan.mqtt is None or not plan.mqtt.commands:
        shut.add(Door.MQTT)
    if plan.http is None or not _has_token(person):
        shut.add(Door.HTTP)
    return person.through - shut


def _has_token(person: Person) -> bool:
    ways = (person.token_env, person.token_file, person.password_hash_env, person.password_hash_file)
    return any(way is not None for way in ways)


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


def _person_risks(path: KeyPath, person: Person, doors: frozenset[Door]) -> Iterator[Risk]:
    if _has_token(person) and Door.HTTP not in doors:
        why = "http is none" if Door.HTTP in person.through else "through does not name http"
        yield Risk(path, f"has a token or a password that opens nothing: {why}")
    shut = [door for door in Door if door in person.through - doors]
    if not doors:
        yield Risk(
            (*path, "through"), f"names no door that is open ({_why_shut(shut)}): these rights are never used"
        )
    elif shut and person.through != frozenset(Door):
        yield Risk((*path, "through"), f"names a door that is shut: {_why_shut(shut)}")


def _why_shut(doors: list[Door]) -> str:
    sentences = {Door.MQTT: "mqtt takes no commands", Door.HTTP: "http is none, or there is no token for it"}
    return ", ".join(sentences[door] for door in doors)
