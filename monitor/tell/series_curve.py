"""Series of the curve: cycles, filters, early warnings and air of every collector, as Prometheus sees them.

What is not known has no sample. Names end in their unit; inches of water are no base unit, so they are named.
"""

from collections.abc import Callable, Iterator
from functools import partial

from monitor.interpret.air.figures import AirFigures, air_figures
from monitor.interpret.curve import CurveState
from monitor.interpret.trend.forecast import Outlook
from monitor.tell.exposition import Family, Kind, Sample
from monitor.tell.notation import number
from monitor.tell.plant_view import PlantView
from monitor.troubles import Sign

Pick = Callable[[CurveState], float | None]


def _gauge(name: str, text: str, unit: str, pick: Pick, view: PlantView) -> Family:
    samples = [
        Sample({"collector": collector}, value)
        for collector, read in _curves(view)
        # A moment has more digits than a figure that was measured.
        if (value := pick(read) if "_timestamp_" in name else number(pick(read))) is not None
    ]
    return Family(name, Kind.GAUGE, text, samples, unit)


def cycles(view: PlantView) -> Family:
    """Cleaning cycles; over a restart it goes on from what was written down last."""
    samples = [Sample({"collector": collector}, read.cycles) for collector, read in _curves(view)]
    return Family("cakewatch_cleaning_cycles", Kind.COUNTER, "Cleaning cycles seen in the DP.", samples)


def pulses(view: PlantView) -> Family:
    """Rows pulsed."""
    samples = [Sample({"collector": collector}, read.air.pulses) for collector, read in _curves(view)]
    return Family("cakewatch_cleaning_pulses", Kind.COUNTER, "Rows pulsed, counted or estimated.", samples)


def early_warnings(view: PlantView) -> Family:
    """One series for each early warning of each collector."""
    samples = [
        Sample(
            {"collector": collector, "early_warning": sign.value}, float(any(one is sign for one, _ in read.signs))
        )
        for collector, read in _curves(view)
        for sign in Sign
    ]
    return Family("cakewatch_early_warning", Kind.GAUGE, "1 while the early warning stands.", samples)


def outlook(view: PlantView) -> Family:
    """What can be said of the change-out: a series for each answer, 1 for what holds; none without a limit."""
    samples = [
        Sample({"collector": collector, "outlook": one.value}, float(read.outlook.outlook is one))
        for collector, read in _curves(view)
        if read.outlook.outlook is not Outlook.NO_LIMIT
        for one in Outlook
    ]
    return Family("cakewatch_change_out_outlook", Kind.GAUGE, "1 for what holds of the change-out.", samples)


def _peak(read: CurveState) -> float | None:
    return None if read.tracker.last is None else read.tracker.last.peak_inh2o


def _residual(read: CurveState) -> float | None:
    return None if read.tracker.last is None else read.tracker.last.residual_inh2o


def _cleaning_s(read: CurveState) -> float | None:
    return None if read.tracker.last is None else read.tracker.last.cleaning_s


def _cycle_s(read: CurveState) -> float | None:
    return None if read.tracker.last is None else read.tracker.last.cycle_s


def _cleans(read: CurveState) -> float | None:
    return 0.0 if read.tracker.cleaning_since_s is None else 1.0


#: Name, what it is, unit, and where it is found.
_GAUGES: tuple[tuple[str, str, str, Pick], ...] = (
    ("cakewatch_cycle_peak_inh2o", "DP prior to the last cleaning.", "inh2o", _peak),
    ("cakewatch_cycle_residual_inh2o", "Residual DP after the last cleaning.", "inh2o", _residual),
    ("cakewatch_cycle_cleaning_seconds", "How long the last cleaning took.", "seconds", _cleaning_s),
    ("cakewatch_cycle_seconds", "The last whole cycle.", "seconds", _cycle_s),
    ("cakewatch_cleaning", "1 while the collector is cleaned, as read from its curve.", "", _cleans),
    (
        "cakewatch_filters_residual_inh2o",
        "Residual DP of the set of filters, corrected for flow.",
        "inh2o",
        lambda read: read.outlook.residual_inh2o,
    ),
    (
        "cakewatch_filters_since_timestamp_seconds",
        "Since when the set of filters is in service, Unix time.",
        "seconds",
        lambda read: read.ageing.since_utc_s,
    ),
    (
        "cakewatch_change_out_due_timestamp_seconds",
        "When the residual DP will likely reach its limit, Unix time.",
        "seconds",
        lambda read: read.outlook.due_utc_s,
    ),
    (
        "cakewatch_change_out_earliest_timestamp_seconds",
        "Early end of the 80 % interval of that day, Unix time.",
        "seconds",
        lambda read: read.outlook.earliest_utc_s,
    ),
    (
        "cakewatch_change_out_latest_timestamp_seconds",
        "Late end of the 80 % interval of that day, Unix time.",
        "seconds",
        lambda read: read.outlook.latest_utc_s,
    ),
    (
        "cakewatch_order_by_timestamp_seconds",
        "When the next set of filters should be ordered, Unix time.",
        "seconds",
        lambda read: read.outlook.order_by_utc_s,
    ),
)


def _air(name: str, text: str, unit: str, pick: Callable[[AirFigures], float | None], view: PlantView) -> Family:
    samples = []
    for collector, plan, state in view.collectors():
        if (
            plan.curve is not None
            and (value := number(pick(air_figures(plan.curve, state.curve.air)))) is not None
        ):
            samples.append(Sample({"collector": collector}, value))
    return Family(name, Kind.GAUGE, text, samples, unit)


_AIR: tuple[tuple[str, str, str, Callable[[AirFigures], float | None]], ...] = (
    (
        "cakewatch_cleaning_air_cubic_feet_per_day",
        "Free air that cleaning uses a day.",
        "",
        lambda found: None if found.used is None else found.used.air_ft3_d,
    ),
    (
        "cakewatch_cleaning_air_saved_cubic_feet_per_day",
        "Free air saved a day against timed cleaning.",
        "",
        lambda found: found.saved_ft3_d,
    ),
    (
        "cakewatch_diaphragm_worn_ratio",
        "Pulses of each diaphragm over what it is rated for.",
        "ratio",
        lambda found: found.worn_share,
    ),
)

FAMILIES: tuple[Callable[[PlantView], Family], ...] = (
    cycles,
    pulses,
    early_warnings,
    outlook,
    *(partial(_gauge, *one) for one in _GAUGES),
    *(partial(_air, *one) for one in _AIR),
)


def _curves(view: PlantView) -> Iterator[tuple[str, CurveState]]:
    for name, plan, state in view.collectors():
        if plan.curve is not None:
            yield name, state.curve
