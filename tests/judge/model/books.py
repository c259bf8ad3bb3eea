"""Books: an independent and naive second bookkeeping of one alarm, in whole seconds.

It knows nothing of timers, moments or the table. It adds up seconds one by one, and says whether the condition
*stands* (delays applied), how long the process has been normal in sight, and whether an answer is owed.

Two ways of looking: *continuous*, where what was seen last is taken to hold (the bad signal, which is seen at
every moment), and by *readings*, where seconds between two readings are *pending* until the second one vouches
for them.
"""

from typing import NamedTuple

from monitor.judge.settings import AlarmSettings
from monitor.judge.table import WAITING
from monitor.words import AlarmState, Hold, HoldReason


class Books(NamedTuple):
    """What the naive bookkeeper remembers.

    Attributes:
        sight: whether the condition is seen to be there; None where nothing is seen.
        present: what was seen last.
        on, off: seconds counted towards the on-delay and the off-delay.
        normal: seconds of sight since the return to normal; None where the alarm does not wait.
        pending, pending_normal: seconds that the next reading may vouch for.
        stands: the condition with its delays applied.
        hold: what holds the alarm back by design.
        owed: it was announced, and nobody has answered.
        told: it was announced and has neither returned nor been put aside since.
        aside: a person put it aside or took it out of service.
    """

    sight: bool | None = None
    present: bool = False
    on: int = 0
    off: int = 0
    normal: int | None = None
    pending: int = 0
    pending_normal: int = 0
    stands: bool = False
    hold: Hold | None = None
    owed: bool = False
    told: bool = False
    aside: bool = False

    @property
    def out(self):
        """The condition means nothing at the moment."""
        return self.hold is not None and self.hold.why is not HoldReason.CONSEQUENCE


def second(conf: AlarmSettings, books: Books, *, continuous: bool) -> Books:
    """One second passes."""
    if books.sight is None:
        return books
    books = books._replace(
        pending=books.pending + 1,
        pending_normal=0 if books.normal is None else books.pending_normal + 1,
    )
    return settle(conf, vouch(conf, books)) if continuous else books


def vouch(conf: AlarmSettings, books: Books) -> Books:
    """The pending seconds were as they seemed."""
    on, off = books.on, books.off
    if not books.out:
        if books.sight and not books.stands:
            on += books.pending
        if not books.sight and books.stands:
            off += books.pending
        if not books.sight and not books.stands:
            on = max(0, on - books.pending) if conf.counts_back else 0
    normal = books.normal
    if normal is not None:
        normal = normal + books.pending_normal
    return books._replace(on=on, off=off, normal=normal, pending=0, pending_normal=0)


def settle(conf: AlarmSettings, books: Books) -> Books:
    """Delays that are counted to their end are over."""
    if books.out or books.sight is None:
        return books
    if books.sight and not books.stands and books.on >= conf.on_delay_s:
        return _standing(books, stands=True)
    if not books.sight and books.stands and books.off >= conf.off_delay_s:
        return _standing(books, stands=False)
    return books


def _standing(books: Books, *, stands: bool) -> Books:
    if stands == books.stands:
        return books
    # Whatever waits must be normal for its whole time anew.
    return books._replace(stands=stands, on=0, off=0, normal=books.normal and 0, pending_normal=0)


def look(conf: AlarmSettings, books: Books, seen: bool | None, *, old: bool = False) -> Books:
    """Something is seen, or nothing. ``old``: the last look is too long ago to speak for the time since."""
    if seen is not None and seen == books.sight and not old:
        return settle(conf, vouch(conf, books))
    books = books._replace(pending=0, pending_normal=0, sight=seen)
    if seen is None:
        return books
    if seen != books.present:
        kept = books.on if conf.counts_back and not books.out else 0
        books = books._replace(present=seen, on=kept, off=0)
    if books.out:
        books = _standing(books, stands=books.stands and seen)
    return settle(conf, books)


def hold(conf: AlarmSettings, books: Books, what: Hold | None, *, continuous: bool) -> Books:
    """Another hold by design, or none."""
    if what == books.hold:
        return books
    was_out = books.out
    books = books._replace(hold=what)
    if books.out:
        return _standing(books._replace(on=0, off=0, pending=0), stands=books.stands and books.present)
    if what is None and not books.told and not books.aside:
        # Explained until now, and nobody was told: it has its whole on-delay to show that it is still there.
        books = _standing(books, stands=False)
    elif not was_out:
        return books
    books = books._replace(on=0, off=0, pending=0)
    return settle(conf, books) if continuous else books


_ASIDE = {"shelved", "taken_out_of_service"}
_BACK = {"unshelved", "returned_to_service"}
_OVER = {"latched", "returned", "cleared", *_ASIDE}
_ANSWERS = {"acknowledged", "shelved", "taken_out_of_service", "cleared"}


def follow(books: Books, fired) -> Books:
    """Take down what was told: whether an answer is owed, and since when the process is normal."""
    owed, normal, pending = books.owed, books.normal, books.pending_normal
    announced, aside = books.told, books.aside
    for one in fired:
        if one.happened == "raised":
            announced = True
        elif one.happened in _OVER:
            announced = False
        aside = {**dict.fromkeys(_ASIDE, True), **dict.fromkeys(_BACK, False)}.get(one.happened, aside)
        if one.happened == "raised" and one.state is AlarmState.UNACKNOWLEDGED:
            owed = True
        elif one.happened in _ANSWERS:
            owed = False
        if one.state not in WAITING:
            normal, pending = None, 0
        elif one.before not in WAITING:
            normal, pending = 0, 0
    return books._replace(owed=owed, normal=normal, pending_normal=pending, told=announced, aside=aside)


def canonical(conf: AlarmSettings, books: Books, most_pending: int) -> Books:
    """The same books with every count capped where more of it makes no difference."""
    return books._replace(
        normal=None if books.normal is None else min(books.normal, int(conf.auto_clear_s or 0)),
        pending=min(books.pending, most_pending),
        pending_normal=min(books.pending_normal, most_pending),
    )
