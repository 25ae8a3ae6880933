"""What a dossier says, as a plain document."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from refarchive.errors import UnknownRecord
from refarchive.paper import blocks, cautions, pages
from refarchive.paper.citing import Citations, archival_caption, date_in_words, early_photograph, letters
from refarchive.records.dates import read_date
from refarchive.records.model import DEPARTMENTS, Evidence, Reference, Witness


def sections(document: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {s["title"]: s for s in document["sections"]}


def texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from texts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from texts(inner)


def questions(document: dict[str, Any]) -> dict[str, list[list[str]]]:
    found = blocks.walk(sections(document)["Open questions"])
    return {b["title"]: b["items"] for b in found if b.get("type") == "question"}


def numbers_by_title(document: dict[str, Any]) -> dict[str, str]:
    found = blocks.walk(sections(document)["Sources and rights"])
    return {b["caption"]: b["number"] for b in found if b.get("type") == "plate"}


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


# --- order and numbers ----------------------------------------------------------------------------------------------


def test_order_of_the_whole(made: Any) -> None:
    assert [s["title"] for s in made.dossier()["sections"]] == [
        "Cover",
        "Figures",
        "Wardrobe",
        "Props",
        "Hair and make-up",
        "Set",
        "Light",
        "Effects",
        "Costs of all departments",
        "What the picture must say",
        "Water and safety: cautions",
        "Sources and rights",
        "Open questions",
    ]


@pytest.mark.parametrize("department", DEPARTMENTS)
def test_a_copy_holds_its_own_and_what_all_need(made: Any, department: str) -> None:
    document = made.dossier(department)
    titles = [s["title"] for s in document["sections"]]
    assert titles == [
        "Cover",
        pages.TITLES[department],
        "Water and safety: cautions",
        "Sources and rights",
        "Open questions",
    ]
    assert document["subtitle"].startswith(f"Copy for {department}")


def test_numbers_follow_first_citation(made: Any) -> None:
    cite = Citations(made.scene, made.references, made.details, made.passages)
    order = [
        "sands",
        "anne",
        "engraved",
        "bonnet",
        "later",
        "boots",
        "panorama",
        "advert",
        "rake",
        "lamp",
        "cart",
        "sky",
    ]
    assert [plain(cite.number(r)) for r in order] == [f"Pl. {n}" for n in range(1, 13)]
    assert [plain(cite.number(r)) for r in ("inquest", "inventory", "buckle")] == ["T. 1", "T. 2", "O. 1"]
    assert plain(cite.number("anne", "d-knot")) == "Pl. 2 a"
    assert plain(cite.number("anne", "d-skirt")) == "Pl. 2 b"
    assert plain(cite.number("inquest", None, "p-inquest-2")) == "T. 1, passage 2"


@pytest.mark.parametrize("department", DEPARTMENTS)
def test_numbers_are_the_same_in_every_copy(made: Any, department: str) -> None:
    whole = numbers_by_title(made.dossier())
    own = numbers_by_title(made.dossier(department))
    assert own
    assert own.items() <= whole.items()
    if department == "props":  # a later department does not start at 1 again
        assert plain(own["Maker not known, Horn lantern, undated. Estuary Room, Merrow Sands (invented)."]) == "Pl. 10"


@pytest.mark.parametrize("department", [None, *DEPARTMENTS])
def test_sources_are_exactly_those_cited(made: Any, department: str | None) -> None:
    wanted = {made.scene.key_reference}
    for need in made.scene.needs:
        if department in (None, need.department):
            wanted |= {e.reference for e in need.evidence} | {s.reference for s in need.swatches}
    if department in (None, "light"):
        wanted |= set(made.scene.intent.like)
    assert set(numbers_by_title(made.dossier(department))) == {
        archival_caption(made.references[r], credit=False) for r in wanted
    }


def test_every_evidence_stands_beside_its_need_with_number_relation_witness_and_date(made: Any) -> None:
    document = made.dossier()
    cite = Citations(made.scene, made.references, made.details, made.passages)
    found = {p["title"]: p for s in document["sections"] for p in s["pages"]}
    links = 0
    for need in made.scene.needs:
        rows = [r for b in found[need.name]["blocks"] if b["type"] == "table" for r in b["rows"]]
        assert len(rows) == len(need.evidence)
        for evidence, row in zip(need.evidence, rows, strict=True):
            reference = made.references[evidence.reference]
            assert row[:3] == [cite.number_of(evidence), evidence.relation, reference.witness.value]
            assert row[3] == (date_in_words(reference.when) if reference.when else "undated")
            links += 1
    assert links == 22


def test_pictured_evidence_is_shown_and_a_detail_says_where_it_sits(made: Any) -> None:
    document = made.dossier()
    page = next(p for p in sections(document)["Wardrobe"]["pages"] if p["title"].startswith("Shawl"))
    main = next(b for b in page["blocks"] if b["type"] == "plate")
    assert plain(main["number"]) == "Pl. 2 a"
    assert main["within"]["region"] == list(made.details["d-knot"].region)
    assert [plain(d["number"]) for d in main["details"]] == ["Pl. 1 a", "Pl. 1", "Pl. 3"]
    assert main["details"][2]["caption"].startswith("Contradicts.")


def test_each_picture_shown_is_asked_for_once(made: Any) -> None:
    document = made.dossier()
    requests = made.requests(document)
    assert {r.name for r in requests} == set(blocks.pictures_of(document))
    assert len({r.name for r in requests}) == len(requests)
    for request in requests:
        assert re.fullmatch(r"pl-\d{3}(-[a-z]+)?(-small)?", request.name)
        lettered = re.fullmatch(r"pl-\d{3}-(?!small)[a-z]+", request.name)
        assert (request.region is not None) == bool(lettered)
    only = made.requests(made.dossier("effects"))
    assert [r.name for r in only] == ["pl-001", "pl-001-small"]


def test_layers_stand_in_the_order_of_the_plan(made: Any) -> None:
    page = next(p for p in sections(made.dossier())["Wardrobe"]["pages"] if p["title"] == "Anne Dove")
    rows = next(b for b in page["blocks"] if b["type"] == "table")["rows"]
    assert [r[0] for r in rows] == [
        n.name for n in made.scene.needs if n.figure == "anne" and n.department == "wardrobe"
    ]


def test_the_document_is_plain_data(made: Any) -> None:
    document = made.dossier()
    assert json.loads(json.dumps(document)) == document
    assert document == made.dossier()


# --- costs ----------------------------------------------------------------------------------------------------------


def test_costs_add_up_by_department_and_in_all(made: Any) -> None:
    section = sections(made.dossier())["Costs of all departments"]
    rows = {r[0]: r[1:] for r in section["pages"][0]["blocks"][0]["rows"]}
    # Added by hand: wardrobe 40; 180 + 65 + 0; 65. Props 20; 90.50; 88.25.
    assert rows["Wardrobe"] == ["7", "12", "40.00", "245.00", "65.00"]
    assert rows["Props"] == ["4", "6", "20.00", "90.50", "88.25"]
    assert rows["Set"] == ["1", "1", "–", "–", "–"]
    assert rows["In all"] == ["15", "22", "60.00", "335.50", "153.25"]
    note = section["pages"][0]["blocks"][1]["text"]
    assert note == (
        "Amounts in GBP. A sum holds only what was entered; of 15 needs these lack an amount: "
        "deposit 13, estimate 11, actual 13."
    )


def test_quantity_shows_its_arithmetic(made: Any) -> None:
    wanted = "1 hero + 2 wet doubles + 1 spare = 4. Three takes in water, one day to dry each, two days of shooting."
    assert wanted in list(texts(made.dossier()))


# --- cautions -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("department", [None, *DEPARTMENTS])
def test_cautions_stand_on_every_copy_and_defer(made: Any, department: str | None) -> None:
    words = " ".join(texts(sections(made.dossier(department))["Water and safety: cautions"]))
    assert "Local codes and licensed, competent people decide" in words
    assert "lethal voltage even after it has been in water" in words
    assert "Arranged: A pilot of the sands walks the line" in words
    assert "Arranged: The horse stays with its carter." in words
    assert "Arranged: nothing entered yet." in words
    for topic, title, _ in cautions.CAUTIONS:
        assert (title in words) == (topic in cautions.ALWAYS or topic == "animals")


def test_nothing_of_ours_is_called_safe(made: Any) -> None:
    assert not [t for t in texts(made.dossier()) if re.search(r"\bsafe(ly)?\b", t, re.IGNORECASE)]


# --- sources and open questions -------------------------------------------------------------------------------------


def test_sources_say_plainly_what_is_not_known(made: Any) -> None:
    entries = {b["number"]: b for b in blocks.walk(sections(made.dossier())["Sources and rights"]) if "caption" in b}
    cart = dict(entries["Pl.\u00a011"]["beside"][0]["rows"])
    assert cart["Witness"] == "not yet judged"
    assert cart["Date"] == "undated"
    assert cart["Source"] == "Not recorded."
    assert cart["Rights"].startswith("Copyright Not Evaluated (http://rightsstatements.org/vocab/CNE/1.0/). Nothing is")
    assert cart["Use"].endswith("Publication: no basis is recorded; ask first, and keep the answer.")
    assert dict(entries["Pl.\u00a01"]["beside"][0]["rows"])["Date"] == "c. 1870 (EDTF 1870~)"
    assert "passage\u00a02" in dict(entries["T.\u00a01"]["beside"][0]["rows"])["Cited for"]


def test_open_questions_of_the_whole(made: Any) -> None:
    found = {title: [plain(about) for about, _ in items] for title, items in questions(made.dossier()).items()}
    assert found == {
        "Needs without evidence": [
            "Stays (wardrobe)",
            "Blankets for the wait, never in the picture (wardrobe)",
            "Mist on the far bank (effects)",
        ],
        "Contradictions": ["Shawl, crossed and tied behind (wardrobe)", "Clogs or bare feet (wardrobe)"],
        "References without a date": ["Pl. 10", "Pl. 11"],
        "References whose kind of witness is not yet judged": ["Pl. 11"],
        "Rights not recorded": ["Pl. 3", "Pl. 11"],
        "Colours not read": ["Horn lantern (props)"],
    }


@pytest.mark.parametrize("department", DEPARTMENTS)
def test_needs_without_support_are_exactly_those_asked(made: Any, department: str) -> None:
    wanted = [
        f"{n.name} ({department})"
        for n in made.scene.needs
        if n.department == department and not any(e.relation in ("shows", "describes") for e in n.evidence)
    ]
    found = questions(made.dossier(department)).get("Needs without evidence", [])
    assert [about for about, _ in found] == wanted


def test_a_need_that_is_only_contradicted_is_open_too(made: Any) -> None:
    needs = tuple(
        replace(n, evidence=(Evidence("later", "contradicts"),)) if n.slug == "dawn" else n for n in made.scene.needs
    )
    changed = replace(made, scene=replace(made.scene, needs=needs))
    found = dict(questions(changed.dossier("light"))["Needs without evidence"])
    assert "what there is contradicts it" in found["Grey light before sunrise (light)"]


def test_a_reference_that_is_gone_is_named_not_dropped(made: Any) -> None:
    references = {k: v for k, v in made.references.items() if k not in ("sands", "rake")}
    document = replace(made, references=references).dossier()
    lost = [words for _, words in questions(document)["References named but not in the archive"]]
    assert "names the key reference sands." in lost
    assert lost.count("names the reference rake.") == 2
    assert "not in the archive" in list(texts(sections(document)["Props"]))


def test_further_questions_reach_the_department_they_concern(made: Any) -> None:
    more = [
        ("wardrobe", "Clogs", "irons before 1870?"),
        ("", "Scene", "which tide?"),
        ("props", "Rake", "iron or wood?"),
    ]
    found = questions(made.dossier("wardrobe", further_questions=more))["Further questions"]
    assert found == [["Clogs", "irons before 1870?"], ["Scene", "which tide?"]]


def test_an_empty_scene_still_prints(made: Any) -> None:
    bare = replace(
        made.scene,
        needs=(),
        figures=(),
        story="",
        statements=(),
        misreadings=(),
        variations=(),
        safety=(),
        key_reference="",
    )
    document = replace(made, scene=replace(bare, intent=type(bare.intent)())).dossier()
    assert [s["id"] for s in document["sections"]] == ["cover", "safety", "questions"]
    copy = replace(made, scene=bare).dossier("props")
    assert "The scene has no needs in this department yet." in list(texts(copy))


def test_an_unknown_department_is_refused_with_those_there_are(made: Any) -> None:
    with pytest.raises(UnknownRecord, match="wardrobe, props") as caught:
        made.dossier("catering")
    assert caught.value.problem == "There is no department 'catering'."


# --- swatches, captions, dates, letters -----------------------------------------------------------------------------


def test_swatches_say_values_and_where_they_were_read(made: Any) -> None:
    found = [b for b in blocks.walk(sections(made.dossier())["Wardrobe"]) if b.get("type") == "swatches"]
    lit, shadow = found[0]["items"]
    assert (lit["hex"], lit["lab"]) == ("#5d5348", "L* 35.9, a* 2.6, b* 7.9")
    assert plain(lit["note"]) == (
        "Read from Pl. 1, 30–40 % from the left, 50–60 % from the top; four fifths of the pixels there lie within 6.3 "
        "ΔE00 of it."
    )
    assert "Take no colour" in shadow["note"]


@pytest.mark.parametrize(
    ("witness", "when", "words"),
    [
        (Witness.PHOTOGRAPH, "1871", "from before 1883"),
        (Witness.PHOTOGRAPH, "1880/1890", "may be from before 1883"),
        (Witness.PHOTOGRAPH, None, "may be from before 1883"),
        (Witness.PHOTOGRAPH, "1883", ""),
        (Witness.HANDMADE, "1871", ""),
    ],
)
def test_early_plates_are_no_source_of_colour(witness: Witness, when: str | None, words: str) -> None:
    reference = Reference("r", "image", "t", "f.png", when=read_date(when) if when else None, witness=witness)
    said = early_photograph(reference)
    assert words in said
    assert bool(said) == bool(words)


def test_archival_caption_keeps_its_order() -> None:
    reference = Reference(
        "r",
        "image",
        "Low water",
        "f.png",
        creator="E. Thornby",
        when=read_date("1871-02-13"),
        medium="ink",
        dimensions="9 × 6 cm",
        collection="Estuary Room, Merrow",
        accession="ER.7",
        credit="Given 1931!",
    )
    assert archival_caption(reference) == (
        "E. Thornby, Low water, 13 February 1871. Ink, 9 × 6 cm. Estuary Room, Merrow, ER.7. Given 1931!"
    )
    assert archival_caption(Reference("r", "image", "", "")) == "Maker not known, Untitled, undated."


@pytest.mark.parametrize(
    ("edtf", "words"),
    # Meanings as in ISO 8601-2:2019, annex A (EDTF levels 0 and 1): ~ approximate, ? uncertain, % both, X unspecified.
    [
        ("1870~", "c. 1870"),
        ("1855?", "1855, uncertain"),
        ("1855%", "c. 1855, uncertain"),
        ("185X", "1850s"),
        ("1868/1872", "1868 to 1872"),
        ("../1856", "1856 or earlier"),
        ("1856/..", "1856 or later"),
        ("1871-02", "February 1871"),
        ("1871-02-03", "3 February 1871"),
        ("[1855,1856]", "[1855,1856]"),
    ],
)
def test_edtf_in_words(edtf: str, words: str) -> None:
    assert date_in_words(read_date(edtf)) == words


def test_a_date_in_the_persons_words_is_left_alone() -> None:
    assert date_in_words(read_date("c. 1870")) == "c. 1870"


def test_months_are_those_of_the_standard_library() -> None:
    for month in range(1, 13):
        day = date(1871, month, 9)
        assert date_in_words(read_date(day.isoformat())) == f"9 {day:%B} 1871"


def test_letters_go_on_after_z() -> None:
    assert [letters(n) for n in (0, 25, 26, 27, 51, 52, 701, 702)] == ["a", "z", "aa", "ab", "az", "ba", "zz", "aaa"]


def test_cleaning_keeps_words_and_drops_what_no_page_can_show() -> None:
    assert blocks.clean("a\x00b\u202ec\ud800\nd") == "a b[U+202E]c[U+D800] d"
    assert blocks.clean("a\r\nb\n\n c", lines=True) == "a\nb\n\nc"
    assert blocks.clean("ſ £ — é ç \u200f") == "ſ £ — é ç \u200f"
    long = blocks.clean("x" * 10_000_000)
    assert len(long) < 6_100
    assert long.endswith("[cut; 10,000,000 characters in all]")


def test_questions_by_likeness_of_words_stand_apart_from_those_by_name() -> None:
    from refarchive.paper.questioning import from_first_dates
    from refarchive.records.firsts import First
    from refarchive.records.model import Need
    from refarchive.scenes.anachronism import BY_NAME, Asked, Question, Standing

    row = First("zip", source="s")
    asked = Asked(
        tuple(
            Question("n", "zip", row, how, f"asked {how}", Standing.BEFORE, "name", "zip")
            for how in (BY_NAME, "by meaning, similarity 0.60")
        ),
        (),
        (),
        "",
    )
    need = Need("n", "Bodice", "wardrobe")
    assert from_first_dates(asked, [need], by_name=True) == [("Bodice (wardrobe)", "asked by name")]
    assert from_first_dates(asked, [need], by_name=False) == [
        ("Bodice (wardrobe)", "asked by meaning, similarity 0.60")
    ]
