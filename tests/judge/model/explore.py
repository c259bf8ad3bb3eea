"""Explore: breadth first through every state that a world can reach, and what was found on the way."""

from collections import Counter, deque
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, field
from typing import Any

#: The one invariant that speaks of time and an act in one step.
IN_TWO = "time_cut_in_pieces_changes_nothing"


@dataclass(slots=True)
class Found:
    """What an exploration found.

    Attributes:
        came: every state, with the state and the act that first led to it.
        backwards: for every state, the states from which one act leads to it.
        broken: at most one story for each invariant that did not hold.
        checked: how often each invariant had something to say.
    """

    came: dict[Hashable, Any] = field(default_factory=dict)
    backwards: dict[Hashable, set[Hashable]] = field(default_factory=dict)
    broken: dict[str, str] = field(default_factory=dict)
    checked: Counter[str] = field(default_factory=Counter)
    transitions: int = 0

    @property
    def states(self) -> int:
        return len(self.came)


def explore(
    start: Hashable,
    moves: Callable[[Any], Iterable[tuple[Any, Any, Any]]],
    invariants: Iterable[Callable[[Any], bool | None]],
    *,
    most: int = 5_000_000,
) -> Found:
    """Visit every reachable state once; check every invariant on every stride between two, until one is broken.

    Args:
        start: the first state.
        moves: state → (act, next state, stride).
        invariants: stride → True, False, or None where it says nothing about this stride.
        most: more states than this are a mistake in the world (something grows without end).
    """
    found = Found(came={start: None}, backwards={start: set()})
    queue = deque([start])
    checks = [(one.__name__, one) for one in invariants]
    # The shortest story is the first one: what comes after a mistake may never end.
    while queue and not found.broken:
        state = queue.popleft()
        for act, after, stride in moves(state):
            found.transitions += 1
            for name, holds in checks:
                if getattr(stride, "same_in_two", None) is not None and name != IN_TWO:
                    continue  # its two halves are strides of their own, and each is checked
                verdict = holds(stride)
                if verdict is None:
                    continue
                found.checked[name] += 1
                if not verdict and name not in found.broken:
                    found.broken[name] = _story(found, state, act, stride)
            if after not in found.came:
                assert found.states < most, "the world does not end: something in its states is not capped"
                found.came[after] = (state, act)
                found.backwards[after] = set()
                queue.append(after)
            found.backwards[after].add(state)
    return found


def unable_to_reach(found: Found, is_goal: Callable[[Any], bool]) -> list[Any]:
    """The states from which no sequence of acts leads to a goal."""
    reached = {state for state in found.came if is_goal(state)}
    queue = deque(reached)
    while queue:
        for before in found.backwards[queue.popleft()]:
            if before not in reached:
                reached.add(before)
                queue.append(before)
    return [state for state in found.came if state not in reached]


def _story(found: Found, state: Hashable, act: Any, stride: Any) -> str:
    acts = [act]
    while (came := found.came[state]) is not None:
        state, earlier = came
        acts.append(earlier)
    return " → ".join(str(one) for one in reversed(acts)) + f"\n  {stride}"
