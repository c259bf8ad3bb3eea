"""Invariants: what must hold of every stride of an alarm, one function and one sentence each.

What must hold of the alarms of one collector together stands in ``together.py``.

Each returns True or False, or None where it has nothing to say about this stride. DEVELOPERS.md lists them all
by these sentences, and a test holds the two lists equal.
"""

from monitor.judge.alarm import Alarm
from monitor.judge.table import ACTIVE, HELD, UNANSWERED, WAITING, Trigger, look_up
from monitor.words import AlarmState, Cause, Hold, HoldReason, Removal, Shelf
from tests.judge.model.one_alarm import ASKED, restored
from tests.judge.model.stride import LOOKS, Act, Stride

LATCHED = frozenset({AlarmState.LATCHED_UNACKNOWLEDGED, AlarmState.LATCHED_ACKNOWLEDGED})
SHELVED, SUPPRESSED, REMOVED = AlarmState.SHELVED, AlarmState.SUPPRESSED_BY_DESIGN, AlarmState.OUT_OF_SERVICE


def under_a_cause(alarm: Alarm) -> bool:
    return alarm.hold is not None and alarm.hold.why is HoldReason.CONSEQUENCE


def told(stride: Stride, *happened: str) -> list:
    return [one for one in stride.fired if one.happened in happened]


def no_timer_ends_an_active_alarm(stride: Stride) -> bool | None:
    """No timer ends an active alarm, whatever its settings."""
    timed = [one for one in stride.fired if one.cause is Cause.TIMER]
    return all(one.before not in ACTIVE for one in timed) if timed else None


def every_transition_is_a_row_of_the_table(stride: Stride) -> bool | None:
    """Every transition is a row of the table, and each begins where the one before it ended."""
    state, kept = stride.before.state, stride.before.kept
    for one in stride.fired:
        rows = [look_up(state, trigger, latching=stride.conf.latching, kept=kept) for trigger in Trigger]
        if one.before is not state or (one.state, one.happened, one.cause) not in rows:
            return False
        kept = state if one.state is SUPPRESSED else AlarmState.NORMAL
        state = one.state
    return stride.after.state is state and stride.after.kept is kept


def the_condition_is_followed_as_if_counted_by_hand(stride: Stride) -> bool:
    """Whether the condition stands is what an independent bookkeeper counts in sight, held or not."""
    return stride.after.stands == stride.books.stands


def what_is_announced_was_counted_in_sight(stride: Stride) -> bool | None:
    """No alarm is announced before its on-delay was counted in sight, and only while its condition stands."""
    if not told(stride, "raised"):
        return None
    return stride.was.stands or stride.books.stands


def an_alarm_that_is_free_shows_its_condition(stride: Stride) -> bool | None:
    """An alarm that nothing holds is active exactly while its condition stands."""
    after = stride.after
    return None if after.is_mute else (after.state in ACTIVE) == after.stands


def nothing_is_announced_while_held(stride: Stride) -> bool | None:
    """Nothing is announced of an alarm that is shelved, suppressed or out of service, before it has left that."""
    if stride.before.hold is None and stride.before.state not in HELD:
        return None
    let_out = any(one.cause is Cause.TIMER for one in told(stride, "unshelved"))
    if let_out and stride.before.hold is None and not under_a_cause(stride.after):
        return None  # its shelf ended first, and then it was held by something else
    free_again = stride.after.hold is None
    return not told(stride, "raised") or (free_again and stride.after.state not in HELD)


def the_blind_announce_nothing_new(stride: Stride) -> bool | None:
    """While nothing is seen no condition comes; what is announced then stood before and comes out of a hold."""
    if stride.was.sight is not None or stride.act in LOOKS:
        return None
    if stride.after.stands and not stride.before.stands:
        return False
    return not told(stride, "raised") or (stride.before.stands and stride.before.is_mute)


def the_blind_lose_nothing(stride: Stride) -> bool | None:
    """While nothing is seen no timer clears, and no alarm returns that was not held."""
    if stride.was.sight is not None or stride.act in LOOKS or stride.before.is_mute:
        return None
    return not [one for one in stride.fired if one.cause in (Cause.TIMER, Cause.PROCESS)]


def what_stands_at_the_end_of_a_hold_is_announced(stride: Stride) -> bool | None:
    """An alarm whose condition stands is announced again when its shelf, its hold or its removal ends."""
    came_out = stride.before.is_mute and not stride.after.is_mute
    if not came_out or not stride.after.stands:
        return None
    again = told(stride, "raised")
    answered = stride.before.state in WAITING and stride.before.state not in UNANSWERED
    wanted = AlarmState.ACKNOWLEDGED if answered else AlarmState.UNACKNOWLEDGED
    was_shown = stride.before.kept is AlarmState.UNACKNOWLEDGED and stride.before.state is SUPPRESSED
    return stride.after.state is wanted and (was_shown or len(again) == 1)


def what_is_gone_at_the_end_of_a_hold_is_not_announced(stride: Stride) -> bool | None:
    """An alarm whose condition is gone when its hold ends is not announced."""
    came_out = stride.before.is_mute and not stride.after.is_mute
    if not came_out or stride.after.stands or stride.books.pending or stride.act in LOOKS:
        return None
    return not told(stride, "raised") and stride.after.state not in ACTIVE


def a_latch_ends_by_a_person_or_its_full_time(stride: Stride) -> bool | None:
    """A latch ends only by a person, by a new alarm, or by the whole auto-clear time of normal, in sight."""
    ends = [one for one in stride.fired if one.before in LATCHED and one.state not in LATCHED]
    if not ends:
        return None
    by_timer = [one for one in ends if one.cause is Cause.TIMER]
    if not by_timer:
        return all(one.cause is Cause.PERSON or one.state in ACTIVE for one in ends)
    return _waited_long_enough(stride)


def what_waits_is_cleared_by_its_timer_in_time(stride: Stride) -> bool | None:
    """What was normal in sight for its whole auto-clear time waits no longer; without such a time, for ever."""
    if stride.settled.normal is None or stride.conf.auto_clear_s is None:
        timed = [one for one in stride.fired if one.happened == "cleared" and one.cause is Cause.TIMER]
        return not timed if stride.conf.auto_clear_s is None else None
    if stride.act not in (LOOKS | {Act.WAIT} if stride.continuous else LOOKS):
        return None
    books = stride.settled
    is_normal = books.sight is False and not books.stands and books.normal >= stride.conf.auto_clear_s
    return stride.after.state not in WAITING if is_normal else None


def _waited_long_enough(stride: Stride) -> bool:
    auto_clear_s = stride.conf.auto_clear_s
    if auto_clear_s is None or stride.settled.normal is None:
        return auto_clear_s == 0.0
    # It is cleared before what is seen now is taken in, or after.
    is_normal = [books.sight is False and not books.stands for books in (stride.was, stride.settled)]
    return stride.settled.normal >= auto_clear_s and any(is_normal)


def every_shelf_has_an_end_a_reason_and_a_person(stride: Stride) -> bool | None:
    """Every shelf has an end, a reason and a person; so has whatever is out of service, but for the end."""
    shelf, removal = stride.after.shelf, stride.after.removal
    if (shelf is None) == (stride.after.state is SHELVED) or (removal is None) == (stride.after.state is REMOVED):
        return False
    if shelf is not None:
        return bool(shelf.by and shelf.reason) and shelf.until_s < float("inf")
    return bool(removal.by and removal.reason) if removal is not None else None


def every_shelf_ends_when_it_was_promised(stride: Stride) -> bool | None:
    """A shelf ends when it was promised, not before and not after, unless a person ends it."""
    until_s = stride.before.shelf.until_s if stride.before.shelf else None
    ends = [one for one in told(stride, "unshelved") if one.cause is Cause.TIMER]
    if ends:
        return ends[0].at.mono_s >= until_s
    if stride.after.shelf is None:
        return None
    return stride.after.shelf.until_s > stride.now_s


def out_of_service_is_left_by_a_person_only(stride: Stride) -> bool | None:
    """What is out of service stays out of service until a person returns it."""
    if stride.before.state is not REMOVED:
        return None
    return (stride.after.state is REMOVED) == (stride.act is not Act.RESTORE) and (
        stride.act is Act.RESTORE or not stride.fired
    )


def a_shelf_is_left_by_a_person_or_its_end(stride: Stride) -> bool | None:
    """What is shelved stays shelved until a person or the end of the shelf takes it down."""
    if stride.before.state is not SHELVED or stride.after.state is SHELVED:
        return None
    first = stride.fired[0]
    return first.happened in {"unshelved", "taken_out_of_service"} and first.cause in {Cause.PERSON, Cause.TIMER}


def a_design_hold_hides_no_answer_owed(stride: Stride) -> bool | None:
    """A hold by design never hides an alarm that only waits for an answer or for its timer."""
    hidden = told(stride, "suppressed")
    return all(one.before not in WAITING for one in hidden) if hidden else None


def an_owed_answer_stays_owed(stride: Stride) -> bool | None:
    """Whether an answer is owed is what an independent bookkeeper says, whatever held the alarm meanwhile."""
    after = stride.after
    shown = after.kept if after.state is SUPPRESSED else after.state
    return None if after.state in {SHELVED, REMOVED} else (shown in UNANSWERED) == stride.books.owed


def suppressed_means_held_by_design(stride: Stride) -> bool | None:
    """What is suppressed says under what, and nothing stays suppressed that nothing holds."""
    after = stride.after
    if after.hold is None:
        return after.state is not SUPPRESSED
    return after.state in HELD | WAITING


def the_hold_is_the_one_that_was_asked_for(stride: Stride) -> bool:
    """An alarm knows what holds it back by design, in every state."""
    return stride.after.hold == stride.books.hold


def an_occurrence_is_one_from_raising_to_end(stride: Stride) -> bool | None:
    """One stamp marks an occurrence from its raising to its end, and no two occurrences share one."""
    stamp, before, after = stride.before.raised_utc_s, stride.before, stride.after
    # What a person put aside is over when its condition goes, before anything else is told of it or after.
    over = before.state in HELD and before.kept is AlarmState.NORMAL and not after.stands
    for one in stride.fired:
        if stamp is None and one.happened == "raised":
            stamp = one.at.utc_s
        if one.raised_utc_s != stamp and not (over and one.raised_utc_s is None):
            return False
        if one.happened == "cleared":
            stamp = None
    owes_nothing = not after.stands and after.kept is AlarmState.NORMAL
    return after.raised_utc_s == (None if after.state in HELD | {AlarmState.NORMAL} and owes_nothing else stamp)


def nothing_remains_of_what_is_over(stride: Stride) -> bool | None:
    """In normal nothing remains of the occurrence before: no stamp, nobody has seen it."""
    after = stride.after
    if after.state is not AlarmState.NORMAL:
        return None
    return after.raised_utc_s is None and not after.seen and after.returned is None


def what_nobody_saw_says_so(stride: Stride) -> bool | None:
    """A clearing says truly whether anybody had acknowledged."""
    ends = told(stride, "cleared")
    if len(ends) != 1 or len(stride.fired) != 1:
        return None
    return ends[0].seen == (not stride.was.owed or ends[0].cause is Cause.PERSON)


def each_is_stamped_at_its_moment_and_in_order(stride: Stride) -> bool | None:
    """Transitions follow one another in time, none lies before the look before or in the future."""
    moments = [one.at.mono_s for one in stride.fired]
    if not moments:
        return stride.after.since_utc_s == stride.before.since_utc_s
    in_order = moments == sorted(moments) and moments[0] >= 0 and moments[-1] <= stride.now_s
    return in_order and stride.after.since_utc_s == stride.fired[-1].at.utc_s


def what_a_person_asks_is_done_or_changes_nothing(stride: Stride) -> bool | None:
    """What the table does not allow a person changes nothing at all."""
    if stride.act not in ASKED or [one for one in stride.fired if one.cause is not Cause.PERSON]:
        return None
    allowed = look_up(
        stride.before.state, ASKED[stride.act], latching=stride.conf.latching, kept=stride.before.kept
    )
    if allowed is not None:
        return bool(stride.fired) and stride.fired[0].happened == allowed.happened
    before, after = stride.before, stride.after
    same = (
        before.state,
        before.stands,
        before.shelf,
        before.removal,
        before.hold,
        before.seen,
        before.raised_utc_s,
    )
    return not stride.fired and same == (
        after.state,
        after.stands,
        after.shelf,
        after.removal,
        after.hold,
        after.seen,
        after.raised_utc_s,
    )


def every_note_is_the_one_it_belongs_to(stride: Stride) -> bool | None:
    """What begins or ends a shelf, a removal or a hold carries that shelf, removal or hold."""
    wanted = {
        "shelved": Shelf,
        "unshelved": Shelf,
        "taken_out_of_service": Removal,
        "returned_to_service": Removal,
    }
    wanted |= {"suppressed": Hold, "released": Hold}
    noted = told(stride, *wanted)
    return all(isinstance(one.note, wanted[one.happened]) for one in noted) if noted else None


def a_restart_changes_nothing(stride: Stride) -> bool | None:
    """A restart changes nothing: what is written and read again is the same alarm."""
    if stride.act is not Act.RESTART:
        return None
    return restored(stride.after) == stride.after


def time_cut_in_pieces_changes_nothing(stride: Stride) -> bool | None:
    """Time passing and then an act bring the same in one step as in two; under a cause, unannounced."""
    return stride.same_in_two


OF_AN_ALARM = (
    no_timer_ends_an_active_alarm,
    every_transition_is_a_row_of_the_table,
    the_condition_is_followed_as_if_counted_by_hand,
    what_is_announced_was_counted_in_sight,
    an_alarm_that_is_free_shows_its_condition,
    nothing_is_announced_while_held,
    the_blind_announce_nothing_new,
    the_blind_lose_nothing,
    what_stands_at_the_end_of_a_hold_is_announced,
    what_is_gone_at_the_end_of_a_hold_is_not_announced,
    a_latch_ends_by_a_person_or_its_full_time,
    what_waits_is_cleared_by_its_timer_in_time,
    every_shelf_has_an_end_a_reason_and_a_person,
    every_shelf_ends_when_it_was_promised,
    a_shelf_is_left_by_a_person_or_its_end,
    out_of_service_is_left_by_a_person_only,
    a_design_hold_hides_no_answer_owed,
    an_owed_answer_stays_owed,
    suppressed_means_held_by_design,
    the_hold_is_the_one_that_was_asked_for,
    an_occurrence_is_one_from_raising_to_end,
    nothing_remains_of_what_is_over,
    what_nobody_saw_says_so,
    each_is_stamped_at_its_moment_and_in_order,
    what_a_person_asks_is_done_or_changes_nothing,
    every_note_is_the_one_it_belongs_to,
    a_restart_changes_nothing,
    time_cut_in_pieces_changes_nothing,
)
