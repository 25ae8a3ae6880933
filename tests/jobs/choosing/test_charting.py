"""Reading a chart in a file, by command and façade."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from refarchive.archive import Archive
from refarchive.cli import cli
from refarchive.errors import BadQuery, CannotMeasure, SourceRefused
from refarchive.looks import colour
from refarchive.looks.chart import published

EDITION = "after November 2014"
CORNERS = "0.1,0.1,0.9,0.1,0.9,0.9,0.1,0.9"


@pytest.fixture
def shot(tmp_path: Path) -> Path:
    """A chart seen straight on, under a warm cast, on grey."""
    light = np.clip(colour.lab_to_linear(published(EDITION)[1]), 0, 1).reshape(4, 6, 3) * [1.0, 0.8, 0.55]
    table = np.full((500, 750, 3), 0.1)
    table[50:450, 75:675] = np.repeat(np.repeat(light, 100, axis=0), 100, axis=1)
    path = tmp_path / "chart.png"
    Image.fromarray(np.rint(255 * colour.encoded(table)).astype(np.uint8)).save(path)
    return path


def run(archive: Archive, *more: str) -> tuple[int, str, str]:
    done = CliRunner().invoke(cli, ["chart", str(archive.folder), *more])
    return done.exit_code, done.stdout, done.output


def test_a_chart_is_read_and_its_correction_written(archive: Archive, shot: Path, tmp_path: Path) -> None:
    out = tmp_path / "made" / "corrected.png"
    code, told, whole = run(archive, str(shot), "--corners", CORNERS, "--edition", EDITION, "--out", str(out), "--json")
    assert code == 0, whole
    found = json.loads(told)
    assert found["mean"] > 5
    assert found["balanced"] < 1.5
    assert found["gains"] == pytest.approx([1.0, 1 / 0.8, 1 / 0.55], rel=0.03)
    assert Path(found["corrected"]) == out
    again = archive.frame_work.chart(out, [(0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9)], EDITION)
    assert again["mean"] < 1
    assert archive.references() == []  # nothing is kept


def test_in_words_each_patch_has_a_line(archive: Archive, shot: Path) -> None:
    code, told, _ = run(archive, str(shot), "--corners", CORNERS, "--edition", EDITION)
    assert code == 0
    assert "bluish green" in told
    assert len(told.splitlines()) == 25


def test_what_cannot_be_read_is_refused_and_nothing_written(archive: Archive, shot: Path, tmp_path: Path) -> None:
    corners = [(0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9)]
    with pytest.raises(SourceRefused):
        archive.frame_work.chart(tmp_path / "none.png", corners, EDITION)
    with pytest.raises(BadQuery, match="PNG"):
        archive.frame_work.chart(shot, corners, EDITION, out=tmp_path / "x.jpg")
    with pytest.raises(CannotMeasure):
        archive.frame_work.chart(shot, corners, "1976", out=tmp_path / "x.png")
    assert run(archive, str(shot), "--corners", "1,2", "--edition", EDITION)[0] == 2
    Image.new("RGB", (400, 300), (90, 90, 90)).save(tmp_path / "flat.png")
    flat = archive.frame_work.chart(tmp_path / "flat.png", corners, EDITION, out=tmp_path / "x.png")
    assert (flat["mean"], flat["corrected"]) == (None, None)
    assert not (tmp_path / "x.png").exists()
