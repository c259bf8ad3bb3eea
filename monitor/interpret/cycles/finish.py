"""Finish: a cleaning that is over becomes a cycle, with its figures."""

from monitor.interpret.cycles import call as calls
from monitor.interpret.cycles import dips as pulses
from monitor.interpret.cycles import fall as falls
from monitor.interpret.cycles.call import Call
from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.dips import Dips
from monitor.interpret.cycles.fall import Fall
from monitor.interpret.cycles.level import Level
from monitor.interpret.cycles.usual import Usual, swing
from monitor.interpret.digest import Digest
from monitor.interpret.settings import CleaningMode, CleaningSettings

FAN_SHARE = 0.7  #: A DP that fell below that share of the residual soon after is a fan that stops.
DIP_SHARE = 0.2  #: Dips without that share of the usual fall were no cleaning that came to its end.


def called(
    settings: CleaningSettings, level: Level, dips: Dips, usual: Usual, call: Call, digest: Digest
) -> Cycle | None:
    """The cycle of a cleaning that was told; None where its begin or its end was not seen, or the fan stopped."""
    if not call.known or not call.seen or call.end_s is None:
        return None
    residual = calls.residual(call, level.rise)
    if residual < 0.3 * call.peak or level.values[-1] < FAN_SHARE * residual:
        return None
    least = max(1.5 * level.noise, DIP_SHARE * swing(settings, usual))
    if not call.by_signal and settings.mode is CleaningMode.ON_DEMAND and call.peak - residual < least:
        return None
    counted = dips.total - call.pulses if dips.last_psi is not None else 0
    return _cycle(
        settings, digest, dips, counted, call.begin_s, call.end_s, call.peak, residual,
        _mean(call.flow, level.flows[-1]), signalled=call.by_signal,
    )  # fmt: skip


def fallen(settings: CleaningSettings, level: Level, dips: Dips, fall: Fall, digest: Digest) -> Cycle:
    """The cycle of a cleaning that was read from the DP."""
    end_s = fall.trough_s - fall.edge_s
    begin_s = fall.begin_s
    if end_s - begin_s < fall.edge_s:
        middle = 0.5 * (begin_s + end_s)
        begin_s, end_s = middle - 0.5 * fall.edge_s, middle + 0.5 * fall.edge_s
    counted = dips.group if dips.last_psi is not None and begin_s - 15.0 <= dips.first_s <= end_s else 0
    return _cycle(
        settings, digest, dips, counted, begin_s, end_s, fall.peak, falls.residual(fall, level.rise),
        _mean(fall.begin_flow, fall.trough_flow), signalled=False,
    )  # fmt: skip


def _cycle(  # noqa: PLR0913, PLR0917  # a cycle has so many figures
    settings: CleaningSettings,
    digest: Digest,
    dips: Dips,
    counted: int,
    begin_s: float,
    end_s: float,
    peak: float,
    residual: float,
    flow_cfm: float | None,
    *,
    signalled: bool,
) -> Cycle:
    """Put the figures together."""
    to_utc_s = digest.end_utc_s - digest.end_s
    return Cycle(
        begin_s=begin_s,
        begin_utc_s=begin_s + to_utc_s,
        end_s=end_s,
        end_utc_s=end_s + to_utc_s,
        peak_inh2o=peak,
        residual_inh2o=residual,
        pulses=counted or 1 + int((end_s - begin_s) / max(0.1, settings.pulse_every_s)),
        counted=counted > 0,
        flow_cfm=flow_cfm,
        signalled=signalled,
        dip_psi=pulses.dip_psi(dips) if counted else None,
    )


def _mean(before: float | None, after: float | None) -> float | None:
    """Mean of what is known of both."""
    if before is None or after is None:
        return before if after is None else after
    return 0.5 * (before + after)
