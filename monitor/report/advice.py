"""Advice: what was found out about where set points and bands belong, as plain facts.

Filled in by ``monitor/rehearse``; told as sentences, tables, charts and pages by the files beside this one.
"""

from dataclasses import dataclass
from typing import NamedTuple

from monitor.interpret.advice.advising import Advice
from monitor.interpret.advice.learning import Lack
from monitor.report.rehearsal import CollectorStory


class AlarmRow(NamedTuple):
    """How often one alarm was raised, and how long it was active in all, seconds.

    Attributes:
        recorded, recorded_then: on the recording as it is, with the bands as they are and as advised.
        replayed, replayed_then: on the replayed DP: present set points and bands, advised set points and bands.
    """

    tag: str
    recorded: tuple[int, float]
    recorded_then: tuple[int, float]
    replayed: tuple[int, float]
    replayed_then: tuple[int, float]


@dataclass(frozen=True, slots=True)
class AdviceStory:
    """One collector: either the advice, or why there is none.

    Attributes:
        before, after: the recording through the judge, with the bands as they are and as advised.
        before_replayed, after_replayed: the same for the replayed DP, and the set points.
        was: moments (Unix seconds) and DP as it was recorded, for the time that is drawn.
        level_inh2o: mean DP under cleaning, where there is no advice; None where there was no cleaning.
    """

    name: str
    description: str
    before: CollectorStory
    lack: Lack | None = None
    advice: Advice | None = None
    after: CollectorStory | None = None
    before_replayed: CollectorStory | None = None
    after_replayed: CollectorStory | None = None
    was: tuple[tuple[float, float], ...] = ()
    level_inh2o: float | None = None

    def alarm_rows(self) -> list[AlarmRow]:
        """Every alarm, in the order of the site file; empty where there is no advice."""
        stories = (self.before, self.after, self.before_replayed, self.after_replayed)
        there = [one for one in stories if one is not None]
        if len(there) < len(stories):
            return []
        return [AlarmRow(line.tag, *(_tally(one, line.tag) for one in there)) for line in self.before.alarms]


@dataclass(frozen=True, slots=True)
class SiteAdvice:
    """All collectors of a site.

    Attributes:
        site: its name, as it calls itself; ``file`` the name of the site file.
        begins_utc_s, ends_utc_s: of the data that was used.
        notes: what was assumed, and what was odd about the data; each one sentence.
    """

    site: str
    file: str
    begins_utc_s: float
    ends_utc_s: float
    stories: tuple[AdviceStory, ...]
    notes: tuple[str, ...] = ()


def _tally(story: CollectorStory, tag: str) -> tuple[int, float]:
    found = story.raisings_of(tag)
    until_utc_s = story.curve.begins_utc_s + story.curve.width_s * len(story.curve.lowest)
    return len(found), sum(max(0.0, one.active_s(until_utc_s)) for one in found)
