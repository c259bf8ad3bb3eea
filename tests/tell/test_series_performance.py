"""Series of the alarm system's performance: checked by promtool and the OpenMetrics reference parser."""

import subprocess

import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families as parse_openmetrics
from prometheus_client.parser import text_string_to_metric_families as parse_text

from monitor.figures import AlarmLogFigures
from monitor.tell.prometheus import MetricsView, render
from monitor.words import Priority
from tests.tell.mill import NOW, SITE

BUSY = AlarmLogFigures(
    raised={**dict.fromkeys(Priority, 0), Priority.HIGH: 7, Priority.LOW: 40},
    raised_10_min=3,
    raised_hour=9,
    raised_day=47,
    raised_30_days=1200,
    chattering=2,
    stale=1,
    in_flood=True,
    floods=4,
    flood_s=1234.5,
    cleared_unseen=6,
    acknowledge_buckets={10.0: 1, 60.0: 4, 86400.0: 9},
    acknowledge_sum_s=5000.25,
    acknowledge_count=10,
)
ASKING = "application/openmetrics-text;version=1.0.0"


def view(alarms):
    return MetricsView(site=SITE, version="1.0", now=NOW, plans={}, states={}, links={}, alarms=alarms)


def series(body):
    return {
        (sample.name, *sorted(sample.labels.items())): sample.value
        for family in parse_text(body.decode())
        for sample in family.samples
        if sample.name.startswith("cakewatch_alarms_")
    }


@pytest.mark.parametrize("alarms", [BUSY, AlarmLogFigures()], ids=["busy", "fresh"])
def test_promtool_finds_nothing_to_say(alarms):
    body, _ = render(view(alarms))
    checked = subprocess.run(["promtool", "check", "metrics"], input=body, capture_output=True)
    assert (checked.returncode, checked.stdout + checked.stderr) == (0, b"")


def test_the_openmetrics_reference_parser_takes_it_and_both_forms_say_the_same():
    body, _ = render(view(BUSY), ASKING)
    families = list(parse_openmetrics(body.decode()))
    values = {
        (sample.name, *sorted(sample.labels.items())): sample.value
        for family in families
        for sample in family.samples
        if sample.name.startswith("cakewatch_alarms_")
    }
    assert values == series(render(view(BUSY))[0])
    assert {family.unit for family in families if family.name.startswith("cakewatch_alarms_")} == {"", "seconds"}


def test_each_figure_is_a_series():
    shown = series(render(view(BUSY))[0])
    name = "cakewatch_alarms"
    assert shown[f"{name}_raised_total", ("priority", "high")] == 7
    assert shown[f"{name}_raised_total", ("priority", "urgent")] == 0
    windows = {"10m": 3, "1h": 9, "1d": 47, "30d": 1200}
    assert {window: shown[f"{name}_raised_recently", ("window", window)] for window in windows} == windows
    assert shown[f"{name}_chattering",] == 2
    assert shown[f"{name}_stale",] == 1
    assert shown[f"{name}_in_flood",] == 1
    assert shown[f"{name}_floods_total",] == 4
    assert shown[f"{name}_flood_seconds_total",] == 1234.5
    assert shown[f"{name}_cleared_unseen_total",] == 6
    assert shown[f"{name}_time_to_acknowledge_seconds_bucket", ("le", "60.0")] == 4
    assert shown[f"{name}_time_to_acknowledge_seconds_bucket", ("le", "+Inf")] == 10
    assert shown[f"{name}_time_to_acknowledge_seconds_sum",] == 5000.25


def test_a_daemon_without_an_alarm_log_shows_none_of_it():
    assert series(render(view(None))[0]) == {}


def test_all_goes_well_in_an_ordinary_scrape():
    assert b"cakewatch_metrics_failed_families 0" in render(view(BUSY))[0]
