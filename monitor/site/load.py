"""Load: a path becomes a checked plan, or every problem at once."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

from monitor.condition.units import PA_PER_INCH_OF_WATER
from monitor.report.permit.settings import PermitSettings
from monitor.scan.settings import CollectorPlan
from monitor.site import document, reading, secrets
from monitor.site.building.annunciator import annunciator_settings
from monitor.site.building.collectors import collector_plan
from monitor.site.building.commands import command_rules
from monitor.site.building.filters import permit_settings
from monitor.site.building.links import link_alarms, link_plans
from monitor.site.building.outlets import http_settings, mqtt_settings, store_settings
from monitor.site.building.phone import phone_settings, unreached_alarm
from monitor.site.document import Document
from monitor.site.plan import SitePlan
from monitor.site.points import points_of
from monitor.site.problems import KeyPath, Problem, SiteFileError, at, dotted
from monitor.site.risks.all import risks
from monitor.site.rules import annunciator, bands, commands, http, links, names, phone, points, suppression
from monitor.site.rules.fault import Fault
from monitor.site.secrets import Secrets
from monitor.site.shape.whole import SiteFile


def load(path: Path, environ: Mapping[str, str], *, with_secrets: bool = True) -> SitePlan:
    """Return the plan of a site file.

    Args:
        path: the file; relative paths inside it count from its folder.
        environ: where the passwords and tokens that the file names are looked up.
        with_secrets: whether they must be there; who only looks at records needs none of them.

    Raises:
        SiteFileError: the file cannot be read or breaks a rule; carries every problem, with its line.
    """
    file, folder = str(path), path.parent
    found = document.read(_bytes(path))
    shape, problems = reading.read(found) if found.is_whole else (None, [])
    problems = [*found.problems, *problems]
    if shape is None:
        raise SiteFileError(file, _in_order(problems))
    secret = secrets.secrets_of(shape, environ, folder)
    collectors, faults = _collectors(shape, found)
    if with_secrets:
        faults += _outlet_faults(shape, secret, found, folder)
    # An empty value was told already, and what it leaves its block without need not be told again.
    told = {hole[:-1] for hole in found.holes}
    problems += [
        found.problem(fault.path, fault.wanted, fault.found) for fault in faults if fault.path not in told
    ]
    if problems:
        raise SiteFileError(file, _in_order(problems))
    return _plan(file, folder, found, shape, collectors, secret)


def _bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(document.MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or "the path is not one").lower()
        problem = Problem(0, 0, "", "", f"cannot be read: {reason}")
        raise SiteFileError(str(path), (problem,)) from None


def _written(found: Document, *path: str) -> frozenset[str]:
    """The keys of a block as the file has them, those of faulty parts too."""
    block: object = found.data
    for part in path:
        block = block.get(part) if isinstance(block, dict) else None
    return frozenset(block) if isinstance(block, dict) else frozenset()


def _collectors(shape: SiteFile, found: Document) -> tuple[dict[str, CollectorPlan], list[Fault]]:
    """Plan every collector that breaks no rule, and find every fault of all of them."""
    faults = [*links.faults(shape, _written(found, "links")), *names.faults(shape)]
    pa_per_inh2o = PA_PER_INCH_OF_WATER[shape.site.inch_of_water]
    plans: dict[str, CollectorPlan] = {}
    for name, collector in shape.collectors.items():
        path: KeyPath = ("collectors", name)
        own = list(bands.shape_faults(path, collector, pa_per_inh2o))
        own += suppression.faults(path, collector, _written(found, "collectors", name))
        for role, point in points_of(collector):
            own += points.faults((*path, role.value), point, pa_per_inh2o)
        is_reachable = all(point.link in shape.links for _, point in points_of(collector))
        if not own and is_reachable:
            plans[name] = collector_plan(name, collector, shape.links, pa_per_inh2o)
            own += bands.plan_faults(path, plans[name], collector, pa_per_inh2o)
        faults += own
    return plans, faults


def _outlet_faults(shape: SiteFile, secret: Secrets, found: Document, folder: Path) -> Iterator[Fault]:
    yield from secret.faults()
    yield from commands.faults(shape.commands, secret.token_texts())
    yield from annunciator.faults(shape, _written(found, "links"))
    if shape.mqtt is not None and shape.mqtt.tls is not None:
        yield from secrets.tls_faults(shape.mqtt.tls, folder)
    yield from http.faults(shape, secret.hash_texts())
    if shape.http is not None and shape.http.tls is not None:
        yield from secrets.server_tls_faults(shape.http.tls, folder)
    yield from phone.faults(shape, secret.channel_texts(), secret.ping.text)


def _in_order(problems: list[Problem]) -> tuple[Problem, ...]:
    return tuple(sorted(problems, key=lambda problem: (problem.line, problem.column, problem.key)))


def _plan(
    file: str,
    folder: Path,
    found: Document,
    shape: SiteFile,
    collectors: dict[str, CollectorPlan],
    secret: Secrets,
) -> SitePlan:
    link_plans_by_name, rules = (
        link_plans(shape),
        command_rules(shape.commands, shape.phone.people if shape.phone else ()),
    )
    plan = SitePlan(
        name=shape.site.name,
        inch_of_water=shape.site.inch_of_water,
        pa_per_inh2o=PA_PER_INCH_OF_WATER[shape.site.inch_of_water],
        links=link_plans_by_name,
        collectors=collectors,
        store=store_settings(shape.store, folder),
        mqtt=mqtt_settings(shape.mqtt, secret.password.text, folder) if shape.mqtt else None,
        http=http_settings(shape.http, secret.token_texts(), secret.hash_texts(), folder) if shape.http else None,
        link_alarms=link_alarms(shape, link_plans_by_name),
        commands=rules,
        phone=phone_settings(shape, shape.phone, secret, rules) if shape.phone else None,
        phone_alarm=unreached_alarm(shape.phone) if shape.phone else None,
        annunciator=annunciator_settings(shape.annunciator) if shape.annunciator else None,
        permits=_permits(shape),
        time_zone=shape.site.time_zone,
    )
    return replace(plan, warnings=_warnings(file, found, shape, plan))


def _permits(shape: SiteFile) -> dict[str, PermitSettings]:
    pa_per_inh2o = PA_PER_INCH_OF_WATER[shape.site.inch_of_water]
    return {
        name: permit_settings(one.permit, pa_per_inh2o) for name, one in shape.collectors.items() if one.permit
    }


def _warnings(file: str, found: Document, shape: SiteFile, plan: SitePlan) -> tuple[str, ...]:
    placed = [(found.place_of(risk.path), risk) for risk in risks(shape, plan)]
    placed.sort(key=lambda item: (item[0].line, item[0].column))
    return tuple(at(file, place.line, f"{dotted(risk.path)}: {risk.sentence}") for place, risk in placed)
