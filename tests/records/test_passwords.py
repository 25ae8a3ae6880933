"""A server that asks for a password: libpq finds it where people keep theirs, and nothing of ours ever holds it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from postgres_server import OWNER, Server

import refarchive
from refarchive.archive import Archive
from refarchive.errors import ArchiveAway
from refarchive.records.shared import POINTER

PASSWORD = "tide:table\\7"  # with the two characters that a password file writes otherwise


@pytest.fixture(scope="module")
def asking() -> Iterator[Server]:
    server = Server(PASSWORD)
    try:
        yield server
    finally:
        server.close()


@pytest.fixture
def address(asking: Server, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """The address of an empty database; this process knows no password when the test begins."""
    monkeypatch.setenv("PGPASSWORD", PASSWORD)
    address = asking.database()
    monkeypatch.delenv("PGPASSWORD")
    monkeypatch.setenv("PGPASSFILE", "/nowhere")
    yield address
    monkeypatch.setenv("PGPASSWORD", PASSWORD)
    asking.drop(address)


def make(folder: Path, address: str) -> Archive:
    files = folder.with_name("files")
    files.mkdir(exist_ok=True)
    return refarchive.create(folder, "tiny", who="one", database=address, files=files)


def password_file(path: Path, password: str) -> Path:
    """As https://www.postgresql.org/docs/current/libpq-pgpass.html has it."""
    escaped = password.replace("\\", "\\\\").replace(":", "\\:")
    path.write_text(f"*:*:*:{OWNER}:{escaped}\n", "utf-8")
    path.chmod(0o600)
    return path


def test_the_server_asks(asking: Server, address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PGPASSWORD", PASSWORD)
    import psycopg

    with psycopg.connect(address) as connection:
        assert connection.execute("SHOW password_encryption").fetchone() == ("scram-sha-256",)
        lines = connection.execute("SELECT DISTINCT auth_method FROM pg_hba_file_rules").fetchall()
    assert lines == [("scram-sha-256",)]


@pytest.mark.parametrize("how", ["environment", "password file"])
def test_a_password_from_where_libpq_looks_lets_in(
    address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    if how == "environment":
        monkeypatch.setenv("PGPASSWORD", PASSWORD)
    else:
        monkeypatch.setenv("PGPASSFILE", str(password_file(tmp_path / "pgpass", PASSWORD)))
    make(tmp_path / "one", address).close()
    with refarchive.open(tmp_path / "one") as again:
        assert len(again) == 0
    assert PASSWORD not in (tmp_path / "one" / POINTER).read_text("utf-8")


@pytest.mark.parametrize("how", ["none", "wrong", "wrong in the file"])
def test_without_the_right_one_it_is_said_what_to_look_at(
    address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    if how == "wrong":
        monkeypatch.setenv("PGPASSWORD", "ebb-and-flow")
    elif how == "wrong in the file":
        monkeypatch.setenv("PGPASSFILE", str(password_file(tmp_path / "pgpass", "ebb-and-flow")))
    with pytest.raises(ArchiveAway) as told:
        make(tmp_path / "one", address)
    assert "does not let you in" in told.value.problem
    assert "password file" in told.value.next_step
    assert "ebb-and-flow" not in str(told.value)
    assert not (tmp_path / "one").exists()
