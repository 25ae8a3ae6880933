"""Lists over the pictures of a whole archive, with few rows taken for many: made, stale, damaged, mended."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from drawn import draw

import refarchive
from refarchive.archive import Archive
from refarchive.jobs.references import index, listing
from refarchive.search import lists


@pytest.fixture(autouse=True)
def few_are_many(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listing, "LARGE", 12)
    monkeypatch.setattr(lists, "MOST_READ", 1.0)  # of so few rows a quarter is not even one list
    monkeypatch.setattr(lists, "ENOUGH", 0.0)


@pytest.fixture
def gathered(archive: Archive, folder: Path) -> Archive:
    archive.gather(folder)
    return archive


def kept(archive: Archive) -> Path:
    return archive.folder / "vectors" / "lists" / "likeness.lists"


def like(archive: Archive, name: str = "a.jpg") -> tuple[list[str], list[str]]:
    """Names found by likeness, and the notes on lists."""
    found = archive.find(like=archive.folder.parent / "scans" / name)
    return [hit.reference.source_name for hit in found.hits], [n for n in found.notes if "lists" in n]


def test_a_large_archive_is_searched_by_lists_and_says_so(gathered: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    assert kept(gathered).is_file()
    found, notes = like(gathered)
    assert len(notes) == 1
    assert "%" in notes[0]
    asked = []
    monkeypatch.setattr(lists.Lists, "near", lambda self, query, probes=None: asked.append(1) or np.sort(self.rows))
    assert like(gathered)[0] == found
    assert asked  # it is the lists that are asked
    narrowed = gathered.find(like=gathered.folder.parent / "scans" / "a.jpg", kind="image")
    assert not [n for n in narrowed.notes if "lists" in n]  # a filter is served from all rows
    monkeypatch.setattr(listing, "LARGE", 10_000)
    with refarchive.open(gathered.folder) as small:
        assert like(small) == (found, [])


def test_pictures_that_came_since_are_found_and_lists_follow(gathered: Archive, tmp_path: Path) -> None:
    before = kept(gathered).read_bytes()
    draw(tmp_path / "scans" / "fresh.png", 41)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(listing, "MOST_NEW", 0.9)
        gathered.gather(tmp_path / "scans" / "fresh.png")
    assert kept(gathered).read_bytes() == before  # too few to begin anew
    found, notes = like(gathered, "fresh.png")
    assert found[0] == "fresh.png"
    assert notes
    gathered.gather(tmp_path / "scans")
    assert kept(gathered).read_bytes() != before
    made = listing.of(gathered._kit, gathered._kit.likeness)
    assert made is not None
    assert len(made.rows) == len(gathered._kit.likeness) == 6 * 6
    stamp = kept(gathered).stat().st_mtime_ns
    gathered.gather(tmp_path / "scans")
    assert kept(gathered).stat().st_mtime_ns == stamp  # made anew only when stale
    assert like(gathered, "fresh.png")[0][0] == "fresh.png"


def test_lists_of_other_rows_are_not_used(gathered: Archive) -> None:
    gone = gathered.reference("a.jpg").id
    gathered._kit.store.remove_reference(gone)
    found, notes = like(gathered)
    assert "a.jpg" not in found
    assert notes == []
    assert listing.of(gathered._kit, gathered._kit.likeness) is None
    assert gathered.verify(repair=True).problems == []
    found, notes = like(gathered)
    assert "a.jpg" not in found
    assert notes
    gathered.reencode("tiny:other")
    assert listing.of(gathered._kit, gathered._kit.likeness) is not None
    assert like(gathered)[1]


@pytest.mark.parametrize("how", ["flipped", "cut", "empty", "a pickle"])
def test_damaged_lists_are_refused_named_and_made_anew(gathered: Archive, how: str) -> None:
    found, _ = like(gathered)
    whole = kept(gathered).read_bytes()
    middle = len(whole) // 2
    kept(gathered).write_bytes(
        {
            "flipped": whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :],
            "cut": whole[:middle],
            "empty": b"",
            "a pickle": b"\x80\x04cos\nsystem\n(S'false'\ntR.",
        }[how]
    )
    with refarchive.open(gathered.folder) as again:
        assert like(again) == (found, [])
        assert any("lists" in problem for problem in again.verify().problems)
        assert again.verify(repair=True).problems == []
        assert kept(again).read_bytes() == whole
        assert again.verify().problems == []
        assert like(again)[1]


def test_a_file_without_end_is_not_read_to_its_end(gathered: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    assert listing.of(gathered._kit, gathered._kit.likeness) is not None
    monkeypatch.setattr(listing, "MOST_BYTES", 100)
    assert listing.of(gathered._kit, gathered._kit.likeness) is None
    assert listing.damaged(gathered._kit)


def test_looking_whether_they_are_stale_loads_no_encoder(gathered: Archive, folder: Path) -> None:
    with refarchive.open(gathered.folder) as again:
        again.gather(folder)  # nothing new
        assert not {"encoder", "likeness"} & vars(again._kit).keys()


def test_making_them_is_told_and_may_be_stopped(gathered: Archive) -> None:
    kit = gathered._kit
    kept(gathered).unlink()
    told: list[str] = []

    def tell(done: int, of: int, words: str) -> None:
        told.append(words)
        if words == "trying the lists":
            raise KeyboardInterrupt

    kit.progress = tell
    with pytest.raises(KeyboardInterrupt):
        listing.bring_up_to_date(kit)
    assert {"finding centres of vectors", "putting vectors into lists"} <= set(told)
    assert list(kept(gathered).parent.iterdir()) == []
    kit.progress = None
    assert listing.bring_up_to_date(kit)
    assert not listing.bring_up_to_date(kit)


def test_an_archive_that_became_small_keeps_none(gathered: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listing, "LARGE", 10_000)
    assert not listing.bring_up_to_date(gathered._kit)
    assert not kept(gathered).exists()
    assert index.level(gathered._kit)
