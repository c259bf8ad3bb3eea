"""Payloads of the curve: cycles, filters, early warnings and air of one collector, as machines are told.

``config/mqtt.schema.json`` describes every field. What is not known is null.
"""

from collections.abc import Iterable
from typing import Any

from monitor.interpret.air.figures import AirFigures, Use, air_figures
from monitor.interpret.curve import CurveState
from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.trend.forecast import Forecast
from monitor.report.trouble_names import NAMES
from monitor.scan.settings import CollectorPlan
from monitor.scan.state import CollectorState
from monitor.tell.heading import SiteHeading
from monitor.tell.notation import number, rfc3339
from monitor.tell.wording_causes import CHECKS, cause_sentence
from monitor.tell.wording_evidence import evidence
from monitor.tell.wording_filters import SIGN, first_check
from monitor.troubles import Clue, Sign, Suspicion
from monitor.words import Instant

Payload = dict[str, Any]


def collector_curve(site: SiteHeading, plan: CollectorPlan, state: CollectorState, at: Instant) -> Payload:
    """What was read from the curve of one collector, as of ``at``."""
    read = state.curve
    return {
        "site": site.name,
        "collector": plan.name,
        "at": rfc3339(at.utc_s),
        "inch_of_water": site.inch_of_water,
        "pa_per_inh2o": number(site.pa_per_inh2o),
        "cleaning_s": _cleaning_s(read, state, at),
        "cycles": read.cycles,
        "last_cycle": None if read.tracker.last is None else _cycle(read.tracker.last),
        "filters": _filters(read),
        "early_warnings": [_sign(sign, clue) for sign, clue in read.signs],
        "compressed_air": None if plan.curve is None else _air(air_figures(plan.curve, read.air)),
    }


def told_of(state: CurveState) -> tuple[object, ...]:
    """What of it is news to a subscriber; the rest moves with every reading and goes along."""
    return (
        state.cycles,
        state.signs,
        state.outlook,
        state.tracker.cleaning_since_s is None,
        state.ageing.since_utc_s,
    )


def suspicions(found: Iterable[Suspicion]) -> list[Payload]:
    """What may be behind an alarm, the likeliest first, each with its evidence and the first check."""
    return [
        {
            "trouble": one.trouble.value,
            "text": NAMES[one.trouble],
            "share": round(one.share, 3),
            "clues": [_clue(clue) for clue in one.clues],
            "against": [_clue(clue) for clue in one.against],
            "check": CHECKS[one.trouble].look,
            "caution": CHECKS[one.trouble].caution,
        }
        for one in found
    ]


def cause_text(found: tuple[Suspicion, ...]) -> str | None:
    """The same as one text for people; None where nothing is suspected."""
    return cause_sentence(found) if found else None


def _clue(clue: Clue) -> Payload:
    return {
        "kind": clue.kind,
        "text": evidence(clue),
        "value": number(clue.value),
        "usual": number(clue.usual),
        "unit": clue.unit or None,
    }


def _sign(sign: Sign, clue: Clue) -> Payload:
    return {
        "early_warning": sign.value,
        "text": SIGN[sign],
        "check": first_check(sign),
        "value": number(clue.value),
        "usual": number(clue.usual),
        "unit": clue.unit or None,
    }


def _cleaning_s(read: CurveState, state: CollectorState, at: Instant) -> float | None:
    """How long it has been cleaned without a break; 0 while it is not, None where nobody can tell."""
    since_s = read.tracker.cleaning_since_s
    if since_s is None:
        return None if state.looked_s is None else 0.0
    return round(max(0.0, at.mono_s - since_s), 1)


def _cycle(cycle: Cycle) -> Payload:
    return {
        "begun_at": rfc3339(cycle.begin_utc_s),
        "ended_at": rfc3339(cycle.end_utc_s),
        "peak": number(cycle.peak_inh2o),
        "residual": number(cycle.residual_inh2o),
        "cleaning_s": number(cycle.cleaning_s),
        "cycle_s": number(cycle.cycle_s),
        "rise_inh2o_per_min": number(cycle.rise_inh2o_min),
        "pulses": cycle.pulses,
        "pulses_counted": cycle.counted,
        "flow_cfm": number(cycle.flow_cfm),
        "signalled": cycle.signalled,
        "whole": cycle.whole,
    }


def _filters(read: CurveState) -> Payload:
    outlook: Forecast = read.outlook
    return {
        "since": _moment(read.ageing.since_utc_s),
        "change_noticed": read.ageing.noticed,
        "fell_at": _moment(read.ageing.fell_utc_s),
        "outlook": outlook.outlook.value,
        "missing": outlook.missing or None,
        "residual": number(outlook.residual_inh2o),
        "rise_inh2o_per_day": number(outlook.slope_inh2o_d),
        "rise_low_inh2o_per_day": number(outlook.slope_low_inh2o_d),
        "rise_high_inh2o_per_day": number(outlook.slope_high_inh2o_d),
        "days": round(outlook.days, 1),
        "due": _moment(outlook.due_utc_s),
        "earliest": _moment(outlook.earliest_utc_s),
        "latest": _moment(outlook.latest_utc_s),
        "order_by": _moment(outlook.order_by_utc_s),
    }


def _air(found: AirFigures) -> Payload:
    return {
        "since": _moment(found.since_utc_s),
        "pulses": round(found.pulses, 1),
        "counted_share": round(found.counted_share, 3),
        "per_pulse_ft3": number(found.per_pulse_ft3),
        "per_pulse_from": found.basis.value,
        "used": _use(found.used),
        "timed": _use(found.timed),
        "saved_ft3_per_day": number(found.saved_ft3_d),
        "saved_cost_per_day": number(found.saved_cost_d),
        "currency": found.currency or None,
        "worn_share": number(found.worn_share),
        "worn_at": _moment(found.worn_utc_s),
    }


def _use(use: Use | None) -> Payload | None:
    if use is None:
        return None
    return {
        "pulses_per_day": number(use.pulses_d),
        "ft3_per_day": number(use.air_ft3_d),
        "cost_per_day": number(use.cost_d),
        "diaphragm_days": number(use.diaphragm_days),
    }


def _moment(utc_s: float | None) -> str | None:
    return None if utc_s is None else rfc3339(utc_s)
