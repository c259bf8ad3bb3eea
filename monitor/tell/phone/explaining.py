"""Explaining: how many alarms are held back as consequences of another, to be told with their cause."""

from monitor.tell.phone.state import RelayState
from monitor.words import AlarmState, Event, HoldReason


def explain(state: RelayState, event: Event) -> RelayState:
    """Count a consequence that begins or ends under its cause; when the cause is over its count is."""
    tag, step = _counted(event)
    explains = dict(state.explains)
    if tag:
        explains[tag] = max(0, explains.get(tag, 0) + step)
    elif event.tag in explains and event.state is AlarmState.NORMAL:
        explains[event.tag] = 0
    else:
        return state
    return state._replace(explains={name: number for name, number in explains.items() if number})


def _counted(event: Event) -> tuple[str, int]:
    """Under which alarm one more or one less is held back."""
    step = {"suppressed": 1, "released": -1}.get(event.happened, 0)
    under = event.facts.get("under")
    if not step or event.facts.get("why") != HoldReason.CONSEQUENCE or not isinstance(under, str):
        return "", 0
    return under, step
