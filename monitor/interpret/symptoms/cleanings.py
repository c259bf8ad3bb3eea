"""Cleanings: is it being cleaned, for how long, and how far did that bring the DP down?

Whether cleaning is called for: the controller's own signal, else the dips of the header, else what is read from
the DP itself. In timed cleaning there is no beginning and no end; there one round of the rows is taken for one.
"""

from typing import NamedTuple

from monitor.interpret.cycles.tracker import Tracker
from monitor.interpret.digest import Digest
from monitor.interpret.settings import CleaningMode, CleaningSettings

#: Rows in a round where their number is not known; our choice.
ROWS = 10
#: So far above the start set point the DP does not go while cleaning works; our choice: a third of the common way
#: from there to the high band, and more than noise and a pulse or two.
ABOVE_START_INH2O = 0.5


class Cleaning(NamedTuple):
    """The present cleaning, and the last.

    Attributes:
        since_s: since when it is called for; None while it is not.
        called_s: when it last was.
        top_inh2o: highest since it began; ``now_inh2o`` the last in it; ``drop_inh2o`` largest fall from a top.
        lasted_s, pulled_inh2o, residual_inh2o: of the last one that ended.
        ended_s: when that was.
        over_since_s: since when the DP is well above the start set point; None while it is not, or not known.
        ends: when the last cycles ended, seconds of running, oldest first, at most 24.
    """

    since_s: float | None = None
    called_s: float = 0.0
    top_inh2o: float = 0.0
    now_inh2o: float = 0.0
    drop_inh2o: float = 0.0
    lasted_s: float | None = None
    pulled_inh2o: float | None = None
    residual_inh2o: float | None = None
    ended_s: float | None = None
    over_since_s: float | None = None
    ends: tuple[float, ...] = ()


BEGIN = Cleaning()
MOST_ENDS = 24


def called(settings: CleaningSettings, digest: Digest, tracker: Tracker, dip_at_s: float | None) -> bool:
    """Whether it is being cleaned, by the best witness there is."""
    if digest.cleaning is not None:
        return digest.cleaning
    if dip_at_s is not None:
        return digest.end_s - dip_at_s <= 1.5 * settings.pulse_every_s
    return tracker.cleaning_since_s is not None


def advance(
    settings: CleaningSettings, state: Cleaning, digest: Digest, is_called: bool, before_inh2o: float | None
) -> Cleaning:
    """Take in one parcel with a good DP. ``before_inh2o``: the mean of the parcel before; None after a break."""
    dp, now_s = digest.mean_inh2o, digest.end_s
    start = settings.start_inh2o
    over = None
    if start is not None and dp > start + ABOVE_START_INH2O:
        over = state.over_since_s if state.over_since_s is not None else digest.begin_s
    if is_called:
        if state.since_s is None:
            return state._replace(
                since_s=digest.begin_s,
                called_s=now_s,
                top_inh2o=dp if before_inh2o is None else max(dp, before_inh2o),
                now_inh2o=dp,
                drop_inh2o=0.0,
                over_since_s=over,
            )
        state = _goes_on(state, dp, now_s, over)
        return _ended(state) if _round_over(settings, state) else state
    if state.since_s is not None:
        state = _ended(state)
    return state if over == state.over_since_s else state._replace(over_since_s=over)


def _goes_on(state: Cleaning, dp: float, now_s: float, over: float | None) -> Cleaning:
    top = dp if dp > state.top_inh2o else state.top_inh2o
    drop = top - dp if top - dp > state.drop_inh2o else state.drop_inh2o
    return tuple.__new__(Cleaning, (state.since_s, now_s, top, dp, drop, *state[5:9], over, state.ends))


def _round_over(settings: CleaningSettings, state: Cleaning) -> bool:
    if settings.mode is not CleaningMode.TIMED or state.since_s is None:
        return False
    return state.called_s - state.since_s >= (settings.rows or ROWS) * settings.pulse_every_s


def _ended(state: Cleaning) -> Cleaning:
    begun_s = state.called_s if state.since_s is None else state.since_s
    return state._replace(
        since_s=None,
        lasted_s=state.called_s - begun_s,
        pulled_inh2o=state.drop_inh2o,
        residual_inh2o=state.now_inh2o,
        ended_s=state.called_s,
    )


def broken(state: Cleaning) -> Cleaning:
    """The fan stopped, or something was not seen: what was going on is unknown."""
    return state._replace(since_s=None, over_since_s=None)


def ended_at(state: Cleaning, ran_s: float) -> Cleaning:
    """Note the end of a whole cycle."""
    return state._replace(ends=(*state.ends, ran_s)[-MOST_ENDS:])


def per_hour(state: Cleaning, ran_s: float) -> float | None:
    """Cleanings in the last hour of running, at least three cycles back; None: there were not so many."""
    ends = state.ends
    if len(ends) < 4:
        return None
    within = sum(1 for end in ends if ran_s - end < 3600.0)
    if within < 4:
        return 3 * 3600.0 / max(ran_s - ends[-4], 1.0)
    # As many as fill the hour, or those that are remembered where it was cleaned still more often.
    span_s = 3600.0 if within < len(ends) or ran_s - ends[0] >= 3600.0 else max(ran_s - ends[0], 1.0)
    return within * 3600.0 / span_s
