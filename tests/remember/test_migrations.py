"""Migrations: every older file is brought up to date, once; a newer or a strange one is refused in a sentence."""

import asyncio
import sqlite3
from importlib import resources
from pathlib import Path

import pytest

from monitor.errors import StoreError
from monitor.remember.database import Schema, migrations, open_database
from tests.remember.making import open_store, opened

#: Old files as text, one for each version ever shipped: ``<schema>_v<n>.sql``.
OLD = Path(__file__).parent / "old"


@pytest.mark.parametrize("path", sorted(OLD.glob("*.sql")), ids=lambda path: path.stem)
def test_an_old_file_opens_and_opens_again(tmp_path, path):
    schema = Schema(path.stem.split("_")[0])
    old = sqlite3.connect(tmp_path / "old.db")
    old.executescript(path.read_text())
    old.close()
    for _ in range(2):
        connection = open_database(tmp_path / "old.db", schema)
        assert connection.execute("PRAGMA user_version").fetchone() == (len(migrations(schema)),)
        table = {Schema.JOURNAL: "journal", Schema.HISTORY: "history"}[schema]
        assert connection.execute(f"SELECT count(*) FROM {table}").fetchone() == (2,)
        connection.close()


@pytest.mark.parametrize("schema", list(Schema))
def test_every_version_has_an_old_file_to_prove_it(schema):
    versions = [int(path.stem.split("_v")[1]) for path in OLD.glob(f"{schema}_*.sql")]
    assert sorted(versions) == list(range(1, len(migrations(schema)) + 1))


def test_the_steps_are_numbered_without_a_gap():
    names = sorted(entry.name for entry in resources.files("monitor.remember.migrations").iterdir())
    for schema in Schema:
        own = [name for name in names if name.startswith(f"{schema}_")]
        assert own == [f"{schema}_{n:04}.sql" for n in range(1, len(own) + 1)]


@pytest.mark.parametrize("name", ["journal.db", "history.db"])
def test_a_newer_file_is_refused_with_a_sentence_and_left_alone(tmp_path, name):
    async def make() -> None:
        async with opened(tmp_path):
            pass

    asyncio.run(make())
    connection = sqlite3.connect(tmp_path / name)
    connection.execute("PRAGMA user_version = 99")
    connection.close()
    before = (tmp_path / name).read_bytes()
    with pytest.raises(
        StoreError, match=r"has version 99, made by a newer cakewatch; .*start the newer one again"
    ):
        open_store(tmp_path)
    assert (tmp_path / name).read_bytes() == before


def test_another_programs_database_is_refused_with_a_sentence(tmp_path):
    connection = sqlite3.connect(tmp_path / "journal.db")
    connection.execute("CREATE TABLE theirs (x)")
    connection.close()
    with pytest.raises(StoreError, match="another program's database: name a folder of the daemon's own"):
        open_store(tmp_path)
