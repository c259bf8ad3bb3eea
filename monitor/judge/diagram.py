"""Diagram: the table of an alarm's life as a picture and as a page, both from its rows alone.

``DEVELOPERS.md`` shows what these functions return, and a test holds the two equal: what is drawn is what runs.
"""

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from monitor.judge.table import HELD, Trigger, rows
from monitor.words import AlarmState


class _Arrow(NamedTuple):
    """From any of these states, to these states, with this word beside it."""

    befores: frozenset[AlarmState]
    afters: frozenset[AlarmState]
    word: str


def mermaid() -> str:
    """The states and what leads from one to another, as a mermaid ``stateDiagram-v2``.

    What holds an alarm back begins in many states and would hide everything under its arrows: those of one
    trigger are drawn as one, from (or to) a box that stands for all of these states.
    """
    arrows = list(_arrows())
    boxes = dict.fromkeys(end for arrow in arrows for end in arrow[:2] if len(end) > 1)
    ids = {box: f"box_{number}" for number, box in enumerate(boxes, 1)}
    ids |= {frozenset({state}): str(state) for state in AlarmState}
    lines = ["stateDiagram-v2", f"    [*] --> {AlarmState.NORMAL}"]
    lines += [f'    state "{_spoken(state)}" as {state}' for state in AlarmState if "_" in state]
    lines += [f'    state "{_all_of(box)}" as {ids[box]}' for box in boxes]
    lines += [f"    {ids[befores]} --> {ids[afters]}: {word}" for befores, afters, word in arrows]
    return "\n".join(lines)


def markdown() -> str:
    """Every trigger (down) in every state (across): where it leads; empty where it changes nothing."""
    cells: dict[tuple[Trigger, AlarmState], list[str]] = defaultdict(list)
    for state, trigger, case, row in rows():
        cells[trigger, state].append(_spoken(row.state) + (f" ({case})" if case else ""))
    lines = ["| trigger | " + " | ".join(_spoken(state) for state in AlarmState) + " |"]
    lines.append("|---" * (len(AlarmState) + 1) + "|")
    for trigger in Trigger:
        line = (", ".join(cells[trigger, state]) for state in AlarmState)
        lines.append(f"| **{_spoken(trigger)}** | " + " | ".join(line) + " |")
    return "\n".join(lines)


def _arrows() -> Iterator[_Arrow]:
    """First those between two states, with all their words; then those that hold, one for each trigger."""
    words: dict[tuple[AlarmState, AlarmState], list[str]] = defaultdict(list)
    into: dict[tuple[Trigger, AlarmState], set[AlarmState]] = defaultdict(set)
    out_of: dict[tuple[Trigger, AlarmState], set[AlarmState]] = defaultdict(set)
    for state, trigger, case, row in rows():
        if row.state in HELD:
            into[trigger, row.state].add(state)
        elif trigger is Trigger.RELEASE:
            out_of[trigger, state].add(row.state)
        else:
            words[state, row.state].append(_spoken(trigger) + (f" ({case})" if case else ""))
    for (before, after), said in words.items():
        yield _Arrow(frozenset({before}), frozenset({after}), ", ".join(said))
    for (trigger, after), befores in into.items():
        yield _Arrow(frozenset(befores), frozenset({after}), _spoken(trigger))
    for (trigger, before), afters in out_of.items():
        yield _Arrow(frozenset({before}), frozenset(afters), f"{_spoken(trigger)}, to what it was")


def _all_of(states: frozenset[AlarmState]) -> str:
    """The states of a box in words: those that belong to it, or those that do not, whichever are fewer."""
    others = frozenset(AlarmState) - states
    if len(others) < len(states):
        return "any state but " + " and ".join(_in_order(others))
    return " or ".join(_in_order(states))


def _in_order(states: frozenset[AlarmState]) -> list[str]:
    return [_spoken(state) for state in AlarmState if state in states]


def _spoken(name: AlarmState | Trigger) -> str:
    return name.replace("_", " ")
