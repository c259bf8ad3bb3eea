"""The curve in a rehearsal: the same figures as live, in plain lines, only where they were asked for."""

import csv
from pathlib import Path

from monitor.acquire.traces.opening import open_trace
from monitor.rehearse.whole import Site, Wish, known_points, rehearse
from monitor.report.rehearsal_json import as_json
from monitor.report.rehearsal_page import page
from monitor.report.rehearsal_reading import behind, lines
from monitor.site.load import load
from monitor.troubles import Trouble

TRACES = Path(__file__).parents[2] / "fixtures" / "traces"


def rehearsed(**wish):
    site = Site("now.yaml", load(TRACES / "now.yaml", {}))
    trace = open_trace(TRACES / "alder-mill.csv", known_points([site]), None)
    (found,) = rehearse([site], [trace], Wish(**wish))
    return found


def test_the_curve_is_read_only_where_it_is_asked_for():
    found = rehearsed()

    assert [line for story in found.collectors.values() for line in lines(story)] == []
    assert all(one.suspicions == () for one in found.raisings)


def crossings(high, low):
    """How often the recorded DP of DC-101 went from ``high`` down to ``low``: its set points, plainly counted."""
    is_high, count = False, 0
    with (TRACES / "alder-mill.csv").open() as file:
        for row in csv.DictReader(file):
            value = float(row["PDT-101 (inH2O)"])
            count += is_high and value <= low
            is_high = value >= high or (is_high and value > low)
    return count


def test_cycles_are_told_for_each_collector_in_every_form():
    found = rehearsed(curve=True)
    told = [line for story in found.collectors.values() for line in lines(story)]

    assert crossings(4.85, 4.15) == 14
    assert told[0].startswith("DC-101: 14 cleaning cycles; the last from 5.0")
    assert any("without a change-out limit in the site file there is no forecast" in line for line in told)
    assert "What the curve says" in page([found])
    assert as_json([found])["rehearsals"][0]["collectors"][0]["cycles"] == 14


def test_the_torn_bags_are_suspected_when_the_low_alarm_comes():
    """fixtures/traces/README: bags of DC-102 tear at 09:30."""
    low = next(one for one in rehearsed(curve=True).raisings if one.tag == "PDAL-102")

    assert Trouble.TORN_BAG in [one.trouble for one in low.suspicions]
    assert "torn or missing filter (" in behind(low)
