"""The sample records: sheet and files agree, every scene plan reads, and the frames measure as the README says."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from refarchive.demo import shipped
from refarchive.frames.check import Line, check_frame
from refarchive.records import ids
from refarchive.records.files import open_picture
from refarchive.records.model import DEPARTMENTS, NewReference, Passage, Reference, Scene, Witness
from refarchive.records.rights import ZERO
from refarchive.records.store import Store
from refarchive.records.uses import standing
from refarchive.scenes.plan import Plan, read_plan
from refarchive.scenes.writing import write_plan
from refarchive.sources.passages import read_text_noticed, split
from refarchive.sources.sheet import SheetRow, apply, read_sheet

SAMPLES = shipped("sample_refs")
SHEET = SAMPLES / "references.csv"
SCENES = ("ferry-lamp", "first-light", "pilots-crossing")
PICTURES, TEXTS, OBJECTS = 24, 12, 2  # of the list the samples were made from


@cache
def rows() -> tuple[SheetRow, ...]:
    return read_sheet(SHEET).rows


def measured(frame: Path) -> np.ndarray:
    return np.asarray(open_picture(frame, longest=1600))  # the size at which frames are measured


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """Every row of the sheet in a real store, texts cut into passages; pictures by digest and name, not decoded."""
    new = []
    for row in rows():
        if row.path is None:
            blank = Reference(ids.object_id([row.identity]), "object", "", "")
            new.append(NewReference(apply(blank, row)))
            continue
        digest = hashlib.sha256(row.path.read_bytes()).hexdigest()
        one = ids.reference_id(digest)
        kind = "text" if row.file.startswith("texts/") else "image"
        reference = Reference(one, kind, "", row.file, sha256=digest, suffix=row.path.suffix)
        cut = split(read_text_noticed(row.path)[0]) if kind == "text" else []
        passages = tuple(Passage(ids.passage_id(one, n), one, n, *stretch) for n, stretch in enumerate(cut, start=1))
        new.append(NewReference(apply(reference, row), passages))
    with Store.create(tmp_path_factory.mktemp("samples"), who="tester") as made:
        made.add_references(new)
        yield made


def plan(store: Store, slug: str) -> Plan:
    return read_plan((SAMPLES / "scenes" / f"{slug}.toml").read_text(encoding="utf-8"), store)


# -- the sheet and the files --------


def test_the_sheet_reads_without_complaint() -> None:
    sheet = read_sheet(SHEET)
    assert sheet.problems == ()
    assert sheet.notices == ()
    assert len(sheet.rows) == PICTURES + TEXTS + OBJECTS


@pytest.mark.parametrize(("folder", "count"), [("pictures", PICTURES), ("texts", TEXTS)])
def test_the_sheet_names_every_file_and_no_other(folder: str, count: int) -> None:
    named = {row.file for row in rows() if row.file.startswith(f"{folder}/")}
    there = {path.relative_to(SAMPLES).as_posix() for path in (SAMPLES / folder).iterdir()}
    assert named == there
    assert len(there) == count


def test_provenance_is_complete_and_says_that_it_is_invented(store: Store) -> None:
    references = store.references()
    assert {r.title: r.missing for r in references if r.missing} == {}
    for r in references:
        assert r.source == "Invented for the refarchive demo"
        assert r.rights == "CC0 1.0 (https://creativecommons.org/publicdomain/zero/1.0/)"
        assert "invented" in r.creator.lower(), r.title
        assert "invented" in r.collection, r.title
        assert all((r.medium, r.dimensions, r.accession, r.credit, r.subjects, r.identifier)), r.title
        assert 20 <= len(r.description.split()) <= 40, r.title
        assert standing(r).uri == ZERO
    without = [r.title for r in references if standing(r).may_be_published != "yes, on this basis"]
    assert without == ["A cockle woman, coloured by hand"]  # left open on purpose: a gap to be seen
    assert len({r.identifier for r in references}) == len(references)
    assert {r.witness for r in references} == set(Witness) - {Witness.UNKNOWN}


@pytest.mark.parametrize("path", sorted((SAMPLES / "texts").iterdir()), ids=lambda path: path.name)
def test_texts_are_utf8_of_a_page_and_say_that_they_are_invented(path: Path) -> None:
    text, notice = read_text_noticed(path)
    assert notice == ""
    assert 150 <= len(text.split()) <= 500
    assert text.endswith("[Invented for the refarchive demo.]\n")


def test_texts_hold_the_letters_that_go_wrong() -> None:
    whole = "".join(path.read_text(encoding="utf-8") for path in (SAMPLES / "texts").iterdir())
    assert not [letter for letter in "ſ£—é½" if letter not in whole]


def pence(money: str) -> float:
    """Old money in pence: "£2 11s. 0d.", "3s. 9d.", "7½d."; 12 pence to the shilling, 20 shillings to the pound."""
    found = re.fullmatch(r"(?:£(\d+) ?)?(?:(\d+)s\. ?)?(?:(\d+)(½?)d\.)?", money)
    assert found is not None, money
    assert found[0], money
    pounds, shillings, whole = (int(found[n] or 0) for n in (1, 2, 3))
    return 240 * pounds + 12 * shillings + whole + (0.5 if found[4] else 0)


def test_the_inventory_adds_up() -> None:
    text = (SAMPLES / "texts" / "probate-inventory.txt").read_text(encoding="utf-8")
    valued, summed = text.split("Summa totalis")
    goods = [pence(m) for m in re.findall(r"— ((?:£\d+ )?\d+s\. \d+d\.)(?=[\s])", valued) if m != "8s. 3d."]
    assert len(goods) == 7
    total, rest = (pence(m) for m in re.findall(r"£\d+ \d+s\. \d+d\.", summed))
    assert sum(goods) == total
    assert rest == total - 11 * 9  # eleven crossings at ninepence
    assert pence("8s. 3d.") == 11 * 9


def test_the_buyer_paid_eighteen_pence_a_basket() -> None:
    text = (SAMPLES / "texts" / "buyers-tally.txt").read_text(encoding="utf-8")
    days = re.findall(r"^(Monday|Tuesday|Wednesday) .*$", text, re.MULTILINE)
    assert len(days) == 3
    for line in re.findall(r"^(?:Monday|Tuesday|Wednesday) .*$", text, re.MULTILINE):
        counts = re.findall(r"(?:Sarrow|Prewitt|Wendle|Cobley|Lodd) (nil|\d½?)", line)
        assert len(counts) == 5
        baskets = sum(0 if c == "nil" else int(c[0]) + (0.5 if c.endswith("½") else 0) for c in counts)
        assert pence(re.findall(r"— (\d+s\. \d+d\.)$", line)[0]) == 18 * baskets


# -- the scenes --------


def test_these_are_the_scenes() -> None:
    assert sorted(path.stem for path in (SAMPLES / "scenes").iterdir()) == list(SCENES)


@pytest.mark.parametrize("slug", SCENES)
def test_every_scene_reads_and_comes_back_as_written(store: Store, slug: str) -> None:
    read = plan(store, slug)
    scene = read.scene
    assert scene.slug == slug
    assert scene.key_reference
    assert 10 <= len(scene.needs) <= 16
    assert 3 <= len(scene.figures) <= 4
    assert {need.department for need in scene.needs} == set(DEPARTMENTS)
    assert 2 <= len([need for need in scene.needs if not need.evidence]) <= 3
    relations = Counter(e.relation for need in scene.needs for e in need.evidence)
    assert set(relations) == {"shows", "describes", "contradicts"}
    saved = store.save_scene(scene, details=read.details)
    again = read_plan(write_plan(saved, store), store)
    assert store.save_scene(again.scene, details=again.details).revision == saved.revision


def test_the_lantern_and_the_kerchief_of_first_light_are_needs(store: Store) -> None:
    scene = plan(store, "first-light").scene
    for word in ("lantern", "kerchief"):
        need = next(need for need in scene.needs if word in need.slug)
        assert {e.relation for e in need.evidence} == {"shows", "describes", "contradicts"}


def test_the_ferry_lamp_holds_the_contradiction_of_oil_and_gas(store: Store) -> None:
    need = plan(store, "ferry-lamp").scene.need("stage-lamp")
    assert need is not None
    passages = {p.id: p.text for p in store.passages()}
    witness = {r.id: r.witness for r in store.references()}
    against = [e for e in need.evidence if e.relation == "contradicts"]
    assert [witness[e.reference] for e in against] == [Witness.LATER]
    assert "gas lamp" in passages[against[0].passage or ""]
    assert any("OIL LAMP" in passages[e.passage] for e in need.evidence if e.passage and e.relation == "describes")


# -- the frames --------


def intent_lines(store: Store, slug: str, frame: str) -> dict[str, Line]:
    scene: Scene = plan(store, slug).scene
    lines = check_frame(
        frame_picture=measured(SAMPLES / "frames" / frame),
        intent=replace(scene.intent, like=()),
        needs=(),
        notes=(),
        references=(),
    )
    return {line.measure: line for line in lines}


@pytest.mark.parametrize(
    ("frame", "outside"),
    [
        ("first-light-01.jpg", set()),
        ("first-light-02.jpg", {"key"}),
        ("first-light-03.jpg", {"palette"}),
        ("first-light-04.jpg", set()),
        ("pilots-crossing-01.jpg", set()),
    ],
)
def test_frames_fail_where_they_were_made_to(store: Store, frame: str, outside: set[str]) -> None:
    found = intent_lines(store, frame.rpartition("-")[0], frame)
    assert set(found) >= {"palette", "key", "contrast"}
    wrong = {measure for measure, line in found.items() if line.verdict == "outside"}
    assert wrong >= outside
    if frame != "first-light-02.jpg":  # a frame that is too bright has other colours and contrast as well
        assert wrong == outside


def told_in_readme() -> dict[str, tuple[float, ...]]:
    text = (SAMPLES / "README.md").read_text(encoding="utf-8")
    table = re.findall(r"^\| `frames/([\w.-]+)` \|[^|]*\| ([\d.]+) \| ([\d.]+) \| ([\d.]+) \|", text, re.MULTILINE)
    return {name: tuple(map(float, figures)) for name, *figures in table}


def test_the_readme_tells_of_every_frame() -> None:
    assert sorted(told_in_readme()) == sorted(path.name for path in (SAMPLES / "frames").glob("*.jpg"))


@pytest.mark.parametrize("frame", sorted((SAMPLES / "frames").glob("*.jpg")), ids=lambda path: path.name)
def test_the_readme_tells_what_is_measured(store: Store, frame: Path) -> None:
    lines = intent_lines(store, frame.name.rpartition("-")[0], frame.name)
    figures = (lines["key"].frame, lines["contrast"].frame, lines["palette"].difference)
    assert told_in_readme()[frame.name] == pytest.approx(figures, abs=0.25)  # decoders differ a little
