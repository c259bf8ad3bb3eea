"""Interpretation settings: windows of trends, how the collector is cleaned, its filters, its compressed air."""

from dataclasses import dataclass, field
from enum import StrEnum

DAY_S = 86400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendSettings:
    """Windows of scan time, seconds, 60 to 86400.

    Attributes:
        residual_window_s: the residual DP is the lowest damped DP in this window; it should hold at least one
            whole cleaning cycle.
        average_window_s: the running average is over this window.
    """

    residual_window_s: float = 3600.0
    average_window_s: float = 3600.0


class CleaningMode(StrEnum):
    """How the cleaning controller decides to pulse."""

    ON_DEMAND = "on-demand"
    TIMED = "timed"


@dataclass(frozen=True, slots=True, kw_only=True)
class CleaningSettings:
    """How the collector is cleaned, as far as the site file says so. Used to read and to advise, never to control.

    Attributes:
        mode: on demand from the start down to the stop set point, or timed: one row after another all the time.
        start_inh2o, stop_inh2o: the set points; None where they are not known.
        pulse_every_s: from one row's pulse to the next, above 0; 10 s is common practice, no source.
        pulse_s: how long a valve stays open, above 0; 0.1 s is common practice, no source.
        rows: rows of filters, each with one diaphragm valve, 1 or more; None where it is not known.
    """

    mode: CleaningMode = CleaningMode.ON_DEMAND
    start_inh2o: float | None = None
    stop_inh2o: float | None = None
    pulse_every_s: float = 10.0
    pulse_s: float = 0.1
    rows: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterSettings:
    """The set of filters in service.

    Attributes:
        installed_utc_s: since when, Unix seconds; None where nobody said.
        change_out_inh2o: residual DP at which the set is to be changed; None: no forecast.
        lead_time_s: from ordering a new set to having it, 0 or more.
        design_flow_cfm: flow to which the residual DP is corrected where the flow is measured; None: the usual
            flow of the set's first weeks.
    """

    installed_utc_s: float | None = None
    change_out_inh2o: float | None = None
    lead_time_s: float = 42 * DAY_S
    design_flow_cfm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AirSettings:
    """The compressed air for cleaning.

    Attributes:
        per_pulse_ft3: free air of one pulse; None where only the header's volume is known, or nothing.
        header_volume_ft3: of the pulse header; with the dip of its pressure it gives the air of a pulse.
        cost_per_1000_ft3: of free air, in the site's money; None: no cost is shown.
        currency: the site's money, as people write it; empty where no cost is given.
        rated_pulses: what a diaphragm is rated for; common practice, no source.
    """

    per_pulse_ft3: float | None = None
    header_volume_ft3: float | None = None
    cost_per_1000_ft3: float | None = None
    currency: str = ""
    rated_pulses: int = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveSettings:
    """Everything by which the curve of one collector is read.

    Attributes:
        digest_s: readings are gathered over so many seconds before they are interpreted, above 0.
    """

    cleaning: CleaningSettings = field(default_factory=CleaningSettings)
    filters: FilterSettings = field(default_factory=FilterSettings)
    air: AirSettings = field(default_factory=AirSettings)
    digest_s: float = 5.0
