"""All well: at some hours people hear that the watch itself is well; its silence would say nothing."""

import math
from zoneinfo import ZoneInfo

from monitor.tell.phone import notices
from monitor.tell.phone.draft import Draft
from monitor.tell.phone.message import MessageKind
from monitor.tell.phone.rota import meant
from monitor.tell.phone.settings import AllWell
from monitor.tell.phone.spans import last_utc_s, next_utc_s
from monitor.tell.phone.state import RelayState

#: Later than this after its hour it is not told any more: the daemon was down (our choice).
_LATEST_S = 3600.0
#: The wall clock may be set: it is asked again at least this often.
_ASK_AGAIN_S = 600.0
#: What was told lies further ahead than this: the wall clock has been set back.
_SET_BACK_S = 90000.0


def look_at_clock(draft: Draft, state: RelayState) -> RelayState:
    """Make the message when its hour has come; the state says which hours are dealt with."""
    well, now = draft.settings.all_well, draft.now
    if well is None:
        return state._replace(well_due_s=math.inf)
    zone = ZoneInfo(draft.settings.time_zone)
    dealt_utc_s = state.well_utc_s
    if dealt_utc_s is None or dealt_utc_s > now.utc_s + _SET_BACK_S:
        dealt_utc_s = now.utc_s
    hour_utc_s = last_utc_s(zone, well.days, well.at_s, now.utc_s)
    if hour_utc_s is not None and hour_utc_s > dealt_utc_s:
        if now.utc_s - hour_utc_s <= _LATEST_S:
            _tell(draft, well, hour_utc_s)
        dealt_utc_s = hour_utc_s
    next_s = next_utc_s(zone, well.days, well.at_s, now.utc_s)
    wait_s = math.inf if next_s is None else next_s - now.utc_s
    return state._replace(well_utc_s=dealt_utc_s, well_due_s=now.mono_s + min(wait_s, _ASK_AGAIN_S))


def _tell(draft: Draft, well: AllWell, hour_utc_s: float) -> None:
    people = meant(draft.settings, well.people, well.rotas, draft.now.utc_s)
    notices.tell(draft, people, MessageKind.ALL_WELL, salt=f"{hour_utc_s:.0f}")
