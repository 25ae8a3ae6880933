"""Old databases are upgraded whole or left alone; the stored one of version 0001 is compared row by row."""

from __future__ import annotations

import re
import shutil
import sqlite3
import threading
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import archive_of_version_1 as old
import pytest
import sqlalchemy as sa

from refarchive.errors import ArchiveDamaged, ArchiveTooNew
from refarchive.records import migrate, schema
from refarchive.records.model import Filter
from refarchive.records.store import DATABASE, Store


@pytest.fixture
def version_1(tmp_path: Path) -> Path:
    folder = tmp_path / "archive"
    folder.mkdir()
    with closing(sqlite3.connect(folder / DATABASE)) as connection:
        connection.executescript(old.SQL.read_text(encoding="utf-8"))
    return folder


def columns(path: Path) -> dict[str, list[str]]:
    """Names of the columns of every table that is ours."""
    with closing(sqlite3.connect(path)) as connection:
        tables = [
            row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY 1")
        ]
        plain = [t for t in tables if "_words_" not in t and not t.startswith(("sqlite_", "alembic_"))]
        return {t: [row[1] for row in connection.execute(f"PRAGMA table_info('{t}')")] for t in plain}


def every_row(path: Path, only: dict[str, list[str]] | None = None) -> dict[str, list[tuple[object, ...]]]:
    """Every row with its number, of all tables and columns, or of those named."""
    wanted = only or columns(path)
    with closing(sqlite3.connect(path)) as connection:
        return {
            table: connection.execute(
                f'SELECT rowid, {", ".join(f""" "{name}" """ for name in names)} FROM "{table}" ORDER BY rowid'
            ).fetchall()
            for table, names in wanted.items()
        }


def version(path: Path) -> str:
    with closing(sqlite3.connect(path)) as connection:
        return str(connection.execute("SELECT version_num FROM alembic_version").fetchone()[0])


def records_are_as_they_were(store: Store) -> None:
    assert store.references() == [old.PICTURE, old.LETTER, old.LANTERN]
    assert store.details() == [old.DETAIL]
    assert store.passages() == list(old.PASSAGES)
    assert store.marks("r1") == {mark.path: mark for mark in old.MARKS}
    scene = store.scene("first-light")
    assert scene.revision == 1
    assert scene.saved_at
    assert replace(scene, revision=0, saved_at="") == old.SCENE
    assert store.scene_toml("first-light") == old.TOML
    assert store.frames("first-light") == [old.FRAME]
    assert store.frame_notes(old.FRAME.id) == list(old.NOTES)
    assert store.setting("encoder") == {"name": "built-in", "why": "no weights"}
    assert len(store.history()) == 11
    assert {change.who for change in store.history()} == {"tester"}
    assert [i for i, _ in store.search_words("kresset", table="references")] == [old.PICTURE.id]
    assert [i for i, _ in store.search_words("stuck", table="passages")] == [old.PASSAGES[0].id]
    assert store.select(Filter(latest=2404428)) == [old.LETTER.id]


def test_the_stored_database_has_rows_in_every_table(version_1: Path) -> None:
    rows = every_row(version_1 / DATABASE)
    since = {"family", "family_member", "not_family", "viewing", "frame_check"}  # versions 2 and 3
    since |= {"frame_look", "work_print", "sitting", "judgement", "arrangement", "decision"}  # version 6
    since |= {"series_order", "particulars"}
    assert set(rows) == {table.name for table in schema.metadata.sorted_tables} - since | set(schema.WORD_TABLES)
    assert all(rows.values())


def test_a_version_1_archive_opens_with_every_row_and_record(version_1: Path) -> None:
    before, had = every_row(version_1 / DATABASE), columns(version_1 / DATABASE)
    with Store.open(version_1, who="x") as store:
        records_are_as_they_were(store)
        assert store.families.all() == []
        assert all(e.fit == () for need in store.scene("first-light").needs for e in need.evidence)
    assert version(version_1 / DATABASE) == migrate.head()
    assert every_row(version_1 / DATABASE, had) == before


def shape(path: Path) -> dict[str, object]:
    """Columns, defaults, keys, indices and checks of every table, as SQLite itself understands them."""
    found: dict[str, object] = {}
    with closing(sqlite3.connect(path)) as connection:

        def told(pragma: str, name: str) -> list[tuple[object, ...]]:
            return connection.execute(f"PRAGMA {pragma}('{name}')").fetchall()

        for name, sql in connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table'").fetchall():
            if name.startswith(("alembic_", "sqlite_")) or "_words" in name:
                continue
            found[name] = (
                told("table_info", name),
                sorted(row[2:] for row in told("foreign_key_list", name)),
                sorted((row[2:4], [r[2] for r in told("index_info", row[1])]) for row in told("index_list", name)),
                sorted(re.findall(r"CHECK ?\((.*\))\)", sql)),
            )
    return found


def test_the_migrations_make_the_tables_that_the_schema_names(tmp_path: Path) -> None:
    Store.create(tmp_path).close()
    engine = sa.create_engine(f"sqlite:///{tmp_path / 'direct.sqlite'}", poolclass=sa.pool.NullPool)
    schema.metadata.create_all(engine)
    migrated = shape(tmp_path / DATABASE)
    assert migrated == shape(tmp_path / "direct.sqlite")
    assert len(migrated) == len(schema.metadata.tables)
    with closing(sqlite3.connect(tmp_path / DATABASE)) as connection:
        made = dict(connection.execute("SELECT name, sql FROM sqlite_master").fetchall())
    for name in schema.WORD_TABLES:
        assert "".join(made[name].split()) == "".join(schema.word_table_ddl(name).split())


def test_the_newest_file_is_the_head_that_alembic_sees() -> None:
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(migrate.SCRIPTS))
    config.set_main_option("path_separator", "os")
    assert ScriptDirectory.from_config(config).get_current_head() == migrate.head()


@pytest.mark.parametrize("unknown", ["9999", "0004x", ""])
def test_an_unknown_version_is_refused_and_left_alone(version_1: Path, unknown: str) -> None:
    with closing(sqlite3.connect(version_1 / DATABASE)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = ?", (unknown,))
        connection.commit()
    before = (version_1 / DATABASE).read_bytes()
    with pytest.raises(ArchiveTooNew) as caught:
        Store.open(version_1)
    assert caught.value.next_step
    assert (version_1 / DATABASE).read_bytes() == before
    assert [p.name for p in version_1.iterdir()] == [DATABASE]


# --- a later version, made up -------------------------------------------------------------------------------------

REBUILD = """
import sqlalchemy as sa
from alembic import op
revision = "8000"
down_revision = "HEAD"
def upgrade():
    with op.batch_alter_table("reference", recreate="always") as table:
        table.add_column(sa.Column("lender", sa.Text, nullable=False, server_default="nobody"))
"""
FAILS_HALFWAY = """
from alembic import op
revision = "8000"
down_revision = "HEAD"
def upgrade():
    op.execute("DELETE FROM evidence")
    op.execute("CREATE TABLE half (a)")
    op.execute("INSERT INTO nowhere VALUES (1)")
"""
LEAVES_ROWS_ON_NOTHING = """
from alembic import op
revision = "8000"
down_revision = "HEAD"
def upgrade():
    op.execute("DELETE FROM detail")
"""


@pytest.fixture
def later(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def make(script: str) -> None:
        head = migrate.head()
        scripts = tmp_path / "100% migrations"  # a sign that Alembic's settings would take for their own
        shutil.copytree(migrate.SCRIPTS, scripts, ignore=shutil.ignore_patterns("__pycache__"))
        (scripts / "versions" / "v8000.py").write_text(script.replace("HEAD", head), encoding="utf-8")
        monkeypatch.setattr(migrate, "SCRIPTS", scripts)

    return make


def test_an_older_archive_is_copied_then_upgraded_without_losing_what_hangs_on_a_rebuilt_table(
    version_1, later
) -> None:
    before, had = every_row(version_1 / DATABASE), columns(version_1 / DATABASE)
    later(REBUILD)
    with Store.open(version_1) as store:
        records_are_as_they_were(store)
        with pytest.raises(Exception, match="used in the scene"):
            store.remove_reference(old.PICTURE.id)
    assert version(version_1 / DATABASE) == "8000"
    lenders = every_row(version_1 / DATABASE, {"reference": ["lender"]})["reference"]
    assert [row[1] for row in lenders] == ["nobody"] * 3
    assert every_row(version_1 / DATABASE, had) == before
    copy = version_1 / f"{DATABASE}.before-8000"
    assert version(copy) == "0001"
    assert every_row(copy) == before
    assert not list(version_1.glob("*.part"))


def test_an_upgrade_that_fails_leaves_the_archive_as_it_was(version_1, later) -> None:
    before = every_row(version_1 / DATABASE)
    later(FAILS_HALFWAY)
    for _ in range(2):
        with pytest.raises(ArchiveDamaged, match="nowhere"):
            Store.open(version_1)
    assert version(version_1 / DATABASE) == "0001"
    assert every_row(version_1 / DATABASE) == before
    copies = sorted(p.name for p in version_1.glob("*.before-*"))
    assert copies == [f"{DATABASE}.before-8000", f"{DATABASE}.before-8000-2"]  # an earlier copy is never written over


def test_an_upgrade_that_would_leave_rows_on_nothing_is_refused(version_1, later) -> None:
    before = every_row(version_1 / DATABASE)
    later(LEAVES_ROWS_ON_NOTHING)
    with pytest.raises(ArchiveDamaged, match="stand on nothing"):
        Store.open(version_1)
    assert version(version_1 / DATABASE) == "0001"
    assert every_row(version_1 / DATABASE) == before


def test_two_programs_opening_an_older_archive_upgrade_it_once(version_1, later) -> None:
    later(REBUILD)
    ready = threading.Barrier(2)
    failures: list[BaseException] = []

    def open_it() -> None:
        ready.wait()
        try:
            Store.open(version_1).close()
        except BaseException as error:
            failures.append(error)

    threads = [threading.Thread(target=open_it) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert version(version_1 / DATABASE) == "8000"
    assert len(list(version_1.glob("*.before-*"))) == 1
