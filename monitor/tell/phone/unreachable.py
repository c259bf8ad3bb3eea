"""Unreachable: what to say while nobody can be reached."""

from monitor.tell.phone.callout import Callout, most_urgent_first
from monitor.tell.phone.state import RelayState


def unreached(state: RelayState) -> str:
    """A sentence where nobody could be reached for some alarm; empty while all is well."""
    lost = sorted(
        (one for one in state.callouts.values() if one.unreached), key=lambda one: (-_rank(one), one.began_s)
    )
    if not lost:
        return ""
    first = lost[0]
    more = f", and for {_counted(len(lost) - 1)} more" if len(lost) > 1 else ""
    return f"nobody could be reached for {_alarm(first)}{more}: {_tried(state, first)}"


def _counted(number: int) -> str:
    return f"{number} callout" if number == 1 else f"{number} callouts"


def _rank(callout: Callout) -> int:
    return max((one.alarm.priority.rank for one in callout.entries), default=-1)


def _alarm(callout: Callout) -> str:
    owed = tuple([one.alarm for one in callout.entries if one.is_owed and not one.delivered])
    ranked = most_urgent_first(owed or tuple([one.alarm for one in callout.entries]))
    where = ranked[0].collector or (f"link {ranked[0].link}" if ranked[0].link else "site")
    return f"{ranked[0].tag} ({where}, {ranked[0].priority.value})"


def _tried(state: RelayState, callout: Callout) -> str:
    if not callout.called:
        return "nobody is on duty by its route"
    why = _why(state, callout)
    names = ", ".join(callout.called)
    return f"tried {names}{f'; last: {why}' if why else ''}"


def _why(state: RelayState, callout: Callout) -> str:
    boxes = [(state.boxes.get(person), ref) for person, ref in callout.out]
    errands = [box.errands[ref] for box, ref in boxes if box is not None and ref in box.errands]
    return next((one.why for one in reversed(errands) if one.why), "")
