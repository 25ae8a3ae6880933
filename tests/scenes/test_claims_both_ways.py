"""A claim followed up and down, what a change would do, and which debts press; compared with counting by hand."""

from __future__ import annotations

import tomllib
from dataclasses import replace

import pytest

from refarchive.records.dates import read_date
from refarchive.records.model import (
    Evidence,
    Family,
    FamilyMember,
    Intent,
    Need,
    Reference,
    Scene,
    Swatch,
    Witness,
)
from refarchive.scenes.debts import debts
from refarchive.scenes.effects import effects
from refarchive.scenes.linking import with_entry, without_entry
from refarchive.scenes.tracing import claim, uses


def reference(name: str, date: str | None = "1871-02", witness: Witness = Witness.TEXT, **more: object) -> Reference:
    whole = {"creator": "c", "place": "p", "source": "s", "rights": "r", "description": "d", **more}
    when = read_date(date) if date else None
    return Reference(name, "image", name.upper(), f"{name}.jpg", when=when, witness=witness, **whole)


NEEDS = (
    Need("shawl", "Shawl", "wardrobe", evidence=(Evidence("portrait", "shows", detail="d1", note="how it crosses"),)),
    Need(
        "lamp",
        "Lamp",
        "props",
        evidence=(Evidence("copy", "shows"), Evidence("letter", "contradicts", passage="p1")),
        swatches=(Swatch("portrait", None, "tin"),),
    ),
)
SCENE = Scene(
    "s", "S", "e", "st", when=read_date("1871-02"), needs=NEEDS, key_reference="letter", intent=Intent(like=("other",))
)
FAMILY = Family("f", (FamilyMember("portrait", "original"), FamilyMember("copy", "mirrored", "portrait")))
ARCHIVE = {r.id: r for r in map(reference, ("portrait", "copy", "letter", "other"))}


def test_up_from_a_picture_to_every_use() -> None:
    found = [(u.role, u.need, u.detail, u.through) for u in uses("portrait", [SCENE])]
    assert found == [("shows", "shawl", "d1", "portrait"), ("swatch", "lamp", None, "portrait")]
    with_family = [(u.role, u.need, u.through) for u in uses("portrait", [SCENE], FAMILY)]
    assert with_family == [("shows", "shawl", "portrait"), ("shows", "lamp", "copy"), ("swatch", "lamp", "portrait")]
    assert [(u.role, u.need) for u in uses("letter", [SCENE])] == [("key reference", ""), ("contradicts", "lamp")]
    assert [u.role for u in uses("other", [SCENE])] == ["intent"]
    assert uses("nobody", [SCENE]) == ()


def test_down_from_a_need_to_its_pictures_and_their_family() -> None:
    families = {m.reference: FAMILY for m in FAMILY.members}
    down = claim(NEEDS[1], families)
    assert [(s.evidence.reference, s.family) for s in down] == [("copy", ("portrait",)), ("letter", ())]


def test_every_step_up_has_its_step_down() -> None:
    for need in NEEDS:
        for one in claim(need, {}):
            back = [u for u in uses(one.evidence.reference, [SCENE]) if u.need == need.slug and u.role != "swatch"]
            assert [(u.role, u.detail, u.passage) for u in back] == [
                (one.evidence.relation, one.evidence.detail, one.evidence.passage)
            ]


def test_redating_shows_each_need_before_and_after() -> None:
    (effect,) = effects(replace(ARCHIVE["portrait"], when=read_date("1890")), [SCENE], ARCHIVE)
    assert (effect.scene, effect.need) == ("s", "shawl")
    assert {what: (a, b) for what, a, b in effect.changes} == {
        "in time": ("1 exact", "1 far"),
        "only later evidence": ("no", "yes"),
        "this witness in time": ("exact", "far"),
        "made after the event": ("no", "yes"),
    }


def test_regrading_reaches_evidence_against_a_need_too() -> None:
    (effect,) = effects(replace(ARCHIVE["letter"], witness=Witness.LATER), [SCENE], ARCHIVE)
    assert (effect.need, effect.changes) == (
        "lamp",
        (("kind of this witness", "contemporary text", "later reconstruction"),),
    )


def test_a_change_that_touches_no_need_has_no_effect() -> None:
    assert effects(replace(ARCHIVE["portrait"], title="Another"), [SCENE], ARCHIVE) == ()
    assert effects(replace(ARCHIVE["other"], when=read_date("1900")), [SCENE], ARCHIVE) == ()


def test_debts_come_by_what_stands_on_them() -> None:
    owing = [
        reference("other", None),  # in the scene's intent only
        reference("idle", None, Witness.UNKNOWN, creator="", place=""),  # in no scene
        reference("portrait", None),  # the shawl stands on it alone
        reference("letter", None),  # key reference, contradicts
        reference("copy"),  # owes nothing
    ]
    found = debts(owing, [SCENE])
    assert [d.reference.id for d in found] == ["portrait", "other", "letter", "idle"]
    assert found[0].alone == (("s", "shawl"),)
    assert found[0].missing == ("date",)
    assert found[-1].missing == ("creator", "date", "place", "witness")
    both = replace(NEEDS[0], evidence=(*NEEDS[0].evidence, Evidence("copy", "shows")))
    shared = replace(SCENE, needs=(both,))
    assert debts(owing, [shared])[0].alone == ()
    assert next(d for d in debts(owing, [shared], [FAMILY]) if d.reference.id == "portrait").alone == (("s", "shawl"),)


PLAN = """# mine
[scene]
title = "S"   # kept

[[need]]
name = "A"

[[need]]
name = "B"
[[need.evidence]]
reference = "x.jpg"   # why
relation = "shows"

# end
"""


@pytest.mark.parametrize("need", [0, 1])
def test_a_link_is_added_and_all_else_stays(need: int) -> None:
    entry = {"reference": "y.jpg", "relation": "shows", "region": [0.1, 0.2, 0.3, 0.4], "fit": {"place": "near"}}
    text = with_entry(PLAN, ("need", need, "evidence"), entry)
    expected = tomllib.loads(PLAN)
    expected["need"][need].setdefault("evidence", []).append(entry)
    assert tomllib.loads(text) == expected
    for comment in ("# mine", "# kept", "# why", "# end"):
        assert comment in text
    place = len(expected["need"][need]["evidence"]) - 1
    assert tomllib.loads(without_entry(text, ("need", need, "evidence"), place)) == tomllib.loads(PLAN)
