"""Archives older than the checksums of previews and vectors: repair gives them some, and makes nothing anew."""

from __future__ import annotations

import re
import zlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import refarchive
from refarchive.encoders import sentences
from refarchive.jobs.keeping.verify import Verified
from refarchive.records import preview_sums
from refarchive.records.files import open_picture
from refarchive.records.preview_sums import State
from tests.faults import quick


@pytest.fixture
def old(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An archive as it was before there were checksums."""
    monkeypatch.setattr(sentences, "shared", sentences.shared)  # put back when the test ends
    quick.install()
    place = quick.made(tmp_path / "archive", quick.scans(tmp_path / "scans", 4))
    for path in previews(place):
        with Image.open(path) as image:  # without the comment that holds the checksum
            image.load()
            image.info.pop("comment")
            image.save(path, "JPEG", quality=88, optimize=True)
        assert b"refarchive" not in path.read_bytes()
    for path in place.glob("vectors/*/sums.*"):
        path.unlink()
    return place


def previews(place: Path) -> list[Path]:
    return sorted(place.glob("previews/*/*.jpg"))


def verified(place: Path, *, repair: bool = False) -> Verified:
    with refarchive.open(place) as archive:
        return archive.verify(repair=repair)


def pixels(place: Path) -> list[bytes]:
    return [np.asarray(open_picture(path)).tobytes() for path in previews(place)]


def rows(place: Path) -> dict[str, bytes]:
    return {path.parent.name + path.name: path.read_bytes() for path in place.glob("vectors/*/rows.*")}


def nothing_is_encoded(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object) -> None:
        raise AssertionError("something was encoded")

    monkeypatch.setattr(quick.Quick, "encode_pictures", refused)
    monkeypatch.setattr(quick.Quick, "encode_words", refused)
    monkeypatch.setattr(quick.QuickSentences, "encode", refused)


def test_what_fits_is_given_checksums_and_nothing_is_made_anew(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    nothing_is_encoded(monkeypatch)
    [told] = verified(old).problems
    count = sum(len(path.read_text("ascii").splitlines()) for path in old.glob("vectors/*/keys.*"))
    assert f"4 previews and {count} vectors carry no checksum yet" in told
    assert "--repair" in told
    seen, kept = pixels(old), rows(old)
    done = verified(old, repair=True)
    assert (done.previews_vouched, done.vectors_vouched) == (4, count)
    assert (done.previews_made, done.vectors_made) == (0, 0)
    assert "from now on" in " ".join(done.notices)
    assert (pixels(old), rows(old)) == (seen, kept)
    again = verified(old, repair=True)
    assert (again.problems, again.previews_vouched, again.vectors_vouched) == ([], 0, 0)
    assert verified(old).problems == []


def test_what_was_vouched_for_is_missed_when_it_changes(old: Path) -> None:
    verified(old, repair=True)
    for path in (previews(old)[0], *old.glob("vectors/likeness/rows.*")):
        content = bytearray(path.read_bytes())
        content[-40] ^= 4
        path.write_bytes(content)
        found = verified(old).problems
        assert len(found) == 1
        assert "damaged" in found[0]
        assert verified(old, repair=True).problems == []


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-200])


def smaller(path: Path) -> None:
    Image.new("RGB", (80, 60)).save(path)


def larger(path: Path) -> None:
    Image.new("RGB", (1601, 1201)).save(path)


def another_kind(path: Path) -> None:
    Image.new("RGB", (160, 120)).save(path, "PNG")


def no_picture(path: Path) -> None:
    path.write_bytes(b"")


@pytest.mark.parametrize("spoil", [cut, smaller, larger, another_kind, no_picture])
def test_a_preview_that_does_not_fit_is_made_anew(old: Path, spoil: Callable[[Path], None]) -> None:
    whole = open_picture(previews(old)[0]).size
    spoil(previews(old)[0])
    assert any("preview" in one and "damaged" in one for one in verified(old).problems)
    done = verified(old, repair=True)
    assert (done.previews_made, done.previews_vouched) == (1, 3)
    assert open_picture(previews(old)[0]).size == whole
    assert verified(old).problems == []


@pytest.mark.parametrize("value", [0.0, float("nan"), float("inf"), 7.0])
def test_a_row_that_no_encoder_wrote_is_made_anew(old: Path, value: float) -> None:
    [path] = old.glob("vectors/likeness/rows.*")
    whole = path.read_bytes()
    row = np.full(48, 0.0, "<f4")
    row[5] = value
    path.write_bytes(row.tobytes() + whole[row.nbytes :])
    assert any("1 of the vectors in likeness are damaged" in one for one in verified(old).problems)
    done = verified(old, repair=True)
    assert done.vectors_made == 1  # pictures whose vectors were made
    assert verified(old).problems == []
    [path] = old.glob("vectors/likeness/rows.*")
    assert sorted(np.frombuffer(path.read_bytes(), "<f4").reshape(-1, 48).tolist()) == sorted(
        np.frombuffer(whole, "<f4").reshape(-1, 48).tolist()
    )


def test_rows_without_checksums_are_vouched_for_beside_rows_that_have_some(old: Path, tmp_path: Path) -> None:
    """As where a program of today gathered into an old archive."""
    with refarchive.open(old) as archive:
        archive.gather(quick.scans(tmp_path / "more", 6))
    [sums] = old.glob("vectors/likeness/sums.*")
    content = bytearray(sums.read_bytes())
    assert content[: 4 * 24] == bytes(4 * 24)
    content[-1] ^= 1  # and one of those that are there is wrong
    sums.write_bytes(content)
    assert any("1 of the vectors in likeness are damaged" in one for one in verified(old).problems)
    assert verified(old, repair=True).vectors_made == 1
    assert verified(old).problems == []


def test_a_flip_in_the_comment_itself_is_damage(old: Path) -> None:
    verified(old, repair=True)
    path = previews(old)[0]
    whole = path.read_bytes()
    assert int(re.search(rb"refarchive ([0-9a-f]{8})", whole)[1], 16) == zlib.crc32(whole[:20] + whole[46:])  # type: ignore[index]
    for at in range(20, 46):
        for bit in range(8):
            path.write_bytes(whole[:at] + bytes([whole[at] ^ 1 << bit]) + whole[at + 1 :])
            assert preview_sums.state(path) is State.DAMAGED
