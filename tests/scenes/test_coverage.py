"""Coverage: families count once, contradiction never supports, time is computed, what would change by brute force."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.records.dates import read_date
from refarchive.records.model import Evidence, Family, FamilyMember, Need, Reference, Scene, Witness
from refarchive.scenes.coverage import as_rows, coverage, date_fit, what_would_change


def reference(name: str, date: str | None = None, witness: Witness = Witness.TEXT) -> Reference:
    return Reference(name, "text", name.upper(), f"{name}.txt", when=read_date(date) if date else None, witness=witness)


ARCHIVE = {
    r.id: r
    for r in (
        reference("photo", "1870~", Witness.PHOTOGRAPH),
        reference("engraving", "1872", Witness.SECOND_HAND),
        reference("letter", "1871-02-23"),
        reference("memoir", "1911", Witness.LATER),
        reference("undated"),
        reference("old", "1840"),
    )
}
FAMILY = Family("f", (FamilyMember("photo", "original"), FamilyMember("engraving", "engraved after", "photo")))


def scene(*links: Evidence) -> Scene:
    return Scene("s", "S", "e", "st", when=read_date("1871-02"), needs=(Need("n", "N", "props", evidence=links),))


def shows(name: str, **more: object) -> Evidence:
    return Evidence(name, "shows", **more)


def test_a_family_is_one_witness() -> None:
    both = scene(shows("photo"), shows("engraving"))
    assert len(coverage(both, ARCHIVE)[0].witnesses) == 2
    (row,) = coverage(both, ARCHIVE, [FAMILY])
    assert len(row.witnesses) == 1
    assert row.witnesses[0].references == ("photo", "engraving")
    assert row.by_kind == {"photograph from life": 1}


def test_contradiction_never_supports() -> None:
    (row,) = coverage(scene(Evidence("letter", "contradicts")), ARCHIVE)
    assert row.gap
    assert row.against[0].references == ("letter",)
    assert "LETTER speaks, against it" in what_would_change(row, {"letter": "LETTER"})


def test_only_later_evidence_is_said() -> None:
    (row,) = coverage(scene(shows("memoir")), ARCHIVE)
    assert (row.gap, row.only_later, row.witnesses[0].later) == (False, True, True)
    (row,) = coverage(scene(shows("memoir"), shows("letter")), ARCHIVE)
    assert not row.only_later


@pytest.mark.parametrize(
    ("made", "fit"),
    [
        ("1871-02-14", "exact"),
        ("187X", "exact"),
        ("1880", "near"),
        ("1861-03", "near"),
        ("1860", "far"),
        ("1911", "far"),
        ("../1860", "far"),
        ("1860/..", "exact"),
    ],
)
def test_fit_in_time_is_computed(made: str, fit: str) -> None:
    assert date_fit(read_date(made), read_date("1871-02")) == fit


def test_undated_is_unknown() -> None:
    assert date_fit(None, read_date("1871")) == date_fit(read_date("1871"), None) == "unknown"
    (row,) = coverage(scene(shows("undated"), shows("old"), shows("letter")), ARCHIVE)
    assert row.by_period == {"exact": 1, "near": 0, "far": 1, "unknown": 1}


def test_what_a_picture_shows_counts_before_when_it_was_made() -> None:
    late = replace(ARCHIVE["engraving"], when=read_date("1890"), depicts=read_date("1871-02"))
    (row,) = coverage(scene(shows("engraving")), {**ARCHIVE, "engraving": late})
    assert (row.witnesses[0].date_fit, row.witnesses[0].later) == ("exact", True)


def test_entered_fit_keeps_the_best_word_of_each_aspect() -> None:
    links = (
        shows("photo", fit=(("place", "far"), ("rank", "near"))),
        shows("engraving", fit=(("place", "near"),)),
    )
    (row,) = coverage(scene(*links), ARCHIVE, [FAMILY])
    assert dict(row.witnesses[0].entered_fit) == {"place": "near", "rank": "near"}


def test_rows_are_json() -> None:
    import json

    rows = as_rows(coverage(scene(shows("photo"), Evidence("letter", "contradicts")), ARCHIVE), {})
    assert json.loads(json.dumps(rows)) == rows
    assert {"need", "department", "independent_witnesses", "gap", "anachronisms"} <= set(rows[0])


links = st.lists(
    st.builds(Evidence, st.sampled_from(sorted(ARCHIVE)), st.sampled_from(["shows", "describes", "contradicts"])),
    max_size=6,
)


@given(links, st.booleans())
def test_the_smallest_loss_is_what_brute_force_finds(cited: list[Evidence], related: bool) -> None:
    """Taking references away one by one, two by two …: the first size that unsupports is the number of witnesses."""
    families = [FAMILY] if related else []
    (row,) = coverage(scene(*cited), ARCHIVE, families)
    witness_of = {m.reference: "f" for f in families for m in f.members}
    groups = sorted({witness_of.get(e.reference, e.reference) for e in cited})
    for size in range(len(groups) + 1):
        for lost in combinations(groups, size):
            kept = [e for e in cited if witness_of.get(e.reference, e.reference) not in lost]
            if coverage(scene(*kept), ARCHIVE, families)[0].gap:
                assert size == len(row.witnesses)
                return
    raise AssertionError("losing everything leaves a gap")


@given(links)
def test_more_evidence_never_opens_a_gap(cited: list[Evidence]) -> None:
    before = coverage(scene(*cited), ARCHIVE)[0]
    after = coverage(scene(*cited, shows("letter")), ARCHIVE)[0]
    assert not after.gap
    assert len(after.witnesses) >= len(before.witnesses)
