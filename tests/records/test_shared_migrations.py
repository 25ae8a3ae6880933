"""A shared archive of an earlier version: brought up to date in place, whole or not at all, by whoever comes first."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Callable
from pathlib import Path

import archive_of_version_1 as some
import psycopg
import pytest
import sqlalchemy as sa

from refarchive.errors import ArchiveMissing, ArchiveTooNew
from refarchive.records import migrate, schema, sqlite, words_tsvector
from refarchive.records import postgres as at_postgres
from refarchive.records.shared import Shared, write
from refarchive.records.store import Store

ADDS = """
import sqlalchemy as sa
from alembic import op
revision = "8000"
down_revision = "HEAD"
def upgrade():
    with op.batch_alter_table("reference") as table:
        table.add_column(sa.Column("lender", sa.Text, nullable=False, server_default="nobody"))
"""
FAILS_HALFWAY = """
from alembic import op
revision = "8000"
down_revision = "HEAD"
def upgrade():
    op.execute("DELETE FROM evidence")
    op.execute("CREATE TABLE half (a int)")
    op.execute("INSERT INTO nowhere VALUES (1)")
"""


@pytest.fixture
def filled(postgres, tmp_path: Path):
    """A folder of a shared archive with a little of everything."""
    address = postgres.database("made")
    write(tmp_path, Shared(address))
    with Store.open(tmp_path) as store:
        some.fill(store)
    yield tmp_path, address
    postgres.drop(address)


@pytest.fixture
def later(tmp_path_factory, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    def make(script: str) -> None:
        head = migrate.head()
        scripts = tmp_path_factory.mktemp("later") / "migrations"
        shutil.copytree(migrate.SCRIPTS, scripts, ignore=shutil.ignore_patterns("__pycache__"))
        (scripts / "versions" / "v8000.py").write_text(script.replace("HEAD", head), encoding="utf-8")
        monkeypatch.setattr(migrate, "SCRIPTS", scripts)

    return make


def version(address: str) -> str:
    with psycopg.connect(address) as connection:
        return connection.execute("SELECT version_num FROM alembic_version").fetchone()[0]


def test_a_new_one_is_of_this_version_and_has_the_tables_of_the_schema(filled) -> None:
    folder, address = filled
    assert version(address) == migrate.head()
    with Store.open(folder) as store, sqlite.reading(store.shared) as connection:
        found = sa.inspect(connection)
        for table in (*schema.metadata.tables.values(), *words_tsvector.tables.tables.values()):
            assert [c["name"] for c in found.get_columns(table.name)] == [c.name for c in table.columns]
        for told in (c for t in schema.metadata.tables for c in found.get_columns(t)):
            if isinstance(told["type"], sa.Text):
                assert told["type"].collation == "C", told["name"]


def test_it_is_upgraded_once_by_two_who_come_at_once(filled, later) -> None:
    folder, address = filled
    later(ADDS)
    ready, failures = threading.Barrier(2), []

    def open_it() -> None:
        ready.wait()
        try:
            Store.open(folder).close()
        except BaseException as error:
            failures.append(error)

    threads = [threading.Thread(target=open_it) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert version(address) == "8000"
    with Store.open(folder) as store:
        assert store.reference(some.PICTURE.id) == some.PICTURE
        assert store.scene(some.SCENE.slug).needs == some.SCENE.needs


def test_an_upgrade_that_fails_leaves_it_as_it_was(filled, later, monkeypatch: pytest.MonkeyPatch) -> None:
    folder, address = filled
    later(FAILS_HALFWAY)
    with pytest.raises(Exception, match="nowhere"):
        Store.open(folder)
    assert version(address) != "8000"
    monkeypatch.undo()
    with Store.open(folder) as store:
        assert store.scene(some.SCENE.slug).needs == some.SCENE.needs


def test_a_later_one_and_none_are_refused(filled, postgres) -> None:
    folder, address = filled
    with psycopg.connect(address) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    with pytest.raises(ArchiveTooNew, match="9999"):
        Store.open(folder)
    empty = postgres.database()
    with pytest.raises(ArchiveMissing, match="refarchive new"):
        at_postgres.ready(empty)
    postgres.drop(empty)
