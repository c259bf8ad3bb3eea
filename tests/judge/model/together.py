"""Together: what must hold of the alarms of one collector, one function and one sentence each.

As in ``invariants.py``: True or False, or None where there is nothing to say.
"""

from monitor.judge.alarm import Alarm
from monitor.judge.calm import settings_of
from monitor.judge.table import ACTIVE
from monitor.words import AlarmState, Cause, Hold, HoldReason
from tests.judge.model.collector import TAGS, Said, Scene, Turn


def each_is_held_under_what_explains_it(turn: Turn) -> bool:
    """An alarm is held back from outside, or else under the first of its causes that stands, or not at all."""
    for settings in settings_of(turn.bands).values():
        standing = [tag for tag in settings.causes if tag in turn.after and _vouches(turn.after[tag])]
        wanted = turn.held.get(settings.tag)
        if wanted is None and standing:
            wanted = Hold(HoldReason.CONSEQUENCE, standing[0])
        if turn.after[settings.tag].hold != wanted:
            return False
    return True


def _vouches(cause: Alarm) -> bool:
    meaningless = cause.hold is not None and cause.hold.why is not HoldReason.CONSEQUENCE
    return cause.stands and cause.state is not AlarmState.OUT_OF_SERVICE and not meaningless


def no_consequence_is_announced_with_its_cause(turn: Turn) -> bool | None:
    """While a cause stands, and in the very moment in which it comes, none of its consequences is announced."""
    announced = {one.tag for one in turn.fired if one.happened == "raised"}
    if not announced:
        return None
    settings = settings_of(turn.bands)
    return not any(_vouches(turn.after[cause]) for tag in announced for cause in settings[tag].causes)


def what_outlives_its_cause_is_announced(turn: Turn) -> bool | None:
    """When a cause goes, what still stands of its consequences and is not held otherwise is announced at once."""
    waiting = [
        tag
        for tag, alarm in turn.before.items()
        if alarm.hold is not None and alarm.stands and turn.after[tag].stands and not turn.after[tag].is_mute
    ]
    if not waiting:
        return None
    return all(turn.after[tag].state in ACTIVE for tag in waiting)


def a_person_moves_no_other_alarm(turn: Turn) -> bool | None:
    """A person moves the alarm that was named; any other only begins or ceases to be held under it."""
    if not isinstance(turn.deed, Said):
        return None
    others = [one for one in turn.fired if one.tag != turn.deed.tag]
    return all(one.cause in {Cause.DESIGN, Cause.PROCESS} for one in others) and all(
        turn.before[one.tag].hold != turn.after[one.tag].hold for one in others
    )


def the_calm_changes_no_judgement(turn: Turn) -> bool:
    """The short cut for quiet samples decides nothing: without it the same happens."""
    return turn.calm_same


def what_happens_is_told_in_order(turn: Turn) -> bool | None:
    """What happened to several alarms is told in the order in which it happened."""
    moments = [one.at.mono_s for one in turn.fired]
    return moments == sorted(moments) if len(moments) > 1 else None


def a_restart_leaves_every_hold(turn: Turn) -> bool | None:
    """A restart tells nothing, and what held an alarm back holds it still."""
    if turn.deed is not Scene.RESTART:
        return None
    return not turn.fired and all(turn.before[tag].hold == turn.after[tag].hold for tag in TAGS)


OF_A_COLLECTOR = (
    each_is_held_under_what_explains_it,
    no_consequence_is_announced_with_its_cause,
    what_outlives_its_cause_is_announced,
    a_person_moves_no_other_alarm,
    the_calm_changes_no_judgement,
    what_happens_is_told_in_order,
    a_restart_leaves_every_hold,
)
