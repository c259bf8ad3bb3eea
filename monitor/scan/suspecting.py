"""Suspecting: which troubles may be behind an alarm that has just been raised, with what the whole plant shows."""

from collections.abc import Iterable
from dataclasses import replace

from monitor.interpret import curve
from monitor.interpret.causes.ranking import About, suspect
from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.judge.settings import Side
from monitor.scan.settings import CollectorPlan, PlantPlan
from monitor.scan.state import CollectorState, PlantState
from monitor.troubles import Sign, Suspicion
from monitor.words import Event, Quality, Reason, Role


def with_suspicions(plan: PlantPlan, state: PlantState, events: Iterable[Event]) -> tuple[Event, ...]:
    """The same events; those that raised an alarm of a collector say what may be behind it.

    ``state`` is the plant's after the turn that brought them.
    """
    return tuple(
        replace(event, suspicions=suspicions(plan, state, event.collector, event.tag or ""))
        if event.happened == "raised" and event.collector is not None
        else event
        for event in events
    )


def suspicions(plan: PlantPlan, state: PlantState, collector: str, tag: str) -> tuple[Suspicion, ...]:
    """What may be behind that alarm now, the likeliest first; none where its curve is not read."""
    own = plan.collectors[collector]
    if own.curve is None:
        return ()
    return suspect(shown(plan, state, collector), *_about(own, tag))


def shown(plan: PlantPlan, state: PlantState, collector: str) -> Symptoms:
    """What shows at one collector now, and how many others on its link show the same."""
    one = state.collectors[collector]
    found = curve.symptoms(one.curve)
    others = _neighbours(plan, state, collector)
    alike = [other for other in others if _troubled(other) and _troubled(one)]
    return found._replace(
        reason=one.readings[Role.DP].reason,
        residual_inh2o=one.residual_inh2o if found.residual_inh2o is None else found.residual_inh2o,
        others=len(others),
        others_alike=len(alike),
    )


def _about(plan: CollectorPlan, tag: str) -> tuple[About, Sign | None]:
    band = plan.band(tag)
    if band is not None:
        return (About.HIGH if band.side is Side.ABOVE else About.LOW), None
    sign = plan.sign(tag)
    return (About.BAD_SIGNAL, None) if sign is None else (About.WARNING, sign)


def _neighbours(plan: PlantPlan, state: PlantState, collector: str) -> list[CollectorState]:
    link = plan.collectors[collector].link
    return [
        state.collectors[name] for name, own in plan.collectors.items() if name != collector and own.link == link
    ]


def _troubled(state: CollectorState) -> bool:
    """Whether its signal is bad, or stands still."""
    dp = state.readings[Role.DP]
    is_bad = dp.quality is Quality.BAD and dp.reason is not Reason.NOT_YET_READ
    return is_bad or any(sign is Sign.SIGNAL_STILL for sign, _ in state.curve.signs)
