"""Retention: every tier goes by its own age; by size the steps go first and the hours last."""

import pytest

from monitor.remember import retention, tiers
from monitor.remember.history_file import HistoryFile
from monitor.remember.settings import StoreSettings
from monitor.remember.thinning import Thinner
from monitor.remember.tier import Tier
from tests.remember.making import DP_101, a_reading

HOUR = 1_772_352_000
HOURS = 48
NOW = HOUR + HOURS * 3600


@pytest.fixture
def file(tmp_path):
    """Two days of steps of 10 s, one reading in each."""
    file = HistoryFile(tmp_path / "history.db", StoreSettings(folder=tmp_path), lambda: NOW)
    thinner = Thinner(10.0)
    for at_s in range(HOUR, NOW, 10):
        thinner.record(DP_101, a_reading(at_s, at_s % 97 / 10))
    thinner.finish_all()
    while thinner.finished:
        file.write(thinner.finished)
    yield file
    file.close()


def count(file, tier):
    return file.connection.execute(f"SELECT count(*) FROM {tier}").fetchone()[0]


def used_bytes(file):
    pages, free, size = (
        file.connection.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("page_count", "freelist_count", "page_size")
    )
    return (pages - free) * size


def counts(file):
    return tuple(count(file, tier) for tier in Tier)


def test_every_tier_goes_by_its_own_age(file, tmp_path):
    file._settings = StoreSettings(
        folder=tmp_path, keep_history_s=3600.0, keep_minutes_s=2 * 3600.0, keep_hours_s=40 * 3600.0
    )
    for _ in range(5):
        file.drop_old()

    assert counts(file) == (360, 120, 40)
    assert file.count == 360
    assert [span.oldest_utc_s for span in file.reach] == [NOW - 3600, NOW - 2 * 3600, NOW - 40 * 3600]


def test_by_size_steps_go_first_then_minutes_then_hours_and_the_youngest_stay_longest(file, monkeypatch):
    monkeypatch.setattr(retention, "BATCH_ROWS", 24)
    monkeypatch.setattr(retention, "FLOOR_S", {Tier.STEPS: 3600.0, Tier.MINUTES: 4 * 3600.0})
    order = []
    before = counts(file)
    while file.make_room():
        after = counts(file)
        (gone,) = (tier for tier, was, now in zip(Tier, before, after, strict=True) if now < was)
        if not order or order[-1][0] is not gone:
            order.append((gone, before))
        before = after

    assert [tier for tier, _ in order] == [Tier.STEPS, Tier.MINUTES, Tier.STEPS, Tier.MINUTES, Tier.HOURS]
    assert [left for _, left in order] == [
        (HOURS * 360, HOURS * 60, HOURS),
        (360, HOURS * 60, HOURS),
        (360, 4 * 60, HOURS),
        (0, 4 * 60, HOURS),
        (0, 0, HOURS),
    ]
    assert counts(file) == (0, 0, 0)
    assert file.count == 0


def test_a_file_within_its_bound_loses_nothing_and_one_beyond_it_comes_down_to_it(file, tmp_path, monkeypatch):
    monkeypatch.setattr(retention, "BATCH_ROWS", 500)
    assert not file.drop_excess()
    file._settings = StoreSettings(folder=tmp_path, max_history_mb=1)
    assert used_bytes(file) > 1_050_000

    while file.drop_excess():
        pass

    assert 900_000 < used_bytes(file) <= 1_000_000
    assert counts(file)[1:] == (HOURS * 60, HOURS)


def test_the_reach_follows_what_goes(file):
    retention.drop_oldest_history(file.connection, NOW + 30 * 86400.0)
    reach = tiers.reach(file.connection)
    assert reach.steps.oldest_utc_s > HOUR
    assert reach.minutes.oldest_utc_s == reach.hours.oldest_utc_s == HOUR
    assert reach.hours.newest_utc_s == NOW - 3600
