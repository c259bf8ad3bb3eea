"""Points: rules for what the register of a point means."""

from collections.abc import Iterator

from monitor.condition.registers import Encoding
from monitor.site import counts
from monitor.site.points import AnyAnalog
from monitor.site.problems import KeyPath
from monitor.site.rules import addresses
from monitor.site.rules.fault import Fault
from monitor.site.shape.points import Analog, DiscretePoint, FlowLoop, Numeric, PressureLoop, Where


def faults(path: KeyPath, point: Where, pa_per_inh2o: float) -> Iterator[Fault]:
    """Yield what breaks a rule about one point."""
    yield from addresses.faults(path, point)
    if isinstance(point, DiscretePoint):
        yield from _discrete_faults(path, point)
    elif isinstance(point, AnyAnalog):
        yield from _order_faults(path, point)
        yield from _analog_faults(path, point, pa_per_inh2o)


def _order_faults(path: KeyPath, point: Numeric | DiscretePoint) -> Iterator[Fault]:
    if point.encoding is None:
        return
    is_wide = point.encoding.width > 1
    if is_wide and point.word_order is None:
        wanted = (
            "is missing: write high-first or low-first. Modbus defines none for 32 bits, so there is no default"
        )
        yield Fault((*path, "word_order"), wanted)
    if not is_wide and point.word_order is not None:
        wanted = f"must not stand here: {point.encoding} is one register (byte_order is the order inside it)"
        yield Fault((*path, "word_order"), wanted)


def _analog_faults(path: KeyPath, point: AnyAnalog, pa_per_inh2o: float) -> Iterator[Fault]:
    if (point.loop is None) == (point.engineering is None):
        has_both = point.loop is not None
        wanted = "must have loop or engineering, not both" if has_both else "needs a meaning: loop or engineering"
        yield Fault(path, wanted)
    if point.loop is not None:
        yield from _loop_faults((*path, "loop"), point.loop, point.encoding, pa_per_inh2o)
        if point.measuring_range is not None:
            wanted = "must not stand beside loop: at_4_ma and at_20_ma are the measuring range"
            yield Fault((*path, "measuring_range"), wanted)
    if point.engineering is not None and point.engineering.scale == 0:
        yield Fault((*path, "engineering", "scale"), "must not be 0: every reading would be the same")
    for key in ("valid_range", "measuring_range"):
        found = getattr(point, key)
        if found is not None and found.low.to(found.high.unit, pa_per_inh2o) >= found.high.number:
            yield Fault((*path, key), "must have a low end below its high end", f'"{found.low}" to "{found.high}"')
    yield from _damping_faults(path, point)


def _damping_faults(path: KeyPath, point: Analog) -> Iterator[Fault]:
    median = point.damping.median
    if median is not None and median % 2 == 0:
        yield Fault(
            (*path, "damping", "median"), "must be an odd number, so that there is a middle", f'"{median}"'
        )


def _loop_faults(
    path: KeyPath, loop: PressureLoop | FlowLoop, encoding: Encoding, pa_per_inh2o: float
) -> Iterator[Fault]:
    for key in ("counts_at_4_ma", "counts_at_20_ma", "full_scale_counts"):
        found = getattr(loop, key)
        if found is not None and not counts.is_shown_by(encoding, found):
            low, high = counts.RANGE[encoding]
            yield Fault((*path, key), f"must be from {low} to {high}, what {encoding} can show", f'"{found:.10g}"')
    if loop.counts_at_4_ma == loop.counts_at_20_ma:
        found_text = f'"{loop.counts_at_20_ma:.10g}"'
        yield Fault((*path, "counts_at_20_ma"), "must differ from counts_at_4_ma", found_text)
        return
    if loop.at_4_ma.to(loop.at_20_ma.unit, pa_per_inh2o) == loop.at_20_ma.number:
        yield Fault((*path, "at_20_ma"), "must differ from at_4_ma", f'"{loop.at_20_ma}"')
    yield from _full_scale_faults(path, loop)


def _full_scale_faults(path: KeyPath, loop: PressureLoop | FlowLoop) -> Iterator[Fault]:
    last = loop.full_scale_counts
    if last is None:
        return
    rising = loop.counts_at_20_ma > loop.counts_at_4_ma
    if last < loop.counts_at_20_ma if rising else last > loop.counts_at_20_ma:
        side = "or more" if rising else "or less"
        at_20_ma = f"{loop.counts_at_20_ma:.10g} {side}"
        wanted = f"must be {at_20_ma}: the converter shows 20 mA so, and it ends there or beyond"
        yield Fault((*path, "full_scale_counts"), wanted, f'"{last:.10g}"')


def _discrete_faults(path: KeyPath, point: DiscretePoint) -> Iterator[Fault]:
    if point.bit is not None and point.threshold is not None:
        yield Fault(path, "must have bit or threshold, not both")
    if point.threshold is None:
        for key in ("encoding", "word_order"):
            if getattr(point, key) is not None:
                yield Fault((*path, key), "goes with threshold alone: a single bit has none")
        return
    if point.encoding is None:
        yield Fault((*path, "encoding"), "is missing: a threshold needs to know what the register holds")
    yield from _order_faults(path, point)
    yield from _threshold_faults((*path, "threshold"), point)


def _threshold_faults(path: KeyPath, point: DiscretePoint) -> Iterator[Fault]:
    threshold = point.threshold
    if threshold is None:
        return
    if threshold.scale == 0:
        yield Fault((*path, "scale"), "must not be 0: every reading would be the same")
    for key in ("at_least", "deadband"):
        found = getattr(threshold, key)
        if found is not None and found.unit != threshold.unit:
            yield Fault((*path, key), f"must be in {threshold.unit}, as unit says", f'"{found}"')
    if threshold.deadband is not None and threshold.deadband.number < 0:
        yield Fault((*path, "deadband"), "must be 0 or more", f'"{threshold.deadband}"')
