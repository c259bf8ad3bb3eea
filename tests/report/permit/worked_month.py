"""Worked month: February 2026 of DC-101, small enough to be worked out by hand. Its clock is UTC.

The unit runs Monday to Friday from 06:00 to 18:00: 20 days of 12 hours. Its average is 3.0 inH2O, but for:

* Tue 3 Feb, 08:00 6.5, 09:00 7.0, 10:00 6.0 (the upper bound itself): one excursion of two hours, told of by anna;
* Thu 12 Feb, 14:00 1.5: one excursion of an hour, of which nobody told;
* Mon 16 Feb, 09:30 to 11:15: the transmitter does not answer; three hours are not valid;
* Fri 20 Feb, 13:00 to 15:00: no daemon ran; two hours are not valid;
* Mon 23 Feb, 18:00 to 18:20: the unit runs on for twenty minutes at 4.0, then stands at 0.1;
* Wed 25 Feb, 10:20 to 10:40: ben has the transmitter out of service and drives it to 9.0.
"""

from datetime import UTC, datetime

from monitor.judge.performance.span import Span
from monitor.report.permit.settings import PermitSettings
from monitor.report.permit.sources import Alarmed, Entry, Maintenance
from monitor.words import Reason
from tests.report.permit.making import full_hour, rows_of, sources

PERMIT = PermitSettings(low_inh2o=2.0, high_inh2o=6.0)


def feb(day, hour=0, minute=0, second=0):
    return datetime(2026, 2, day, hour, minute, second, tzinfo=UTC).timestamp()


BEGIN, END = feb(1), datetime(2026, 3, 1, tzinfo=UTC).timestamp()
SERVICE = Maintenance(Span(feb(25, 10, 20), feb(25, 10, 40)), "ben", "five-point check")
TOLD = Entry(feb(3, 8, 30), feb(3, 12), "anna", "header pressure lost", "compressor restarted")
ELSEWHERE = Entry(feb(5, 9), feb(5, 9, 5), "ben", "none", "looked at the pulse valves")
ALARM = Alarmed("PDAH-101", Span(feb(3, 8, 10), feb(3, 9, 50)), "PDAH-101@1770106200.000")
MEANS = {feb(3, 8): 6.5, feb(3, 9): 7.0, feb(3, 10): 6.0, feb(12, 14): 1.5}
NO_ANSWER = {
    feb(16, 9): {"quarters": (900, 900, 0, 0), "bad": 1800},
    feb(16, 10): {"quarters": (0, 0, 0, 0), "bad": 3600},
    feb(16, 11): {"quarters": (0, 900, 900, 900), "bad": 900},
}
NOBODY = (feb(20, 13), feb(20, 14))


def _runs(start):
    moment = datetime.fromtimestamp(start, UTC)
    return moment.weekday() < 5 and 6 <= moment.hour < 18


def _seconds(start, value):
    """A reading a second: the value, or what a function of the minute says."""
    return [(start + at, value(at // 60) if callable(value) else value) for at in range(3600)]


PARTIAL_DP = _seconds(feb(23, 18), lambda minute: 4.0 if minute < 20 else 0.1)
PARTIAL_FAN = _seconds(feb(23, 18), lambda minute: float(minute < 20))
SERVICE_DP = _seconds(feb(25, 10), lambda minute: 9.0 if 20 <= minute < 40 else 3.0)
SPLIT = {feb(23, 18): rows_of(PARTIAL_DP, 3600)[0], feb(25, 10): rows_of(SERVICE_DP, 3600)[0]}


def _dp(start):
    if start in SPLIT:
        return SPLIT[start]
    if start in NO_ANSWER:
        return full_hour(int(start), worst=Reason.NO_ANSWER, **NO_ANSWER[start])
    return full_hour(int(start), MEANS.get(start, 3.0 if _runs(start) else 0.05))


def month(settings=PERMIT, **more):
    starts = [start for start in range(int(BEGIN), int(END), 3600) if start not in NOBODY]
    fan = [full_hour(start, float(_runs(start))) for start in starts if start != feb(23, 18)]
    fan = sorted([*fan, *rows_of(PARTIAL_FAN, 3600)], key=lambda row: row.start_utc_s)
    given = {
        "fan_hours": fan,
        "minutes": [*rows_of(PARTIAL_DP, 60), *rows_of(SERVICE_DP, 60)],
        "fan_minutes": rows_of(PARTIAL_FAN, 60),
        "known_from_utc_s": BEGIN,
        "told_from_utc_s": BEGIN - 3600,
        "maintenance": (SERVICE,),
        "watched": (Span(BEGIN, feb(20, 13)), Span(feb(20, 15), END)),
        "entries": (TOLD, ELSEWHERE),
        "alarms": (ALARM,),
    }
    return sources(map(_dp, starts), BEGIN, END, settings, **{**given, **more})
