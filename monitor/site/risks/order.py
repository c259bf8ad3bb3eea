"""Order: risks of bands beside one another on one collector."""

from collections.abc import Iterator
from itertools import pairwise

from monitor.judge.settings import Band, Judged, Side
from monitor.scan.settings import CollectorPlan
from monitor.site.problems import KeyPath
from monitor.site.risks.bands import letters_of
from monitor.site.risks.risk import Risk


def risks(path: KeyPath, plan: CollectorPlan) -> Iterator[Risk]:
    """Yield bands whose deadband reaches the next band, and bands in the wrong order."""
    for judged in Judged:
        alike = [band for band in plan.bands if band.judged is judged]
        for side in Side:
            outwards = _outwards([band for band in alike if band.side is side], side)
            for inner, outer in pairwise(outwards):
                yield from _pair_risks((*path, "bands"), inner, outer)
            others = _outwards([band for band in alike if band.side is not side], side)
            if outwards and others:
                yield from _deadband_risks((*path, "bands"), others[-1], outwards[0])


def _outwards(bands: list[Band], side: Side) -> list[Band]:
    """Sorted from the middle of the range towards this side's end."""
    return sorted(bands, key=lambda band: band.setpoint_inh2o, reverse=side is Side.BELOW)


def _pair_risks(path: KeyPath, inner: Band, outer: Band) -> Iterator[Risk]:
    yield from _deadband_risks(path, inner, outer)
    inner_tag, outer_tag = inner.alarm.tag, outer.alarm.tag
    if len(letters_of(inner_tag)) > len(letters_of(outer_tag)) > 0:
        yield Risk(
            (*path, inner_tag), f"is raised before {outer_tag}, and its tag says it is the graver one: wrong order"
        )
    elif inner.alarm.priority.rank > outer.alarm.priority.rank:
        yield Risk(
            (*path, outer_tag),
            f"is further out than {inner_tag} and of lower priority ({outer.alarm.priority} against "
            f"{inner.alarm.priority})",
        )


def _deadband_risks(path: KeyPath, inner: Band, outer: Band) -> Iterator[Risk]:
    distance = abs(outer.setpoint_inh2o - inner.setpoint_inh2o)
    if outer.deadband_inh2o <= distance:
        return
    is_same_side = outer.side is inner.side
    then = (
        "is still raised when the other has returned" if is_same_side else "returns only when the other is raised"
    )
    yield Risk(
        (*path, outer.alarm.tag, "deadband"),
        f"({outer.deadband_inh2o:.4g} inH2O) is wider than the distance to {inner.alarm.tag} "
        f"({distance:.4g} inH2O): this alarm {then}",
    )
