"""Tiers: how far back each of the history's three tables reaches."""

import sqlite3
from typing import NamedTuple

from monitor.remember.tier import Tier


class Span(NamedTuple):
    """From the start of a tier's oldest row to the start of its newest, Unix seconds."""

    oldest_utc_s: int
    newest_utc_s: int


class Reach(NamedTuple):
    """How far back the history goes, of any point; None for a tier that holds nothing."""

    steps: Span | None = None
    minutes: Span | None = None
    hours: Span | None = None


def reach(connection: sqlite3.Connection) -> Reach:
    """Look at both ends of every tier; quick, whatever their size."""
    return Reach(*(span(connection, tier) for tier in Tier))


def span(
    connection: sqlite3.Connection, tier: Tier, since_utc_s: float = 0.0, until_utc_s: float = 1e18
) -> Span | None:
    """The first and the last start in [since, until); None where there is none."""
    # One question for each end: asked for both at once, SQLite reads every row between them.
    asked = {"since": since_utc_s, "until": min(until_utc_s, 1e18)}
    first, last = (
        connection.execute(
            f"SELECT {end}(start_utc_s) FROM {tier} "  # noqa: S608  names of ours
            "WHERE start_utc_s >= :since AND start_utc_s < :until",
            asked,
        ).fetchone()[0]
        for end in ("min", "max")
    )
    return None if first is None else Span(int(first), int(last))


def is_there(connection: sqlite3.Connection, tier: Tier) -> bool:
    """Whether the file has that tier: one that no daemon of this version has opened has steps alone."""
    asked = connection.execute("SELECT count(*) FROM sqlite_master WHERE name = ?", (tier.value,))
    return bool(asked.fetchone()[0])
