"""Rehearsal JSON: everything a rehearsal found, for programs. Moments are Unix seconds, DPs inH2O."""

from collections.abc import Sequence
from typing import Any

from monitor.report.rehearsal import CollectorStory, Raising, Rehearsal
from monitor.report.rehearsal_reading import lines
from monitor.report.rehearsal_summary import headline


def as_json(rehearsals: Sequence[Rehearsal]) -> dict[str, Any]:
    """One rehearsal or several side by side, the one asked for first."""
    return {"summary": headline(rehearsals), "rehearsals": [_rehearsal(one) for one in rehearsals]}


def _rehearsal(one: Rehearsal) -> dict[str, Any]:
    return {
        "site": one.site,
        "file": one.file,
        "begins_utc_s": one.begins_utc_s,
        "ends_utc_s": one.ends_utc_s,
        "alarms": len(one.raisings),
        "collectors": [_story(story, one.ends_utc_s) for story in one.collectors.values()],
        "notes": list(one.notes),
    }


def _story(story: CollectorStory, ends_utc_s: float) -> dict[str, Any]:
    sight = story.sight
    return {
        "collector": story.name,
        "readings": sight.samples,
        "not_trusted": sight.bad,
        "gaps": sight.gaps,
        "silent_s": sight.silent_s,
        "longest_gap_s": sight.longest_gap_s,
        "raisings": [_raising(one, ends_utc_s) for one in story.raisings],
        "curve": list(lines(story)),
        "cycles": None if story.read is None else story.read.cycles,
        "states": {
            line.tag: [{"at_utc_s": change.at_utc_s, "state": change.state.value} for change in line.changes]
            for line in story.alarms
        },
    }


def _raising(one: Raising, ends_utc_s: float) -> dict[str, Any]:
    return {
        "tag": one.tag,
        "priority": None if one.priority is None else one.priority.value,
        "raised_utc_s": one.raised_utc_s,
        "back_utc_s": one.back_utc_s,
        "ended_utc_s": one.ended_utc_s,
        "ending": one.ending.value,
        "active_s": one.active_s(ends_utc_s),
        "value_inh2o": one.value_inh2o,
        "lowest_inh2o": one.lowest_inh2o,
        "highest_inh2o": one.highest_inh2o,
        "suspicions": [{"trouble": each.trouble.value, "share": each.share} for each in one.suspicions],
    }
