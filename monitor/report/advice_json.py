"""Advice JSON: the whole of an advice for programs."""

from monitor.interpret.advice.advising import Advice
from monitor.report.advice import AdviceStory, SiteAdvice
from monitor.report.advice_rows import outcome_json
from monitor.report.advice_words import CAUTIONS, LACKS, doubts, headline, reasons


def as_json(told: SiteAdvice) -> dict[str, object]:
    """Everything; moments are Unix seconds, rates are of a day of running."""
    return {
        "site": told.site,
        "file": told.file,
        "begins_utc_s": told.begins_utc_s,
        "ends_utc_s": told.ends_utc_s,
        "collectors": [_story(one) for one in told.stories],
        "notes": list(told.notes),
        "cautions": list(CAUTIONS),
    }


def _story(story: AdviceStory) -> dict[str, object]:
    told: dict[str, object] = {"name": story.name, "told": headline(story)}
    if story.lack is not None:
        told |= {"lack": story.lack.value, "lack_told": LACKS[story.lack]}
    return told if story.advice is None else told | _advice(story, story.advice)


def _advice(story: AdviceStory, advice: Advice) -> dict[str, object]:
    return {
        "why": [why.value for why in advice.setpoints.why],
        "reasons": list(reasons(advice)),
        "now": outcome_json(advice.now),
        "advised": outcome_json(advice.then),
        "bands": [
            {"now": one.now._asdict(), "advised": one.advised._asdict(), "why": [why.value for why in one.why]}
            for one in advice.bands
        ],
        "alarms": [
            {"tag": row.tag}
            | {
                name: {"raised": pair[0], "active_s": round(pair[1], 1)}
                for name, pair in zip(row._fields[1:], row[1:], strict=True)
            }
            for row in story.alarm_rows()
        ],
        "check": {
            "measured": advice.habits.measured._asdict(),
            "replayed": advice.habits.replayed._asdict(),
            "error": round(advice.habits.error, 4),
            "cycles": len(advice.habits.drives),
            "left_out": advice.habits.left_out,
            "span_s": round(advice.habits.span_s, 1),
        },
        "reachable_inh2o": round(advice.reachable_inh2o, 3),
        "air_per_pulse_ft3": advice.per_pulse_ft3,
        "air_basis": advice.basis.value,
        "doubts": list(doubts(advice)),
    }
