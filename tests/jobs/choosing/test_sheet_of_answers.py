"""What a sheet of many answers needs: small pictures, one page of an answer, reasons in words; and who links last."""

from __future__ import annotations

import io
import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from refarchive.archive import Archive
from refarchive.cli import cli
from refarchive.errors import ArchiveDamaged, ChangedMeanwhile, UnknownRecord
from refarchive.scenes import linking

PLAN = """[scene]
title = "Lamp"
event = "e"
story = "s"
[[need]]
name = "Lantern"
department = "props"
"""


@pytest.fixture
def filled(archive: Archive, folder: Path) -> Archive:
    archive.gather(folder)
    archive.plan(PLAN)
    archive.describe("a.jpg", title="A lamp by the water", date="1890")
    archive.describe("b.png", title="A lamp at the stage", date="1871")
    return archive


def opened(data: bytes) -> Image.Image:
    with Image.open(io.BytesIO(data)) as picture:
        picture.load()
        return picture


def test_a_small_picture_is_the_preview_made_small(filled: Archive, tmp_path: Path) -> None:
    """Held against Pillow's own reduction of the preview by averaging (Resampling.BOX)."""
    large = Image.fromarray(np.linspace(0, 255, 900 * 600 * 3).reshape(600, 900, 3).astype(np.uint8))
    large.save(tmp_path / "large.png")
    filled.gather(tmp_path / "large.png")
    small = opened(filled.thumbnail("large.png"))
    assert (small.format, small.mode, small.size) == ("JPEG", "RGB", (256, 171))
    expected = opened(filled.preview("large.png").read_bytes()).resize(small.size, Image.Resampling.BOX)
    assert np.abs(np.asarray(small, float) - np.asarray(expected, float)).mean() < 3
    assert opened(filled.thumbnail("large.png", 64)).size == (64, 43)


def test_a_small_picture_is_never_made_larger(filled: Archive) -> None:
    own = opened(filled.preview("a.jpg").read_bytes()).size
    assert opened(filled.thumbnail("a.jpg", 5_000)).size == own


def test_a_small_picture_follows_its_preview(filled: Archive) -> None:
    before = filled.thumbnail("a.jpg")
    Image.new("RGB", (300, 100), "white").save(filled.preview("a.jpg"), "JPEG")
    assert filled.thumbnail("a.jpg") != before
    filled.preview("a.jpg").write_bytes(b"no picture")
    with pytest.raises(ArchiveDamaged, match="--repair"):
        filled.thumbnail("a.jpg")
    filled.preview("a.jpg").unlink()
    assert filled.thumbnail("a.jpg") == before  # made anew from the original
    with pytest.raises(UnknownRecord):
        filled.thumbnail("nothing.jpg")


def test_pages_of_an_answer_make_the_whole(filled: Archive) -> None:
    found = filled.find("lamp")
    whole = filled.findings_document(found)
    pages = [filled.findings_document(found, first=at, count=2) for at in range(0, len(found.hits) + 1, 2)]
    assert [hit for page in pages for hit in page["hits"]] == whole["hits"]
    assert [hit["rank"] for hit in pages[1]["hits"]] == [3, 4]
    assert pages[-1]["notes"] == whole["notes"]


def test_reasons_are_words_and_what_lies_outside_the_period_says_so(filled: Archive) -> None:
    """15 January 1890 less 31 December 1874 is 15 years to the nearest year; by the calendar."""
    asked = [str(filled.folder), "lamp", "--when", "1868/1874", "--kind", "image", "--beyond-period"]
    document = json.loads(CliRunner().invoke(cli, ["find", *asked, "--json"]).stdout)
    said = {hit["title"]: hit for hit in document["hits"]}
    assert document["hits"][0]["title"] == "A lamp at the stage"
    assert "Ranked" in said["A lamp at the stage"]["reasons"]
    assert "words in the caption" in said["A lamp at the stage"]["reasons"]
    assert "similarity" not in said["A lamp at the stage"]["reasons"]
    assert said["A lamp at the stage"]["outside_period"] == ""
    assert said["A lamp by the water"]["outside_period"] == "15 years after the period"
    printed = CliRunner().invoke(cli, ["find", *asked]).stdout
    assert printed.count("Outside the period: 15 years after the period.") == 1


def test_two_who_link_at_once_lose_nothing(filled: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second to save is refused, told so, and adds to what the first saved when it tries again."""
    written = linking.with_entry

    def meanwhile(*given: object) -> str:
        monkeypatch.setattr(linking, "with_entry", written)
        filled.evidence.link("lamp", "lantern", "b.png")
        return written(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(linking, "with_entry", meanwhile)
    with pytest.raises(ChangedMeanwhile):
        filled.evidence.link("lamp", "lantern", "a.jpg", "contradicts")
    assert [e.reference for e in filled.scene("lamp").needs[0].evidence] == [filled.reference("b.png").id]
    filled.evidence.link("lamp", "lantern", "a.jpg", "contradicts")
    assert len(filled.scene("lamp").needs[0].evidence) == 2
