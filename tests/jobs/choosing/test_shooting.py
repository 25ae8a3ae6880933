"""Taking in a shoot: files kept once and whole, their clock read, what cannot be read told and passed by."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pyexiv2
import pytest
from drawn import draw
from PIL import Image
from raw_file import write_dng

from refarchive.archive import Archive
from refarchive.errors import UnknownRecord

PLAN = '[scene]\ntitle = "The ford"\nslug = "ford"\nevent = "e"\nstory = "s"\n'


@pytest.fixture
def card(tmp_path: Path) -> Path:
    place = tmp_path / "card"
    for number in range(3):
        draw(place / f"M_{number}.jpg", number)
        with pyexiv2.Image(str(place / f"M_{number}.jpg")) as image:
            image.modify_exif({"Exif.Photo.DateTimeOriginal": f"2027:10:11 14:50:0{number}"})
    (place / "notes.txt").write_text("not a frame", "utf-8")
    (place / "broken.jpg").write_bytes((place / "M_0.jpg").read_bytes()[:300])
    return place


def test_a_shoot_is_taken_in_once_with_its_clock(archive: Archive, card: Path) -> None:
    archive.plan(PLAN)
    seen: list[tuple[int, int]] = []
    done = archive.after.take("ford", card, progress=lambda n, of, name: seen.append((n, of)))
    assert [one.source_name for one in done.added] == ["M_0.jpg", "M_1.jpg", "M_2.jpg"]
    assert [one.taken for one in archive.frames("ford")] == [f"2027-10-11T14:50:0{n}" for n in range(3)]
    assert [one["source"] for one in done.refused] == ["broken.jpg"]
    assert done.refused[0]["next_step"]
    assert seen[-1][0] == seen[-1][1]
    again = archive.after.take("ford", card)
    assert (again.added, again.unchanged) == ([], 3)
    for frame in done.added:
        kept = archive.frame_work.original("ford", frame.id).read_bytes()
        assert kept == (card / frame.source_name).read_bytes()


def test_a_run_that_was_stopped_goes_on_where_it_stopped(archive: Archive, card: Path) -> None:
    archive.plan(PLAN)

    def stop(done: int, of: int, name: str) -> None:
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        archive.after.take("ford", card, progress=stop)
    kept = len(archive.frames("ford"))
    assert 0 < kept < 3
    done = archive.after.take("ford", card)
    assert (len(done.added), done.unchanged) == (3 - kept, kept)


def test_a_raw_file_is_seen_by_its_preview_and_left_beside_its_developed_picture(archive: Archive, tmp_path) -> None:
    archive.plan(PLAN)
    place = tmp_path / "raws"
    place.mkdir()
    light = np.tile(np.linspace(0.05, 0.8, 240), (160, 1))[..., None].repeat(3, axis=2)
    write_dng(place / "A.dng", light)
    write_dng(place / "B.dng", light * 0.5)
    Image.fromarray(np.rint(light * 255).astype(np.uint8)).save(place / "B.jpg")
    done = archive.after.take("ford", place)
    assert [one.source_name for one in done.added] == ["A.dng", "B.jpg"], done.refused
    assert done.beside == ["B.dng"]
    picture = np.asarray(archive.frame_work.picture("ford", "A.dng"), dtype=float)
    assert picture[:, -20:].mean() > picture[:, :20].mean() + 50
    assert archive.after.thumbnail("ford", "A.dng", 64)
    assert archive.check("ford", archive.frame_work.original("ford", "A.dng")).frame.id == done.added[0].id


def test_links_out_of_the_folder_are_not_followed(archive: Archive, card: Path, tmp_path: Path) -> None:
    archive.plan(PLAN)
    secret = draw(tmp_path / "elsewhere" / "secret.jpg", 9)
    os.symlink(tmp_path / "elsewhere" / "secret.jpg", card / "out.jpg")
    done = archive.after.take("ford", card)
    assert "out.jpg" in [one["source"] for one in done.refused]
    assert len(archive.frames("ford")) == 3
    del secret


def test_a_scene_there_is_none_of_is_refused(archive: Archive, card: Path) -> None:
    with pytest.raises(UnknownRecord):
        archive.after.take("nowhere", card)


def test_a_frame_whose_file_is_gone_has_no_small_picture(archive: Archive, card: Path) -> None:
    archive.plan(PLAN)
    (frame, *_) = archive.after.take("ford", card).added
    path = archive.frame_work.original("ford", frame.id)
    path.parent.chmod(0o755)
    path.unlink()
    assert archive.after.thumbnail("ford", frame.id) is None


def test_a_damaged_or_missing_frame_is_named(archive: Archive, card: Path) -> None:
    archive.plan(PLAN)
    first, second, _ = archive.after.take("ford", card).added
    assert archive.verify().problems == []
    for frame in (first, second):
        archive.frame_work.original("ford", frame.id).chmod(0o644)
    archive.frame_work.original("ford", first.id).write_bytes(b"not it")
    archive.frame_work.original("ford", second.id).unlink()
    problems = archive.verify().problems
    assert [("M_0.jpg" in one and "damaged" in one) or ("M_1.jpg" in one and "missing" in one) for one in problems] == [
        True,
        True,
    ]
