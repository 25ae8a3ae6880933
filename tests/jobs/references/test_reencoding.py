"""Encoding anew: the old vectors serve until the new ones are whole, and a run that was stopped goes on."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from tiny_encoder import TinyEncoder

import refarchive
from refarchive.archive import Archive
from refarchive.encoders import base
from refarchive.jobs.references import index, reencoding
from refarchive.search import vector_folder


class Halted(Exception):
    """The work was stopped."""


class Counting(TinyEncoder):
    """Counts the pictures, with their tiles, that it encodes; stops at the n-th call where told to."""

    calls = 0
    stop_at = 0

    def encode_pictures(self, pictures):  # type: ignore[no-untyped-def]
        type(self).calls += 1
        if type(self).calls == type(self).stop_at:
            raise Halted
        return super().encode_pictures(pictures)


@pytest.fixture
def counting(monkeypatch: pytest.MonkeyPatch) -> Iterator[type[Counting]]:
    monkeypatch.setattr(index, "BATCH", 2)  # five pictures are three batches
    monkeypatch.setattr(Counting, "calls", 0)
    monkeypatch.setattr(Counting, "stop_at", 0)
    base.register("counting", lambda name, progress: Counting(name, 32))
    yield Counting
    del base._makers["counting"]


@pytest.fixture
def whole(archive: Archive, folder: Path) -> Archive:
    archive.gather(folder)
    return archive


def rows(archive: Archive) -> dict[str, bytes]:
    file = archive._kit.likeness
    return {key: file.rows([key]).tobytes() for key in file}


def test_the_old_vectors_serve_until_the_new_ones_are_whole(whole: Archive, counting: type[Counting]) -> None:
    before, found = rows(whole), [hit.reference.id for hit in whole.find(like="a.jpg").hits]
    counting.stop_at = 3
    with pytest.raises(Halted):
        whole.reencode("counting:other")
    with refarchive.open(whole.folder) as again:
        assert again.encoder_name == "tiny"
        assert rows(again) == before
        assert [hit.reference.id for hit in again.find(like="a.jpg").hits] == found
        verified = again.verify()
        assert verified.problems == []
        assert "reencode ARCHIVE --encoder counting:other" in " ".join(verified.notices)


def test_a_run_that_was_stopped_goes_on_and_ends_as_one_that_was_not(
    whole: Archive, counting: type[Counting], tmp_path: Path, folder: Path
) -> None:
    counting.stop_at = 3
    with pytest.raises(Halted):
        whole.reencode("counting:other")
    told: list[tuple[int, int, str]] = []
    counting.calls, counting.stop_at = 0, 0
    done = whole.reencode("counting:other", progress=lambda *step: told.append(step))
    assert counting.calls == 1  # of three batches two were there
    assert told[0][:2] == (4, 5)
    assert (done["pictures"], done["made"], whole.encoder_name) == (5, 1, "counting:other")
    with refarchive.create(tmp_path / "at once", "counting:other") as other:
        other.gather(folder)
        assert rows(other) == rows(whole)
    assert whole.verify().problems == []
    assert whole.verify().notices == []
    assert not list((whole.folder / "vectors" / "beside").glob("l*"))


@pytest.mark.parametrize("harm", ["no sums", "a row changed"])
def test_rows_that_nothing_vouches_for_are_made_anew(whole: Archive, counting: type[Counting], harm: str) -> None:
    """Sums are not waited for: without power they may be lost, and rows are not taken for what they may not be."""
    counting.stop_at = 3
    with pytest.raises(Halted):
        whole.reencode("counting:other")
    beside = whole.folder / "vectors" / "beside" / "likeness"
    if harm == "no sums":
        next(beside.glob("sums.*")).unlink()
    else:
        path = next(beside.glob("rows.*"))
        content = bytearray(path.read_bytes())
        content[3] ^= 64
        path.write_bytes(content)
    counting.calls, counting.stop_at = 0, 0
    done = whole.reencode("counting:other")
    assert done["made"] == (5 if harm == "no sums" else 2)
    assert whole.verify().problems == []


def test_another_encoder_begins_anew(whole: Archive, counting: type[Counting]) -> None:
    counting.stop_at = 3
    with pytest.raises(Halted):
        whole.reencode("counting:other")
    counting.calls, counting.stop_at = 0, 0
    whole.reencode("counting:third")
    assert counting.calls == 3
    assert whole._kit.likeness.identity["name"] == "counting:third"
    assert whole.verify().problems == []


def test_what_was_gathered_meanwhile_is_there_too(whole: Archive, counting: type[Counting], tmp_path: Path) -> None:
    from drawn import draw

    draw(tmp_path / "late.png", 77)
    fresh = []

    def meanwhile(done: int, of: int, words: str) -> None:
        if done == 2:
            with refarchive.open(whole.folder) as other:
                fresh.append(other.gather(tmp_path / "late.png").added)

    whole.reencode("counting:other", progress=meanwhile)
    assert fresh == [1]
    assert len(rows(whole)) == 6 * 6
    assert whole.verify().problems == []


@pytest.mark.parametrize("at", ["before any", "between two", "after all"])
def test_what_was_stopped_between_the_word_and_the_deed_is_done_at_the_next_opening(
    whole: Archive, counting: type[Counting], monkeypatch: pytest.MonkeyPatch, at: str
) -> None:
    real = vector_folder.VectorFolder.adopt

    def halted(self: vector_folder.VectorFolder, names: tuple[str, ...]) -> None:
        if at == "after all":
            real(self, names)
        if at == "between two":
            self.forget("likeness")
        raise Halted

    monkeypatch.setattr(vector_folder.VectorFolder, "adopt", halted)
    with pytest.raises(Halted):
        whole.reencode("counting:other")
    monkeypatch.undo()
    with refarchive.open(whole.folder) as again:
        assert again.encoder_name == "counting:other"
        assert len(rows(again)) == 5 * 6
        assert again.verify().problems == []
        assert reencoding.BESIDE not in again._kit.store.setting("encoder")


def test_an_archive_without_pictures_takes_another_encoder(archive: Archive, counting: type[Counting]) -> None:
    archive.reencode("counting:other")
    assert archive.encoder_name == "counting:other"
    assert archive.verify().problems == []


def test_one_space_takes_the_place_of_two(whole: Archive, counting: type[Counting]) -> None:
    class Two(TinyEncoder):
        @property
        def identity(self) -> base.Identity:
            return base.Identity(self._name, "2" * 64, self._size, 7, "two spaces")

        def encode_pictures(self, pictures):  # type: ignore[no-untyped-def]
            codes = super().encode_pictures(pictures)
            return base.PictureCodes(codes.likeness, np.ascontiguousarray(codes.likeness[:, :7]))

    base.register("two", lambda name, progress: Two(name))
    whole.reencode("two")
    assert (whole.folder / "vectors" / "meaning").is_dir()
    assert whole.verify().problems == []
    whole.reencode("counting:other")
    assert not (whole.folder / "vectors" / "meaning").exists()
    assert whole.verify().problems == []
    del base._makers["two"]
