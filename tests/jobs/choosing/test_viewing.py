"""Frames over time in a real archive: viewers' words, earlier checks, several frames, a part against a detail."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from drawn import draw
from PIL import Image

from refarchive.archive import Archive
from refarchive.cli import cli
from refarchive.errors import BadQuery, RecordRefused, UnknownRecord
from refarchive.looks.changes import with_gain

PLAN = """[scene]
title = "Lamp"
event = "They wait"
story = "One lamp."
statements = ["They keep together, and one light holds them together", "Somebody is missing"]
misreadings = ["A religious procession"]
[intent]
key = 50
key_tolerance = 5
"""


@pytest.fixture
def shot(archive: Archive, folder: Path, tmp_path: Path) -> Archive:
    archive.gather(folder)
    archive.plan(PLAN)
    grey = np.full((120, 180, 3), 119, np.uint8)
    grey[40:80, 60:120] = (150, 60, 50)
    for name, stops in (("one.png", 0.0), ("two.png", 1.5)):
        Image.fromarray(with_gain(grey, stops)).save(tmp_path / name)
    return archive


def run(archive: Archive, command: str, *more: str) -> dict:
    done = CliRunner().invoke(cli, [command, str(archive.folder), *more, "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def test_viewers_are_counted_and_nothing_is_overwritten(shot: Archive, tmp_path: Path) -> None:
    shot.check("lamp", tmp_path / "one.png")
    said = (
        ("people keeping close behind each other by one lantern", "A4"),
        ("there is a gap in the row as if one of them were lost", "A6"),
        ("a holy procession with a light", "A6"),
        ("somebody cooking soup", "A4"),
    )
    for number, (words, size) in enumerate(said):
        run(shot, "view", "lamp", "one.png", words, "--viewer", str(number), "--seconds", "5", "--print-size", size)
    found = run(shot, "viewings", "lamp", "one.png")
    assert found["viewers"] == 4
    assert (found["understood"], found["misread"], found["neither"]) == (2, 1, 1)
    assert found["by_size"] == {"A4": [1, 0, 1], "A6": [1, 1, 0]}
    assert [one["words"] for one in found["said"]] == [words for words, _ in said]
    kept = shot._kit.store.looked.viewings(found["frame"])
    assert [(v.viewer, v.seconds) for v in kept] == [(str(n), 5.0) for n in range(4)]


def test_a_viewing_without_words_or_frame_is_refused(shot: Archive, tmp_path: Path) -> None:
    with pytest.raises(UnknownRecord, match="no frame"):
        shot.frame_work.view("lamp", "one.png", "a lamp")
    shot.check("lamp", tmp_path / "one.png")
    for words, seconds in (("  ", None), ("x" * 6000, None), ("a lamp", -1.0), ("a lamp", 1e9)):
        with pytest.raises(RecordRefused):
            shot.frame_work.view("lamp", "one.png", words, seconds=seconds)
    assert shot.frame_work.viewings("lamp", "one.png")["viewers"] == 0


def test_an_earlier_check_keeps_its_answers(shot: Archive, tmp_path: Path) -> None:
    shot.check("lamp", tmp_path / "one.png")
    shot.plan(PLAN.replace("key = 50", "key = 80"))
    shot.check("lamp", tmp_path / "one.png")
    first, second = shot.frame_work.earlier("lamp", "one.png")
    keys = [next(line for line in one["lines"] if line["measure"] == "key") for one in (first, second)]
    assert [(line["target"], line["verdict"]) for line in keys] == [(50, "within"), (80, "outside")]
    assert first["at"] <= second["at"]


def test_several_frames_stand_in_one_table(shot: Archive, tmp_path: Path) -> None:
    rows = run(shot, "frames", "lamp", str(tmp_path / "one.png"), str(tmp_path / "two.png"))["frames"]
    assert [(row["frame"], row["measures"]["key"]["verdict"]) for row in rows] == [
        ("one.png", "within"),
        ("two.png", "outside"),
    ]
    assert "stop" in rows[1]["measures"]["key"]["remedy"]


def test_a_part_is_compared_with_a_detail(shot: Archive, tmp_path: Path) -> None:
    red = np.full((100, 150, 3), (40, 120, 60), np.uint8)
    red[:, :75] = (150, 60, 50)
    draw(tmp_path / "refs" / "x.png", 3)
    Image.fromarray(red).save(tmp_path / "refs" / "red.png")
    shot.gather(tmp_path / "refs")
    part = "0.4,0.4,0.2,0.2"

    def palette(detail: str) -> float:
        found = run(shot, "compare", "lamp", str(tmp_path / "one.png"), "red.png", "--region", part, "--detail", detail)
        return next(line["difference"] for line in found["lines"] if line["measure"] == "palette")

    assert palette("0.1,0.1,0.3,0.5") < 1  # a red against the same red
    assert palette("0.6,0.1,0.3,0.5") > 20  # against green
    assert shot.frames("lamp") == []  # comparing keeps nothing
    with pytest.raises(BadQuery):
        shot.frame_work.compare("lamp", tmp_path / "one.png", (0.9, 0, 0.5, 0.5), "red.png")
    with pytest.raises(BadQuery, match="no picture"):
        shot.frame_work.compare("lamp", tmp_path / "one.png", (0, 0, 0.5, 0.5), "letter.txt")


def test_the_machine_speaks_only_with_its_trust(shot: Archive, tmp_path: Path) -> None:
    shot.check("lamp", tmp_path / "one.png")
    reading = shot.frame_work.machine_reading("lamp", "one.png", {"red thing": (0.3, 0.3, 0.4, 0.4)})
    assert "no audience" in reading["sentence"]
    assert not reading["trusted"]  # five pictures are too few to measure it
    assert reading["sentence"].startswith("Cannot tell")
    (masked,) = reading["masked"]
    assert masked["name"] == "red thing"
    assert len(masked["lost"]) == 3
    assert any(abs(value) > 1e-6 for value in masked["lost"].values())
