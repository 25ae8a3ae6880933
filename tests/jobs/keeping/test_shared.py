"""A shared archive: two people at once, from two folders and processes, and a server that goes away."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import psycopg
import pytest
from click.testing import CliRunner
from drawn import draw
from postgres_server import Server

import refarchive
from refarchive.archive import Archive
from refarchive.cli import cli
from refarchive.errors import (
    ArchiveAway,
    ArchiveBusy,
    ArchiveInTheWay,
    ArchiveMissing,
    ArchiveUnwritable,
    BadQuery,
    ChangedMeanwhile,
    EncoderMismatch,
    RefArchiveError,
)
from refarchive.jobs.keeping.opening import MARK
from refarchive.records import postgres as at_postgres
from refarchive.records import sqlite
from refarchive.records.model import Evidence, Filter, Frame, Need, NewReference, Reference, Scene
from refarchive.records.shared import POINTER
from refarchive.records.wall import Sitting
from refarchive.search import vector_folder
from refarchive.search.vector_tables import VectorTables
from refarchive.search.words import match_words

ROUNDS = 12  # of edits by each of two

EDITOR = """
import random, sys, time
from dataclasses import replace
from pathlib import Path
from refarchive.errors import ChangedMeanwhile
from refarchive.records.model import Detail, Evidence, Need, NewReference, Reference, Viewing
from refarchive.records.store import Store
from refarchive.records.wall import Judgement, Sitting

AT = "2027-10-20T18:00:00+00:00"
folder, who, rounds = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
conflicts = 0
sys.stdin.readline()
with Store.open(folder, who=who) as store:
    store.after.begin_sitting(Sitting(f"sat-{who}", "ford", "story", AT, seed=7, frames=("f0", "f1")))
    for n in range(rounds):
        digest = f"{who}{n}".encode().hex().rjust(64, "0")
        mine = Reference(f"ref-{who}-{n}", "image", f"{who} {n}", f"{who}-{n}.jpg", sha256=digest)
        store.add_references([NewReference(mine)])
        store.add_details([Detail(f"{mine.id}.d", mine.id, (0.0, 0.0, 0.5, 0.5), f"{who} {n}")])
        store.change_reference("ref-both", place=f"{who} {n}")
        store.after.add_judgement(Judgement(f"sat-{who}", "f0", "f1", "left", AT, f"{who} {n}"))
        store.looked.add_viewing(Viewing("f0", AT, who, None, "", f"{who} {n}"))
        while True:  # the scene is changed by both: on what was read, or not at all
            scene = store.scene("ford")
            need = scene.needs[0]
            time.sleep(random.random() / 20)  # a person thinks; meanwhile the other one saves
            with_mine = replace(need, evidence=(*need.evidence, Evidence(mine.id, "shows", note=f"{who} {n}")))
            after = replace(scene, statements=(*scene.statements, f"{who} {n}"), needs=(with_mine,))
            try:
                store.save_scene(after, expected=scene.revision)
                break
            except ChangedMeanwhile as error:
                assert "Refresh" in error.next_step
                conflicts += 1
print(conflicts)
"""


@pytest.fixture
def shared(postgres: Server, tmp_path: Path) -> Iterator[tuple[str, Path]]:
    """An empty database, and a folder that everybody mounts."""
    (tmp_path / "mounted").mkdir()
    address = postgres.database()
    yield address, tmp_path / "mounted"
    postgres.drop(address)


def two(shared: tuple[str, Path], tmp_path: Path) -> tuple[Archive, Archive]:
    """The archive as its maker and as another person have it open."""
    address, files = shared
    one = refarchive.create(tmp_path / "one", "tiny", who="one", database=address, files=files)
    return one, refarchive.join(tmp_path / "other", address, files=files, who="other")


def test_two_people_editing_at_once_lose_nothing(shared, tmp_path: Path) -> None:
    rounds = ROUNDS
    one, other = two(shared, tmp_path)
    with one, other:
        store = one._kit.store
        store.add_references([NewReference(Reference("ref-both", "object", "Both", ""))])
        store.save_scene(Scene("ford", "Ford", "", "", needs=(Need("cart", "Cart", "props"),)))
        for n in range(2):
            store.add_frame(Frame(f"f{n}", "ford", f"{n}.jpg", f"{n}" * 64, ".jpg", 10, 10))
        people = ("ann", "ben")
        started = [
            subprocess.Popen(
                [sys.executable, "-c", EDITOR, str(folder), who, str(rounds)],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[3],
            )
            for who, folder in zip(people, (one.folder, other.folder), strict=True)
        ]  # fmt: skip
        for process in started:
            process.stdin.write("\n")
            process.stdin.flush()
        answers = [process.communicate(timeout=120)[0] for process in started]
        assert [process.returncode for process in started] == [0, 0]
        said = {f"{who} {n}" for who in people for n in range(rounds)}
        scene = store.scene("ford")
        assert scene.revision == 1 + 2 * rounds
        assert len(scene.statements) == len(said)
        assert set(scene.statements) == said
        assert {e.note for e in scene.needs[0].evidence} == said
        assert {d.note for d in store.details()} == said
        assert {j.reason for j in store.after.judgements("ford")} == said
        assert {v.words for v in store.looked.viewings("f0")} == said
        assert store.count() == 1 + 2 * rounds
        changes = store.history("reference:ref-both")[:-1]
        assert {c.after["place"] for c in changes} == said
        for newer, older in pairwise(changes):  # nobody's change was made on a state already gone
            assert newer.before == older.after
        assert {c.who for c in store.history("scene:ford")} == {"one", *people}
        print("conflicts met and made again:", [int(answer) for answer in answers])


def test_a_change_made_on_an_older_revision_is_refused_and_nothing_is_written(shared, tmp_path: Path) -> None:
    one, other = two(shared, tmp_path)
    with one, other:
        mine, theirs = one._kit.store, other._kit.store
        read = mine.save_scene(Scene("ford", "Ford", "", ""))
        theirs.save_scene(replace(read, story="Theirs."), expected=read.revision)
        with pytest.raises(ChangedMeanwhile, match=r"revision 2, and this change was made on 1"):
            mine.save_scene(replace(read, story="Mine."), expected=read.revision)
        assert mine.scene("ford").story == "Theirs."


def test_what_one_gathers_the_other_finds_and_sees(shared, folder: Path, tmp_path: Path) -> None:
    one, other = two(shared, tmp_path)
    with one, other:
        report = one.gather(folder)
        assert report.added == 7
        hits = other.find("lamp").hits
        assert hits[0].passage is not None
        picture = next(r for r in other.references() if r.kind == "image")
        assert other.find(like=picture.id).hits[0].reference.id == picture.id
        assert other.preview(picture).is_file()
        assert other.verify().problems == []
        draw(tmp_path / "more" / "new.jpg", 9)
        other.gather(tmp_path / "more")
        assert len(one) == 8
        new = one.reference("new.jpg")
        assert one.find(like=new.id).hits[0].reference.id == new.id
        assert sorted(p.name for p in other.folder.iterdir()) == [POINTER, "vectors"]


def test_the_database_holds_no_path_of_a_machine(shared, folder: Path, tmp_path: Path, postgres: Server) -> None:
    one, other = two(shared, tmp_path)
    with one, other:
        one.gather(folder)
    with psycopg.connect(shared[0]) as connection:
        tables = connection.execute(
            "SELECT table_name FROM information_schema.tables WHERE table_schema = 'public'"
        ).fetchall()
        for (table,) in tables:
            for (row,) in connection.execute(f'SELECT t::text FROM "{table}" AS t').fetchall():
                assert str(tmp_path) not in row, table


def test_another_encoders_vectors_are_refused_across_machines(shared, folder: Path, tmp_path: Path) -> None:
    one, other = two(shared, tmp_path)
    with one, other:
        one.gather(folder)
        held = one._kit.likeness
        with pytest.raises(EncoderMismatch, match="reencode"):
            VectorTables(other._kit.store.shared).file("likeness", {"name": "another"}, held.dimension)


@pytest.mark.parametrize("met", ["find", "like", "gather", "verify", "repair", "first"])
def test_a_session_left_open_while_another_encodes_anew_is_told_to_open_again(
    shared, folder: Path, tmp_path: Path, met: str
) -> None:
    one, other = two(shared, tmp_path)
    with one, other:
        one.gather(folder)
        if met != "first":
            assert other.find("lamp").hits
        one.reencode("tiny:other")
        made = one._kit.likeness.matrix().tobytes()
        picture = next(r for r in one.references() if r.kind == "image")
        draw(tmp_path / "more" / "new.jpg", 9)
        work = {
            "find": lambda: other.find("lamp"),
            "first": lambda: other.find("lamp"),
            "like": lambda: other.find(like=picture.id),
            "gather": lambda: other.gather(tmp_path / "more"),
            "verify": other.verify,
            "repair": lambda: other.verify(repair=True),
        }[met]
        with pytest.raises(EncoderMismatch) as told:
            work()
        assert "since it was opened here" in told.value.problem
        assert "open it again" in told.value.next_step
        assert one._kit.likeness.matrix().tobytes() == made  # what the first one made was not taken for damage
    with refarchive.open(tmp_path / "other") as again:
        assert again.encoder_name == "tiny:other"
        assert again.find("lamp").hits
        assert again.verify(repair=True).problems == []


def test_a_server_that_goes_away_is_named_and_found_again(shared, tmp_path: Path, postgres: Server) -> None:
    one, other = two(shared, tmp_path)
    with one, other:
        store = one._kit.store
        store.set_setting("kept", 1)

        def stopped_midway() -> None:
            with store._writing() as connection:
                connection.exec_driver_sql("INSERT INTO setting (key, value) VALUES ('half', '1')")
                postgres.stop()
                connection.exec_driver_sql("INSERT INTO setting (key, value) VALUES ('rest', '1')")

        with pytest.raises(ArchiveAway, match="try again"):
            stopped_midway()
        with pytest.raises(ArchiveAway):
            store.setting("kept")
        with pytest.raises(ArchiveAway):
            refarchive.open(tmp_path / "other")
        postgres.start()
        assert store.setting("kept") == 1
        assert store.setting("half") is None
        store.set_setting("kept", 2)
        assert other._kit.store.setting("kept") == 2


def test_waiting_for_another_writer_ends_in_a_name_and_readers_wait_for_nobody(
    shared, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, other = two(shared, tmp_path)
    with one, other:
        monkeypatch.setattr(sqlite, "PATIENCE_S", 0.05)
        with one._kit.store._writing():
            with pytest.raises(ArchiveBusy):
                other._kit.store.set_setting("a", 1)
            assert other._kit.store.count() == 0
        other._kit.store.set_setting("a", 1)
        assert one._kit.store.setting("a") == 1
        monkeypatch.setattr(vector_folder, "WAIT_S", 0.05)
        with one._kit.vectors.alone(), pytest.raises(ArchiveBusy, match="vectors"), other._kit.vectors.alone():
            pass
        with other._kit.vectors.alone():
            pass


def test_whoever_reads_cannot_write(shared, tmp_path: Path) -> None:
    one, other = two(shared, tmp_path)
    with one, other:
        with pytest.raises(ArchiveUnwritable, match="read-only"), one._kit.store._reading() as connection:
            connection.exec_driver_sql("DELETE FROM setting")
        assert other.encoder_name == "tiny"


def test_new_and_join_on_the_command_line(shared, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    address, files = shared
    monkeypatch.chdir(tmp_path)
    run = CliRunner()
    made = run.invoke(cli, ["new", address, "mine", "--encoder", "tiny", "--files", str(files), "--json"])
    assert made.exit_code == 0, made.output
    assert json.loads(made.stdout)["archive"] == "mine"
    joined = run.invoke(cli, ["new", address, "--join", "--files", str(files)])
    assert joined.exit_code == 0, joined.output
    name = address.partition("@/")[2].partition("?")[0]
    assert (tmp_path / name / POINTER).is_file()
    assert run.invoke(cli, ["list", name, "--json"]).exit_code == 0
    again = run.invoke(cli, ["new", address, "third"])
    assert isinstance(again.exception, ArchiveInTheWay)
    assert "--join" in again.exception.next_step
    assert not (tmp_path / "third").exists()
    assert run.invoke(cli, ["new", "plain", "folder"]).exit_code == 2


def test_a_folder_that_is_not_the_shared_one_is_refused(shared, tmp_path: Path) -> None:
    address, files = shared
    one, other = two(shared, tmp_path)
    one.close()
    other.close()
    (tmp_path / "empty").mkdir()
    with pytest.raises(ArchiveAway, match="Mount"):
        refarchive.join(tmp_path / "third", address, files=tmp_path / "empty")
    assert not (tmp_path / "third").exists()
    files.rename(tmp_path / "unmounted")
    with pytest.raises(ArchiveAway, match="Mount"):
        refarchive.open(tmp_path / "one")
    files.mkdir()  # the mount point, with nothing mounted
    with pytest.raises(ArchiveAway, match="Mount"):
        refarchive.open(tmp_path / "one")
    assert not (files / MARK).exists()


@pytest.mark.parametrize("address", ["postgresql://me:secret-word@h/db", "postgresql://h/db?password=secret-word"])
def test_a_password_is_refused_and_never_repeated(tmp_path: Path, address: str) -> None:
    for make in (
        lambda: refarchive.create(tmp_path / "a", "tiny", database=address),
        lambda: refarchive.join(tmp_path / "a", address),
        lambda: refarchive.open(address),
        lambda: at_postgres.checked(address.replace("postgresql://", "postgresql://[")),
    ):
        with pytest.raises((BadQuery, ArchiveMissing)) as caught:
            make()
        assert "secret-word" not in str(caught.value)
        assert caught.value.__cause__ is None
    assert list(tmp_path.iterdir()) == []


def test_databases_that_are_no_archive_are_named(postgres: Server, shared, tmp_path: Path) -> None:
    address, _ = shared
    with pytest.raises(ArchiveMissing, match="refarchive new"):
        refarchive.join(tmp_path / "a", address)
    with pytest.raises(ArchiveAway, match="does not exist"):
        refarchive.join(tmp_path / "a", postgres.address("nowhere"))
    with pytest.raises(ArchiveAway):
        refarchive.join(tmp_path / "a", "postgresql://127.0.0.1:1/db")
    assert not (tmp_path / "a").exists()
    with psycopg.connect(address) as connection:
        connection.execute("CREATE TABLE of_somebody_else (a int)")
    with pytest.raises(ArchiveInTheWay):
        refarchive.create(tmp_path / "a", "tiny", database=address)


HOSTILE = ["'; DROP TABLE reference; --", '"; --', "%s %(x)s {}", "\\'", "$$", ":limit", "' & !|<->:*"]


@pytest.mark.parametrize("text", HOSTILE)
def test_text_of_an_archive_is_never_taken_for_sql(new_store, text: str) -> None:
    with new_store() as store:
        reference = Reference(
            "ref-x", "image", f"lamp {text}", text, place=text, rights=text, subjects=(text,), description=text
        )
        store.add_references([NewReference(reference)])
        store.save_scene(
            Scene(
                "s", text, text, text, needs=(Need("n", text, text, evidence=(Evidence("ref-x", "shows", note=text),)),)
            )
        )
        assert store.reference("ref-x") == reference
        assert store.select(Filter(places=(text,), rights=(text,), subjects=(text,))) == ["ref-x"]
        assert store.resolve(text).id == "ref-x"
        assert [one for one, _ in store.search_words("lamp", table="references", allowed=["ref-x", text])] == ["ref-x"]
        if match := match_words(text):
            assert [one for one, _ in store.search_words(match, table="references")] == ["ref-x"]
        assert store.references([text]) == []
        with pytest.raises(RefArchiveError):
            store.after.begin_sitting(Sitting(text, text, "story", "2027-10-20T18:00:00+00:00", seed=1))
