"""Health fails when a loop, the judge or the journal stands still, and names it."""

import math
from dataclasses import replace

import pytest

from monitor.figures import JudgeFigures, LinkFigures, StoreFigures
from monitor.tell.health import judge_health
from monitor.words import Instant

NOW = Instant(1000.0, 5.0)
LINKS = {
    name: LinkFigures(link=name, connected=True, turned_at=NOW, turn_limit_s=5.0) for name in ("mill", "kiln")
}
JUDGE = JudgeFigures(turned_at=NOW)
STORE = StoreFigures(healthy=True)


def test_all_is_well_while_everything_moves():
    report = judge_health(LINKS, JUDGE, STORE, NOW)

    assert report.ok
    assert report.checks == {"link mill": "ok", "link kiln": "ok", "judge": "ok", "journal": "ok"}


def test_a_link_that_is_not_connected_but_turns_is_healthy():
    links = {"mill": replace(LINKS["mill"], connected=False, silent_units=(1, 2))}

    assert judge_health(links, JUDGE, STORE, NOW).ok


@pytest.mark.parametrize("age_s", [5.01, 1e9, math.nan])
def test_any_links_stuck_scan_is_named(age_s):
    links = LINKS | {"kiln": replace(LINKS["kiln"], turned_at=Instant(1000.0 - age_s, 0.0))}
    report = judge_health(links, JUDGE, STORE, NOW)

    assert not report.ok
    assert [name for name, found in report.checks.items() if found != "ok"] == ["link kiln"]
    assert "the scan of link kiln has not come round for" in report.checks["link kiln"]


def test_a_stuck_judge_is_named():
    report = judge_health(LINKS, replace(JUDGE, turned_at=Instant(980.0, 0.0)), STORE, NOW)

    assert report.checks["judge"] == "the judge has not come round for 20 s (it may take 10 s)"


def test_a_journal_that_cannot_be_written_is_named_with_its_reason():
    report = judge_health(LINKS, JUDGE, StoreFigures(healthy=False, last_error="disk full"), NOW)

    assert report.checks["journal"] == "the journal cannot be written: disk full"
    assert not report.ok


def test_a_clock_step_makes_nothing_sick():
    assert judge_health(LINKS, JUDGE, STORE, Instant(NOW.mono_s, NOW.utc_s + 1e9)).ok


def test_a_full_disk_is_sick_but_no_reason_to_start_anew():
    report = judge_health(LINKS, JUDGE, replace(STORE, healthy=False), NOW)

    assert not report.ok
    assert report.is_moving


def test_a_stuck_link_is_a_reason_to_start_anew():
    links = {"mill": replace(LINKS["mill"], turned_at=Instant(0.0, 5.0))}

    assert not judge_health(links, JUDGE, STORE, NOW).is_moving
