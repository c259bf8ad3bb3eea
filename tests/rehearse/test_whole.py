"""A rehearsal of the simulated plant: what its day would have brought, with old and with better set points."""

import tracemalloc
from pathlib import Path

import pytest

from monitor.acquire.traces.opening import open_trace
from monitor.acquire.traces.trace import TraceError
from monitor.rehearse.whole import Site, Wish, known_points, rehearse
from monitor.report.rehearsal import Ending
from monitor.site.load import load
from tests.rehearse import alder_mill

FOLDER = Path(__file__).parents[2] / "fixtures" / "traces"


def sites(*names):
    return [Site(name, load(FOLDER / name, {})) for name in names]


def run(site_files, *paths, **wish):
    known = known_points(site_files)
    return rehearse(site_files, [open_trace(path, known) for path in paths], Wish(**wish))


def test_the_recording_is_what_the_simulated_plant_gives():
    assert (FOLDER / "alder-mill.csv").read_text() == alder_mill.text()


def test_better_set_points_leave_the_three_alarms_that_mean_something():
    better, now = run(sites("better.yaml", "now.yaml"), FOLDER / "alder-mill.csv")

    assert [one.tag for one in better.raisings] == ["PDAH-101", "PDT-102-BAD", "PDAL-102"]
    assert [one.ending for one in better.raisings] == [Ending.TIMER] * 3
    assert better.raisings[0].highest_inh2o > 7.5
    assert better.raisings[2].lowest_inh2o < 2.0
    assert len(now.raisings) == 29


@pytest.mark.parametrize("name", ["better.yaml", "now.yaml"])
def test_quick_and_exact_find_the_same(name):
    (quick,) = run(sites(name), FOLDER / "alder-mill.csv")
    (exact,) = run(sites(name), FOLDER / "alder-mill.csv", exact=True)

    assert quick.raisings == exact.raisings
    assert {key: story.alarms for key, story in quick.collectors.items()} == {
        key: story.alarms for key, story in exact.collectors.items()
    }


def test_the_asked_time_alone_is_rehearsed():
    begins, ends = alder_mill.BEGINS_UTC_S + 3600, alder_mill.BEGINS_UTC_S + 5400
    (found,) = run(sites("now.yaml"), FOLDER / "alder-mill.csv", since_utc_s=begins, until_utc_s=ends)

    assert found.begins_utc_s == begins
    assert found.ends_utc_s < ends
    assert found.collectors["DC-101"].sight.samples == 450


def test_a_time_without_data_brings_a_sentence():
    with pytest.raises(TraceError, match="Nothing to rehearse"):
        run(sites("now.yaml"), FOLDER / "alder-mill.csv", since_utc_s=2e9)


def test_gaps_are_told_and_raise_the_bad_signal(tmp_path):
    lines = (FOLDER / "alder-mill.csv").read_text().splitlines()
    holed = tmp_path / "holed.csv"
    holed.write_text("\n".join(lines[:300] + lines[600:900] + lines[905:]) + "\n")

    (found,) = run(sites("better.yaml"), holed)

    sight = found.collectors["DC-101"].sight
    assert (sight.gaps, sight.longest_gap_s, sight.silent_s) == (2, 1204.0, 1228.0)
    assert "PDT-101-BAD" in [one.tag for one in found.raisings]


def test_a_collector_without_data_and_a_bare_unit_are_told(tmp_path):
    short = tmp_path / "short.csv"
    short.write_text("time,PDT-101\n1772352000,4.5\n1772352060,4.6\n1772352120,4.6\n")

    (found,) = run(sites("better.yaml"), short)

    told = " ".join(found.notes)
    assert "DC-102: the recordings hold nothing of its DP" in told
    assert "PDT-101 (inH2O)" in told
    assert "stale after 180 s" in told


def test_memory_does_not_grow_with_the_recording(tmp_path):
    def peak(rows):
        path = tmp_path / f"{rows}.csv"
        with path.open("w") as file:
            file.write("time,PDT-101\n")
            file.writelines(f"{1772352000 + at},{4 + at % 97 / 100:.2f}\n" for at in range(rows))
        tracemalloc.start()
        run(sites("better.yaml"), path)
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    peak(2_000)  # whatever is imported or cached on first use
    assert peak(160_000) < 1.5 * peak(40_000)
