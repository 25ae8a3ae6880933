"""Families proposed over the sample pictures: once, resumably, as questions, and never against what a person said."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

import refarchive
from refarchive.archive import Archive
from refarchive.cli import cli
from refarchive.errors import RecordRefused, UnknownRecord
from refarchive.jobs.references import relating
from refarchive.jobs.references import signatures as keeping
from refarchive.jobs.references.relating import FamilyProposal, groups
from refarchive.looks import signatures as looking
from refarchive.records.model import Family, FamilyMember

SAMPLES = Path(__file__).parents[3] / "sample_refs"
PORTRAIT, COLOURED, MIRRORED = (f"pictures/gatherer-portrait{end}.jpg" for end in ("", "-coloured", "-mirrored"))
ENGRAVING, CROP = "pictures/gatherers-engraving.jpg", "pictures/gatherers-engraving-crop.jpg"
EXPECTED = {
    (PORTRAIT, MIRRORED): "mirrored",
    (PORTRAIT, COLOURED): "recoloured",
    (MIRRORED, COLOURED): "mirrored",
    (ENGRAVING, CROP): "crop of",
}


@pytest.fixture(scope="module")
def gathered(tmp_path_factory) -> Path:
    """The sample pictures in an archive that nobody has looked for copies in."""
    folder = tmp_path_factory.mktemp("gathered") / "archive"
    with refarchive.create(folder, "tiny", who="tester") as made:
        made.gather(sheet=SAMPLES / "references.csv")
    return folder


@pytest.fixture
def samples(gathered: Path, tmp_path: Path) -> Iterator[Archive]:
    shutil.copytree(gathered, tmp_path / "samples")
    with refarchive.open(tmp_path / "samples", who="tester") as made:
        yield made


@pytest.fixture(scope="module")
def looked_at(gathered: Path, tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("looked") / "archive"
    shutil.copytree(gathered, folder)
    with refarchive.open(folder) as archive:
        archive.evidence.propose_families()
    return folder


@pytest.fixture
def known(looked_at: Path, tmp_path: Path) -> Iterator[Archive]:
    """The samples, looked for copies in once."""
    shutil.copytree(looked_at, tmp_path / "known")
    with refarchive.open(tmp_path / "known", who="tester") as made:
        yield made


def named(archive: Archive, found) -> dict[tuple[str, str], str]:
    names = {r.id: r.source_name for r in archive.references()}
    return {(names[p.references[0]], names[p.references[1]]): p.kind for p in found}


def unordered(kinds: dict[tuple[str, str], str]) -> dict[frozenset[str], str]:
    return {frozenset(pair): kind for pair, kind in kinds.items()}


def cached(archive: Archive) -> list[Path]:
    return sorted((archive.folder / "vectors" / "signatures").glob("??/*.sig"))


def test_the_families_of_the_samples_are_proposed_and_nothing_else(samples: Archive) -> None:
    told: list[tuple[int, int]] = []
    proposed = samples.evidence.propose_families(lambda done, total, _: told.append((done, total)))
    assert unordered(named(samples, proposed.proposals)) == unordered(EXPECTED)
    assert proposed.unread == ()
    assert told[:24] == [(n, 24) for n in range(1, 25)]
    assert all(p.new and p.sentence and p.titles[0] != p.titles[1] for p in proposed.proposals)
    assert [len(group.members) for group in proposed.groups] == [3, 2]
    assert samples.evidence.families() == []  # a measure confirms nothing
    crop = next(p for p in proposed.proposals if p.kind == "crop of")
    assert (crop.descent, crop.earlier, crop.later) == (
        "crop", samples.reference(ENGRAVING).id, samples.reference(CROP).id,
    )  # fmt: skip
    assert crop.reasons.startswith("A guess: ")
    assert "dated earlier (1870 against 1874)" in crop.reasons
    assert "shows less" in crop.reasons
    region = crop.regions[crop.references.index(crop.earlier)]
    assert region is not None
    assert 0.05 < region[2] * region[3] < 0.95


def test_a_group_can_be_confirmed_as_proposed(known: Archive) -> None:
    for group in known.evidence.propose_families().groups:
        family = known._kit.store.families.confirm(group.members)
        assert set(family.members) == set(group.members)
    assert known.evidence.propose_families().proposals == ()


def test_what_was_found_is_kept_and_only_new_pictures_are_measured(known: Archive, tmp_path: Path, monkeypatch) -> None:
    first = known.evidence.propose_families()
    again = known.evidence.propose_families()
    assert [p.references for p in again.proposals] == [p.references for p in first.proposals]
    assert not any(p.new for p in again.proposals)
    assert known.evidence.propose_families(only_new=True).proposals == ()

    measured = []
    monkeypatch.setattr(looking, "signature", lambda p, one=looking.signature: measured.append(1) or one(p))
    half = tmp_path / "more" / "half.jpg"
    half.parent.mkdir()
    picture = known.picture(ENGRAVING, None)
    picture.crop((0, 0, picture.width * 2 // 3, picture.height * 3 // 4)).save(half, quality=80)
    known.gather(half.parent)
    fresh = known.evidence.propose_families(only_new=True)
    assert len(measured) == 1
    pairs = unordered(named(known, fresh.proposals))
    assert pairs[frozenset(("half.jpg", ENGRAVING))] == "crop of"
    assert all("half.jpg" in pair for pair in pairs)
    assert len(known.evidence.propose_families().proposals) == len(first.proposals) + len(fresh.proposals)


def test_stopped_while_measuring_it_goes_on(samples: Archive, monkeypatch) -> None:
    def stop(done: int, total: int, name: str) -> None:
        if done == 7:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        samples.evidence.propose_families(stop)
    assert len(cached(samples)) == 7
    totals = set()
    found = samples.evidence.propose_families(lambda done, total, name: totals.add(total))
    assert 24 - 7 in totals
    assert unordered(named(samples, found.proposals)) == unordered(EXPECTED)


def test_stopped_while_comparing_it_goes_on(samples: Archive, monkeypatch) -> None:
    monkeypatch.setattr(relating, "AT_ONCE", 5)

    def stop(done: int, total: int, name: str) -> None:
        if name == "comparing" and done == 10:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        samples.evidence.propose_families(stop)
    assert len(keeping.pairs_kept(samples._kit).looked) == 10
    steps = []
    found = samples.evidence.propose_families(lambda done, total, name: steps.append((done, total)))
    assert steps[-1] == (14, 14)
    assert unordered(named(samples, found.proposals)) == unordered(EXPECTED)


@pytest.mark.parametrize("spoil", [lambda b: b[: len(b) // 2], lambda b: b"", lambda b: b[:40] + b"\0\1" + b[42:]])
def test_a_damaged_cache_is_made_anew(known: Archive, spoil) -> None:
    first = known.evidence.propose_families()
    kept = cached(known)[3]
    right = kept.read_bytes()
    pairs = known.folder / "vectors" / "signatures" / keeping.PAIRS
    for path in (kept, pairs):
        path.write_bytes(spoil(path.read_bytes()))
    assert len(known.verify().problems) == 1
    again = known.evidence.propose_families()
    assert [p.references for p in again.proposals] == [p.references for p in first.proposals]
    assert kept.read_bytes() == right
    assert known.verify().problems == []


def test_a_changed_figure_in_the_kept_pairs_is_noticed(known: Archive) -> None:
    path = known.folder / "vectors" / "signatures" / keeping.PAIRS
    right = path.read_bytes()
    assert b'"channel": "tones"' in right
    path.write_bytes(right.replace(b'"channel": "tones"', b'"channel": "tunes"', 1))
    assert len(known.verify().problems) == 1
    assert len(known.evidence.propose_families().proposals) == 4
    assert path.read_bytes() == right


def test_repair_takes_damaged_caches_away(known: Archive) -> None:
    known.evidence.propose_families()
    kept = cached(known)[0]
    kept.write_bytes(b"nothing")
    assert known.verify(repair=True).problems == []
    assert not kept.exists()
    assert known.verify().problems == []  # what is not there yet is no damage


def test_a_picture_whose_original_cannot_be_read_is_named(samples: Archive) -> None:
    reference = samples.reference(CROP)
    original = samples.folder / "originals" / reference.sha256[:2] / f"{reference.sha256}{reference.suffix}"
    original.chmod(0o644)
    original.write_bytes(b"not a picture")
    proposed = samples.evidence.propose_families()
    assert proposed.unread == (reference.id,)
    assert len(proposed.proposals) == 3


def test_signatures_of_what_is_gone_go_too(known: Archive) -> None:
    known.evidence.propose_families()
    known._kit.store.remove_reference(known.reference(CROP).id)
    assert len(known.evidence.propose_families().proposals) == 3
    assert len(cached(known)) == 23


def test_what_a_person_said_is_not_proposed_again(known: Archive) -> None:
    evidence = known.evidence
    evidence.turn_down_family(CROP, ENGRAVING, "another block")
    left = unordered(named(known, evidence.propose_families().proposals))
    assert frozenset((CROP, ENGRAVING)) not in left
    assert len(left) == 3
    evidence.confirm_family({PORTRAIT: "original", COLOURED: "recoloured"}, after={COLOURED: PORTRAIT})
    proposed = evidence.propose_families()
    assert set(unordered(named(known, proposed.proposals))) == {
        frozenset((PORTRAIT, MIRRORED)), frozenset((COLOURED, MIRRORED)),
    }  # fmt: skip
    (group,) = proposed.groups
    assert len(group.members) == 3
    assert group.families == (evidence.families()[0].id,)
    # Told apart from one member, it is not of the family, and its likeness to another is no question any more.
    evidence.turn_down_family(MIRRORED, PORTRAIT)
    assert evidence.propose_families().proposals == ()
    with pytest.raises(RecordRefused, match="confirmed as one"):
        evidence.turn_down_family(PORTRAIT, COLOURED)
    evidence.leave_family(COLOURED)
    assert evidence.families() == []
    with pytest.raises(UnknownRecord, match="no family"):
        evidence.leave_family(COLOURED)


# --- which came first, and groups ---------------------------------------------------------------------------------


def pair(one: str, other: str, *, earlier: str = "", descent: str = "copy") -> FamilyProposal:
    later = ({one, other} - {earlier}).pop() if earlier else ""
    return FamilyProposal(
        (one, other), (one.upper(), other.upper()), "same picture", "s", "tones", 20, (None, None), descent, earlier,
        later, "",
    )  # fmt: skip


def said(group) -> dict[str, tuple[str, str]]:
    return {m.reference: (m.descent, m.after) for m in group.members}


def test_chains_of_pairs_become_one_group() -> None:
    found = [pair("a", "b", earlier="a"), pair("x", "y"), pair("c", "b", earlier="b", descent="crop")]
    first, second = groups(found)
    assert said(first) == {"a": ("original", ""), "b": ("copy", "a"), "c": ("crop", "b")}
    assert said(second) == {"x": ("unknown", ""), "y": ("unknown", "")}
    assert [len(g.proposals) for g in (first, second)] == [2, 1]


def test_a_group_never_goes_in_a_circle() -> None:
    (group,) = groups([pair("a", "b", earlier="a"), pair("b", "c", earlier="b"), pair("a", "c", earlier="c")])
    assert said(group) == {"a": ("original", ""), "b": ("copy", "a"), "c": ("copy", "b")}


def test_two_that_others_descend_from_are_left_to_the_person() -> None:
    (group,) = groups([pair("a", "b", earlier="a"), pair("c", "d", earlier="c"), pair("a", "c")])
    assert said(group) == {"a": ("unknown", ""), "b": ("copy", "a"), "c": ("unknown", ""), "d": ("copy", "c")}


def test_a_group_keeps_what_is_confirmed_and_shows_what_was_told_apart() -> None:
    family = Family("family-1", (FamilyMember("a", "original"), FamilyMember("b", "mirrored", "a")))
    (group,) = groups(
        [pair("b", "c", earlier="c"), pair("c", "d", earlier="c")],
        [family],
        {("a", "d"), ("q", "r")},
        {"a": "The first"},
    )
    assert said(group)["b"] == ("mirrored", "a")
    assert group.families == ("family-1",)
    assert group.apart == (("a", "d"),)
    assert dict(zip(said(group), group.titles, strict=True))["a"] == "The first"
    assert [d for d, _ in said(group).values()].count("original") == 1


@pytest.mark.parametrize(
    ("dates", "earlier"),
    [
        (("1870", "1874"), 0),
        (("1874", "1870"), 1),
        (("1870/1874", "1872/1876"), 0),
        (("1870/1876", "1872/1874"), None),
        (("1870", "1870"), None),
        (("1870/..", "1872"), None),
    ],
)
def test_dates_speak_for_an_order_only_where_no_end_speaks_against(known: Archive, dates, earlier) -> None:
    one, other = (known.describe(name, date=date) for name, date in zip((ENGRAVING, CROP), dates, strict=True))
    assert relating._dated_earlier(one, other) is earlier


def test_reasons_that_disagree_make_no_guess(known: Archive) -> None:
    known.describe(ENGRAVING, date="1880")
    crop = next(p for p in known.evidence.propose_families().proposals if p.kind == "crop of")
    assert (crop.earlier, crop.later) == ("", "")
    assert "disagrees" in crop.reasons


# --- the command line ---------------------------------------------------------------------------------------------


def run(*words: object) -> dict:
    done = CliRunner().invoke(cli, [str(word) for word in words], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def test_families_on_the_command_line(known: Archive) -> None:
    folder = known.folder
    first = run("families", folder, "--json")
    assert first["families"] == []
    assert sorted(p["kind"] for p in first["proposals"]) == ["crop of", "mirrored", "mirrored", "recoloured"]
    assert {m["reference"] for m in first["groups"][1]["members"]} == {known.reference(n).id for n in (ENGRAVING, CROP)}
    confirmed = run(
        "families", folder, "--confirm", f"{PORTRAIT}=original", "--confirm", f"{MIRRORED}=mirrored",
        "--after", f"{MIRRORED}={PORTRAIT}", "--not-family", f"{ENGRAVING},{CROP}", "--json",
    )  # fmt: skip
    (family,) = confirmed["families"]
    assert [(m["descent"], m["after"]) for m in family["members"]] == [
        ("original", ""), ("mirrored", known.reference(PORTRAIT).id),
    ]  # fmt: skip
    assert "proposals" not in confirmed
    assert len(run("families", folder, "--json")["proposals"]) == 2
    assert run("families", folder, "--leave", MIRRORED, "--json")["families"] == []
    plain = CliRunner().invoke(cli, ["families", str(folder)])
    assert "pairs proposed, none confirmed. What is not proposed may still be a copy." in plain.output


@pytest.mark.parametrize(
    "words", [["--confirm", "a.jpg"], ["--not-family", "a,b,c"], ["--after", "a=b"], ["--confirm", "a=copy"] * 2]
)
def test_wrong_usage_changes_nothing(known: Archive, words: list[str]) -> None:
    done = CliRunner().invoke(cli, ["families", str(known.folder), *words])
    assert done.exit_code == 2
    assert known.evidence.families() == []
