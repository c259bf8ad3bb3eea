"""Health: does everything that must move still move? Whether the devices answer is another question.

A link whose devices are all silent is healthy as long as its loop comes round; the alarms speak about the devices.
What is judged here is the daemon itself: a loop, the judge or the journal that stands still.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from monitor.figures import JudgeFigures, LinkFigures, StoreFigures
from monitor.tell.notation import duration
from monitor.words import Instant

OK = "ok"
JOURNAL = "journal"


@dataclass(frozen=True, slots=True)
class HealthReport:
    """By name of the check either ``ok`` or a sentence that says what stands still."""

    checks: Mapping[str, str]

    @property
    def ok(self) -> bool:
        """Whether every check is."""
        return all(found == OK for found in self.checks.values())

    @property
    def is_moving(self) -> bool:
        """Whether all but the journal is ok: a new start would mend a stuck loop, never a full disk."""
        return all(found == OK for name, found in self.checks.items() if name != JOURNAL)


def judge_health(
    links: Mapping[str, LinkFigures], judge: JudgeFigures, store: StoreFigures, now: Instant
) -> HealthReport:
    """Check every link's scan, the judge and the journal, on the scan clock."""
    checks = {
        f"link {name}": _turning(f"the scan of link {name}", link.turned_at, link.turn_limit_s, now)
        for name, link in links.items()
    }
    checks["judge"] = _turning("the judge", judge.turned_at, judge.turn_limit_s, now)
    checks[JOURNAL] = OK if store.healthy else f"the journal cannot be written: {store.last_error or 'no reason'}"
    return HealthReport(checks)


def _turning(what: str, turned_at: Instant, limit_s: float, now: Instant) -> str:
    age_s = now.mono_s - turned_at.mono_s
    # Written so that a NaN counts as stuck.
    if age_s <= limit_s:
        return OK
    return f"{what} has not come round for {duration(age_s)} (it may take {duration(limit_s)})"
