"""The alert rules and Alertmanager's route: taken by their own programs, every rule tried both ways."""

import re
import subprocess
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).parents[2]
RULES = ROOT / "config" / "prometheus" / "rules.yml"
CASES = ROOT / "config" / "prometheus" / "rules.test.yml"
ALERTMANAGER = ROOT / "deploy" / "alertmanager" / "alertmanager.yml"
SERIES = sorted((ROOT / "monitor" / "tell").glob("series_*.py"))


def rules():
    return [rule for group in yaml.safe_load(RULES.read_text())["groups"] for rule in group["rules"]]


def cases():
    return [case for test in yaml.safe_load(CASES.read_text())["tests"] for case in test["alert_rule_test"]]


def run(*command):
    ended = subprocess.run([str(word) for word in command], capture_output=True, text=True)
    assert ended.returncode == 0, ended.stdout + ended.stderr
    return ended.stdout


def test_the_alert_rules_hold_what_their_cases_say():
    run("promtool", "check", "rules", RULES)
    run("promtool", "test", "rules", CASES)


@pytest.mark.parametrize("alert", [rule["alert"] for rule in rules()])
def test_every_rule_is_tried_firing_and_not_firing(alert):
    expected = [bool(case.get("exp_alerts")) for case in cases() if case["alertname"] == alert]
    # Every case of several alerts shows, too, that the rule leaves the other series of its test in peace.
    assert set(expected) == {True, False}


def test_the_rules_ask_only_for_series_that_are_drawn():
    asked = {name.removesuffix("_total") for name in re.findall(r"cakewatch_\w+", RULES.read_text())}
    drawn = set(re.findall(r'"(cakewatch_\w+)"', "".join(path.read_text() for path in SERIES)))

    assert asked <= drawn


def test_no_summary_names_a_collector_where_a_link_may_be_meant():
    """A series of alarms has the label of a collector or of a link, never both."""
    for rule in rules():
        if "cakewatch_alarm_state" in rule["expr"] and "link" not in rule["expr"]:
            assert "{{ if $labels.collector }}" in rule["annotations"]["summary"], rule["alert"]


@pytest.mark.parametrize(
    ("labels", "receiver"),
    [
        ({"alertname": "CakewatchAlarm", "severity": "page", "priority": "urgent", "collector": "DC-101"}, "call"),
        ({"alertname": "CakewatchAlarm", "severity": "page", "priority": "high", "link": "mill"}, "call"),
        ({"alertname": "CakewatchAlarm", "severity": "ticket", "priority": "medium"}, "shift"),
        ({"alertname": "CakewatchAlarm", "severity": "info", "priority": "advisory"}, "shift"),
        ({"alertname": "CakewatchAlarmUnacknowledged", "severity": "page", "priority": "high"}, "call"),
        ({"alertname": "CakewatchGone", "severity": "page"}, "call"),
        ({"alertname": "CakewatchPhoneUnreached", "severity": "page"}, "call"),
        ({"alertname": "CakewatchReadingBad", "severity": "ticket", "link": "mill"}, "shift"),
        ({"alertname": "CakewatchOrderFilters", "severity": "info"}, "shift"),
        ({"alertname": "SomethingElse"}, "shift"),
    ],
)
def test_each_alert_goes_where_its_severity_says(labels, receiver):
    told = [f"{name}={value}" for name, value in labels.items()]
    run(
        "amtool",
        "config",
        "routes",
        "test",
        f"--config.file={ALERTMANAGER}",
        f"--verify.receivers={receiver}",
        *told,
    )


def test_alertmanager_takes_its_file():
    assert "SUCCESS" in run("amtool", "check-config", ALERTMANAGER)


def test_every_alert_that_the_route_names_is_a_rule():
    named = set(re.findall(r'alertname="(\w+)"', ALERTMANAGER.read_text()))

    assert named <= {rule["alert"] for rule in rules()}


def test_the_more_urgent_waits_less_and_repeats_sooner():
    route = yaml.safe_load(ALERTMANAGER.read_text())["route"]
    urgent, page = route["routes"][:2]
    waits = [seconds(one["group_wait"]) for one in (urgent, page, route)]
    repeats = [seconds(one["repeat_interval"]) for one in (urgent, page, route)]

    assert waits == sorted(waits)
    assert waits[0] == 0
    assert repeats == sorted(repeats)


def seconds(text):
    return int(text[:-1]) * {"s": 1, "m": 60, "h": 3600, "d": 86400}[text[-1]]
