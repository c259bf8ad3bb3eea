"""Notices: what those who were called are told when nothing is left to be done."""

from collections.abc import Iterable

from monitor.tell.phone.callout import Callout, Standing, most_urgent_first
from monitor.tell.phone.draft import Draft
from monitor.tell.phone.errand import Errand
from monitor.tell.phone.message import MessageKind, ToldAlarm
from monitor.tell.phone.routing import named


def tell_answered(draft: Draft, callout: Callout, by: str, event_id: str) -> None:
    """Everybody who got a message, but the one who answered, hears who did."""
    alarms = tuple([one.alarm for one in callout.entries if one.standing is Standing.ANSWERED])
    people = [person for person in callout.reached if person != by]
    tell(draft, people, MessageKind.ACKNOWLEDGED, alarms, by=by, salt=f"{callout.key} {event_id}")


def tell_returned(draft: Draft, callout: Callout) -> Callout:
    """Everybody who got a message and wants to know hears that the alarms returned to normal."""
    back = {
        one.alarm.event_id: one.alarm
        for one in callout.entries
        if one.standing in (Standing.RETURNED, Standing.OVER) and one.delivered and not one.return_told
    }
    route = named(draft.settings, callout.route)
    if not back or route is None or not route.returns:
        return callout
    wanting = [one for one in callout.reached if one in draft.settings.people and _wants(draft, one)]
    tell(draft, wanting, MessageKind.RETURNED, tuple(back.values()), salt=callout.key)
    marked = [one._replace(return_told=one.return_told or one.alarm.event_id in back) for one in callout.entries]
    return callout._replace(entries=tuple(marked))


def tell_settled(draft: Draft, errand: Errand) -> None:
    """The alarm was answered while the message was on its way: who got it hears that, too."""
    if any(one.acknowledged_by for one in errand.alarms) and errand.person != errand.by:
        salt = f"{errand.ref} {errand.by}"
        tell(draft, (errand.person,), MessageKind.ACKNOWLEDGED, errand.alarms, by=errand.by, salt=salt)


def tell(
    draft: Draft,
    people: Iterable[str],
    kind: MessageKind,
    alarms: tuple[ToldAlarm, ...] = (),
    *,
    by: str = "",
    salt: str = "",
    only: str = "",
) -> None:
    """Make a message that calls nobody for help, for each of these people."""
    for person in people:
        if person not in draft.settings.people:
            continue
        draft.add_errand(
            Errand(
                ref="",
                kind=kind,
                person=person,
                alarms=most_urgent_first(alarms),
                made_s=draft.now.mono_s,
                made_utc_s=draft.now.utc_s,
                salt=salt,
                by=by,
                only=only,
                due_s=draft.now.mono_s,
            )
        )


def _wants(draft: Draft, person: str) -> bool:
    return draft.settings.people[person].returns
