"""What the journal tells: entries, service of the monitor, alarms, and when somebody watched."""

from monitor.judge.performance.span import Span
from monitor.report.permit.from_journal import Listening
from monitor.report.permit.sources import Alarmed, Entry, Maintenance
from monitor.words import AlarmState, Event, EventKind

PERIOD = Span(1000.0, 5000.0)
UNACK, BACK, OUT, NORMAL = (
    AlarmState.UNACKNOWLEDGED,
    AlarmState.RETURNED_UNACKNOWLEDGED,
    AlarmState.OUT_OF_SERVICE,
    AlarmState.NORMAL,
)


def alarm(at_s, happened, state, tag="PDAH-101", collector="DC-101", **more):
    return Event(
        kind=EventKind.ALARM,
        happened=happened,
        at_utc_s=at_s,
        text="",
        collector=collector,
        tag=tag,
        state=state,
        occurrence=f"{tag}@x",
        **more,
    )


def system(at_s, happened, **more):
    return Event(kind=EventKind.SYSTEM, happened=happened, at_utc_s=at_s, text="", **more)


def heard(*events):
    listening = Listening({"DC-101": "PDT-101-BAD", "DC-102": "PDT-102-BAD"})
    for event in events:
        listening.take(event)
    return listening


def recorded(at_s, about_s, by="anna", collector="DC-101"):
    facts = {"about_utc_s": about_s, "cause": "dryer iced up", "action": "drained"}
    return system(at_s, "action_recorded", collector=collector, by=by, facts=facts)


def test_an_entry_belongs_to_the_period_it_is_about_and_not_to_when_it_was_made():
    told = heard(recorded(9000.0, 1500.0), recorded(1500.0, 500.0)).told("DC-101", PERIOD)

    assert told.entries == (Entry(1500.0, 9000.0, "anna", "dryer iced up", "drained"),)


def test_the_entries_of_another_collector_are_not_taken():
    assert heard(recorded(1200.0, 1200.0, collector="DC-102")).told("DC-101", PERIOD).entries == ()


def test_out_of_service_lasts_until_its_return_and_is_cut_at_the_period():
    told = heard(
        alarm(500.0, "taken_out_of_service", OUT, "PDT-101-BAD", by="ben", facts={"reason": "calibration"}),
        alarm(1700.0, "returned_to_service", NORMAL, "PDT-101-BAD", by="ben"),
        alarm(4000.0, "taken_out_of_service", OUT, "PDT-101-BAD", by="ben", facts={"reason": "hoses changed"}),
    ).told("DC-101", PERIOD)

    assert told.maintenance == (
        Maintenance(Span(1000.0, 1700.0), "ben", "calibration"),
        Maintenance(Span(4000.0, 5000.0), "ben", "hoses changed"),
    )


def test_a_band_out_of_service_is_no_maintenance_of_the_monitor():
    told = heard(alarm(1500.0, "taken_out_of_service", OUT, by="ben", facts={"reason": "nuisance"}))

    assert told.told("DC-101", PERIOD).maintenance == ()


def test_an_alarm_lasts_while_it_is_active():
    told = heard(
        alarm(900.0, "raised", UNACK),
        alarm(1100.0, "acknowledged", AlarmState.ACKNOWLEDGED),
        alarm(1400.0, "returned", BACK),
        alarm(4500.0, "raised", UNACK, "PDAL-101"),
    ).told("DC-101", PERIOD)

    assert [(one.tag, one.span.start_utc_s) for one in told.alarms] == [("PDAH-101", 900.0), ("PDAL-101", 4500.0)]
    assert told.alarms[0] == Alarmed("PDAH-101", Span(900.0, 1400.0), "PDAH-101@x")
    assert told.alarms[1].span.end_utc_s > PERIOD.end_utc_s


def test_a_test_of_an_alarm_neither_begins_nor_ends_it():
    told = heard(
        alarm(1100.0, "tested", NORMAL),
        alarm(1200.0, "raised", UNACK),
        alarm(1300.0, "tested", UNACK),
        alarm(1400.0, "returned", BACK),
    ).told("DC-101", PERIOD)

    assert [one.span for one in told.alarms] == [Span(1200.0, 1400.0)]


def test_stops_of_the_daemon_are_gaps_in_the_watch():
    listening = heard(system(500.0, "started"), system(2000.0, "stopped"), system(3000.0, "started"))

    assert listening.watched(PERIOD) == (Span(1000.0, 2000.0), Span(3000.0, 5000.0))


def test_an_empty_journal_says_of_nobody_that_he_did_not_watch():
    assert heard().watched(PERIOD) is None
