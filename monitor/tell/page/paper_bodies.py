"""Paper bodies: the JSON schema of everything the page is answered, strict enough to be tried against."""

from typing import Any

from monitor.judge.settings import Judged, Side
from monitor.tell.page.paper_words import (
    body,
    by_name,
    number,
    one_of,
    or_null,
    row,
    some,
    text,
    whole,
    yes_no,
)
from monitor.tell.page.queries import MOST_EVENTS, MOST_POINTS
from monitor.tell.page.source import Tier
from monitor.tell.page.standing import Standing
from monitor.tell.page.trends import COUNT, MOST, STEP_S
from monitor.troubles import Trouble
from monitor.words import AlarmState, EventKind, Priority, Quality, Reason, Role

Schema = dict[str, Any]

_FIGURE, _MOMENT, _COUNT = or_null(number()), number(), whole(0)
_PRIORITY, _STATE = one_of(Priority), one_of(AlarmState)
_QUALITY, _REASON = one_of(Quality), one_of(Reason)

_FACT: Schema = {"type": ["string", "number", "boolean", "null"]}

ERROR = body(error=text())

#: As /api/v1/alarms writes it; its own fields are that address's to describe.
ALARM: Schema = {
    "type": "object",
    "properties": {
        "tag": text(),
        "collector": or_null(text()),
        "link": or_null(text()),
        "priority": _PRIORITY,
        "state": _STATE,
        "text": text(),
        "active": yes_no(),
        "stands": yes_no(),
        "value": _FIGURE,
        "behind": or_null(text()),
    },
    "required": ["tag", "collector", "link", "priority", "state", "text", "active", "stands"],
}

EVENT = body(
    seq=whole(0),
    event_id=text(),
    at_utc_s=or_null(_MOMENT),
    kind=one_of(EventKind),
    happened=text(),
    collector=or_null(text()),
    link=or_null(text()),
    tag=or_null(text()),
    priority=or_null(_PRIORITY),
    state=or_null(_STATE),
    by=or_null(text()),
    text=text(),
    phone=or_null(body(message=_FACT, ref=_FACT, person=_FACT, channel=_FACT, attempt=_FACT)),
)

BAND = body(
    tag=text(),
    side=one_of(Side),
    setpoint=number(),
    deadband=number(0),
    priority=_PRIORITY,
    judged=one_of(Judged),
    state=_STATE,
)

CARD = body(
    name=text(),
    area=text(),
    description=text(),
    link=text(),
    dp=body(
        tag=text(),
        value=_FIGURE,
        quality=_QUALITY,
        reason=_REASON,
        detail=text(),
        at_utc_s=_MOMENT,
        last_good_utc_s=_FIGURE,
    ),
    residual=_FIGURE,
    average=_FIGURE,
    scale=body(low=number(), high=number()),
    bands=some(BAND),
    cleaning=or_null(body(mode=one_of(["on-demand", "timed"]), start=_FIGURE, stop=_FIGURE)),
    fan=one_of(["running", "stopped", "unknown", "none"]),
    cleaning_now=or_null(yes_no()),
    state=one_of(Standing),
    says=text(),
    worst=or_null(_PRIORITY),
    active=_COUNT,
    unacknowledged=_COUNT,
    held=some(
        body(
            tag=text(),
            how=one_of(["shelved", "suppressed_by_design", "out_of_service"]),
            says=text(),
            until_utc_s=_FIGURE,
            stands=yes_no(),
        )
    ),
    forecast=or_null(text()),
    likely=or_null(text()),
)

LINK = body(name=text(), connected=or_null(yes_no()), error=text(), alarm=or_null(ALARM))
OUTLETS = body(
    mqtt=or_null(body(ok=yes_no(), error=text())),
    phone=or_null(body(ok=yes_no(), error=text(), waiting=_COUNT)),
    journal=body(ok=yes_no(), error=text()),
)

PLANT = body(
    site=body(name=text(), inch_of_water=text(), time_zone=text(), version=text()),
    at_utc_s=_MOMENT,
    beat_s=number(0),
    trend=body(step_s=whole(STEP_S, STEP_S), count=whole(COUNT, COUNT)),
    latest_seq=_COUNT,
    links=some(LINK),
    outlets=OUTLETS,
    collectors=some(CARD),
    alarms=some(ALARM),
)

_PIECES = {"minItems": COUNT, "maxItems": COUNT}
TRENDS = body(
    step_s=whole(STEP_S, STEP_S),
    start_utc_s=whole(),
    count=whole(COUNT, COUNT),
    collectors=by_name(
        body(
            low=some(_FIGURE) | _PIECES,
            high=some(_FIGURE) | _PIECES,
            cleanings=some(whole(0, MOST)) | _PIECES,
            alarm=some(one_of([None, *Priority])) | _PIECES,
            blind=some(whole(0, 1)) | _PIECES,
        )
    ),
)

CHECK = body(
    tag=text(),
    trouble=one_of([None, *Trouble]),
    title=text(),
    share=or_null(number(0, 1)),
    why=some(text()),
    check=text(),
    caution=text(),
)

DETAILS = body(
    card=CARD,
    points=some(
        body(
            role=one_of(Role),
            tag=text(),
            value=or_null({"type": ["number", "boolean"]}),
            unit=or_null(text()),
            quality=_QUALITY,
            reason=_REASON,
            detail=text(),
            at_utc_s=_MOMENT,
        )
    ),
    curve=or_null({"type": "object"}),
    alarms=some(ALARM),
    checks=some(CHECK),
    signs=some(body(sign=text(), says=text())),
    air=or_null(body(sentences=some(text()))),
    events=some(EVENT),
)

CHART = body(
    from_utc_s=_MOMENT,
    until_utc_s=_MOMENT,
    step_s=number(0),
    tier=one_of(Tier),
    rows=some(row(_MOMENT, _FIGURE, _FIGURE, _FIGURE, whole(0, 2)), MOST_POINTS + 1),
    residual=some(row(_MOMENT, _FIGURE), MOST_POINTS + 1),
    cleanings=or_null(some(row(_MOMENT, number(), number()))),
    cleanings_a_day=or_null(some(row(_MOMENT, _COUNT))),
    bands=some(BAND),
    events=some(EVENT, 300),
    alarms=some(body(tag=text(), priority=or_null(_PRIORITY), from_utc_s=_MOMENT, until_utc_s=_FIGURE)),
)

EVENTS = body(events=some(EVENT, MOST_EVENTS), more=yes_no())
