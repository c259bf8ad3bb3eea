"""The metrics, judged by promtool, by the OpenMetrics reference parser and by a real Prometheus."""

import math
import subprocess
import time
from dataclasses import replace
from functools import partial

import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families as parse_openmetrics
from prometheus_client.parser import text_string_to_metric_families as parse_text

from monitor.figures import JudgeFigures, LinkFigures, MqttFigures, OutletFigures, StoreFigures
from monitor.tell import prometheus, series_plant
from monitor.tell.exposition import OPENMETRICS, TEXT, wants_openmetrics
from monitor.tell.freshness import Freshness
from monitor.tell.prometheus import MetricsView, render
from monitor.tell.settings import HttpSettings
from monitor.tell.web import WebServer
from monitor.words import Instant, PointId, Quality, Reason, Role
from tests.peers.prometheus import Prometheus
from tests.tell.mill import BAD, GOOD, NOW, SITE, active, plan, state
from tests.tell.subscriber import until

ASKING = "application/openmetrics-text;version=1.0.0,application/openmetrics-text;version=0.0.1;q=0.75,*/*;q=0.1"

LINK = LinkFigures(
    link="mill",
    connected=True,
    turned_at=Instant(999.0, NOW.utc_s),
    turn_limit_s=5.0,
    scans=100,
    requests=200,
    failures={Reason.NO_ANSWER: 3, Reason.STALE: 1},
    round_trip_buckets={0.005: 150, 0.05: 190, 1.0: 197},
    round_trip_sum_s=2.5,
    round_trip_count=197,
    silent_units=(4, 9),
)
STORE = StoreFigures(
    healthy=True,
    journal_events=42,
    bytes_on_disk=40960,
    outlets={"mqtt": OutletFigures(backlog=3, oldest_utc_s=NOW.utc_s - 90)},
)


def view(**changes) -> MetricsView:
    plans = {name: plan(number, name) for number, name in ((101, "DC-101"), (102, 'odd "name"\\\n'))}
    states = {
        name: state(one, alarms={"PDAH-101": active()} if number == 0 else {})
        for number, (name, one) in enumerate(plans.items())
    }
    fields = {
        "site": SITE,
        "version": "1.0",
        "now": NOW,
        "plans": plans,
        "states": states,
        "links": {"mill": LINK},
        "judge": JudgeFigures(turned_at=NOW, turns=7),
        "store": STORE,
        "mqtt": MqttFigures(connected=True, published=5),
    }
    return MetricsView(**(fields | changes))


def series(body: bytes, name: str) -> dict[frozenset, float]:
    return {
        frozenset(sample.labels.items()): sample.value
        for family in parse_text(body.decode())
        for sample in family.samples
        if sample.name == name
    }


def only(body: bytes, name: str, **wanted: str) -> float | None:
    found = [value for where, value in series(body, name).items() if wanted.items() <= dict(where).items()]
    assert len(found) <= 1
    return found[0] if found else None


VIEWS = {
    "full": view(),
    "bare": view(links={}, judge=None, store=None, mqtt=None, plans={}, states={}),
    "bad": view(states={"DC-101": state(plan(), BAD, header_pressure=BAD, fan_running=BAD)}),
}


@pytest.mark.parametrize("shown", VIEWS.values(), ids=VIEWS)
def test_promtool_finds_nothing_to_say(shown):
    body, kind = render(shown)
    checked = subprocess.run(["promtool", "check", "metrics"], input=body, capture_output=True)

    assert kind == TEXT
    assert (checked.returncode, checked.stdout + checked.stderr) == (0, b"")


@pytest.mark.parametrize("shown", VIEWS.values(), ids=VIEWS)
def test_the_openmetrics_reference_parser_takes_it_and_both_forms_say_the_same(shown):
    body, kind = render(shown, ASKING)
    text, _ = render(shown)

    def values(families):
        return {
            (sample.name, frozenset(sample.labels.items())): sample.value
            for family in families
            for sample in family.samples
        }

    assert kind == OPENMETRICS
    assert body.endswith(b"# EOF\n")
    assert values(parse_openmetrics(body.decode())) == values(parse_text(text.decode()))


def test_every_name_carries_its_unit_and_our_prefix():
    body, _ = render(view(), ASKING)
    families = list(parse_openmetrics(body.decode()))

    assert all(family.name.startswith("cakewatch_") for family in families)
    assert {family.unit for family in families} == {"", "inh2o", "psi", "seconds", "bytes", "amperes", "pascals"}


def test_a_good_reading_is_shown_with_all_that_follows_from_it():
    body, _ = render(view())
    where = {"collector": "DC-101"}

    assert only(body, "cakewatch_dp_inh2o", **where, tag="PDT-101") == 4.25
    assert only(body, "cakewatch_dp_damped_inh2o", **where) == 4.2
    assert only(body, "cakewatch_dp_residual_inh2o", **where) == 3.1
    assert only(body, "cakewatch_dp_average_inh2o", **where) == 4.0
    assert only(body, "cakewatch_header_pressure_psi", **where) == 92.5
    assert only(body, "cakewatch_fan_running", **where) == 1
    assert only(body, "cakewatch_loop_current_amperes", **where, role="dp") == 0.0108
    assert only(body, "cakewatch_reading_quality", **where, role="dp") == 2
    assert only(body, "cakewatch_alarm_state", **where, tag="PDAH-101", priority="high") == 5
    assert only(body, "cakewatch_alarm_setpoint_inh2o", tag="PDAL-101", side="below", judged="residual") == 2
    assert only(body, "cakewatch_active_alarms", priority="high") == 1
    assert series(body, "cakewatch_reading_fault") == {}


def test_a_bad_readings_value_is_absent_and_its_reason_and_age_are_there():
    freshness = Freshness()
    freshness.note("DC-101", state(plan(), replace(GOOD, at=Instant(940.0, NOW.utc_s - 60))))
    bad = view(plans={"DC-101": plan()}, states={"DC-101": state(plan(), BAD)}, last_good=freshness.last_good())
    body, _ = render(bad)

    for gone in ("dp", "dp_damped", "dp_residual", "dp_average"):
        assert series(body, f"cakewatch_{gone}_inh2o") == {}
    assert only(body, "cakewatch_reading_quality", role="dp") == 0
    assert only(body, "cakewatch_reading_fault", role="dp", reason="loop_failed_low") == 1
    assert only(body, "cakewatch_loop_current_amperes", role="dp") == 0.0035
    assert only(body, "cakewatch_reading_last_good_age_seconds", role="dp") == 60
    assert only(body, "cakewatch_reading_last_good_timestamp_seconds", role="dp") == NOW.utc_s - 60


def test_nan_is_never_shown():
    odd = replace(GOOD, value=math.nan, damped=math.inf, current_ma=math.nan)
    body, _ = render(view(states={"DC-101": state(plan(), odd)}))

    assert b"nan" not in body.lower()
    assert b" inf" not in body.lower()


def test_links_journal_and_outlets_report_on_themselves():
    body, _ = render(view())

    assert only(body, "cakewatch_link_connected", link="mill") == 1
    assert only(body, "cakewatch_link_requests_total", link="mill") == 200
    assert only(body, "cakewatch_link_failures_total", reason="no_answer") == 3
    assert only(body, "cakewatch_link_failures_total", reason="exception_code") == 0
    assert only(body, "cakewatch_link_round_trip_seconds_bucket", le="0.05") == 190
    assert only(body, "cakewatch_link_round_trip_seconds_bucket", le="+Inf") == 197
    assert only(body, "cakewatch_link_silent_units", link="mill") == 2
    assert only(body, "cakewatch_link_turn_age_seconds", link="mill") == 1
    assert only(body, "cakewatch_outlet_backlog_events", outlet="mqtt") == 3
    assert only(body, "cakewatch_outlet_oldest_event_age_seconds", outlet="mqtt") == 90
    assert only(body, "cakewatch_journal_events") == 42
    assert only(body, "cakewatch_store_size_bytes") == 40960
    assert only(body, "cakewatch_mqtt_connected") == 1


def test_a_family_that_cannot_be_drawn_is_counted_and_costs_no_other(monkeypatch):
    def fails(_view):
        raise RuntimeError("our own fault")

    monkeypatch.setattr(series_plant, "FAMILIES", (fails, series_plant.dp))
    body, _ = render(view())

    assert only(body, "cakewatch_metrics_failed_families") == 1
    assert only(body, "cakewatch_dp_inh2o", collector="DC-101") == 4.25


def test_all_goes_well_in_an_ordinary_scrape():
    assert only(render(view())[0], "cakewatch_metrics_failed_families") == 0


@pytest.mark.parametrize(
    ("accept", "openmetrics"),
    [
        (None, False),
        ("*/*", False),
        ("text/plain;version=0.0.4", False),
        ("application/openmetrics-text;version=0.0.1", False),
        ("application/openmetrics-text", True),
        (ASKING, True),
    ],
)
def test_the_scraper_gets_the_form_it_asks_for(accept, openmetrics):
    assert wants_openmetrics(accept) is openmetrics


def test_freshness_forgets_collectors_that_are_gone():
    freshness = Freshness()
    freshness.note("DC-101", state(plan()))
    freshness.keep({"DC-102": None})

    assert freshness.last_good() == {}


def test_freshness_keeps_the_last_good_moment_through_bad_ones():
    freshness = Freshness()
    freshness.note("DC-101", state(plan()))
    freshness.note("DC-101", state(plan(), replace(BAD, at=Instant(2000.0, 0.0))))
    freshness.note("DC-101", state(plan(), replace(GOOD, quality=Quality.UNCERTAIN, at=Instant(2001.0, 0.0))))

    assert freshness.last_good()[PointId("DC-101", Role.DP)] == NOW


@pytest.mark.anyio
async def test_a_real_prometheus_reads_the_values_back_and_sees_a_bad_reading_go(tmp_path):
    shown = {"view": view()}
    server = WebServer(HttpSettings(port=0), lambda: partial(render, shown["view"]), lambda: None)
    await server.start()
    try:
        with Prometheus(tmp_path, f"127.0.0.1:{server.address[1]}") as peer:
            await until(lambda: peer.value('cakewatch_dp_inh2o{collector="DC-101"}') == 4.25, 15)
            assert peer.value("cakewatch_link_requests_total") == 200
            assert peer.value("histogram_quantile(0.5, cakewatch_link_round_trip_seconds_bucket)") > 0
            assert peer.value('cakewatch_alarm_state{tag="PDAH-101"}') == 5
            assert peer.value('count(cakewatch_dp_inh2o{collector=~"(?s)odd.*"})') == 1
            assert peer.value("scrape_samples_scraped") == len(render(shown["view"])[0].split(b"\n")) - 1 - (
                render(shown["view"])[0].count(b"\n#") + 1
            )
            shown["view"] = view(states={"DC-101": state(plan(), BAD)})
            await until(lambda: peer.value('cakewatch_dp_inh2o{collector="DC-101"}') is None, 5)
            assert peer.value('cakewatch_reading_fault{role="dp",reason="loop_failed_low"}') == 1
    finally:
        await server.stop()


def test_a_thousand_collectors_are_drawn_in_a_moment():
    plans = {f"DC-{number}": plan(number) for number in range(1000)}
    large = view(plans=plans, states={name: state(one) for name, one in plans.items()})
    began = time.process_time()
    body, _ = render(large)
    took_s = time.process_time() - began

    assert body.count(b"\n") > 20_000
    # About 0.1 s here; a bound that only a change of the order of growth can break.
    assert took_s < 1.0
    assert prometheus.render(large, ASKING)[0].endswith(b"# EOF\n")
