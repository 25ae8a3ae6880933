"""A finished picture on its way out: said, drafted, put on paper, and written into a copy whose picture is the same."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pyexiv2
import pytest
from PIL import Image
from pypdf import PdfReader

from refarchive.archive import Archive
from refarchive.errors import (
    ArchiveUnwritable,
    BadQuery,
    CannotPrint,
    ChangedMeanwhile,
    PublishRefused,
    RecordRefused,
    SourceRefused,
)
from refarchive.records.files import open_picture

PLAN = """[scene]
title = "The ford <b>"
slug = "ford"
series = "Water"
event = "A cart is led through the ford"
story = "s"
date = "1869-10-14"
place = "Merrow Sands"
[[figure]]
name = "Isaac"
action = "leads the cart"
[[need]]
name = "Staff"
department = "props"
"""
SAID = {
    "title": "Переправа · 渡し場 · המעבר · The ford",
    "alt_text": "A man with a staff leads a horse and cart into grey water.",
    "creator": "A. Photographer (invented)",
    "created": "2025-10-11",
    "persons": ["Una Named", "Tom Unasked"],
    "leaves": [{"kind": "model", "who": "Una Named", "state": "granted", "evidence": "letter 3"}],
    "taken_at": {"city": "Merrow Sands", "latitude": "54.06", "longitude": "-3.64"},
    "parts": [
        {"name": "staff", "region": [0.1, 0.1, 0.2, 0.5], "standing": "invented", "need": "staff", "why": "mine"}
    ],
    "editions": [{"name": "large", "width_mm": 900, "height_mm": 600, "count": 2, "made": 3}],
}


@pytest.fixture
def picture(archive: Archive, tmp_path: Path) -> Archive:
    archive.plan(PLAN)
    noise = np.random.default_rng(1).integers(0, 256, (200, 300, 3), dtype=np.uint8)
    (tmp_path / "card").mkdir()
    Image.fromarray(noise).save(tmp_path / "card" / "F_1.jpg", quality=93)
    archive.after.take("ford", tmp_path / "card")
    archive.publishing.say("ford", "F_1.jpg", SAID)
    return archive


def test_what_is_said_comes_back_with_drafts_that_say_what_they_rest_on(picture: Archive) -> None:
    told = picture.publishing.document("ford", "F_1.jpg")
    assert told["revision"] == 1
    assert told["values"]["taken_at"]["latitude"] == 54.06
    assert "Isaac: leads the cart." in told["caption"]["text"]
    assert all(claim["rests_on"] for claim in told["caption"]["claims"])
    assert told["caption"]["text"] == " ".join(claim["text"] for claim in told["caption"]["claims"])
    assert told["parts"][0]["standing"] == "invented"
    assert any("3 are made" in one for one in told["editions"]["told"])
    assert any("Tom Unasked" in one for one in told["checklist"]["open"])


def test_a_change_on_an_old_revision_is_refused_and_changes_nothing(picture: Archive) -> None:
    with pytest.raises(ChangedMeanwhile):
        picture.publishing.say("ford", "F_1.jpg", {"title": "other"}, expected=0)
    with pytest.raises(BadQuery, match="stars"):
        picture.publishing.say("ford", "F_1.jpg", {"stars": 5})
    assert picture.publishing.document("ford", "F_1.jpg")["values"]["title"] == SAID["title"]


def test_a_change_that_another_program_makes_meanwhile_is_not_undone(picture: Archive, monkeypatch) -> None:
    after = picture._kit.store.after
    held = after.particulars

    def read_before_the_other_writes(frame):
        found = held(frame)
        monkeypatch.setattr(after, "particulars", held)
        picture.publishing.say("ford", "F_1.jpg", {"headline": "theirs"})
        return found

    monkeypatch.setattr(after, "particulars", read_before_the_other_writes)
    with pytest.raises(ChangedMeanwhile):
        picture.publishing.say("ford", "F_1.jpg", {"title": "mine"})
    assert picture.publishing.document("ford", "F_1.jpg")["values"]["headline"] == "theirs"


@pytest.mark.parametrize(
    "said",
    [
        {"keywords": ["x" * 2_001]},
        {"contributors": [["Ada", "x" * 2_001]]},
        {"taken_at": {"city": "x" * 2_001}},
        {"parts": [{"name": "x" * 2_001, "region": [0, 0, 1, 1], "standing": "unknown"}]},
        {"source_type": "x" * 2_001},
    ],
)
def test_no_text_that_goes_out_is_without_a_bound(picture: Archive, said: dict[str, object]) -> None:
    with pytest.raises(RecordRefused, match="2,000 characters"):
        picture.publishing.say("ford", "F_1.jpg", said)


def test_an_independent_reader_shows_the_metadata_and_the_pixels_are_the_same(picture: Archive, tmp_path) -> None:
    original = picture.frame_work.original("ford", "F_1.jpg")
    for public in (True, False):
        done = picture.publishing.write("ford", "F_1.jpg", public=public, out=tmp_path / "out")
        with pyexiv2.Image(str(done.file)) as image:
            xmp = image.read_xmp()
        assert xmp["Xmp.dc.title"]['lang="x-default"'] == SAID["title"]
        assert xmp["Xmp.iptc.AltTextAccessibility"]['lang="x-default"'] == SAID["alt_text"]
        assert xmp["Xmp.photoshop.DateCreated"] == "2025-10-11"
        persons = xmp["Xmp.iptcExt.PersonInImage"]
        assert ("Tom Unasked" in persons) is (not public)
        assert "Una Named" in persons
        assert any("54" in str(value) for key, value in xmp.items() if "GPSLatitude" in key) is (not public)
        assert np.array_equal(np.asarray(open_picture(done.file)), np.asarray(open_picture(original)))
        data, copy = original.read_bytes(), done.file.read_bytes()
        assert copy.endswith(data[data.index(b"\xff\xda") :])
        assert bool(done.left_out) is public
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["F_1-private.jpg", "F_1-public.jpg"]


def test_a_file_that_is_there_is_not_written_over(picture: Archive, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "F_1-public.jpg").write_bytes(b"mine")
    with pytest.raises(CannotPrint, match="already"):
        picture.publishing.write("ford", "F_1.jpg", out=tmp_path / "out")
    assert (tmp_path / "out" / "F_1-public.jpg").read_bytes() == b"mine"


def test_a_place_that_cannot_be_written_is_named_and_nothing_is_left(picture: Archive, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("a file where a folder should be", "utf-8")
    with pytest.raises((CannotPrint, ArchiveUnwritable)) as caught:
        picture.publishing.write("ford", "F_1.jpg", out=tmp_path / "file" / "out")
    assert caught.value.next_step
    assert os.listdir(tmp_path / "card") == ["F_1.jpg"]


def test_a_final_file_with_a_broken_segment_or_of_another_kind_is_refused(picture: Archive, tmp_path: Path) -> None:
    whole = picture.frame_work.original("ford", "F_1.jpg").read_bytes()
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(whole[:2] + b"\xff\xe1\xff\xf0Exif\x00\x00" + whole[2:200])
    png = tmp_path / "final.png"
    Image.new("RGB", (10, 10)).save(png)
    for final, error in ((broken, PublishRefused), (png, SourceRefused), (tmp_path / "none.jpg", SourceRefused)):
        with pytest.raises(error) as caught:
            picture.publishing.write("ford", "F_1.jpg", final=final, out=tmp_path / "out")
        assert caught.value.next_step
    assert not (tmp_path / "out").exists()


def test_of_a_final_file_that_is_cut_short_no_copy_stays(picture: Archive, tmp_path: Path) -> None:
    whole = picture.frame_work.original("ford", "F_1.jpg").read_bytes()
    (tmp_path / "cut.jpg").write_bytes(whole[: len(whole) // 2])  # its metadata are whole, its picture is not
    with pytest.raises(SourceRefused, match="cut short"):
        picture.publishing.write("ford", "F_1.jpg", final=tmp_path / "cut.jpg", out=tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []


def test_a_frame_with_the_longest_name_a_disk_takes_goes_out(picture: Archive, tmp_path: Path) -> None:
    whole = picture.frame_work.original("ford", "F_1.jpg").read_bytes()
    place = tmp_path / "card" / f"{'渡' * 83}.jpg"  # 253 bytes
    place.write_bytes(whole + b"another file")
    (frame,) = picture.after.take("ford", place).added
    made = [
        picture.publishing.write("ford", frame.id, out=tmp_path / "out").file,
        picture.publishing.print_statement("ford", frame.id, out=tmp_path / "out").pdf,
    ]
    assert [one.name.lstrip("渡") for one in made] == ["-public.jpg", "-statement.pdf"]


def test_what_goes_out_has_a_name_that_every_disk_takes(picture: Archive, tmp_path: Path) -> None:
    place = tmp_path / "card" / '.a:b\n\u202e"?.jpg'
    place.write_bytes(picture.frame_work.original("ford", "F_1.jpg").read_bytes() + b"another file")
    (frame,) = picture.after.take("ford", place).added
    made = picture.publishing.write("ford", frame.id, out=tmp_path / "out").file
    assert made.name == "a_b____-public.jpg"


def test_a_finished_tiff_goes_out_too(picture: Archive, tmp_path: Path) -> None:
    final = tmp_path / "final.tif"
    Image.fromarray(np.random.default_rng(2).integers(0, 256, (60, 80, 3), dtype=np.uint8)).save(final)
    done = picture.publishing.write("ford", "F_1.jpg", final=final, out=tmp_path / "out")
    assert done.file.name == "final-public.tif"
    with pyexiv2.Image(str(done.file)) as image:
        assert image.read_xmp()["Xmp.dc.creator"] == ["A. Photographer (invented)"]
    assert np.array_equal(np.asarray(Image.open(done.file)), np.asarray(Image.open(final)))


def test_pages_hold_the_statement_the_words_and_what_they_rest_on(picture: Archive, tmp_path: Path) -> None:
    made = picture.publishing.print_pages("ford", "F_1.jpg", out=tmp_path)
    text = "\n".join(page.extract_text() for page in PdfReader(made.pdf).pages)
    assert "invented" in text
    assert "leads the cart" in text
    one = picture.publishing.print_statement("ford", "F_1.jpg", out=tmp_path)
    assert len(PdfReader(one.pdf).pages) == 1


def test_a_series_goes_out_as_files_and_a_manifest_that_a_library_reads(picture: Archive, tmp_path: Path) -> None:
    import json

    from iiif_prezi3 import Manifest

    with pytest.raises(BadQuery, match="no finished picture"):
        picture.publishing.write_series("", tmp_path / "none")
    picture.after.decide("ford", "F_1.jpg", "It is this one.")
    document = picture.publishing.write_series("", tmp_path / "iiif", base="https://example.org/water/")
    text = (tmp_path / "iiif" / "manifest.json").read_text("utf-8")
    assert json.loads(text) == document
    manifest = Manifest(**document)
    (canvas,) = manifest.items
    assert (canvas.width, canvas.height) == (300, 200)
    body = canvas.items[0].items[0].body
    assert str(body.id).startswith("https://example.org/water/pictures/")
    file = tmp_path / "iiif" / str(body.id).removeprefix("https://example.org/water/")
    with pyexiv2.Image(str(file)) as image:
        assert "Tom Unasked" not in str(image.read_xmp())
    with pytest.raises(CannotPrint):
        picture.publishing.write_series("", tmp_path / "iiif")
