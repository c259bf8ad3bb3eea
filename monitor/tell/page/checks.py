"""Checks: what to look at first, and what may be behind it, for each active alarm and each early warning."""

from typing import Any

from monitor.judge.settings import Judged, Side
from monitor.judge.table import ACTIVE
from monitor.report.trouble_names import NAMES
from monitor.scan.settings import CollectorPlan, PlantPlan
from monitor.scan.state import PlantState
from monitor.scan.suspecting import suspicions
from monitor.tell.page.standing import Known, alarms_of
from monitor.tell.wording_causes import CHECKS, DEFERS
from monitor.tell.wording_checks import BANDS, SIGNAL, About
from monitor.tell.wording_evidence import evidence
from monitor.tell.wording_filters import SIGN, first_check
from monitor.troubles import Suspicion
from monitor.words import Role

Payload = dict[str, Any]

#: Beside every check of which nothing more special is known.
CAUTION = "look from outside; lock-out and what else the site asks for before anything is opened"


def checks(plant: PlantPlan, state: PlantState, name: str) -> list[Payload]:
    """The checks of one collector, those of the most urgent alarm first."""
    plan, own = plant.collectors[name], state.collectors[name]
    active = [one for one in alarms_of(plan, own) if one.alarm.state in ACTIVE]
    found: list[Payload] = []
    for one in sorted(active, key=lambda one: one.rank, reverse=True):
        tag = one.settings.tag
        behind = suspicions(plant, state, name, tag)
        found += [_suspected(tag, suspicion) for suspicion in behind] or [_plain(plan, state, name, one)]
    told = {one.settings.tag for one in active}
    for sign, clue in own.curve.signs:
        alarm = plan.warnings.get(sign)
        if alarm is None or alarm.tag not in told:
            tag = "" if alarm is None else alarm.tag
            found.append(_check(tag, SIGN[sign], [evidence(clue)], first_check(sign)))
    return found


def _suspected(tag: str, suspicion: Suspicion) -> Payload:
    look, caution, _ = CHECKS[suspicion.trouble]
    why = [evidence(clue) for clue in suspicion.clues] + [f"but {evidence(clue)}" for clue in suspicion.against]
    told = _check(tag, NAMES[suspicion.trouble], why, look)
    return told | {
        "trouble": suspicion.trouble.value,
        "share": round(suspicion.share, 2),
        "caution": f"{caution}; {DEFERS}",
    }


def _plain(plan: CollectorPlan, state: PlantState, name: str, one: Known) -> Payload:
    """Where to look when the evidence does not tell what is behind an alarm."""
    tag = one.settings.tag
    if (sign := plan.sign(tag)) is not None:
        return _check(tag, SIGN[sign], [], first_check(sign))
    if (band := plan.band(tag)) is None:
        dp = state.collectors[name].readings[Role.DP]
        return _check(tag, "the DP cannot be trusted", [], SIGNAL[dp.reason].look)
    side = "above" if band.side is Side.ABOVE else "below"
    look = BANDS[About(side, residual=band.judged is Judged.RESIDUAL)].look
    return _check(tag, "the evidence does not tell what is behind it", [], look)


def _check(tag: str, title: str, why: list[str], look: str) -> Payload:
    return {
        "tag": tag,
        "trouble": None,
        "title": title,
        "share": None,
        "why": why,
        "check": look,
        "caution": f"{CAUTION}; {DEFERS}",
    }
