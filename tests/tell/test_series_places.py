"""Through which link each collector is read: one series for each, whatever else is known of it."""

from dataclasses import replace

from prometheus_client.parser import text_string_to_metric_families as parse_text

from monitor.tell.prometheus import MetricsView, render
from tests.tell.mill import BAD, NOW, SITE, plan, state


def test_every_collector_has_one_link_or_says_that_none_is_known():
    plans = {"DC-101": replace(plan(101), link="mill"), "DC-102": plan(102)}
    states = {"DC-101": state(plans["DC-101"], BAD), "DC-102": state(plans["DC-102"])}
    view = MetricsView(site=SITE, version="1", now=NOW, plans=plans, states=states, links={})
    samples = [
        (sample.labels, sample.value)
        for family in parse_text(render(view)[0].decode())
        for sample in family.samples
        if sample.name == "cakewatch_collector_link_info"
    ]

    assert samples == [({"collector": "DC-101", "link": "mill"}, 1), ({"collector": "DC-102", "link": ""}, 1)]
