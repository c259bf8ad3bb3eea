"""Symptoms: one moment of a collector beside its own usual, in figures on which rules can be built."""

from typing import NamedTuple

from monitor.words import Reason


class Symptoms(NamedTuple):
    """What shows now. None: not known. ``usual`` is the median of the last days in the same condition.

    Attributes:
        reason: why the DP is not good, if it is not.
        dp_inh2o, dp_usual_inh2o: mean of the last minute while the fan runs.
        fan: whether the fan runs.
        cleaning: whether it is being cleaned (by signal, else as read from the curve).
        cleaning_s, cleaning_usual_s: how long the present (else the last) cleaning has lasted.
        stop_reached: whether the last finished cleaning came down to the stop set point (or the usual residual).
        pulled_inh2o, pulled_usual_inh2o: by how much the present or last cleaning brought the DP down.
        residual_inh2o, residual_usual_inh2o: after the last cleaning.
        peak_inh2o, peak_usual_inh2o: before it.
        residual_slope_inh2o_d: rise of the residual DP per day, from the trend over weeks.
        rise_inh2o_min, rise_usual_inh2o_min: how fast the DP rises in filtration.
        cycles_h, cycles_usual_h: cleanings in the last hour, at least three cycles back.
        step_inh2o: the largest sudden change (within a minute) of the last quarter of an hour, down is negative,
            that no cleaning explains.
        step_age_s: how long ago it was.
        wander_inh2o: how far the DP drifted over the last half hour with neither cleaning nor sawtooth to see.
        header_psi, header_usual_psi: between pulses.
        dip_psi, dip_usual_psi: of the header at a pulse.
        dips_missing: share of the expected pulses without a dip of the header (one dead valve of eight: 0.125).
        header_recovers: whether the header comes back to its usual before the next pulse.
        flow_cfm, flow_usual_cfm: mean of the last minute.
        noise_inh2o, noise_usual_inh2o: standard deviation from one reading to the next.
        still_s: since when the DP repeats itself exactly, seconds.
        answers_pulses: whether the DP comes down when the header dips or cleaning is called for.
        fan_off_dp_inh2o: DP with the fan standing still, the last time that was seen.
        sawtooth: whether a sawtooth was seen in the last three usual cycles' time.
        settled: whether the fan has run for longer than a start-up takes.
        ran_s: seconds of running seen since the usual values began to be learnt.
        over_start_s: for how long the DP has been well above the start set point; None while it is
            not, or where no start set point is known.
        cleaned_share, cleaned_usual_share: of the last half hour of running, in which it was cleaned.
        noise_calmest_inh2o: the same of the calmest ten minutes of a usual half day.
        still_usual_s: longest exact repeat of a usual half day.
        fall_inh2o: a fall without cleaning that has stayed, above 0; ``fall_from_inh2o`` the DP before it.
        flat_inh2o: how far the means of the last five minutes lie apart, where it was cleaned all through
            them and readings come every second or so.
        timed: whether the rows are pulsed by the clock, not on demand.
        now_inh2o: mean of the last parcel, for what began less than a minute ago.
        pulses_due, dips_seen: pulses that there should have been in the present cleaning, and the dips of the
            header that were seen in it; None while it is not being cleaned.
        others, others_alike: other collectors on the same link, and how many of them show the same kind of trouble
            (bad or still signal) at this moment.
    """

    reason: Reason = Reason.NONE
    dp_inh2o: float | None = None
    dp_usual_inh2o: float | None = None
    fan: bool | None = None
    cleaning: bool | None = None
    cleaning_s: float | None = None
    cleaning_usual_s: float | None = None
    stop_reached: bool | None = None
    pulled_inh2o: float | None = None
    pulled_usual_inh2o: float | None = None
    residual_inh2o: float | None = None
    residual_usual_inh2o: float | None = None
    peak_inh2o: float | None = None
    peak_usual_inh2o: float | None = None
    residual_slope_inh2o_d: float | None = None
    rise_inh2o_min: float | None = None
    rise_usual_inh2o_min: float | None = None
    cycles_h: float | None = None
    cycles_usual_h: float | None = None
    step_inh2o: float | None = None
    step_age_s: float | None = None
    wander_inh2o: float | None = None
    header_psi: float | None = None
    header_usual_psi: float | None = None
    dip_psi: float | None = None
    dip_usual_psi: float | None = None
    dips_missing: float | None = None
    header_recovers: bool | None = None
    flow_cfm: float | None = None
    flow_usual_cfm: float | None = None
    noise_inh2o: float | None = None
    noise_usual_inh2o: float | None = None
    still_s: float | None = None
    answers_pulses: bool | None = None
    fan_off_dp_inh2o: float | None = None
    sawtooth: bool | None = None
    settled: bool = False
    ran_s: float = 0.0
    over_start_s: float | None = None
    cleaned_share: float | None = None
    cleaned_usual_share: float | None = None
    noise_calmest_inh2o: float | None = None
    still_usual_s: float | None = None
    fall_inh2o: float | None = None
    fall_from_inh2o: float | None = None
    flat_inh2o: float | None = None
    timed: bool = False
    now_inh2o: float | None = None
    pulses_due: int | None = None
    dips_seen: int | None = None
    others: int = 0
    others_alike: int = 0
