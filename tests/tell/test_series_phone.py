"""Series of the phone: checked by promtool and the OpenMetrics reference parser."""

import subprocess

import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families as parse_openmetrics
from prometheus_client.parser import text_string_to_metric_families as parse_text

from monitor.figures import ChannelFigures, PhoneFigures
from monitor.tell.prometheus import MetricsView, render
from tests.tell.mill import NOW, SITE

ASKING = "application/openmetrics-text;version=1.0.0"
BUSY = PhoneFigures(
    channels=(
        ChannelFigures(person="anna", channel="push", delivered=7, failed=2, last_delivered_utc_s=1_800_000_000.0),
        ChannelFigures(person="ben", channel="text", failed=1, last_error="no answer within 10 s"),
    ),
    callouts=3,
    waiting=2,
    oldest_waiting_s=61.5,
    held_back=12,
    unreached="nobody could be reached for PDAH-101",
    pings=40,
    ping_failures=3,
)


def view(phone):
    return MetricsView(site=SITE, version="1.0", now=NOW, plans={}, states={}, links={}, phone=phone)


def series(phone):
    return {
        (sample.name, *sorted(sample.labels.items())): sample.value
        for family in parse_text(render(view(phone))[0].decode())
        for sample in family.samples
        if "_phone_" in sample.name and not sample.name.endswith("_created")
    }


def attempts(person, channel, outcome):
    return ("cakewatch_phone_attempts_total", ("channel", channel), ("outcome", outcome), ("person", person))


def test_every_figure_of_the_phone_is_a_series():
    assert series(BUSY) == {
        ("cakewatch_phone_unreached",): 1,
        attempts("anna", "push", "delivered"): 7,
        attempts("anna", "push", "failed"): 2,
        attempts("ben", "text", "delivered"): 0,
        attempts("ben", "text", "failed"): 1,
        (
            "cakewatch_phone_last_delivered_timestamp_seconds",
            ("channel", "push"),
            ("person", "anna"),
        ): 1_800_000_000,
        ("cakewatch_phone_callouts",): 3,
        ("cakewatch_phone_waiting_messages",): 2,
        ("cakewatch_phone_oldest_message_age_seconds",): 61.5,
        ("cakewatch_phone_held_back_alarms_total",): 12,
        ("cakewatch_phone_pings_total",): 40,
        ("cakewatch_phone_ping_failures_total",): 3,
    }


def test_a_phone_that_has_nothing_to_do_shows_zeros():
    calm = series(PhoneFigures(channels=BUSY.channels[1:]))

    assert calm[("cakewatch_phone_unreached",)] == 0
    assert calm[attempts("ben", "text", "delivered")] == 0


def test_where_nobody_is_called_there_is_no_series_of_the_phone():
    assert series(None) == {}


def test_no_sentence_and_no_error_of_a_gateway_is_shown():
    shown = render(view(BUSY))[0].decode()

    assert "no answer within" not in shown
    assert "PDAH-101" not in shown


@pytest.mark.parametrize("phone", [BUSY, PhoneFigures()], ids=["busy", "empty"])
def test_both_forms_are_taken_by_the_tools_that_read_them(phone):
    body = render(view(phone))[0]
    linted = subprocess.run(["promtool", "check", "metrics"], input=body, capture_output=True)

    assert linted.returncode == 0, linted.stderr.decode()
    assert list(parse_openmetrics(render(view(phone), ASKING)[0].decode()))
