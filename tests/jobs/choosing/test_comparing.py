"""Frames measured against each other: what comes later, what is missing, and what is there again."""

from __future__ import annotations

from pathlib import Path

import pyexiv2
import pytest
from drawn import draw

from refarchive.archive import Archive

PLAN = '[scene]\ntitle = "The ford"\nslug = "ford"\nevent = "e"\nstory = "s"\n'


def shot(path: Path, number: int) -> Path:
    """A frame with a clock, a second after the one numbered before it."""
    draw(path, number)
    with pyexiv2.Image(str(path)) as image:
        image.modify_exif({"Exif.Photo.DateTimeOriginal": f"2027:10:11 14:50:0{number}"})
    return path


@pytest.fixture
def planned(archive: Archive) -> Archive:
    archive.plan(PLAN)
    return archive


def words(archive: Archive) -> list[str]:
    return [" ".join(one["words"]) for one in archive.after.shoot("ford")["frames"]]


def test_frames_that_come_before_the_first_are_told_as_not_measured_until_they_are(planned, tmp_path) -> None:
    planned.after.take("ford", *(shot(tmp_path / f"F_{n}.jpg", n) for n in (2, 3)))
    planned.after.measure("ford")
    planned.after.take("ford", shot(tmp_path / "F_1.jpg", 1))
    document = planned.after.shoot("ford")
    assert [one["name"] for one in document["frames"]] == ["F_1.jpg", "F_2.jpg", "F_3.jpg"]
    assert words(planned) == ["Not measured yet."] * 3  # they were laid on a frame that is no longer the first
    assert not any(one["measured"] for one in document["frames"])
    planned.after.measure("ford")
    assert "The first frame" in words(planned)[0]
    assert not any("Not measured" in one for one in words(planned))


@pytest.mark.parametrize("lost", [0, 1])
def test_a_frame_whose_file_comes_back_is_measured_then_with_what_rests_on_it(planned, tmp_path, lost) -> None:
    frames = planned.after.take("ford", *(shot(tmp_path / f"F_{n}.jpg", n) for n in range(3))).added
    planned.after.measure("ford")
    whole = planned.after.shoot("ford")["frames"]
    with planned._kit.store._writing() as connection:
        connection.exec_driver_sql("DELETE FROM frame_look")
    path = planned.frame_work.original("ford", frames[lost].id)
    data = path.read_bytes()
    path.unlink()
    planned.after.measure("ford")
    assert "missing" in words(planned)[lost]
    assert ("cannot be read" in words(planned)[2]) is (lost == 0)
    before = planned.after.shoot("ford")
    planned.after.measure("ford")  # still missing: nothing changes
    assert planned.after.shoot("ford") == before
    path.write_bytes(data)
    planned.after.measure("ford")
    assert planned.after.shoot("ford")["frames"] == whole
