"""Archives packed to one file and unpacked: whole, by other programs too, killed midway, forged, of old versions."""

from __future__ import annotations

import hashlib
import json
import os
import random
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import tarfile
import tracemalloc
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from click.testing import CliRunner
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

import refarchive
from refarchive.archive.packs import look_into, pack, unpack
from refarchive.cli import cli
from refarchive.errors import (
    ArchiveBusy,
    ArchiveDamaged,
    ArchiveInTheWay,
    ArchiveMissing,
    ArchiveTooNew,
    ArchiveUnwritable,
    PackRefused,
    RefArchiveError,
)
from refarchive.jobs.keeping import pack_contents, pack_database
from refarchive.records import migrate
from refarchive.records import pack as container
from refarchive.records.portable import unportable
from refarchive.records.sqlite import DATABASE
from refarchive.records.store import Store

ROOT = Path(refarchive.__file__).parents[1]
VERSION_1 = ROOT / "tests" / "records" / "version_0001.sql"
CHILD = {**os.environ, "PYTHONPATH": str(ROOT)}


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory, drawn_folder: Path) -> Path:
    """An archive with pictures and texts, previews and vectors, a scene file, and what is not to travel."""
    place = tmp_path_factory.mktemp("kept") / "archive"
    with refarchive.create(place, "tiny", who="tester") as archive:
        archive.gather(drawn_folder)
    (place / "scenes").mkdir()
    (place / "scenes" / "premières lueurs.toml").write_text("[scene]\n", "utf-8")
    (place / "empty.toml").touch()
    passing = ("originals/.taking-x/half.jpg", "previews/ab/.making-y", "vectors/writing.lock", "vectors/p/head.part")
    for name in passing:
        (place / name).parent.mkdir(parents=True, exist_ok=True)
        (place / name).write_bytes(b"passing")
    return place


@pytest.fixture(scope="module")
def drawn_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from drawn import draw

    place = tmp_path_factory.mktemp("scans")
    for number, name in enumerate(["a.jpg", "deep/c.tif"]):
        draw(place / name, number)
    (place / "letter.txt").write_text("The pilot went before with his staff.\n", "utf-8")
    return place


@pytest.fixture
def full(kept: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(kept, tmp_path / "archive"))


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The least that is packed: a database of a few kilobytes that says it is an archive's."""
    place = tmp_path_factory.mktemp("small") / "archive"
    place.mkdir()
    database(place / DATABASE, migrate.head())
    return place


def database(path: Path, version: str) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("PRAGMA page_size = 512")
        connection.executescript(
            "CREATE TABLE alembic_version (version_num TEXT);"
            "CREATE TABLE reference (id TEXT, sha256 TEXT); CREATE TABLE history (id TEXT)"
        )
        connection.execute("INSERT INTO alembic_version VALUES (?)", (version,))


def original(archive: Path, content: bytes) -> Path:
    sha256 = hashlib.sha256(content).hexdigest()
    path = archive / "originals" / sha256[:2] / f"{sha256}.jpg"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return path


def noise(size: int) -> bytes:
    return random.Random(size).randbytes(size)


def files(folder: Path, *, but: str = r"(?!)") -> dict[str, bytes]:
    found = {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    return {name: content for name, content in found.items() if not re.search(but, name)}


def rows(path: Path) -> dict[str, list[Any]]:
    """All rows of all plain tables."""
    with closing(sqlite3.connect(path)) as connection:
        tables = [r[0] for r in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {t: sorted(connection.execute(f'SELECT * FROM "{t}"').fetchall(), key=repr) for t in tables}


PASSING = r"(^|/)\.(taking|making)-|\.lock$|\.part$|^archive\.sqlite"


# --- there and back ---------------------------------------------------------------------------------------------------


def test_an_archive_comes_back_as_it_was(full: Path, tmp_path: Path) -> None:
    told: list[tuple[int, int, str]] = []
    done = pack(full, tmp_path / "one.tar", progress=lambda *at: told.append(at))
    assert done.problems == []
    assert done.bytes == (tmp_path / "one.tar").stat().st_size == told[-1][0] == told[-1][1]
    assert [at for at, _, _ in told] == sorted(at for at, _, _ in told)
    assert set(done.shares) == {"originals", "previews", "vectors", "database", "other"}
    assert done.shares["originals"].files == 3

    back = unpack(tmp_path / "one.tar", tmp_path / "back")
    assert back.digest == done.digest
    assert back.told == []
    assert files(tmp_path / "back", but=r"^archive\.sqlite$") == files(full, but=PASSING)
    assert rows(tmp_path / "back" / DATABASE) == rows(full / DATABASE)
    with refarchive.open(full) as one, refarchive.open(tmp_path / "back") as other:
        assert other.references() == one.references()
        assert other.find("pilot").hits == one.find("pilot").hits
        assert other.verify().problems == []
    assert sorted(p.name for p in tmp_path.iterdir()) == ["archive", "back", "one.tar"]


def test_the_same_state_gives_the_same_bytes(full: Path, tmp_path: Path) -> None:
    pack(full, tmp_path / "one.tar")
    for path in full.rglob("*"):
        os.utime(path, (1, 1))
    with closing(sqlite3.connect(full / DATABASE)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    pack(Path(os.path.relpath(full)), tmp_path / "two.tar")
    assert (tmp_path / "one.tar").read_bytes() == (tmp_path / "two.tar").read_bytes()
    unpack(tmp_path / "one.tar", tmp_path / "back")
    pack(tmp_path / "back", tmp_path / "three.tar")
    one, three = look_into(tmp_path / "one.tar"), look_into(tmp_path / "three.tar")
    assert [m for m in one.members if DATABASE not in m.name] == [m for m in three.members if DATABASE not in m.name]


def test_caches_stay_behind_where_that_is_asked_for(full: Path, tmp_path: Path) -> None:
    done = pack(full, tmp_path / "one.tar", caches=False)
    assert {line.partition(" ")[0] for line in done.left_out} == {"previews", "vectors"}
    assert all("MB" in line for line in done.left_out)
    back = unpack(tmp_path / "one.tar", tmp_path / "back")
    assert any("verify ARCHIVE --repair" in line for line in back.told)
    assert files(tmp_path / "back" / "previews") == files(tmp_path / "back" / "vectors") == {}
    with refarchive.open(tmp_path / "back") as archive:
        archive.verify(repair=True)
        assert archive.verify().problems == []
    assert files(tmp_path / "back" / "previews") == files(full / "previews", but=PASSING)


def test_an_empty_archive_goes_there_and_back(tmp_path: Path) -> None:
    refarchive.create(tmp_path / "archive", "tiny", who="tester").close()
    pack(tmp_path / "archive", tmp_path / "one.tar")
    unpack(tmp_path / "one.tar", tmp_path / "back")
    with refarchive.open(tmp_path / "back") as archive:
        assert archive.references() == []


parts = st.text(st.characters(blacklist_categories=("Cs", "Cc")), min_size=1, max_size=40)
trees = st.dictionaries(st.lists(parts, min_size=1, max_size=3).map("/".join), st.binary(max_size=2000), max_size=5)


@given(trees)
@example({"船/場面.toml": b"", "ﷺ": b"\0" * 512, "a" * 200: b"x" * 513})
@example({"nul.txt": b""})
@example({"A": b"1", "a": b"2"})
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_files_of_any_name_come_back_or_are_refused(small: Path, tmp_path: Path, tree: dict[str, bytes]) -> None:
    place = tmp_path / hashlib.sha256(repr(tree).encode()).hexdigest()[:8]
    shutil.rmtree(place, ignore_errors=True)
    shutil.copytree(small, place / "archive")
    for name, content in tree.items():
        with suppress(OSError):  # one name may be above another, or too long for this disk
            path = place / "archive" / name
            if path.resolve().is_relative_to(place / "archive") and not path.exists():
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(content)
    there = {n: c for n, c in files(place / "archive").items() if pack_contents.travels(n)}
    met = [n.casefold() for n in there]
    try:
        pack(place / "archive", place / "one.tar")
    except PackRefused:
        assert any(map(unportable, there)) or len(set(met)) < len(met) or not all(map(str.isascii, met))
        assert os.listdir(place) == ["archive"]
        return
    unpack(place / "one.tar", place / "back")
    assert files(place / "back", but=DATABASE) == {n: c for n, c in there.items() if n != DATABASE}


def test_a_name_that_is_no_unicode_is_refused_in_readable_words(full: Path, tmp_path: Path) -> None:
    with open(os.fsencode(full) + b"/\xff.toml", "wb"):
        pass
    done = command("pack", full, tmp_path / "one.tar")
    assert done.returncode == 1
    assert "not valid Unicode" in done.stderr
    assert os.listdir(tmp_path) == ["archive"]


# --- other programs ---------------------------------------------------------------------------------------------------


def test_tar_and_sha256sum_read_a_pack(full: Path, tmp_path: Path) -> None:
    """GNU tar and coreutils, as the text in the pack tells a person to use them."""
    (full / ("ä" * 60 + ".toml")).write_bytes(b"long")
    pack(full, tmp_path / "one.tar")
    (tmp_path / "bare").mkdir()
    done = subprocess.run(
        ["tar", "-xf", "../one.tar"], cwd=tmp_path / "bare", capture_output=True, text=True, check=True
    )
    assert done.stderr == ""
    inside = tmp_path / "bare" / "refarchive-pack"
    asked = re.search(r"sha256sum .*", (inside / "READ-ME.txt").read_text("utf-8"))
    assert asked
    checked = subprocess.run(
        [*asked[0].split(), "--strict"],
        cwd=inside,
        capture_output=True,
        text=True,
        env={"LC_ALL": "C.UTF-8"},
        check=True,
    )
    assert checked.stdout.count(": OK") == len(files(inside)) - 1  # all but the list that lists the list
    assert files(inside / "archive", but=r"^archive\.sqlite$") == files(full, but=PASSING)
    with refarchive.open(inside / "archive") as archive:
        assert len(archive.references()) == 3


def test_python_unpacks_a_pack_by_its_strictest_filter(full: Path, tmp_path: Path) -> None:
    pack(full, tmp_path / "one.tar")
    with tarfile.open(tmp_path / "one.tar") as tar:
        tar.extractall(tmp_path / "bare", filter="data")
    assert files(tmp_path / "bare" / "refarchive-pack" / "archive", but=DATABASE) == files(full, but=PASSING)


# --- in use, stopped, killed ------------------------------------------------------------------------------------------


def test_a_writer_at_work_is_copied_at_one_moment(full: Path, tmp_path: Path) -> None:
    """Another process changes two rows in each transaction; they agree in every pack."""
    with closing(sqlite3.connect(full / DATABASE)) as connection, connection:
        connection.execute("CREATE TABLE twice (n INTEGER)")
        connection.executemany("INSERT INTO twice VALUES (?)", [(0,)] * 3000)
    child = """
import sqlite3, sys
connection = sqlite3.connect(sys.argv[1], timeout=30, isolation_level=None)
for n in range(10**6):
    connection.execute("BEGIN IMMEDIATE")
    connection.execute("UPDATE twice SET n = n + 1")
    connection.execute("COMMIT")
    print(n, flush=True)
"""
    writer = subprocess.Popen([sys.executable, "-c", child, str(full / DATABASE)], stdout=subprocess.PIPE)
    try:
        assert writer.stdout
        seen = set()
        for number in range(4):
            writer.stdout.readline()
            pack(full, tmp_path / f"{number}.tar", caches=False)
            unpack(tmp_path / f"{number}.tar", tmp_path / f"back-{number}")
            with closing(sqlite3.connect(tmp_path / f"back-{number}" / DATABASE)) as connection:
                found = connection.execute("SELECT DISTINCT n FROM twice").fetchall()
                assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            assert len(found) == 1
            seen.add(found[0])
        assert len(seen) > 1  # it did write meanwhile
    finally:
        writer.kill()
        writer.communicate()


def killed_at(bytes_done: int, call: str, *paths: Path) -> None:
    """Call in another process and kill it (SIGKILL) when it has told of so many bytes."""
    child = f"""
import sys, time
from refarchive.archive.packs import pack, unpack
def tell(done, total, name):
    if done >= {bytes_done}:
        print("there", flush=True)
        time.sleep(60)
{call}(*sys.argv[1:], progress=tell)
"""
    run = subprocess.Popen([sys.executable, "-c", child, *map(str, paths)], stdout=subprocess.PIPE, env=CHILD)
    assert run.stdout
    assert run.stdout.readline() == b"there\n"
    os.kill(run.pid, signal.SIGKILL)
    run.communicate()
    assert run.returncode == -signal.SIGKILL


def test_a_killed_pack_leaves_nothing_under_its_name_and_goes_on(full: Path, tmp_path: Path) -> None:
    for size in (3_000_000, 3_000_001, 3_000_002):
        original(full, noise(size))
    pack(full, tmp_path / "whole.tar")
    for bytes_done in (0, 5_000_000, 8_000_000):
        killed_at(bytes_done, "pack", full, tmp_path / "one.tar")
        assert not (tmp_path / "one.tar").exists()
        with pytest.raises(ArchiveMissing):
            unpack(tmp_path / "one.tar", tmp_path / "back")
    done = command("pack", full, tmp_path / "one.tar", "--json")
    assert json.loads(done.stdout)["went_on"] > 5_000_000
    assert (tmp_path / "one.tar").read_bytes() == (tmp_path / "whole.tar").read_bytes()
    assert sorted(os.listdir(tmp_path)) == ["archive", "one.tar", "whole.tar"]


def test_a_killed_unpack_leaves_no_folder_and_goes_on(full: Path, tmp_path: Path) -> None:
    for size in (3_000_000, 3_000_001, 3_000_002):
        original(full, noise(size))
    pack(full, tmp_path / "one.tar")
    for bytes_done in (0, 5_000_000, 8_000_000):
        killed_at(bytes_done, "unpack", tmp_path / "one.tar", tmp_path / "back")
        assert not (tmp_path / "back").exists()
    half = next(tmp_path.glob(".back.unpacking-*"))
    stray = half / "originals" / "stray.jpg"
    stray.write_bytes(b"of nobody")
    spoilt = next(p for p in half.rglob("*.jpg") if p.stat().st_size == 3_000_000)
    spoilt.chmod(0o644)
    spoilt.write_bytes(bytes(3_000_000))  # what the disk made of it: size right, content not
    done = command("unpack", tmp_path / "one.tar", tmp_path / "back", "--json")
    assert json.loads(done.stdout)["went_on"] > 0
    assert files(tmp_path / "back", but=DATABASE) == files(full, but=PASSING)
    assert sorted(os.listdir(tmp_path)) == ["archive", "back", "one.tar"]


class Enough(Exception):
    pass


def test_stopped_by_progress_the_same_call_goes_on_with_what_changed(full: Path, tmp_path: Path) -> None:
    first, changing = original(full, noise(2_000_000)), full / "notes.txt"
    changing.write_text("before")

    def stop(done: int, total: int, name: str) -> None:
        if name.startswith("vectors"):
            raise Enough

    with pytest.raises(Enough):
        pack(full, tmp_path / "one.tar", progress=stop)
    assert not (tmp_path / "one.tar").exists()
    changing.write_text("after!")
    part = next(tmp_path.glob(".one.tar.packing"))
    with open(part, "r+b") as file:  # and the disk spoilt one byte of what stood there
        file.seek(part.read_bytes().index(first.read_bytes()[:512]) + 700)
        file.write(b"?")
    pack(full, tmp_path / "one.tar")
    pack(full, tmp_path / "whole.tar")
    assert (tmp_path / "one.tar").read_bytes() == (tmp_path / "whole.tar").read_bytes()

    def stop_early(done: int, total: int, name: str) -> None:
        raise Enough

    with pytest.raises(Enough):
        unpack(tmp_path / "one.tar", tmp_path / "back", progress=stop_early)
    assert not (tmp_path / "back").exists()
    unpack(tmp_path / "one.tar", tmp_path / "back")


def test_what_an_earlier_run_left_of_a_larger_archive_does_not_stay_behind(full: Path, tmp_path: Path) -> None:
    (tmp_path / ".one.tar.packing").write_bytes(noise(3_000_000))
    pack(full, tmp_path / "one.tar")
    pack(full, tmp_path / "two.tar")
    assert (tmp_path / "one.tar").read_bytes() == (tmp_path / "two.tar").read_bytes()


@pytest.mark.parametrize("call", ["pack", "unpack"])
def test_a_full_disk_is_told_and_the_same_call_goes_on(full: Path, tmp_path: Path, call: str) -> None:
    """No file may become larger than a megabyte, by the system's own limit."""
    original(full, noise(600_000))
    original(full, max(map(noise, range(1_500_000, 1_500_009)), key=lambda held: hashlib.sha256(held).digest()))  # last
    pack(full, tmp_path / "whole.tar")
    goal = tmp_path / "goal"
    words = ["pack", full, goal] if call == "pack" else ["unpack", tmp_path / "whole.tar", goal]
    limited = "import resource as r; r.setrlimit(r.RLIMIT_FSIZE, (10**6, 10**6)); import refarchive.cli as c; c.main()"
    done = subprocess.run(
        [sys.executable, "-c", limited, *map(str, words)], capture_output=True, text=True, env=CHILD, check=False
    )
    assert done.returncode == 1
    assert "File too large" in done.stderr
    assert "go on" in done.stderr or "kept" in done.stderr
    assert not goal.exists()
    again = json.loads(command(*words, "--json").stdout)
    assert again["went_on"] > 0
    if call == "pack":
        assert goal.read_bytes() == (tmp_path / "whole.tar").read_bytes()


def test_two_at_the_same_goal_do_not_mix(full: Path, tmp_path: Path) -> None:
    def second(done: int, total: int, name: str) -> None:
        with pytest.raises(ArchiveBusy):
            pack(full, tmp_path / "one.tar")
        raise Enough

    with pytest.raises(Enough):
        pack(full, tmp_path / "one.tar", progress=second)


def test_what_came_under_the_name_meanwhile_is_left_alone(full: Path, tmp_path: Path) -> None:
    def came(done: int, total: int, name: str) -> None:
        (tmp_path / "one.tar").write_bytes(b"somebody else's")

    with pytest.raises(ArchiveInTheWay):
        pack(full, tmp_path / "one.tar", progress=came)
    assert (tmp_path / "one.tar").read_bytes() == b"somebody else's"
    pack(full, tmp_path / "two.tar")

    def folder_came(done: int, total: int, name: str) -> None:
        (tmp_path / "back").mkdir(exist_ok=True)
        (tmp_path / "back" / "mine.txt").write_bytes(b"mine")

    with pytest.raises(ArchiveInTheWay):
        unpack(tmp_path / "two.tar", tmp_path / "back", progress=folder_came)
    assert files(tmp_path / "back") == {"mine.txt": b"mine"}


def test_large_files_pass_through_little_memory(small: Path, tmp_path: Path) -> None:
    shutil.copytree(small, tmp_path / "archive")
    with open(tmp_path / "archive" / "long.bin", "wb") as file:
        file.truncate(48_000_000)
    tracemalloc.start()
    pack(tmp_path / "archive", tmp_path / "one.tar")
    unpack(tmp_path / "one.tar", tmp_path / "back")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 8_000_000


# --- what is wrong with an archive ------------------------------------------------------------------------------------


def test_damaged_and_missing_originals_are_packed_as_they_are_and_told(full: Path, tmp_path: Path) -> None:
    there = sorted((full / "originals").glob("??/*"))
    there[0].unlink()
    there[1].chmod(0o644)
    there[1].write_bytes(b"rotten")
    done = command("pack", full, tmp_path / "one.tar", "--json")
    assert done.returncode == 1
    told = json.loads(done.stdout)["problems"]
    assert len(told) == 2
    assert any("missing" in line and there[0].stem in line for line in told)
    assert any("damaged" in line and there[1].stem in line for line in told)
    unpack(tmp_path / "one.tar", tmp_path / "back")
    assert (tmp_path / "back" / there[1].relative_to(full)).read_bytes() == b"rotten"


def test_links_and_pipes_are_left_out_and_told(full: Path, tmp_path: Path) -> None:
    (full / "link.toml").symlink_to("/etc/passwd")
    (full / "folder").symlink_to(tmp_path)
    os.mkfifo(full / "pipe")
    done = pack(full, tmp_path / "one.tar")
    assert len(done.left_out) == 3
    assert not {"link.toml", "pipe"} & {m.name.rpartition("/")[2] for m in look_into(tmp_path / "one.tar").members}


def test_what_is_no_archive_or_lies_in_the_way_is_refused(full: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "there").touch()
    (tmp_path / "shared").mkdir()
    (tmp_path / "shared" / "shared.toml").write_text('database = "postgresql:///archive"\n')
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / DATABASE).write_bytes(b"no database at all")
    with closing(sqlite3.connect(tmp_path / "empty.sqlite")) as connection:
        connection.execute("CREATE TABLE x (y)")
    for folder, goal, kind in (
        (tmp_path / "empty", "one.tar", ArchiveMissing),
        (tmp_path / "nowhere", "one.tar", ArchiveMissing),
        (tmp_path / "shared", "one.tar", PackRefused),
        (full, "there", ArchiveInTheWay),
        (full, "empty", ArchiveInTheWay),
        (full, "no/one.tar", ArchiveUnwritable),
        (full, "archive/one.tar", PackRefused),
        (full, "n" * 300, ArchiveUnwritable),
        (tmp_path / "other", "one.tar", ArchiveDamaged),
    ):
        with pytest.raises(kind):
            pack(folder, tmp_path / goal)
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".")]


def test_a_shut_folder_with_changes_in_its_wal_is_not_packed_without_them(
    full: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Tests may run as root, whom no folder is shut to; so the system is made to say so."""
    connected = pack_database._connected

    def shut(path: Path, how: str) -> sqlite3.Connection:
        if how == "mode=rw":
            raise sqlite3.OperationalError("attempt to write a readonly database")
        return connected(path, how)

    monkeypatch.setattr(pack_database, "_connected", shut)
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    pack(full, tmp_path / "one.tar")
    (full / f"{DATABASE}-wal").write_bytes(b"changes")
    with pytest.raises(ArchiveUnwritable, match="last changes"):
        pack(full, tmp_path / "two.tar")


# --- what is wrong with a pack ----------------------------------------------------------------------------------------


def forged(path: Path, members: list[tuple[str, bytes]], version: str = "", **more: Any) -> Path:
    """A pack whose digests are right, of members by name inside the archive."""
    head = container.head_text(version or migrate.head(), True, "forger")
    with open(path, "w+b") as file:
        writer = container.Writer(file)
        writer.add(container.HEAD, len(head), [head])
        writer.add(container.ABOUT, 0, [])
        for name, content in members:
            writer.add(container.INSIDE + name, len(content), [content])
        writer.finish()
    return path


@pytest.fixture
def sound(small: Path) -> list[tuple[str, bytes]]:
    return [("originals/ab/x.jpg", b"picture"), (DATABASE, (small / DATABASE).read_bytes())]


def refused(file: Path, place: Path, kind: type[RefArchiveError] = PackRefused) -> None:
    """The pack is refused, and nothing at all was written anywhere near."""
    before = sorted(place.rglob("*"))
    with pytest.raises(kind) as told:
        unpack(file, place / "back")
    assert told.value.problem
    assert told.value.next_step
    assert sorted(place.rglob("*")) == before


def test_the_forger_forges_well(tmp_path: Path, sound: list[tuple[str, bytes]]) -> None:
    unpack(forged(tmp_path / "one.tar", sound), tmp_path / "back")
    assert files(tmp_path / "back") == dict(sound)


TRAPS = ["../outside", "a/../../outside", "/tmp/outside", "C:/outside", "..\\outside", "\\\\host\\share", "nul", "a\0b"]
TRAPS += ["n" * 300, "originals", "Vectors", "archive.sqlite-wal", "ARCHIVE.SQLITE-WAL", "archive.sqlite-journal"]
TRAPS += ["archive.sqlite/x", "Archive.sqlite", "originals/ab/x.jpg", "originals/AB/X.jpg", "vectors/writing.lock"]


@pytest.mark.parametrize("name", TRAPS)
def test_traps_in_names_are_refused_with_nothing_written(
    tmp_path: Path, sound: list[tuple[str, bytes]], name: str
) -> None:
    refused(forged(tmp_path / "one.tar", [(name, b"trap"), *sound]), tmp_path)


def test_packs_without_a_database_or_with_another_are_refused(tmp_path: Path, sound: list[tuple[str, bytes]]) -> None:
    refused(forged(tmp_path / "1.tar", sound[:1]), tmp_path)
    refused(forged(tmp_path / "2.tar", [(DATABASE, b"")]), tmp_path)
    refused(forged(tmp_path / "3.tar", [(DATABASE, noise(4096))]), tmp_path)
    refused(forged(tmp_path / "4.tar", sound, "0005"), tmp_path)
    for wrong in (b"", b"text", bytes(10_240), noise(5000)):
        (tmp_path / "5.tar").write_bytes(wrong)
        refused(tmp_path / "5.tar", tmp_path)
    with tarfile.open(tmp_path / "6.tar", "w") as tar:
        tar.add(tmp_path / "1.tar", "1.tar")
    refused(tmp_path / "6.tar", tmp_path)
    refused(tmp_path, tmp_path)
    refused(tmp_path / "nowhere.tar", tmp_path, ArchiveMissing)


def test_a_database_of_which_sqlite_complains_in_no_text_is_refused(
    tmp_path: Path, sound: list[tuple[str, bytes]], small: Path
) -> None:
    (tmp_path / "bad").mkdir()
    shutil.copy(small / DATABASE, tmp_path / "bad" / DATABASE)
    with closing(sqlite3.connect(tmp_path / "bad" / DATABASE)) as connection, connection:
        connection.execute("CREATE TABLE strange (x)")
    content = (tmp_path / "bad" / DATABASE).read_bytes()
    content = content.replace(b"strange", b"str\xffnge").replace(b"nge (x)", b"nge )x)")  # which SQLite complains of
    refused(forged(tmp_path / "one.tar", [sound[0], (DATABASE, content)]), tmp_path)
    (tmp_path / "bad" / DATABASE).write_bytes(content)
    with pytest.raises(ArchiveDamaged):
        pack(tmp_path / "bad", tmp_path / "two.tar")


def test_a_pack_of_a_newer_program_is_refused_in_words(tmp_path: Path, sound: list[tuple[str, bytes]]) -> None:
    file = forged(tmp_path / "one.tar", sound, "0099")
    refused(file, tmp_path, ArchiveTooNew)
    done = command("unpack", file, tmp_path / "back")
    assert done.returncode == 1
    assert "'0099', which this refarchive does not know" in done.stderr
    database(tmp_path / "new.sqlite", "0099")
    (tmp_path / "new").mkdir()
    (tmp_path / "new.sqlite").rename(tmp_path / "new" / DATABASE)
    with pytest.raises(ArchiveTooNew):
        pack(tmp_path / "new", tmp_path / "two.tar")


def test_an_existing_goal_is_refused_and_left_alone(tmp_path: Path, sound: list[tuple[str, bytes]]) -> None:
    file = forged(tmp_path / "one.tar", sound)
    (tmp_path / "folder").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    for goal in ("folder", "link", "one.tar"):
        with pytest.raises(ArchiveInTheWay):
            unpack(file, tmp_path / goal)
    with pytest.raises(ArchiveUnwritable):
        unpack(file, tmp_path / "no" / "where")
    assert sorted(os.listdir(tmp_path)) == ["folder", "link", "one.tar"]


def test_a_hidden_folder_that_somebody_prepared_leads_nowhere(tmp_path: Path, sound: list[tuple[str, bytes]]) -> None:
    file = forged(tmp_path / "one.tar", sound)
    hidden = f".back.unpacking-{look_into(file).digest[:32]}"
    (tmp_path / "outside").mkdir()
    (tmp_path / "outside" / "x.jpg").write_bytes(b"mine")
    for prepare in ("folder", "file", "whole", "hard"):
        if prepare == "whole":
            (tmp_path / hidden).symlink_to(tmp_path / "outside")
        else:
            (tmp_path / hidden / "originals").mkdir(parents=True)
            if prepare == "folder":
                (tmp_path / hidden / "originals" / "ab").symlink_to(tmp_path / "outside")
            else:
                (tmp_path / hidden / "originals" / "ab").mkdir()
                link = (tmp_path / hidden / "originals" / "ab" / "x.jpg").hardlink_to
                link = link if prepare == "hard" else (tmp_path / hidden / "originals" / "ab" / "x.jpg").symlink_to
                link(tmp_path / "outside" / "x.jpg")
        unpack(file, tmp_path / "back")
        assert files(tmp_path / "back") == dict(sound)
        assert files(tmp_path / "outside") == {"x.jpg": b"mine"}
        shutil.rmtree(tmp_path / "back")


def test_more_than_the_disk_holds_is_refused_before_anything_is_written(
    tmp_path: Path, sound: list[tuple[str, bytes]], small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = forged(tmp_path / "one.tar", sound)
    monkeypatch.setattr(shutil, "disk_usage", lambda path: shutil._ntuple_diskusage(10**9, 10**9, 1000))
    refused(file, tmp_path, ArchiveUnwritable)
    with pytest.raises(ArchiveUnwritable, match="MB are free"):
        pack(small, tmp_path / "two.tar")


def test_bytes_changed_anywhere_are_never_unpacked(tmp_path: Path, sound: list[tuple[str, bytes]]) -> None:
    whole = forged(tmp_path / "one.tar", sound).read_bytes()
    dice = random.Random(1)
    places = [dice.randrange(len(whole)) for _ in range(150)]
    (tmp_path / "place").mkdir()
    for at in places:
        changed = bytearray(whole)
        changed[at] = dice.choice([changed[at] ^ 1 << dice.randrange(8), (changed[at] + dice.randrange(1, 256)) % 256])
        (tmp_path / "one.tar").write_bytes(changed)
        refused(tmp_path / "one.tar", tmp_path, RefArchiveError)
        with pytest.raises(RefArchiveError):
            look_into(tmp_path / "one.tar")
    for at in places[:50]:
        (tmp_path / "one.tar").write_bytes(whole[:at])
        refused(tmp_path / "one.tar", tmp_path)


# --- old versions -----------------------------------------------------------------------------------------------------


def versions() -> list[str]:
    return sorted(script.stem.removeprefix("v") for script in (migrate.SCRIPTS / "versions").glob("v[0-9]*.py"))


def empty(table: str) -> str:
    return f'SELECT NOT EXISTS (SELECT 1 FROM "{table}")'


def fill(connection: sa.Connection) -> None:
    """Put two rows into every table that is empty, by what SQLite says of its columns, keys and checks."""
    names = connection.exec_driver_sql("SELECT name, sql FROM sqlite_master WHERE type = 'table'").all()
    waiting = [(n, sql) for n, sql in names if "_words" not in n and connection.exec_driver_sql(empty(n)).scalar()]
    while waiting:
        name, sql = waiting.pop(0)
        keys = {row[3]: row for row in connection.exec_driver_sql(f'PRAGMA foreign_key_list("{name}")')}
        if any(key[2] in (other for other, _ in waiting) for key in keys.values()):
            waiting.append((name, sql))  # until what it stands on is there
            continue
        for number in (1, 2):
            given: dict[str, Any] = {}
            for _, column, kind, *_ in connection.exec_driver_sql(f'PRAGMA table_info("{name}")'):
                choice = re.search(rf"""\b"?{column}"? in \('([^']*)'""", sql)
                if column in keys:
                    _, _, table, _, to, *_ = keys[column]
                    found = connection.exec_driver_sql(f'SELECT "{to}" FROM "{table}" ORDER BY 1').all()
                    given[column] = found[min(number, len(found)) - 1][0] if found else None  # a row of its own table
                elif choice:
                    given[column] = choice[1]
                else:
                    given[column] = {"INTEGER": number, "FLOAT": number / 4, "JSON": "{}"}.get(
                        kind, f"{name} ſ {number}"
                    )
            marks = ", ".join("?" * len(given))
            connection.exec_driver_sql(
                f'INSERT OR IGNORE INTO "{name}" ({", ".join(map(json.dumps, given))}) VALUES ({marks})',
                tuple(given.values()),
            )
        assert not connection.exec_driver_sql(empty(name)).scalar(), name


@pytest.fixture(params=versions())
def of_version(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[str, Path]:
    """An archive as a program of that version left it, with rows in every table that it had."""
    folder = tmp_path / "archive"
    folder.mkdir()
    with closing(sqlite3.connect(folder / DATABASE)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.executescript(f"BEGIN; {VERSION_1.read_text('utf-8')} COMMIT;")
    engine = sa.create_engine(f"sqlite:///{folder / DATABASE}", poolclass=sa.pool.NullPool)
    with engine.begin() as connection:
        migrate.upgrade(connection, request.param)
        fill(connection)
        assert connection.exec_driver_sql("PRAGMA foreign_key_check").all() == []
    return request.param, folder


def test_an_archive_of_every_version_opens_after_unpacking(of_version: tuple[str, Path], tmp_path: Path) -> None:
    version, folder = of_version
    before = rows(folder / DATABASE)
    done = pack(folder, tmp_path / "one.tar")
    assert done.database == version
    assert rows(folder / DATABASE) == before  # it was not brought up to date for that
    assert unpack(tmp_path / "one.tar", tmp_path / "back").database == version
    assert rows(tmp_path / "back" / DATABASE) == before
    with Store.open(tmp_path / "back", who="x") as store:
        assert len(store.references()) == 3
        assert store.scene("first-light").title == "First light on the sands"
    with Store.open(folder, who="x"):
        pass
    after = rows(tmp_path / "back" / DATABASE)
    assert after == rows(folder / DATABASE)
    assert after["alembic_version"][0][0] == migrate.head()
    for table, held in before.items():
        if table != "alembic_version" and "_words_" not in table:
            assert [row[: len(was)] for row, was in zip(after[table], held, strict=True)] == held


def test_every_version_is_tried(tmp_path: Path) -> None:
    assert versions()[0] == "0001"
    assert versions()[-1] == migrate.head()
    assert all(map(migrate.knows, versions()))


# --- the command line -------------------------------------------------------------------------------------------------


def command(*words: object) -> subprocess.CompletedProcess[str]:
    done = subprocess.run(
        [sys.executable, "-m", "refarchive", *map(str, words)], capture_output=True, text=True, env=CHILD, check=False
    )
    assert "Traceback" not in done.stderr
    return done


def test_the_commands_say_what_they_did(full: Path, tmp_path: Path) -> None:
    done = CliRunner().invoke(cli, ["pack", str(full), str(tmp_path / "one.tar")])
    assert done.exit_code == 0, done.output
    digest = look_into(tmp_path / "one.tar").digest
    assert "originals" in done.stdout
    assert "MB" in done.stdout
    assert digest in done.stdout
    told = json.loads(CliRunner().invoke(cli, ["unpack", str(tmp_path / "one.tar"), "--check", "--json"]).stdout)
    assert (told["digest"], told["database"], told["format"]) == (digest, migrate.head(), 1)
    assert "Whole" in CliRunner().invoke(cli, ["unpack", str(tmp_path / "one.tar"), "--check"]).stdout
    done = CliRunner().invoke(cli, ["unpack", str(tmp_path / "one.tar"), str(tmp_path / "back")])
    assert done.exit_code == 0, done.output
    assert digest in done.stdout
    done = CliRunner().invoke(cli, ["pack", str(full), str(tmp_path / "two.tar"), "--no-caches"])
    assert "previews stayed behind" in done.stdout


def test_exit_codes_and_one_document_on_standard_output(full: Path, tmp_path: Path) -> None:
    done = command("pack", full, tmp_path / "one.tar", "--json")
    assert done.returncode == 0
    assert json.loads(done.stdout)["shares"]["originals"]["files"] == 3
    again = command("pack", full, tmp_path / "one.tar", "--json")
    assert (again.returncode, again.stdout) == (1, "")
    assert len(again.stderr.strip().splitlines()) == 2
    assert command("unpack", tmp_path / "one.tar").returncode == 2
    assert command("unpack", tmp_path / "one.tar", tmp_path / "x", "--check").returncode == 2
    with open(tmp_path / "one.tar", "ab") as file:
        file.write(b"more")
    cut = command("unpack", tmp_path / "one.tar", tmp_path / "back", "--json")
    assert (cut.returncode, cut.stdout) == (1, "")
    assert "something was added" in cut.stderr
