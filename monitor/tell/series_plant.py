"""Series of the plant: what the points of every collector look like to Prometheus; the alarms from their own file.

The series of a reading that is bad is absent: neither 0 nor the last value. Its quality, its reason and the time
since it was last good stay, so that an absence can be alerted on and explained.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

from monitor.scan.state import CollectorState
from monitor.tell import series_alarms, series_curve
from monitor.tell.exposition import Family, Kind, Sample
from monitor.tell.notation import number
from monitor.tell.plant_view import PlantView
from monitor.words import Instant, PointId, Quality, Reading, Role

QUALITY_NUMBER: Mapping[Quality, int] = {Quality.BAD: 0, Quality.UNCERTAIN: 1, Quality.GOOD: 2}


class _Point(NamedTuple):
    collector: str
    role: Role
    tag: str
    reading: Reading

    @property
    def labels(self) -> dict[str, str]:
        return {"collector": self.collector, "tag": self.tag}

    @property
    def all_labels(self) -> dict[str, str]:
        return {"collector": self.collector, "role": self.role.value, "tag": self.tag}


def dp(view: PlantView) -> Family:
    """DP as read."""
    return _values(view, Role.DP, "cakewatch_dp_inh2o", "Differential pressure as read.", "inh2o")


def dp_damped(view: PlantView) -> Family:
    """DP after damping."""
    name, text = (
        "cakewatch_dp_damped_inh2o",
        "Differential pressure after damping, which the bands judge by default.",
    )
    return Family(name, Kind.GAUGE, text, list(_dp_samples(view, lambda _, dp: dp.damped)), "inh2o")


def dp_residual(view: PlantView) -> Family:
    """Residual DP."""
    name, text = "cakewatch_dp_residual_inh2o", "Lowest damped differential pressure in the residual window."
    return Family(name, Kind.GAUGE, text, list(_dp_samples(view, lambda state, _: state.residual_inh2o)), "inh2o")


def dp_average(view: PlantView) -> Family:
    """Average DP."""
    name, text = "cakewatch_dp_average_inh2o", "Mean of the damped differential pressure over the average window."
    return Family(name, Kind.GAUGE, text, list(_dp_samples(view, lambda state, _: state.average_inh2o)), "inh2o")


def header_pressure(view: PlantView) -> Family:
    """Compressed air."""
    return _values(view, Role.HEADER_PRESSURE, "cakewatch_header_pressure_psi", "Compressed-air header.", "psi")


def air_flow(view: PlantView) -> Family:
    """Air flow."""
    return _values(view, Role.AIR_FLOW, "cakewatch_air_flow_cfm", "Air flow through the collector.", "cfm")


def fan_running(view: PlantView) -> Family:
    """Fan."""
    return _values(view, Role.FAN_RUNNING, "cakewatch_fan_running", "Whether the fan runs (1) or not (0).")


def cleaning_active(view: PlantView) -> Family:
    """Cleaning."""
    return _values(
        view, Role.CLEANING_ACTIVE, "cakewatch_cleaning_active", "Whether cleaning is on (1) or not (0)."
    )


def loop_current(view: PlantView) -> Family:
    """Loop current; shown for a failed loop too, because the current is what says that it failed."""
    samples = [
        Sample(point.all_labels, point.reading.current_ma / 1000)
        for point in _points(view)
        if number(point.reading.current_ma) is not None and point.reading.current_ma is not None
    ]
    return Family(
        "cakewatch_loop_current_amperes", Kind.GAUGE, "Loop current (0.004 to 0.02).", samples, "amperes"
    )


def quality(view: PlantView) -> Family:
    """Quality of every point."""
    samples = [Sample(point.all_labels, QUALITY_NUMBER[point.reading.quality]) for point in _points(view)]
    return Family("cakewatch_reading_quality", Kind.GAUGE, "2 good, 1 uncertain, 0 bad (no value).", samples)


def fault(view: PlantView) -> Family:
    """Why a reading is not good: one series for each that is not, with one of the fixed reasons."""
    samples = [
        Sample({**point.all_labels, "reason": point.reading.reason.value}, 1)
        for point in _points(view)
        if point.reading.quality is not Quality.GOOD
    ]
    return Family("cakewatch_reading_fault", Kind.GAUGE, "1 for each reading that is not good, and why.", samples)


def last_good_timestamp(view: PlantView) -> Family:
    """When a point was last good, by the wall clock."""
    name, text = "cakewatch_reading_last_good_timestamp_seconds", "When the point was last good, Unix time."
    return Family(name, Kind.GAUGE, text, [Sample(where, at.utc_s) for where, at in _last_good(view)], "seconds")


def last_good_age(view: PlantView) -> Family:
    """How long ago a point was last good, on the scan clock, which no clock step can falsify."""
    samples = [Sample(where, max(0.0, view.now.mono_s - at.mono_s)) for where, at in _last_good(view)]
    text = "Time since the point was last good; absent before the first time."
    return Family("cakewatch_reading_last_good_age_seconds", Kind.GAUGE, text, samples, "seconds")


FAMILIES: tuple[Callable[[PlantView], Family], ...] = (
    dp,
    dp_damped,
    dp_residual,
    dp_average,
    header_pressure,
    air_flow,
    fan_running,
    cleaning_active,
    loop_current,
    quality,
    fault,
    last_good_timestamp,
    last_good_age,
    *series_alarms.FAMILIES,
    *series_curve.FAMILIES,
)


def _points(view: PlantView) -> Iterator[_Point]:
    for name, plan, state in view.collectors():
        for role, reading in state.readings.items():
            if role in plan.points:
                yield _Point(name, role, plan.points[role].tag, reading)


def _values(view: PlantView, role: Role, name: str, text: str, unit: str = "") -> Family:
    samples = []
    for collector, plan, state in view.collectors():
        reading = state.readings.get(role)
        if reading is None or role not in plan.points:
            continue
        value = None if reading.quality is Quality.BAD else number(reading.value)
        if value is not None:
            samples.append(Sample({"collector": collector, "tag": plan.points[role].tag}, value))
    return Family(name, Kind.GAUGE, text, samples, unit)


def _dp_samples(view: PlantView, pick: Callable[[CollectorState, Reading], float | None]) -> Iterator[Sample]:
    """One of the figures derived from the DP; absent while the DP is bad."""
    for collector, plan, state in view.collectors():
        reading = state.readings.get(Role.DP)
        if reading is None or reading.quality is Quality.BAD:
            continue
        value = number(pick(state, reading))
        if value is not None:
            yield Sample({"collector": collector, "tag": plan.points[Role.DP].tag}, value)


def _last_good(view: PlantView) -> Iterator[tuple[dict[str, str], Instant]]:
    for point in _points(view):
        good = point.reading.quality is Quality.GOOD
        at = point.reading.at if good else view.last_good.get(PointId(point.collector, point.role))
        if at is not None:
            yield point.all_labels, at
