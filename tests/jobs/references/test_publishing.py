"""Pictures made ready for publication: nothing without a basis, everything with its credit, all or nothing."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from drawn import draw
from PIL import Image, ImageCms

import refarchive
from refarchive.archive import Archive
from refarchive.errors import CannotPrint, RightsRefused, SourceRefused, UnknownRecord
from refarchive.jobs.references import press
from refarchive.records.model import Evidence, Need, Reference, Scene
from refarchive.records.uses import CAUTION

CREDIT = "© The Keeper’s Room – “Gift of N.” (no. 3)"
GROUND = {"rights": "CC BY 4.0", "basis": "its licence", "evidence": "the keeper's page, read 3 May", "credit": CREDIT}


@pytest.fixture
def gathered(archive: Archive, folder: Path) -> Archive:
    archive.gather(folder)
    return archive


@pytest.fixture
def grounded(gathered: Archive) -> Archive:
    gathered.exchange.set_rights([r.id for r in gathered.references() if r.kind == "image"], **GROUND)
    return gathered


def tree(folder: Path) -> set[str]:
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}


def rows(folder: Path) -> list[dict[str, str]]:
    with (folder / "captions.csv").open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


# --- what is written ------------------------------------------------------------------------------------------------


def test_pictures_go_out_at_full_size_with_their_credits(grounded: Archive, tmp_path: Path) -> None:
    done = grounded.exchange.publish_references(["a.jpg", "b.png", "c.tif"], tmp_path / "out")
    assert tree(done.folder) == {
        "pictures/01-a.jpg",
        "pictures/02-b.png",
        "pictures/03-c.png",
        "captions.csv",
        "captions.txt",
    }
    for row, name in zip(rows(done.folder), ("a.jpg", "b.png", "c.tif"), strict=True):
        assert row["credit_line"] == CREDIT
        assert row["rights_uri"] == "http://creativecommons.org/licenses/by/4.0/"
        assert row["rights"] == "CC BY 4.0"
        assert (row["basis"], row["basis_evidence"]) == (GROUND["basis"], GROUND["evidence"])
        assert "the credit line and the licence named beside it" in row["conditions"]
        with Image.open(done.folder / row["file"]) as copy:
            assert copy.size == (160, 120)
            apart = np.abs(np.asarray(copy, int) - np.asarray(grounded.picture(name, None), int))
            assert apart.max() == 0 if row["file"].endswith(".png") else apart.mean() < 2
    words = (done.folder / "captions.txt").read_text("utf-8")
    assert words.startswith(CAUTION)
    assert words.count(f"Credit line: {CREDIT}\n") == 3
    assert set(done.as_dict()["pictures"][0]) == {"reference", "file"}
    assert len(done.conditions) == 3


def test_the_cautions_of_a_medium_go_out_with_the_picture(grounded: Archive, tmp_path: Path) -> None:
    grounded.describe("a.jpg", medium="Daguerreotype", witness="photograph from life", date="1850")
    done = grounded.exchange.publish_references(["a.jpg", "b.png"], tmp_path / "out")
    photograph, other = rows(done.folder)
    assert "No colour and no values from it" in photograph["cautions"]
    assert "mirrored" in photograph["cautions"]
    assert other["cautions"] == ""
    assert (done.folder / "captions.txt").read_text("utf-8").count("Caution: ") == 2


def test_copies_say_that_they_are_srgb_and_nothing_else(archive: Archive, tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x010E], exif[0x013B], exif[0x0112] = "a secret place", "somebody", 6
    for name in ("shot.jpg", "shot.png"):
        draw(tmp_path / "scans" / f"plain-{name}", 3)
        with Image.open(tmp_path / "scans" / f"plain-{name}") as plain:
            plain.save(tmp_path / "scans" / name, exif=exif)
        (tmp_path / "scans" / f"plain-{name}").unlink()
    archive.gather(tmp_path / "scans")
    archive.exchange.set_rights([r.id for r in archive.references()], **GROUND)
    done = archive.exchange.publish_references([r.id for r in archive.references()], tmp_path / "out")
    for path in done.pictures.values():
        assert b"secret" not in path.read_bytes()
        with Image.open(path) as copy:
            assert copy.size == (120, 160)  # upright
            assert not dict(copy.getexif())
            profile = ImageCms.ImageCmsProfile(BytesIO(copy.info["icc_profile"]))
            assert "sRGB" in ImageCms.getProfileDescription(profile)


def test_a_scene_goes_out_in_the_order_of_its_dossier(grounded: Archive, tmp_path: Path) -> None:
    ids = {name: grounded.reference(name).id for name in ("b.png", "a.jpg", "letter.txt")}
    needs = tuple(Need(f"n{i}", "N", "props", evidence=(Evidence(one, "shows"),)) for i, one in enumerate(ids.values()))
    grounded.save_scene(Scene("lamp", "Lamp", "They wait", "One lamp.", needs=needs))
    done = grounded.exchange.publish_references("lamp", tmp_path / "out")
    assert list(done.pictures) == [ids["b.png"], ids["a.jpg"]]
    assert done.no_picture == (ids["letter.txt"],)
    with pytest.raises(UnknownRecord):
        grounded.exchange.publish_references("no-such", tmp_path / "other")


def test_an_empty_folder_is_taken_and_named_once(grounded: Archive, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    done = grounded.exchange.publish_references(["a.jpg", "a.jpg"], tmp_path / "out")
    assert len(done.pictures) == 1
    assert (tmp_path / "out").stat().st_mode & 0o777 == 0o755


# --- what is refused ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "lacks"),
    [
        ({"basis": ""}, ("a basis",)),
        ({"evidence": ""}, ("evidence of the basis",)),
        ({"credit": ""}, ("a credit line",)),
        ({"evidence": " ", "credit": " "}, ("evidence of the basis", "a credit line")),
        ({"rights": "CC0", "basis": ""}, ("a basis",)),
    ],
)
def test_what_lacks_something_is_refused_by_name(
    grounded: Archive, tmp_path: Path, changes: dict[str, str], lacks: tuple[str, ...]
) -> None:
    one = grounded.exchange.set_rights(["b.png"], **changes)[0]
    with pytest.raises(RightsRefused) as refused:
        grounded.exchange.publish_references(["a.jpg", "b.png"], tmp_path / "out")
    assert refused.value.lacking == {one.id: lacks}
    assert refused.value.records == (one.id,)
    assert f"({one.id}) lacks {' and '.join(lacks)}" in refused.value.problem
    assert "refarchive rights" in refused.value.next_step
    assert not (tmp_path / "out").exists()


def test_left_out_is_said(grounded: Archive, tmp_path: Path) -> None:
    bare = grounded.exchange.set_rights(["b.png"], basis="")[0]
    done = grounded.exchange.publish_references(["a.jpg", "b.png"], tmp_path / "out", leave_out=True)
    assert done.left_out == {bare.id: ("a basis",)}
    said = (done.folder / "left-out.txt").read_text("utf-8")
    assert said.startswith("1 of 2 pictures were left out")
    assert bare.id in said
    assert "lacks a basis" in said
    assert bare.id not in (done.folder / "captions.txt").read_text("utf-8")
    assert len(tree(done.folder)) == 4


@pytest.mark.parametrize("leave_out", [False, True])
def test_nothing_with_a_basis_is_nothing_to_publish(gathered: Archive, tmp_path: Path, leave_out: bool) -> None:
    names = [r.id for r in gathered.references() if r.kind == "image"]
    for what in (names, ["letter.txt"], []):
        with pytest.raises(RightsRefused):
            gathered.exchange.publish_references(what, tmp_path / "out", leave_out=leave_out)
    assert not (tmp_path / "out").exists()


def test_a_refusal_of_many_names_some_and_holds_all(archive: Archive, tmp_path: Path) -> None:
    for number in range(12):
        draw(tmp_path / "scans" / f"{number}.png", number)
    archive.gather(tmp_path / "scans")
    with pytest.raises(RightsRefused) as refused:
        archive.exchange.publish_references([r.id for r in archive.references()], tmp_path / "out")
    assert len(refused.value.lacking) == 12
    assert refused.value.problem.count("lacks") == press.NAMED
    assert "and 4 more" in refused.value.problem


def test_a_damaged_original_stops_it_or_is_left_out(grounded: Archive, tmp_path: Path) -> None:
    broken = grounded.reference("b.png")
    original = grounded.folder / "originals" / broken.sha256[:2] / f"{broken.sha256[2:]}{broken.suffix}"
    if not original.exists():
        original = next(p for p in (grounded.folder / "originals").rglob(f"*{broken.suffix}"))
    original.chmod(0o644)
    original.write_bytes(original.read_bytes()[:200])
    with pytest.raises(SourceRefused):
        grounded.exchange.publish_references(["a.jpg", "b.png"], tmp_path / "out")
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith((".writing", "out"))] == []
    done = grounded.exchange.publish_references(["a.jpg", "b.png"], tmp_path / "out", leave_out=True)
    assert list(done.left_out) == [broken.id]
    assert "a sound original" in (done.folder / "left-out.txt").read_text("utf-8")


def test_a_folder_that_holds_something_is_left_alone(grounded: Archive, tmp_path: Path) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("keep")
    (tmp_path / "file").write_text("keep")
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "elsewhere")
    for out in (tmp_path / "full", tmp_path / "file", tmp_path / "link", grounded.folder / "previews" / "out"):
        with pytest.raises(CannotPrint):
            grounded.exchange.publish_references(["a.jpg"], out)
    assert tree(tmp_path / "full") == {"mine.txt"}
    assert list((tmp_path / "elsewhere").iterdir()) == []


def test_stopped_half_way_it_leaves_nothing(grounded: Archive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    saved: list[Path] = []

    def stop(picture: Image.Image, path: Path) -> None:
        if saved:
            raise OSError(28, "No space left on device")
        saved.append(path)
        picture.save(path)

    monkeypatch.setattr(press, "_save", stop)
    before = sorted(p.name for p in tmp_path.iterdir())
    with pytest.raises(CannotPrint, match="No space left"):
        grounded.exchange.publish_references(["a.jpg", "b.png"], tmp_path / "out")
    assert saved
    assert sorted(p.name for p in tmp_path.iterdir()) == before


# --- untrusted texts ------------------------------------------------------------------------------------------------


def test_titles_and_credits_do_no_harm(grounded: Archive, tmp_path: Path) -> None:
    grounded.describe("a.jpg", title="../../../etc/\u202epasswd\n=x")
    grounded.exchange.set_rights(["a.jpg"], credit='=HYPERLINK("x")')
    done = grounded.exchange.publish_references(["a.jpg"], tmp_path / "out")
    row = rows(done.folder)[0]
    assert row["credit_line"] == '\'=HYPERLINK("x")'  # kept from being a formula; captions.txt has it as given
    assert 'Credit line: =HYPERLINK("x")\n' in (done.folder / "captions.txt").read_text("utf-8")
    (picture,) = done.pictures.values()
    assert picture.parent == done.folder / "pictures"
    assert picture.name == "01-etc-passwd-x.jpg"
    assert "\u202e" not in (done.folder / "captions.txt").read_text("utf-8")


def test_a_title_without_plain_letters_still_names_a_file() -> None:
    assert press._slug(Reference("r", "image", "鯨", "")) == "picture"
    assert len(press._slug(Reference("r", "image", "long " * 100, ""))) <= 60


# --- recording, and the commands ------------------------------------------------------------------------------------


def test_rights_are_recorded_by_uri_and_words_as_they_are(gathered: Archive) -> None:
    set_rights = gathered.exchange.set_rights
    assert set_rights(["a.jpg"], rights="in copyright")[0].rights == "http://rightsstatements.org/vocab/InC/1.0/"
    assert set_rights(["a.jpg"], rights="ask Mrs Invented")[0].rights == "ask Mrs Invented"
    assert set_rights(["a.jpg"], basis="b")[0].rights == "ask Mrs Invented"
    assert set_rights(["a.jpg"], rights="")[0].rights == ""
    with pytest.raises(UnknownRecord):
        set_rights(["a.jpg", "no-such.jpg"], basis="changed")
    assert gathered.reference("a.jpg").basis == "b"


def test_lists_and_finds_carry_the_statement(grounded: Archive) -> None:
    hits = grounded.findings_document(grounded.find(kind="image", top=3))["hits"]
    for one in (*hits, grounded.summary(grounded.reference("a.jpg"))):
        assert one["rights"] == one["rights_statement"]["uri"] == "http://creativecommons.org/licenses/by/4.0/"
        assert one["rights_statement"]["credit_line"] == CREDIT
    letter = grounded.summary(grounded.reference("letter.txt"))
    assert letter["rights"] == ""
    assert letter["rights_statement"]["label"] == "Copyright Not Evaluated"
    assert letter["rights_statement"]["may_be_published"] == "no basis"


def command(*arguments: object) -> tuple[int, str, str]:
    told = [sys.executable, "-m", "refarchive", *map(str, arguments)]
    done = subprocess.run(told, capture_output=True, text=True, timeout=300, check=False)
    return done.returncode, done.stdout, done.stderr


def test_the_commands(tmp_path: Path, folder: Path) -> None:
    with refarchive.create(tmp_path / "archive", "built-in") as made:
        made.gather(folder / "a.jpg", folder / "b.png")
        ids = [r.id for r in made.references()]
        needs = (Need("lamp", "Lamp", "props", evidence=tuple(Evidence(one, "shows") for one in ids)),)
        made.save_scene(Scene("lamp", "Lamp", "They wait", "One lamp.", needs=needs))
    place, out = tmp_path / "archive", tmp_path / "out"

    code, told, _ = command("rights", place, "--json")
    assert code == 0
    shown: list[dict[str, Any]] = json.loads(told)["references"]
    assert [one["label"] for one in shown] == ["Copyright Not Evaluated"] * 2
    code, told, _ = command("rights", place)
    assert "Publication: no basis is recorded" in told
    assert CAUTION in told

    assert command("rights", place, "--basis", "x")[0] == 2
    code, told, error = command("press", place, "lamp", out)
    assert (code, told) == (1, "")
    assert all(one in error for one in ids)
    assert not out.exists()

    code, told, _ = command(
        "rights", place, "a.jpg", "--set", "CC BY-NC 4.0", "--basis", "its licence", "--evidence", "the page",
        "--credit", CREDIT, "--json",
    )  # fmt: skip
    assert code == 0
    assert json.loads(told)["references"][0]["uri"] == "http://creativecommons.org/licenses/by-nc/4.0/"
    code, told, _ = command("press", place, "lamp", out, "--leave-out", "--json")
    assert code == 0
    document = json.loads(told)
    assert len(document["pictures"]) == 1
    assert document["left_out"] == [{"reference": ids[1], "lacks": ["a basis"]}]
    assert "no commercial use" in document["conditions"][0]["only_with"]
