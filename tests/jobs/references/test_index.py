"""Vector files with two writers: each waits for the other, and knows what the other wrote."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from drawn import draw
from filelock import FileLock

import refarchive
from refarchive.archive import Archive
from refarchive.errors import ArchiveBusy
from refarchive.jobs.kit import Kit
from refarchive.jobs.references import index
from refarchive.search import vector_folder


def test_two_writers_do_not_undo_each_other(archive: Archive, folder: Path, tmp_path: Path) -> None:
    archive.gather(folder)
    assert archive.find("lamp").hits  # its vector files are open now, and know their keys
    draw(tmp_path / "fresh.png", 11)
    with refarchive.open(archive.folder) as other:
        other.gather(tmp_path / "fresh.png")
        other.describe("fresh.png", title="A barge on the mud")
    draw(tmp_path / "later.png", 12)
    archive.gather(tmp_path / "later.png")
    held = [key for key in archive._kit.likeness if key.endswith("#0")]
    assert sorted(held) == sorted(f"{r.id}#0" for r in archive.references() if r.kind == "image")
    assert archive.verify().problems == []
    assert archive.find("barge on the mud").hits[0].reference.source_name == "fresh.png"


def test_many_at_once_lose_nothing(archive: Archive, tmp_path: Path) -> None:
    failed: list[BaseException] = []

    def gather(number: int) -> None:
        place = tmp_path / f"part-{number}"
        place.mkdir()
        for one in range(3):
            draw(place / f"{number}-{one}.png", 10 * number + one)
        try:
            with refarchive.open(archive.folder) as own:
                own.gather(place)
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=gather, args=(number,)) for number in range(3)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert failed == []
    assert len(archive) == 9
    assert archive.verify().problems == []


def test_who_waits_too_long_is_told(archive: Archive, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(vector_folder, "WAIT_S", 0.2)
    with (
        FileLock(archive.folder / "vectors" / vector_folder.LOCK),
        pytest.raises(ArchiveBusy, match="What was saved is kept"),
    ):
        archive.gather(folder)
    archive.gather(folder)
    assert archive.verify().problems == []


def test_what_is_level_is_not_read_again_until_something_changes(
    archive: Archive, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive.gather(folder)
    archive.find("lamp")
    looked = []
    whole = index.level

    def level(kit: Kit) -> bool:
        looked.append(kit)
        return whole(kit)

    monkeypatch.setattr(index, "level", level)
    archive.find("lamp")
    assert looked == []
    with refarchive.open(archive.folder) as other:  # what is known is known to the next who opens it
        other.find("lamp")
        assert looked == []
        other.describe("b.png", title="A barge on the mud")
    assert archive.find("barge on the mud").hits[0].reference.source_name == "b.png"
    assert looked
    assert index.level(archive._kit)
    archive.find("lamp")
    looked.clear()
    archive._kit.captions.drop(archive._kit.captions.keys()[:1])  # a vector file touched, and no record
    archive.find("lamp")
    assert looked
    assert index.level(archive._kit)
    (archive.folder / "vectors" / vector_folder.LEVEL).write_bytes(b"[")
    assert archive.find("lamp").hits
