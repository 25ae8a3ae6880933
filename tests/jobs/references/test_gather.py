"""Gathering end to end: what is taken, what is refused and why, and that nothing is lost or half-written."""

from __future__ import annotations

import os
import struct
import threading
import zlib
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy
import tifffile
from drawn import draw
from PIL import Image
from tiny_encoder import TinyEncoder

import refarchive
from refarchive.archive import Archive
from refarchive.encoders import base
from refarchive.errors import ArchiveInTheWay, ArchiveMissing, EncoderMismatch, SheetRefused, UnknownEncoder
from refarchive.jobs.references import gather as gathering
from refarchive.jobs.references import index
from refarchive.records import files
from refarchive.records.model import NewReference
from refarchive.records.store import Store


def refused(report) -> dict[str, str]:
    return {one["source"]: one["problem"] for one in report.refused}


def huge_png(path: Path) -> None:
    """A PNG whose header says 60,000 × 60,000 pixels, with valid checksums and next to no data."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = chunk(b"IHDR", struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0))
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", zlib.compress(b"\0" * 64)) + chunk(b"IEND", b""))


def test_a_folder_is_taken_once(archive: Archive, folder: Path) -> None:
    report = archive.gather(folder)
    assert (report.added, report.unchanged, report.refused) == (7, 0, [])
    assert {r.source_name for r in archive.references()} == {
        "a.jpg", "b.png", "deep/c.tif", "deep/d.webp", "e.gif", "letter.txt", "diary.md",
    }  # fmt: skip
    for reference in archive.references():
        original = archive.folder / "originals" / reference.sha256[:2] / f"{reference.sha256}{reference.suffix}"
        assert original.read_bytes() == (folder / reference.source_name).read_bytes()
        if reference.kind == "image":
            assert archive.preview(reference.id).is_file()
    again = archive.gather(folder)
    assert (again.added, again.unchanged) == (0, 7)


def test_an_unchanged_folder_is_not_opened(archive: Archive, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "broken.jpg").write_bytes(b"\xff\xd8\xff nothing")
    archive.gather(folder)

    def opened(*_: object, **__: object) -> None:
        raise AssertionError("a file was opened")

    for module, name in [(gathering, "hash_of"), (gathering, "open_picture"), (gathering, "sniff"), (files, "sniff")]:
        monkeypatch.setattr(module, name, opened)
    monkeypatch.setattr(Image, "open", opened)
    again = archive.gather(folder)
    assert (again.added, again.unchanged) == (0, 7)
    assert list(refused(again)) == ["broken.jpg"]


def test_a_changed_file_is_a_new_reference(archive: Archive, folder: Path) -> None:
    archive.gather(folder)
    draw(folder / "a.jpg", 99)
    assert archive.gather(folder).added == 1
    assert len(archive) == 8


def test_exact_duplicates_are_noticed(archive: Archive, folder: Path) -> None:
    (folder / "z copy of a.jpg").write_bytes((folder / "a.jpg").read_bytes())
    report = archive.gather(folder)
    assert report.added == 7
    assert [d["source"] for d in report.duplicates] == ["z copy of a.jpg"]
    assert report.duplicates[0]["reference"] == archive.reference("a.jpg").id


def test_bad_files_are_refused_one_by_one(archive: Archive, folder: Path) -> None:
    whole = (folder / "a.jpg").read_bytes()
    (folder / "cut.jpg").write_bytes(whole[: len(whole) // 2])
    (folder / "empty.png").write_bytes(b"")
    (folder / "nul.txt").write_bytes(b"one\0two")
    (folder / "thing.exe").write_bytes(b"MZ....")
    huge_png(folder / "huge.png")
    outside = folder.parent / "outside.jpg"
    draw(outside, 7)
    (folder / "link.jpg").symlink_to(outside)
    os.mkfifo(folder / "pipe.jpg")
    report = archive.gather(folder)
    assert report.added == 7
    problems = refused(report)
    assert set(problems) == {"cut.jpg", "empty.png", "nul.txt", "thing.exe", "huge.png", "link.jpg", "pipe.jpg"}
    assert "60,000 × 60,000" in problems["huge.png"]
    assert "leads out of the folder" in problems["link.jpg"]
    assert all(one["next_step"] for one in report.refused)
    assert len(list((archive.folder / "originals").rglob("*.*"))) == 7


def test_unusual_files_are_taken(archive: Archive, tmp_path: Path) -> None:
    place = tmp_path / "odd"
    draw(place / "evil\n\"'\u202egnp.jpg", 1)
    frames = [Image.fromarray(np.full((20, 20, 3), value, np.uint8)) for value in (250, 10)]
    frames[0].save(place / "moving.gif", save_all=True, append_images=frames[1:])
    Image.fromarray(np.full((20, 20, 4), 90, np.uint8), "CMYK").save(place / "press.jpg")
    tifffile.imwrite(place / "deep.tif", np.full((20, 30, 3), 0x8000, np.uint16))
    (place / "latin.txt").write_bytes("Caf\xe9 on the quay, \xa35".encode("latin-1"))
    (place / "line.txt").write_text("word " * 2_000_000, encoding="utf-8")
    report = archive.gather(place)
    assert refused(report) == {}
    assert report.added == 6
    assert np.asarray(archive.picture("moving.gif")).mean() > 240  # the first frame
    assert abs(int(np.asarray(archive.picture("deep.tif"))[0, 0, 0]) - 128) <= 1
    assert "Café on the quay, £5" in archive.passages("latin.txt")[0].text
    named = next(r for r in archive.references() if "evil" in r.source_name)
    assert "\n" not in named.title
    assert "\u202e" not in named.title
    originals = [p.name for p in (archive.folder / "originals").rglob("*") if p.is_file()]
    assert not [name for name in originals if "evil" in name]


def test_interrupted_and_run_again_it_ends_the_same(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(40):
        draw(folder / f"more/{number:02d}.png", 100 + number)
    with refarchive.create(tmp_path / "broken", "tiny") as archive:
        for stop_at in (3, 11, 20, 37):

            def stop(done: int, total: int, name: str, at: int = stop_at) -> None:
                if done == at:
                    raise KeyboardInterrupt

            with pytest.raises(KeyboardInterrupt):
                archive.gather(folder, progress=stop)
        archive.gather(folder)
        broken = {r.id for r in archive.references()}
        keys = sorted(archive._kit.likeness.keys())
    with refarchive.create(tmp_path / "whole", "tiny") as archive:
        archive.gather(folder)
        assert broken == {r.id for r in archive.references()}
        assert keys == sorted(archive._kit.likeness.keys())
    assert len(broken) == 47


def test_a_batch_is_encoded_while_the_next_is_stored(
    archive: Archive, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    second = threading.Event()
    stored = []
    seen: list[bool] = []
    encode = TinyEncoder.encode_pictures
    add = Store.add_references

    def waiting(self: TinyEncoder, pictures: Sequence[Image.Image]) -> base.PictureCodes:
        if not seen:
            seen.append(second.wait(60))
        return encode(self, pictures)

    def adding(self: Store, new: Sequence[NewReference]) -> None:
        add(self, new)
        stored.append(len(new))
        if len(stored) == 2:
            second.set()

    monkeypatch.setattr(TinyEncoder, "encode_pictures", waiting)
    monkeypatch.setattr(Store, "add_references", adding)
    for number in range(3 * gathering.BATCH):
        draw(folder / f"more/{number:02d}.png", 100 + number)
    assert archive.gather(folder).added == 7 + 3 * gathering.BATCH
    assert seen == [True]
    assert index.level(archive._kit)


def test_what_an_encoder_failed_at_is_stored_and_encoded_the_next_time(
    archive: Archive, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(2 * gathering.BATCH):
        draw(folder / f"more/{number:02d}.png", 100 + number)
    with monkeypatch.context() as broken:

        def failing(self: TinyEncoder, pictures: Sequence[Image.Image]) -> base.PictureCodes:
            raise MemoryError

        broken.setattr(TinyEncoder, "encode_pictures", failing)
        with pytest.raises(MemoryError):
            archive.gather(folder)
    kept = len(archive)
    assert kept >= gathering.BATCH
    again = archive.gather(folder)
    assert (again.added, again.unchanged) == (7 + 2 * gathering.BATCH - kept, kept)
    assert index.level(archive._kit)


def test_an_unchanged_sheet_asks_the_database_once_for_all_its_files(archive: Archive, folder: Path) -> None:
    asked: list[str] = []
    sqlalchemy.event.listen(
        archive._kit.store._engine, "before_cursor_execute", lambda _c, _k, words, *_: asked.append(words)
    )
    counts = []
    for many in (3, 30):
        place = folder / f"of {many}"
        for number in range(many):
            draw(place / f"{number:02d}.png", 1000 * many + number)
        lines = "".join(f"{number:02d}.png,Cart {number}\n" for number in range(many))
        (place / "sheet.csv").write_text(f"file,title\n{lines}", "utf-8")
        assert archive.gather(sheet=place / "sheet.csv").added == many
        asked.clear()
        again = archive.gather(sheet=place / "sheet.csv")
        assert (again.unchanged, again.revised) == (many, 0)
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_two_places_that_a_sheet_speaks_of_are_one_reference(archive: Archive, folder: Path) -> None:
    (folder / "copy.jpg").write_bytes((folder / "a.jpg").read_bytes())
    sheet = folder / "sheet.csv"
    sheet.write_text("file,title,creator\na.jpg,Cart,Anon.\ncopy.jpg,,\n", "utf-8")
    archive.gather(folder, sheet=sheet)
    sheet.write_text("file,title,creator\na.jpg,Waggon,\ncopy.jpg,Cart,Nobody\n", "utf-8")
    assert archive.gather(folder, sheet=sheet).revised == 2  # what is said last stands
    reference = archive.reference("a.jpg")
    assert (reference.title, reference.creator) == ("Cart", "Nobody")


SHEET = """file,dc:title,Creator,dcterms:created,source,rights,dc:description,witness,shoe size
a.jpg,Cart at the ford,Unknown,1869~,Invented,CC0,A loaded cart,hand-made image from life,41
b.png,<script>alert(1)</script>,=1+1,about 1871,,,,,
missing.jpg,Gone,,,,,,,
../outside.jpg,Out,,,,,,,
b.png,Twice,,,,,,,
e.gif,Bad date,,11/12/1871,,,,,
,A staff of ash,,1870,Invented,CC0,Object without a file,surviving object,
"""


def test_a_sheet_fills_in_what_is_known(archive: Archive, folder: Path) -> None:
    draw(folder.parent / "outside.jpg", 5)
    (folder / "sheet.csv").write_text(SHEET, encoding="utf-8")
    report = archive.gather(sheet=folder / "sheet.csv")
    cart = archive.reference("a.jpg")
    assert (cart.title, cart.when.edtf, cart.witness) == ("Cart at the ford", "1869~", "hand-made image from life")
    hostile = archive.reference("b.png")
    assert (hostile.title, hostile.creator) == ("<script>alert(1)</script>", "=1+1")
    assert archive.reference("e.gif").when is None
    assert [r.title for r in archive.references() if r.kind == "object"] == ["A staff of ash"]
    problems = " ".join(one["problem"] for one in report.refused)
    for words in ("missing.jpg", "leads out of the sheet's folder", "11/12/1871"):
        assert words in problems
    assert any("shoe size" in notice for notice in report.notices)
    assert report.added == 4
    again = archive.gather(sheet=folder / "sheet.csv")
    assert (again.added, again.unchanged, again.revised) == (0, 4, 0)


def test_a_changed_sheet_revises_and_is_told_in_the_history(archive: Archive, folder: Path) -> None:
    sheet = folder / "sheet.csv"
    sheet.write_text("file,title\na.jpg,First\n", encoding="utf-8")
    archive.gather(sheet=sheet)
    sheet.write_text("file,title\na.jpg,Second\n", encoding="utf-8")
    assert archive.gather(sheet=sheet).revised == 1
    reference = archive.reference("a.jpg")
    change = archive.history(f"reference:{reference.id}")[0]
    assert (change.who, change.action, change.before, change.after) == (
        "tester", "changed", {"title": "First"}, {"title": "Second"},
    )  # fmt: skip
    assert archive.find("Second", top=1).hits[0].reference.id == reference.id


def test_a_sheet_that_is_none_gathers_nothing(archive: Archive, folder: Path) -> None:
    (folder / "no.csv").write_bytes(b"\0\0\0\0")
    with pytest.raises(SheetRefused):
        archive.gather(folder, sheet=folder / "no.csv")
    assert len(archive) == 0


def test_opening_and_making(tmp_path: Path) -> None:
    with pytest.raises(ArchiveMissing):
        refarchive.open(tmp_path / "nowhere")
    with pytest.raises(UnknownEncoder):
        refarchive.create(tmp_path / "new", "magic")
    assert not (tmp_path / "new").exists()
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("keep")
    with pytest.raises(ArchiveInTheWay):
        refarchive.create(tmp_path / "full")
    assert (tmp_path / "full" / "mine.txt").read_text() == "keep"


def test_another_encoder_is_refused_until_reencoded(archive: Archive, folder: Path) -> None:
    archive.gather(folder)
    archive._kit.store.set_setting("encoder", {"name": "tiny:other", "why": ""})
    with refarchive.open(archive.folder) as other:
        with pytest.raises(EncoderMismatch, match="reencode"):
            other.find("anything")
        done = other.reencode("tiny:other")
        assert done["pictures"] == 5
        assert other.find("anything").hits


def test_a_failed_reencode_changes_nothing(archive: Archive, folder: Path) -> None:
    archive.gather(folder)
    with pytest.raises(UnknownEncoder):
        archive.reencode("magic")
    assert archive.encoder_name == "tiny"
    assert archive.find("anything").hits


def test_verify_sees_damage_and_mends_caches(archive: Archive, folder: Path) -> None:
    archive.gather(folder)
    assert archive.verify().problems == []
    reference = archive.reference("a.jpg")
    original = archive._kit.files.original(reference.sha256, reference.suffix)
    archive._kit.files.preview(archive.reference("b.png").sha256).unlink()
    (archive.folder / "vectors" / "captions" / "head.json").write_text("{")
    os.chmod(original, 0o644)
    original.write_bytes(b"x" + original.read_bytes()[1:])
    with refarchive.open(archive.folder) as again:
        problems = " ".join(again.verify().problems)
        assert "is damaged" in problems
        assert "preview" in problems
        assert "captions" in problems
        mended = again.verify(repair=True)
        assert mended.previews_made == 1
        assert [p for p in mended.problems if "damaged" not in p] == []
    with refarchive.open(archive.folder) as again:
        assert len(again.verify().problems) == 1  # the original stays damaged, and is named


def test_what_a_file_tells_keeps_its_origin_until_a_person_says_otherwise(archive: Archive, tmp_path: Path) -> None:
    folder = tmp_path / "told"
    made = Image.Exif()
    made[0x013B] = "Scanning Dept."
    made.get_ifd(0x8769)[0x9004] = "2019:05:06 07:08:09"
    draw(folder / "x.jpg", 3)
    Image.open(folder / "x.jpg").save(folder / "x.jpg", exif=made)
    archive.gather(folder)
    found = archive.reference("x.jpg")
    assert (found.creator, found.digitised, found.when) == ("Scanning Dept.", "2019-05-06", None)
    assert found.origins == (("creator", "EXIF Artist"), ("digitised", "EXIF DateTimeDigitized"))
    sheet = folder / "sheet.csv"
    sheet.write_text("file,creator\nx.jpg,Mrs. Garrow\n", "utf-8")
    archive.gather(sheet=sheet)
    after = archive.reference("x.jpg")
    assert (after.creator, after.origins) == ("Mrs. Garrow", (("digitised", "EXIF DateTimeDigitized"),))
    assert archive.gather(sheet=sheet).revised == 0


def test_what_a_sheet_says_of_a_copy_is_taken_at_once_and_not_when_it_is_gathered_again(
    archive: Archive, tmp_path: Path
) -> None:
    scans = tmp_path / "scans"
    draw(scans / "a copy.png", 1)
    (scans / "b.png").write_bytes((scans / "a copy.png").read_bytes())
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("file,title\nscans/b.png,The pilot's lamp\n", "utf-8")
    assert len(archive.gather(scans, sheet=sheet).duplicates) == 1
    (kept,) = archive.references()
    assert (kept.source_name, kept.title) == ("a copy.png", "The pilot's lamp")
    told = len(archive.history())
    again = archive.gather(scans, sheet=sheet)
    assert (again.added, again.revised, len(archive.history())) == (0, 0, told)
