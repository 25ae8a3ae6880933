"""The demo as a new user runs it, run twice, and a scene made and changed in Python."""

from __future__ import annotations

import csv
import json
import math
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

import refarchive
from refarchive.archive import Archive
from refarchive.demo import copy_notebooks, run_demo, shipped
from refarchive.errors import ArchiveInTheWay, PlanRefused
from refarchive.records.model import Evidence, Intent, Need, PaletteColour, Scene, Variation


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict]:
    """The demo by its command, in a process of its own."""
    place = tmp_path_factory.mktemp("demo") / "here"
    command = [sys.executable, "-m", "refarchive", "demo", str(place), "--json"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=600, check=False)
    assert done.returncode == 0, done.stderr
    return place, json.loads(done.stdout)


def test_the_demo_leaves_what_it_says(demo: tuple[Path, dict]) -> None:
    place, told = demo
    assert told["gather"]["added"] == 38
    assert told["gather"]["refused"] == []
    assert Path(told["dossier"]["pdf"]).read_bytes().startswith(b"%PDF")
    for page in (told["find"]["html"], told["dossier"]["html"], told["check"][0]["report"]):
        text = Path(page).read_text(encoding="utf-8")
        assert text.lstrip().lower().startswith("<!doctype html>")
        assert "<script" not in text
    printed = subprocess.run(["pdftotext", told["dossier"]["pdf"], "-"], capture_output=True, text=True, check=True)
    assert "What this rests on" in printed.stdout
    assert "It stands on T. 9 alone" in " ".join(printed.stdout.split())
    hits = json.loads(Path(told["find"]["json"]).read_text(encoding="utf-8"))["hits"]
    assert hits[0]["source_name"].endswith("dawn-gatherers.jpg")  # the picture that the question describes
    with refarchive.open(place / "archive") as archive:
        assert archive.verify().problems == []


def test_what_came_after_the_shoot_is_there_and_an_independent_reader_shows_the_final_file(demo) -> None:
    told = demo[1]
    files = {name.strip(): Path(path) for name, path in told["after"]["files"].items()}
    for name in ("Index of frames", "The wall, to scale", "The series", "caption and note", "Work print"):
        assert files[name].read_bytes().startswith(b"%PDF"), name
    shown = subprocess.run(
        ["exiftool", "-json", "-G1", str(files["Final file"])], capture_output=True, text=True, check=True
    )
    (tags,) = json.loads(shown.stdout)
    assert tags["XMP-dc:Title"] == "First light on the sands"
    assert tags["XMP-photoshop:DateCreated"] == "2025:02:23"
    assert "barefoot women" in tags["XMP-iptcCore:AltTextAccessibility"]
    assert "Una Wray" in str(tags["XMP-iptcExt:PersonInImage"])
    assert "Dora Kell" not in shown.stdout  # her release is only asked for
    assert "GPS" not in shown.stdout
    assert any("Person" in one for one in told["after"]["left_out"])


def test_the_frames_lie_and_blur_as_they_were_drawn(demo: tuple[Path, dict]) -> None:
    with (shipped("sample_refs") / "frames" / "shoot" / "known.csv").open(encoding="utf-8", newline="") as file:
        known = {row["frame"]: row for row in csv.DictReader(file)}
    with refarchive.open(demo[0] / "archive") as archive:
        shoots = {scene.slug: archive.after.shoot(scene.slug) for scene in archive.scenes()}
    frames = {one["name"]: one for shoot in shoots.values() for one in shoot["frames"] if one["name"] in known}
    assert len(frames) == len(known) == 25
    told = [name for name, one in frames.items() if one["look"].get("lay", {}).get("told")]
    assert len(told) >= 20
    for name in told:
        lay, row = frames[name]["look"]["lay"], known[name]
        off = math.hypot(lay["right_px"] - float(row["shift_x_px"]), lay["down_px"] - float(row["shift_y_px"]))
        assert off < (1.2 if float(row["blur_sigma_px"]) else 0.6), name
    soft = [name for name, one in frames.items() if one["look"].get("soft", {}).get("words")]
    blurred = {name for name, row in known.items() if float(row["blur_sigma_px"])}
    assert blurred <= set(soft)
    for slug, shoot in shoots.items():
        found = [[n for one in g["frames"] if (n := _name(shoot, one)) in known] for g in shoot["groups"]]
        drawn = [[n for n, r in known.items() if r["scene"] == slug and r["group"] == str(g)] for g in range(1, 5)]
        assert [own for own in found if own] == drawn


def _name(shoot: dict, frame: str) -> str:
    return next(one["name"] for one in shoot["frames"] if one["id"] == frame)


def test_the_month_of_sittings_says_what_was_built_into_it_and_no_more(demo: tuple[Path, dict]) -> None:
    standing = demo[1]["after"]["standing"]
    assert standing["counted"]["ahead"] >= 5
    assert standing["counted"]["not separated"] > standing["counted"]["ahead"]  # a month is not long
    with refarchive.open(demo[0] / "archive") as archive:
        gesture = archive.after.standing("first-light", "gesture")
        assert any("FL_0413.jpg over FL_0421.jpg" in one for one in gesture["cycles"])
        assert archive.after.sittings_told("first-light")
        assert archive.after.heard("first-light")


def test_the_frames_get_the_answers_they_were_drawn_for(demo: tuple[Path, dict]) -> None:
    words = {
        check["frame"]: {
            line["measure"]: line["verdict"]
            for line in check["lines"]
            if line["against"] == "intent" and line["measure"] in ("palette", "key", "contrast")
        }
        for check in demo[1]["check"]
    }
    within = {"palette": "within", "key": "within", "contrast": "within"}
    assert words["first-light-01.jpg"] == within
    assert words["first-light-02.jpg"]["key"] == "outside"
    assert words["first-light-03.jpg"] == {**within, "palette": "outside"}
    assert words["first-light-04.jpg"] == within  # that the lantern is missing only a person can say


def test_the_light_is_told_from_a_ball_and_not_where_it_was_drawn_to_fool(demo: tuple[Path, dict]) -> None:
    found = {
        check["frame"]: next(line for line in check["lines"] if line["measure"] == "light")
        for check in demo[1]["check"]
    }
    lit = found["first-light-ball.jpg"]
    assert (lit["verdict"], lit["target"]) == ("within", 170)
    assert abs(lit["frame"] - 170) < 3  # as drawn
    fooled = found["first-light-fooled.jpg"]
    assert (fooled["verdict"], fooled["frame"]) == ("cannot tell", None)
    assert "Mark one rounded thing" in found["first-light-01.jpg"]["note"]


def test_what_is_outside_says_what_would_bring_it_within(demo: tuple[Path, dict]) -> None:
    bright = next(check for check in demo[1]["check"] if check["frame"] == "first-light-02.jpg")
    remedies = {line["measure"]: line["remedy"] for line in bright["lines"] if line["against"] == "intent"}
    assert "−1.9 stops over the whole" in remedies["key"]
    assert "measured again" in remedies["palette"]


def test_the_scene_has_gaps_a_contradiction_and_a_family_counted_once(demo: tuple[Path, dict]) -> None:
    with refarchive.open(demo[0] / "archive") as archive:
        needs = {n["need"]: n for n in archive.evidence.coverage("first-light")["needs"]}
        gaps = {slug for slug, need in needs.items() if need["gap"]}
        assert gaps == {"all-warm-layer", "far-shore"}
        assert all(len(needs[slug]["nearest"]) == 3 for slug in gaps)
        assert any(need["contradicted_by"] for need in needs.values())
        kerchief = needs["agnes-kerchief"]
        assert kerchief["independent_witnesses"] == 4
        together = next(w["references"] for w in kerchief["witnesses"] if len(w["references"]) > 1)
        titles = {archive.reference(one).source_name.rpartition("/")[2] for one in together}
        assert titles == {"gatherer-portrait.jpg", "gatherer-portrait-coloured.jpg"}
        (portraits, engravings) = sorted(archive.evidence.families(), key=lambda f: -len(f.members))
        assert (len(portraits.members), len(engravings.members)) == (3, 2)
        archive.evidence.leave_family("gatherer-portrait-coloured.jpg")
        alone = {n["need"]: n for n in archive.evidence.coverage("first-light")["needs"]}["agnes-kerchief"]
        assert alone["independent_witnesses"] == 5
        archive.evidence.confirm_family(
            {"gatherer-portrait.jpg": "original", "gatherer-portrait-coloured.jpg": "recoloured"}
        )


def test_run_again_it_goes_on(demo: tuple[Path, dict]) -> None:
    again = run_demo(demo[0])
    assert (again["gather"]["added"], again["gather"]["unchanged"]) == (0, 38)


def test_a_folder_that_holds_something_else_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("keep")
    with pytest.raises(ArchiveInTheWay):
        run_demo(tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]


def test_notebooks_are_copied_and_never_overwritten(tmp_path: Path) -> None:
    first = copy_notebooks(tmp_path)
    assert [p.name for p in first] == [p.name for p in sorted(shipped("notebooks").glob("*.ipynb"))]
    first[0].write_text("mine")
    copy_notebooks(tmp_path)
    assert first[0].read_text() == "mine"


def test_a_scene_made_in_python(archive: Archive, folder: Path) -> None:
    archive.gather(folder)
    picture = archive.reference("a.jpg")
    detail = archive.mark("a.jpg", (0.1, 0.2, 0.3, 0.4), "the lamp")
    scene = Scene(
        slug="lamp",
        title="Lamp",
        event="They wait",
        story="One lamp.",
        intent=Intent(palette=(PaletteColour("#203040", 1.0),), key=30.0, like=(picture.id,)),
        variations=(Variation("Out", "The lamp is out"),),
        needs=(Need("lamp", "Lamp", "props", evidence=(Evidence(picture.id, "shows", detail.id, note="the lamp"),)),),
    )
    saved = archive.save_scene(scene)
    assert saved.revision == 1
    assert replace(saved, revision=0, saved_at="") == scene
    assert archive.save_scene(saved).revision == 1
    changed = archive.save_scene(replace(saved, story="Two lamps."))
    assert (changed.revision, archive.scene("lamp").story) == (2, "Two lamps.")
    assert 'story = "Two lamps."' in archive.plan_text("lamp")
    with pytest.raises(PlanRefused):
        archive.save_scene(replace(saved, needs=(Need("lamp", "Lamp", "costume"),)))
    assert archive.scene("lamp").revision == 2
