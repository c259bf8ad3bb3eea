"""Rehearsal summary: how many alarms it would have been, alone and beside another site file."""

from collections.abc import Sequence
from typing import NamedTuple

from monitor.report.rehearsal import AlarmLine, Rehearsal
from monitor.report.rehearsal_words import count, duration, setting, stamp


class Tally(NamedTuple):
    """One alarm under one site file.

    Attributes:
        raised: how often it was raised.
        active_s: how long it was active in all; ``longest_s`` the longest single time.
        setting: how it is set, in words; empty where that site file has no such alarm.
    """

    raised: int
    active_s: float
    longest_s: float
    setting: str


class TallyRow(NamedTuple):
    """One alarm under every site file, in their order."""

    collector: str
    tag: str
    tallies: tuple[Tally, ...]


NONE_THERE = Tally(0, 0.0, 0.0, "")


def headline(rehearsals: Sequence[Rehearsal]) -> str:
    """The whole in one sentence."""
    first, *others = rehearsals
    if not others:
        return f"With {first.file} you would have had {count(len(first.raisings), 'alarm')}."
    number, before = len(first.raisings), len(others[0].raisings)
    ours = f"{number:,} alarm{'' if number == 1 else 's'}" if number else "no alarm"
    other = f"instead of {before:,} with {others[0].file}"
    return f"With the set points of {first.file} you would have had {ours} {other}."


def period(rehearsal: Rehearsal) -> str:
    """What was rehearsed: the site, from when until when, in UTC."""
    begins, ends = rehearsal.begins_utc_s, rehearsal.ends_utc_s
    return f"{rehearsal.site}, {stamp(begins)} to {stamp(ends)} UTC ({duration(ends - begins)})"


def tally_rows(rehearsals: Sequence[Rehearsal]) -> list[TallyRow]:
    """Every alarm of any of the site files, by collector and in the order of the files."""
    keys: dict[tuple[str, str], None] = {}
    for rehearsal in rehearsals:
        for story in rehearsal.collectors.values():
            keys.update(((story.name, line.tag), None) for line in story.alarms)
    order = {name: at for at, name in enumerate(dict.fromkeys(name for name, _ in keys))}
    return [
        TallyRow(name, tag, tuple(_tally(one, name, tag) for one in rehearsals))
        for name, tag in sorted(keys, key=lambda key: order[key[0]])
    ]


def _tally(rehearsal: Rehearsal, name: str, tag: str) -> Tally:
    story = rehearsal.collectors.get(name)
    line = next((one for one in story.alarms if one.tag == tag), None) if story else None
    if story is None or line is None:
        return NONE_THERE
    lengths = [one.active_s(rehearsal.ends_utc_s) for one in story.raisings_of(tag)]
    return Tally(len(lengths), sum(lengths), max(lengths, default=0.0), setting(line))


def line_of(rehearsal: Rehearsal, collector: str, tag: str) -> AlarmLine | None:
    """How one alarm is set there; None where there is none of that tag."""
    story = rehearsal.collectors.get(collector)
    return None if story is None else next((one for one in story.alarms if one.tag == tag), None)
