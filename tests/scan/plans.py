"""A small plant for tests of the core: one collector with the common-practice bands."""

from dataclasses import replace

from monitor.condition.channel import AnalogChannel, DiscreteChannel
from monitor.condition.registers import Encoding, RegisterFormat
from monitor.condition.scaling import LoopScaling
from monitor.interpret.settings import TrendSettings
from monitor.judge.settings import AlarmSettings, Band, Judged, Side
from monitor.scan.settings import CollectorPlan, PointPlan
from monitor.words import (
    Block,
    BlockRead,
    Failure,
    Instant,
    PointId,
    Priority,
    Reason,
    Role,
    Slot,
    Table,
    UnitScan,
)

UTC = 1_700_000_000.0
LINK = "mill-gateway"


def at(mono_s):
    return Instant(mono_s, UTC + mono_s)


def alarm(tag, on_delay_s=2.0, off_delay_s=1.0, latching=True, auto_clear_s=20.0, priority=Priority.HIGH):
    return AlarmSettings(
        tag=tag,
        priority=priority,
        on_delay_s=on_delay_s,
        off_delay_s=off_delay_s,
        latching=latching,
        auto_clear_s=auto_clear_s,
    )


def band(tag, side, setpoint, judged=Judged.DAMPED, **timing):
    return Band(alarm=alarm(tag, **timing), side=side, setpoint_inh2o=setpoint, deadband_inh2o=0.2, judged=judged)


# 4–20 mA as 0–10000 counts over 0–10 inH2O: a count is a thousandth of an inch.
DP = AnalogChannel(
    format=RegisterFormat(Encoding.INT16),
    scaling=LoopScaling(0, 10_000, 0.0, 10.0),
    stale_after_s=5.0,
    span=10.0,
)


MINUTE = TrendSettings(residual_window_s=60.0, average_window_s=60.0)


def plan(
    name="DC-101",
    number="101",
    bands=None,
    with_fan=False,
    dp=DP,
    trends=MINUTE,
):
    points = {Role.DP: PointPlan(tag=f"PDT-{number}", place="test", channel=dp)}
    if with_fan:
        points[Role.FAN_RUNNING] = PointPlan(
            tag=f"YS-{number}", place="test", channel=DiscreteChannel(stale_after_s=5.0)
        )
    return CollectorPlan(
        name=name,
        points=points,
        bands=bands
        if bands is not None
        else (
            band(f"PDAHH-{number}", Side.ABOVE, 9.0),
            band(f"PDAH-{number}", Side.ABOVE, 7.0),
            band(f"PDAL-{number}", Side.BELOW, 2.0, latching=False),
        ),
        bad_signal=replace(
            alarm(f"PDT-{number}-BAD", on_delay_s=3.0, off_delay_s=0.0, latching=False), counts_back=True
        ),
        trends=trends,
    )


def counts(dp_inh2o):
    return round(dp_inh2o * 1000)


def dp_scan(second, dp_inh2o, collector="DC-101", fan=None):
    """What a scan brings: a DP in inH2O, or a Reason for a failed request; the fan beside it if asked."""
    reads = [_read(second, Slot(PointId(collector, Role.DP), 0, 1), Table.INPUT_REGISTER, dp_inh2o)]
    if fan is not None:
        reads.append(_read(second, Slot(PointId(collector, Role.FAN_RUNNING), 0, 1), Table.DISCRETE_INPUT, fan))
    return UnitScan(LINK, 1, tuple(reads))


def shown_scan(second, dp_inh2o, header_psi, fan, cleaning, collector="DC-101"):
    """What a scan of a collector with all its signals brings; a Reason where a request failed."""

    def slot(role):
        return Slot(PointId(collector, role), 0, 1)

    header = header_psi if isinstance(header_psi, Reason) else header_psi / 100.0  # tenths of a psi
    reads = (
        _read(second, slot(Role.HEADER_PRESSURE), Table.INPUT_REGISTER, header),
        _read(second, slot(Role.FAN_RUNNING), Table.DISCRETE_INPUT, fan),
        _read(second, slot(Role.CLEANING_ACTIVE), Table.DISCRETE_INPUT, cleaning),
        _read(second, slot(Role.DP), Table.INPUT_REGISTER, dp_inh2o),
    )
    return UnitScan(LINK, 1, reads)


def _read(second, slot, table, what):
    block = Block(1, table, 0, 1, (slot,))
    if isinstance(what, Reason):
        return BlockRead(block, at(second), failure=Failure(what, "test"))
    word = counts(what) % 65536 if table is Table.INPUT_REGISTER else int(what)
    return BlockRead(block, at(second), words=(word,))
