"""Collectors of every kind of setting, and recordings of every kind of day, drawn at random."""

import random

from hypothesis import strategies as st

from monitor.acquire.traces.trace import Chunk
from monitor.condition.channel import AnalogChannel, DiscreteChannel
from monitor.condition.registers import Encoding, RegisterFormat
from monitor.condition.scaling import LinearScaling, LoopScaling
from monitor.interpret.settings import CleaningSettings, CurveSettings, TrendSettings
from monitor.judge.settings import AlarmSettings, Band, Judged, Side
from monitor.scan.settings import CollectorPlan, PointPlan, Suppression
from monitor.troubles import Sign
from monitor.words import Failure, PointId, Priority, Reason, Role

UTC = 1_772_000_000.0
NAME = "DC-101"
INT16 = RegisterFormat(Encoding.INT16)

scalings = st.sampled_from(
    [
        LinearScaling(),
        LinearScaling(scale=0.001),
        LoopScaling(0, 27_648, 0.0, 10.0, None),
        LoopScaling(819, 4095, 0.0, 10.0, 4095),
    ]
)


@st.composite
def dp_channels(draw):
    return AnalogChannel(
        format=INT16,
        scaling=draw(scalings),
        valid_low=draw(st.sampled_from([None, -0.5])),
        valid_high=draw(st.sampled_from([None, 9.0])),
        median_samples=draw(st.sampled_from([None, 3, 3, 5])),
        lag_s=draw(st.sampled_from([None, None, 4.0])),
        frozen_after_s=draw(st.sampled_from([None, 30.0, 90.0])),
        stale_after_s=draw(st.sampled_from([1.0, 5.0, 20.0])),
        span=draw(st.sampled_from([None, 10.0])),
        unit="inH2O",
    )


@st.composite
def alarms(draw, tag, causes=(), counts_back=False):
    return AlarmSettings(
        tag=tag,
        priority=Priority.HIGH,
        on_delay_s=draw(st.sampled_from([0.0, 2.0, 15.0])),
        off_delay_s=draw(st.sampled_from([0.0, 3.0, 15.0])),
        latching=draw(st.booleans()),
        auto_clear_s=draw(st.sampled_from([None, 10.0, 60.0])),
        causes=causes,
        counts_back=counts_back,
    )


@st.composite
def plans(draw):
    judged = st.sampled_from([Judged.DAMPED, Judged.DAMPED, Judged.RESIDUAL, Judged.AVERAGE])
    bad = "PDT-101-BAD"

    def band(tag, side, setpoint, causes=(bad,)):
        return Band(
            alarm=draw(alarms(tag, causes)),
            side=side,
            setpoint_inh2o=setpoint,
            deadband_inh2o=draw(st.sampled_from([0.0, 0.2, 1.0])),
            judged=draw(judged),
        )

    bands = [
        band("PDAHH-101", Side.ABOVE, 7.0),
        band("PDAH-101", Side.ABOVE, draw(st.sampled_from([5.0, 5.5])), (bad, "PDAHH-101")),
        band("PDAL-101", Side.BELOW, draw(st.sampled_from([1.0, 4.0]))),
    ]
    points = {Role.DP: PointPlan(tag="PDT-101", place="recorded", channel=draw(dp_channels()))}
    stale = st.sampled_from([3.0, 30.0])
    for role, tag in ((Role.FAN_RUNNING, "YL-101"), (Role.CLEANING_ACTIVE, "XL-101")):
        if draw(st.booleans()):
            points[role] = PointPlan(tag=tag, place="recorded", channel=DiscreteChannel(stale_after_s=draw(stale)))
    if draw(st.booleans()):
        pressure = AnalogChannel(format=INT16, scaling=LinearScaling(scale=0.1), median_samples=3, unit="psi")
        points[Role.HEADER_PRESSURE] = PointPlan(tag="PT-101", place="recorded", channel=pressure)
    suppression = {
        one.alarm.tag: Suppression(
            fan_stopped=draw(st.booleans()),
            after_fan_start_s=draw(st.sampled_from([0.0, 25.0])),
            cleaning=draw(st.booleans()),
            longest_cleaning_s=draw(st.sampled_from([20.0, 900.0])),
        )
        for one in bands
        if draw(st.booleans())
    }
    curves = st.none() | st.builds(
        CurveSettings,
        cleaning=st.builds(CleaningSettings, start_inh2o=st.sampled_from([None, 5.0]), stop_inh2o=st.just(4.0)),
        digest_s=st.sampled_from([2.0, 5.0]),
    )
    window_s = st.sampled_from([60.0, 90.0, 300.0])
    return CollectorPlan(
        name=NAME,
        points=points,
        bands=tuple(draw(st.permutations(bands))[: draw(st.integers(0, 3))]),
        bad_signal=draw(alarms(bad, counts_back=True)),
        trends=TrendSettings(residual_window_s=draw(window_s), average_window_s=draw(window_s)),
        suppression=suppression,
        curve=draw(curves),
        warnings={
            sign: draw(alarms(f"PDT-101-{sign.value}", (bad,))) for sign in draw(st.sets(st.sampled_from(Sign)))
        },
    )


def day(seed, length, roles):
    """Rows of one random day: (moment, cells by role)."""
    dice = random.Random(seed)
    rows, at_s = [], 0.0
    fan, cleaning, step_s = 1.0, 0.0, dice.choice([1.0, 1.0, 0.5, 4.0])
    while len(rows) < length:
        kind = dice.choice(["calm", "calm", "calm", "high", "edge", "flat", "low", "gap", "bad", "holes", "odd"])
        if dice.random() < 0.3:
            fan = 1.0 - fan
        if kind == "gap":
            at_s += dice.choice([2.5, 6.0, 40.0, 1000.0])
        level = {"high": 8.0, "edge": 5.0, "low": 0.02, "odd": 11.0}.get(kind, 4.5)
        spread = {"flat": 0.0, "edge": 0.3, "low": 0.01}.get(kind, 0.2)
        for _ in range(dice.choice([1, 7, 40, 150])):
            if dice.random() < 0.02:
                cleaning = 1.0 - cleaning
            # Two decimals, as historians write: equal neighbours are usual.
            dp = round(level + dice.gauss(0, spread), 2) if spread else level
            if kind == "bad" and dice.random() < 0.5:
                dp = Failure(Reason.NOT_A_NUMBER, "the trace says bad")
            if kind == "holes" and dice.random() < 0.4:
                dp = None
            cells = {Role.DP: dp, Role.FAN_RUNNING: fan, Role.CLEANING_ACTIVE: cleaning}
            cells[Role.HEADER_PRESSURE] = round(90 + dice.gauss(0, 1), 1)
            if dice.random() < 0.05:
                cells[dice.choice(list(cells))] = None
            rows.append((UTC + at_s, {role: cell for role, cell in cells.items() if role in roles}))
            at_s += step_s if dice.random() < 0.98 else dice.choice([0.0, 2 * step_s, 3.3])
    return rows


def chunks(rows, size):
    for begun in range(0, len(rows), size):
        some = rows[begun : begun + size]
        roles = some[0][1].keys()
        columns = {PointId(NAME, role): [cells[role] for _, cells in some] for role in roles}
        holes = {
            point: [at for at, cell in enumerate(cells) if not isinstance(cell, float)]
            for point, cells in columns.items()
        }
        yield Chunk([at for at, _ in some], columns, holes)
