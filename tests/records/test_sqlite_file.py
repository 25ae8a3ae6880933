"""What holds of SQLite alone: its file, its settings, its plans, and how damage and a full disk are met."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import archive_of_version_1 as some
import pytest
import sqlalchemy as sa

from refarchive.errors import ArchiveBusy, ArchiveDamaged, ArchiveMissing, ArchiveUnwritable
from refarchive.records import sqlite
from refarchive.records.ids import reference_id
from refarchive.records.model import NewReference, Reference
from refarchive.records.store import DATABASE, Store


@pytest.fixture
def store(tmp_path: Path):
    with Store.create(tmp_path, who="tester") as made:
        yield made


@pytest.fixture
def full(store: Store) -> Store:
    some.fill(store)
    return store


def picture(n: int) -> Reference:
    digest = f"{n:064x}"[::-1]
    return Reference(reference_id(digest), "image", f"Picture {n}", f"{n}.jpg", sha256=digest)


def test_wal_foreign_keys_and_full_synchronisation_are_on_in_every_connection(store: Store) -> None:
    for opened in (sqlite.reading, sqlite.writing):
        with opened(store._engine) as connection:
            found = {
                name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
                for name in ("journal_mode", "foreign_keys", "synchronous", "trusted_schema", "busy_timeout")
            }
        assert found == {
            "journal_mode": "wal", "foreign_keys": 1, "synchronous": 2, "trusted_schema": 0, "busy_timeout": 30000,
        }  # fmt: skip


def test_no_archive_a_foreign_file_and_damage_are_named(tmp_path: Path) -> None:
    with pytest.raises(ArchiveMissing, match="refarchive new"):
        Store.open(tmp_path)
    assert list(tmp_path.iterdir()) == []
    path = tmp_path / DATABASE
    for content in (b"", b"not a database at all " * 100):
        path.write_bytes(content)
        with pytest.raises(ArchiveDamaged):
            Store.open(tmp_path)
        assert path.read_bytes() == content
    path.unlink()
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript("CREATE TABLE reference (a); CREATE TABLE other (b)")
    content = path.read_bytes()
    with pytest.raises(ArchiveDamaged):
        Store.open(tmp_path)
    assert path.read_bytes() == content


def test_damage_met_while_reading_is_named(full: Store, tmp_path: Path) -> None:
    full.close()
    path = tmp_path / DATABASE
    content = bytearray(path.read_bytes())
    content[8192:] = b"\xff" * (len(content) - 8192)
    path.write_bytes(bytes(content))
    with pytest.raises(ArchiveDamaged), Store.open(tmp_path) as store:
        store.references()


def test_an_archive_is_made_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(ArchiveUnwritable):
        Store.create(tmp_path / "nowhere")

    def half(connection: sa.Connection) -> None:
        connection.exec_driver_sql("CREATE TABLE reference (a)")
        raise KeyboardInterrupt

    monkeypatch.setattr(sqlite.migrate, "upgrade", half)
    with pytest.raises(KeyboardInterrupt):
        Store.create(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_may_have_any_name_and_the_working_folder_may_change(tmp_path: Path, monkeypatch) -> None:
    folder = tmp_path / "what? 100%41 #1 é'\""
    folder.mkdir()
    monkeypatch.chdir(tmp_path)
    with Store.create(Path(folder.name)) as store:
        monkeypatch.chdir("/")
        store.add_references([NewReference(picture(1))])
        assert store.count() == 1
    assert [p.name for p in folder.iterdir()] == [DATABASE]
    assert [p.name for p in tmp_path.iterdir()] == [folder.name]


def test_waiting_for_another_writer_ends_in_a_name(full: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sqlite, "PATIENCE_S", 0.05)
    with (
        Store.open(full.folder) as impatient,
        closing(sqlite3.connect(full.folder / DATABASE, isolation_level=None)) as other,
    ):
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(ArchiveBusy):
            impatient.set_setting("a", 1)
        assert impatient.count() == 3  # reading goes on
        other.execute("ROLLBACK")
        impatient.set_setting("a", 1)
    assert full.setting("a") == 1


def test_a_full_disk_is_named_and_leaves_nothing_behind(full: Store) -> None:
    before = full.references()

    def write_much() -> None:
        with sqlite.writing(full._engine) as connection:
            pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
            connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
            insert = "INSERT INTO history (at, who, action, record) VALUES ('', '', '', ?)"
            connection.exec_driver_sql(insert, [(str(n) * 500,) for n in range(10_000)])

    with pytest.raises(ArchiveUnwritable, match="full"):
        write_much()
    assert full.references() == before


def test_the_period_is_looked_up_in_an_index(store: Store) -> None:
    with sqlite.reading(store._engine) as connection:
        plan = connection.exec_driver_sql(
            "EXPLAIN QUERY PLAN SELECT id FROM reference WHERE (earliest IS NULL OR earliest <= 5)"
        ).all()
    assert any("ix_reference_earliest" in row[-1] for row in plan)
