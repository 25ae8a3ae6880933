"""Connections to the SQLite file that are kept between questions: never a view of what is no longer there."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
from contextlib import ExitStack, closing
from pathlib import Path

import pytest
import sqlalchemy as sa

from refarchive.errors import ArchiveUnwritable
from refarchive.records import sqlite
from refarchive.records.store import DATABASE, Store


@pytest.fixture
def store(tmp_path: Path):
    folder = tmp_path / "archive"
    folder.mkdir()
    with Store.create(folder, who="tester") as made:
        yield made


def opened(store: Store) -> list[object]:
    """What is told of every connection opened from now on."""
    found: list[object] = []
    sa.event.listen(store._engine, "connect", lambda connection, _: found.append(connection))
    return found


def in_threads(work, count: int) -> None:
    threads = [threading.Thread(target=work, args=(n,)) for n in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def test_questions_one_after_the_other_open_nothing_from_whatever_thread(store: Store) -> None:
    found = opened(store)
    for n in range(3):
        store.set_setting("a", n)
        assert store.setting("a") == n
        in_threads(lambda _: store.count(), 1)
    assert found == []


def test_no_more_than_a_few_stay_open(store: Store) -> None:
    with ExitStack() as stack:
        for _ in range(sqlite.KEPT + 3):
            stack.enter_context(sqlite.reading(store._engine))
    assert store._engine.pool.checkedin() == sqlite.KEPT  # type: ignore[attr-defined]


def test_threads_that_read_and_write_at_once_lose_nothing(store: Store) -> None:
    problems: list[BaseException] = []

    def work(number: int) -> None:
        try:
            for turn in range(20):
                store.set_setting(f"{number}", turn)
                assert store.setting(f"{number}") == turn
        except BaseException as problem:
            problems.append(problem)

    in_threads(work, 8)
    assert problems == []
    assert [store.setting(f"{n}") for n in range(8)] == [19] * 8
    assert len(store.history()) == 160


def test_what_another_program_commits_is_seen_and_no_lock_is_left(store: Store) -> None:
    assert store.setting("a") is None
    with closing(sqlite3.connect(store.folder / DATABASE, timeout=0)) as other:
        other.execute("INSERT INTO setting (key, value) VALUES ('a', '1')")
        other.commit()
        assert store.setting("a") == 1
        assert other.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone() == (0, 0, 0)  # nobody is in the way


def test_another_archive_put_in_its_place_is_the_one_that_is_read(store: Store, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    with Store.create(other) as second:
        second.set_setting("whose", "the other's")
    store.set_setting("whose", "the first's")
    os.rename(store.folder, tmp_path / "aside")
    with pytest.raises(ArchiveUnwritable):
        store.setting("whose")
    os.rename(other, store.folder)
    assert store.setting("whose") == "the other's"
    store.set_setting("more", 1)
    with closing(sqlite3.connect(tmp_path / "aside" / DATABASE)) as first:
        assert first.execute("SELECT value FROM setting").fetchall() == [('"the first\'s"',)]
    shutil.rmtree(store.folder)
    with pytest.raises(ArchiveUnwritable):
        store.set_setting("more", 2)


FORKS = """
import os, sys
from pathlib import Path
from refarchive.records.store import Store
with Store.open(Path(sys.argv[1])) as store:
    store.set_setting("parent", 1)
    before = store._engine.pool
    with store._engine.connect() as connection:
        theirs = connection.connection.dbapi_connection
    child = os.fork()
    if not child:
        with store._engine.connect() as connection:
            mine = connection.connection.dbapi_connection
        fine = store._engine.pool is not before and mine is not theirs and store.setting("parent") == 1
        store.set_setting("child", 2)
        store.close()
        try:
            theirs.execute("SELECT 1")  # still open: closing it would be the parent's to do
        except Exception:
            fine = False
        os._exit(0 if fine else 1)
    _, status = os.waitpid(child, 0)
    assert status == 0
    assert store.setting("child") == 2
    store.set_setting("after", 3)
"""


def test_a_forked_process_leaves_the_connections_of_its_parent_alone(store: Store) -> None:
    subprocess.run([sys.executable, "-c", FORKS, str(store.folder)], check=True)
    assert [store.setting(key) for key in ("parent", "child", "after")] == [1, 2, 3]
    with sqlite.reading(store._engine) as connection:
        assert connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"


KILLED = """
import sys
from pathlib import Path
from refarchive.records.store import Store
store = Store.open(Path(sys.argv[1]))
n = 0
while True:
    store.set_setting("n", n)
    assert store.setting("n") == n
    print(n, flush=True)
    n += 1
"""


def test_killed_with_connections_open_nothing_acknowledged_is_lost(store: Store) -> None:
    """By SIGKILL, a few times, while another program has the archive open."""
    for turn in range(3):
        with subprocess.Popen([sys.executable, "-c", KILLED, str(store.folder)], stdout=subprocess.PIPE) as process:
            assert process.stdout is not None
            for _ in range(5 + turn):
                said = process.stdout.readline()
            process.send_signal(signal.SIGKILL)
            said = ([said] + [line for line in process.stdout.readlines() if line.endswith(b"\n")])[-1]
        assert store.setting("n") in (int(said), int(said) + 1)  # it may have been killed before it could say so
        store.set_setting("n", -1)
