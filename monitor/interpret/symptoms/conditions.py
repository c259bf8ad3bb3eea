"""Conditions: what each early warning looks for in the symptoms, and what takes it back.

What is not known meets neither: a missing companion brings no sign, and takes none away.
"""

from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.troubles import Clue

# Every figure here stands in words in the table of rules.
LOST, LOST_S, PULLED_NOTHING = 1.5, 120.0, 0.1
ENDLESS, ENDLESS_S, ABOVE_PEAK_INH2O = 3.0, 180.0, 0.3
OVER_START, OVER_START_S = 1.5, 180.0
PLATEAU, PLATEAU_S = 6.0, 900.0
WITHOUT_USUAL_S, WITHOUT_USUAL_INH2O = 1800.0, 0.3
PULLED_HALF, PULLED_THIRD, PULLED_QUARTER = 0.5, 1.0 / 3.0, 0.25
TIMED_ABOVE_INH2O, TIMED_ABOVE_SHARE = 1.25, 0.6
OFTEN, NOT_OFTEN, NEARLY_ALL, MOSTLY, A_QUARTER, BELOW_SHARE = 3.0, 2.0, 0.9, 0.7, 0.25, 0.8
SAGGED, BACK = 0.85, 0.92
#: A DP this many times its usual peak (or, before that is known, its usual mean) is an upset; our choice.
UPSET_OF_PEAK, UPSET_OF_USUAL = 1.25, 1.4
#: A header below so many psi is empty; that such pulses do nothing is common practice, no source.
EMPTY_PSI = 30.0
CALM, RESTLESS = 1.0 / 3.0, 0.7  # of the standard deviation: a ninth and a half of the variance
STILL, STILL_S = 5.0, 120.0
CALM_AT, FLAT_AT = 0.4, 0.75  # of the usual DP: the unrest goes with the DP
FLAT_SHARE, FLAT_CALM = 0.1, 0.8  # of the usual pull; of the calmest standard deviation


def no_effect(now: Symptoms) -> Clue | None:
    """Cleaning runs and does not pull the DP down."""
    if now.timed:
        return _timed_no_effect(now)
    pulled, usual = now.pulled_inh2o, now.pulled_usual_inh2o
    if now.cleaning and pulled is not None and not now.stop_reached:
        weak = _lost(now, pulled) or (_endless(now) and _weak(now, pulled))
        return Clue("cleaning_without_effect", pulled, usual, "inH2O") if weak else None
    limit_s = max(OVER_START * (now.cleaning_usual_s or 0.0), OVER_START_S)
    if now.over_start_s is not None and now.over_start_s >= limit_s and now.cleaning is not True:
        return Clue("cleaning_without_effect", now.dp_inh2o, now.peak_usual_inh2o, "inH2O")
    return None


def _endless(now: Symptoms) -> bool:
    if not now.cleaning or now.cleaning_s is None:
        return False
    usual_s = now.cleaning_usual_s
    return now.cleaning_s >= (WITHOUT_USUAL_S if usual_s is None else max(ENDLESS * usual_s, ENDLESS_S))


def _lost(now: Symptoms, pulled: float) -> bool:
    """Whether the DP has gone up through the present cleaning as if there were none."""
    usual, usual_s, lasted_s = now.pulled_usual_inh2o, now.cleaning_usual_s, now.cleaning_s
    if usual is None or usual_s is None or lasted_s is None:
        return False
    return lasted_s > max(LOST * usual_s, LOST_S) and pulled < PULLED_NOTHING * usual and _above_peak(now)


def _above_peak(now: Symptoms) -> bool:
    peak, dp = now.peak_usual_inh2o, now.dp_inh2o
    return peak is not None and dp is not None and dp >= peak + ABOVE_PEAK_INH2O


def _weak(now: Symptoms, pulled: float) -> bool:
    """Whether the present cleaning loses: the DP rises through it, or it holds its own for far too long."""
    usual, lasted_s = now.pulled_usual_inh2o, now.cleaning_s
    if usual is None or lasted_s is None:
        return pulled < WITHOUT_USUAL_INH2O
    plateau = lasted_s >= max(PLATEAU * (now.cleaning_usual_s or 0.0), PLATEAU_S)
    return (_above_peak(now) and pulled < PULLED_HALF * usual) or (plateau and pulled < PULLED_QUARTER * usual)


def _timed_no_effect(now: Symptoms) -> Clue | None:
    pulled, pulled_usual, dp, usual = now.pulled_inh2o, now.pulled_usual_inh2o, now.dp_inh2o, now.dp_usual_inh2o
    if pulled is None or pulled_usual is None or dp is None or usual is None:
        return None
    above = dp - usual >= max(TIMED_ABOVE_INH2O, TIMED_ABOVE_SHARE * usual)
    weak = above and pulled < PULLED_THIRD * pulled_usual
    return Clue("cleaning_without_effect", pulled, pulled_usual, "inH2O") if weak else None


def has_effect(now: Symptoms) -> bool:
    """Cleaning does what it should again."""
    if now.timed:
        return _timed_no_effect(now) is None and now.pulled_inh2o is not None
    return now.stop_reached is True and now.over_start_s is None and not _endless(now)


def too_often(now: Symptoms) -> Clue | None:
    """It is cleaned far more often than usual, or nearly all the time."""
    cycles, usual = now.cycles_h, now.cycles_usual_h
    if cycles is not None and usual is not None and cycles >= OFTEN * usual:
        return Clue("cycles_often", cycles, usual, "/h")
    share, usual_share = now.cleaned_share, now.cleaned_usual_share
    if now.timed or share is None or usual_share is None:
        return None
    busy = share >= NEARLY_ALL and (usual_share < A_QUARTER or _below(now))
    return Clue("cleaning_endless", share, usual_share) if busy else None


def _below(now: Symptoms) -> bool:
    """Whether the DP is already below where cleaning usually ends."""
    dp, residual = now.dp_inh2o, now.residual_usual_inh2o
    return dp is not None and residual is not None and dp < BELOW_SHARE * residual


def not_too_often(now: Symptoms) -> bool:
    """It is cleaned about as often as usual."""
    cycles, usual, share = now.cycles_h, now.cycles_usual_h, now.cleaned_share
    often = cycles is not None and usual is not None and cycles >= NOT_OFTEN * usual
    return not often and (share is None or share < MOSTLY)


def header_low(now: Symptoms) -> Clue | None:
    """The header does not come back before the next pulse, or sags, or is lost."""
    psi, usual = now.header_psi, now.header_usual_psi
    # An empty header is none, whatever is usual and however short it has been watched.
    if psi is not None and psi < EMPTY_PSI:
        return Clue("header_low", psi, usual, "psi")
    if psi is None or usual is None:
        return None
    if psi < SAGGED * usual:
        return Clue("header_low", psi, usual, "psi")
    return Clue("header_slow", psi, usual, "psi") if now.header_recovers is False else None


def header_back(now: Symptoms) -> bool:
    """The header holds its usual pressure again."""
    psi, usual = now.header_psi, now.header_usual_psi
    enough_psi = 2.0 * EMPTY_PSI if usual is None else BACK * usual
    return psi is not None and psi >= enough_psi and now.header_recovers is not False


def stepped_down(now: Symptoms) -> Clue | None:
    """The DP fell without cleaning, and stays."""
    fall, before = now.fall_inh2o, now.fall_from_inh2o
    if fall is None or _from_upset(now, before):
        return None
    return Clue("step_down", -fall, before, "inH2O")


def _from_upset(now: Symptoms, before_inh2o: float | None) -> bool:
    """Whether it fell from where it never is in good order: cleaning works again, and no filter tore."""
    peak, usual = now.peak_usual_inh2o, now.dp_usual_inh2o
    top = UPSET_OF_PEAK * peak if peak is not None else None if usual is None else UPSET_OF_USUAL * usual
    return before_inh2o is not None and top is not None and before_inh2o > top


def not_stepped_down(now: Symptoms) -> bool:
    """The fall was undone."""
    return now.fall_inh2o is None


def still(now: Symptoms) -> Clue | None:
    """The DP has lost its noise, repeats itself, or does not answer the pulses at all."""
    noise, calmest = now.noise_inh2o, now.noise_calmest_inh2o
    if noise is not None and calmest is not None and noise < CALM * calmest and _at(now, CALM_AT):
        return Clue("noise_gone", noise, now.noise_usual_inh2o, "inH2O")
    if noise is not None and calmest is not None and noise < FLAT_CALM * calmest and _unmoved(now):
        return Clue("pulses_unanswered", now.flat_inh2o, now.pulled_usual_inh2o, "inH2O")
    still_s, usual_s = now.still_s, now.still_usual_s
    if still_s is not None and usual_s is not None and still_s > max(STILL * usual_s, STILL_S):
        return Clue("dp_still", still_s, usual_s, "s")
    return None


def _unmoved(now: Symptoms) -> bool:
    """Whether minutes of pulses neither brought the DP down nor let it rise."""
    flat, usual = now.flat_inh2o, now.pulled_usual_inh2o
    return flat is not None and usual is not None and flat < FLAT_SHARE * usual and _at(now, FLAT_AT)


def _at(now: Symptoms, share: float) -> bool:
    """Whether the DP is as high as that share of its usual."""
    dp, usual = now.dp_inh2o, now.dp_usual_inh2o
    return dp is not None and usual is not None and dp >= share * usual


def moving(now: Symptoms) -> bool:
    """The DP is as restless as it was."""
    noise, calmest = now.noise_inh2o, now.noise_calmest_inh2o
    calm = noise is None or (calmest is not None and noise < RESTLESS * calmest)
    usual_s = now.still_usual_s
    return not calm and (usual_s is None or now.still_s is None or now.still_s <= max(STILL * usual_s, STILL_S))
