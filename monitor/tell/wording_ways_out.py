"""Wording, ways out: what to do instead where an alarm's state does not allow what was asked for."""

from collections.abc import Callable, Mapping

from monitor.words import AlarmState, CommandKind

_AGAIN = "look how it stands, and send it again"
_NOTHING = "nothing has to be done"


def _held_way_out(state: AlarmState | None, otherwise: str) -> str:
    match state:
        case AlarmState.SHELVED:
            return "unshelve it first"
        case AlarmState.OUT_OF_SERVICE:
            return "return it to service first"
        case AlarmState.SUPPRESSED_BY_DESIGN:
            return "wait until it is no longer held back"
        case _:
            return otherwise


def _instead_of_acknowledging(state: AlarmState | None) -> str:
    match state:
        case AlarmState.LATCHED_ACKNOWLEDGED:
            return "clear it to end it"
        case AlarmState.NORMAL | AlarmState.ACKNOWLEDGED:
            return _NOTHING
        case _:
            return _held_way_out(state, _AGAIN)


def _instead_of_clearing(state: AlarmState | None) -> str:
    match state:
        case AlarmState.NORMAL:
            return _NOTHING
        case AlarmState.RETURNED_UNACKNOWLEDGED:
            return "acknowledge it, that ends it"
        case AlarmState.UNACKNOWLEDGED | AlarmState.ACKNOWLEDGED:
            return "wait until it is back to normal"
        case _:
            return _held_way_out(state, _AGAIN)


def _instead_of_shelving(state: AlarmState | None) -> str:
    return _held_way_out(state, _AGAIN)


def _instead_of_unshelving(state: AlarmState | None) -> str:
    match state:
        case AlarmState.OUT_OF_SERVICE:
            return "return it to service instead"
        case AlarmState.SUPPRESSED_BY_DESIGN:
            return "wait until it is no longer held back"
        case AlarmState.SHELVED | None:
            return _AGAIN
        case _:
            return _NOTHING


def _instead_of_taking_out(state: AlarmState | None) -> str:
    return _NOTHING if state is AlarmState.OUT_OF_SERVICE else _AGAIN


def _instead_of_returning(state: AlarmState | None) -> str:
    match state:
        case AlarmState.SHELVED:
            return "it is in service: unshelve it instead"
        case AlarmState.OUT_OF_SERVICE | None:
            return _AGAIN
        case _:
            return "it is in service: nothing has to be done"


def _instead_of_testing(state: AlarmState | None) -> str:
    return _held_way_out(state, _AGAIN if state in (AlarmState.NORMAL, None) else "wait until it is normal")


#: The way out by what was asked for, given how the alarm stands (None: nobody knows). The horn has no state.
WAY_OUT: Mapping[CommandKind, Callable[[AlarmState | None], str]] = {
    CommandKind.ACKNOWLEDGE: _instead_of_acknowledging,
    CommandKind.CLEAR: _instead_of_clearing,
    CommandKind.SHELVE: _instead_of_shelving,
    CommandKind.UNSHELVE: _instead_of_unshelving,
    CommandKind.OUT_OF_SERVICE: _instead_of_taking_out,
    CommandKind.RETURN_TO_SERVICE: _instead_of_returning,
    CommandKind.TEST: _instead_of_testing,
}
