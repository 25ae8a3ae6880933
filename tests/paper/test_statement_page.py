"""The pages that go with a finished picture: one sheet, numbered outlines, a picture that is otherwise untouched."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from PIL import Image
from poppler import text_of

from refarchive.paper import blocks
from refarchive.paper.citing import archival_caption
from refarchive.paper.html import write_html
from refarchive.paper.pdf import count_pages, write_pdf
from refarchive.paper.statement_page import (
    DRAFTED,
    KEY,
    PICTURE,
    STROKES,
    folded,
    outlined,
    share,
    statement_document,
    statement_pictures,
)
from refarchive.publish import caption, historical_note, statement
from refarchive.records.dates import read_date
from refarchive.records.model import Evidence, Figure, Need, Reference, Scene, Witness
from refarchive.records.wall import STANDINGS, Part, Particulars
from refarchive.scenes.coverage import coverage

NASTY = "<script>alert(1)</script> {{7*7}} #panic() $x$ *bold* @cite"
GREY = (119, 119, 119)


class Numbers:
    def number(self, reference_id: str, detail_id: str | None = None, passage_id: str | None = None) -> str:
        return f"Pl.\u00a0{reference_id}"


def needs(count: int) -> tuple[Need, ...]:
    return tuple(
        Need(f"n{i}", f"Thing {i}", "props", evidence=(Evidence(str(1 + i % 3), "shows"),) if i % 4 else ())
        for i in range(count)
    )


REFERENCES = {
    "1": Reference("1", "image", "A drawing", "", when=read_date("1869"), witness=Witness.HANDMADE),
    "2": Reference("2", "image", "A memory", "", when=read_date("1911"), witness=Witness.LATER),
    "3": Reference("3", "text", "A letter", "", when=read_date("1869-10"), witness=Witness.TEXT),
}
SCENE = Scene(
    "s", "The ford", "They cross", "", when=read_date("1869-10-14"), place="Merrow (invented)", key_reference="1",
    figures=(Figure("i", "Isaac", action="Leads"),), needs=needs(12),
)  # fmt: skip
PARTS = tuple(
    Part(f"Part {i}", (0.08 * i, 0.05 * i, 0.2, 0.3), STANDINGS[i % 4], f"n{i}", "because" if i % 2 else "")
    for i in range(9)
)


def drafted(scene: Scene = SCENE, parts: tuple[Part, ...] = PARTS) -> tuple[Any, Any, Any]:
    own = Particulars("f", creator="A. Photographer", created="2027-10-12", parts=parts, thanks=("The guide",))
    rows = coverage(scene, REFERENCES)
    return (
        statement.as_plain(statement.draft_statement(scene, parts, rows, REFERENCES, Numbers())),
        caption.as_plain(caption.draft_caption(scene, own, REFERENCES, Numbers())),
        historical_note.as_plain(historical_note.draft_note(scene, own, rows, REFERENCES, Numbers())),
    )


def document(plain: tuple[Any, Any, Any], **more: Any) -> Any:
    return statement_document("The ford", *plain, scene="The ford", version="revision 1", date="2027-11-02", **more)


def texts(document: Any) -> str:
    return " ".join(
        str(value) for block in blocks.walk(document) for value in block.values() if isinstance(value, str | list)
    )


def noise(size: tuple[int, int]) -> Image.Image:
    """A picture in which every pixel differs, so that any tint would be seen."""
    rng = np.random.default_rng(7)
    return Image.fromarray(rng.integers(0, 256, (size[1], size[0], 3), np.uint8))


# --- pages ------------------------------------------------------------------------------------------------------------


def test_nine_parts_and_the_whole_key_stand_on_one_sheet() -> None:
    plain = drafted()
    pages = document(plain)
    pdf = write_pdf(pages, statement_pictures(noise((1500, 1000)), plain[0]))
    assert count_pages(pdf) == 2
    first = text_of(pdf, "-l", "1")
    for words in ("Part 8", "Marked nowhere", "larger than what they mark.", "Outlines:"):
        assert words in first
    assert "Caption and note" not in first


def test_the_table_says_number_word_why_and_what_it_rests_on() -> None:
    table = next(b for b in blocks.walk(document(drafted())) if b.get("type") == "table")
    assert table["columns"] == ["", "What", "Word", "Why", "Rests on"]
    assert [row[0] for row in table["rows"]] == [str(n) for n in range(1, 10)]
    assert [row[2] for row in table["rows"]] == [part.standing for part in PARTS]
    assert table["rows"][1][3:] == ["“because”.", "Pl.\u00a02"]  # inferred by both
    assert table["rows"][3][3] == "“because”. The record proposes supported."  # n3 rests on the drawing
    assert table["rows"][2][3] == "The record proposes supported: one independent witness of the time."
    assert table["rows"][4][3] == "The record proposes unknown: nothing in the record shows or describes it."


def test_totals_and_what_is_marked_nowhere_are_said() -> None:
    plain = drafted()
    told = texts(document(plain))
    for word, part in plain[0]["shares"].items():
        assert f"{word} {share(part)}" in told
    assert "Thing 9 (supported); Thing 10 (inferred); Thing 11 (supported)" in told
    assert f"not marked {share(1 - plain[0]['marked_share'])}" in told


@pytest.mark.parametrize(("part", "told"), [(0.0, "0 %"), (0.004, "under 1 %"), (0.345, "34 %"), (1.0, "100 %")])
def test_shares_are_in_whole_per_cent(part: float, told: str) -> None:
    assert share(part) == told


def test_every_sentence_of_the_note_has_its_number_and_evidence() -> None:
    plain = drafted()
    told = texts(document(plain))
    for number, claim in enumerate(plain[2]["claims"], start=1):
        raised = str(number).translate(str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹"))
        assert f"{claim['text']}\u2060{raised}" in told
        assert f"{raised}\u00a0" in told or f"{raised} " in told
    assert DRAFTED in told


def test_words_that_the_person_left_are_printed_for_the_drafts() -> None:
    told = texts(document(drafted(), left_caption="My caption.", left_note="My own note."))
    assert "My caption." in told
    assert "My own note." in told
    assert DRAFTED not in told
    assert "What the draft of the note rests on" in told


def test_nothing_marked_is_said_and_printed() -> None:
    plain = drafted(parts=())
    pages = document(plain)
    assert "No part of the picture is marked yet." in texts(pages)
    assert KEY not in texts(pages)
    assert count_pages(write_pdf(pages, statement_pictures(noise((300, 200)), plain[0]))) >= 1


def test_no_text_is_an_instruction() -> None:
    parts = (replace(PARTS[0], name=NASTY, why=NASTY),)
    plain = drafted(replace(SCENE, event=NASTY), parts)
    pages, pictures = document(plain, left_note=NASTY, alt_text=NASTY), statement_pictures(noise((300, 200)), plain[0])
    assert "<script" not in write_html(pages, pictures)
    assert write_pdf(pages, pictures).startswith(b"%PDF")


def test_references_cited_are_listed_where_they_are_given() -> None:
    listed = [("Pl. 1", archival_caption(REFERENCES["1"])), ("T. 1", archival_caption(REFERENCES["3"]))]
    told = texts(document(drafted(), sources=listed))
    assert "Maker not known, A drawing, 1869." in told
    assert "References cited" in told
    assert "References cited" not in texts(document(drafted()))


def test_numbers_are_folded_by_text() -> None:
    given = ["Pl. 1 a", "T. 2, passage\u00a03", "Pl. 4", "T. 2, passage\u00a05", "Pl. 4", ""]
    assert folded(given) == "Pl. 1 a; T. 2, passages\u00a03, 5; Pl. 4"


# --- the outlined picture ---------------------------------------------------------------------------------------------


def part(word: str, region: Any, number: int = 1) -> dict[str, Any]:
    return {"number": number, "word": word, "region": region}


@pytest.mark.parametrize("word", STANDINGS)
def test_the_picture_is_untouched_but_for_lines_and_numbers(word: str) -> None:
    picture = noise((600, 400))
    made = np.asarray(outlined(picture, [part(word, (0.2, 0.25, 0.5, 0.5))]))
    changed = (made != np.asarray(picture)).any(axis=2)
    y, x = np.mgrid[0:400, 0:600]
    near_side = (np.abs(x - 120) < 4) | (np.abs(x - 420) < 4) | (np.abs(y - 100) < 4) | (np.abs(y - 300) < 4)
    near_number = np.hypot(x - 120, y - 100) < 13
    assert not changed[~(near_side | near_number)].any()
    assert changed.sum() > 1_000


def test_each_word_has_a_line_of_its_own() -> None:
    assert set(STROKES) == set(STANDINGS)
    grey = Image.new("RGB", (1200, 800), GREY)
    sides = {}
    for word in STROKES:
        made = np.asarray(outlined(grey, [part(word, (0.25, 0.25, 0.5, 0.5))]))
        sides[word] = made[600 - 1 : 600 + 2, 330:870].min(axis=(0, 2)) < 60  # along the lower side, black or not
    inked = {word: float(side.mean()) for word, side in sides.items()}
    runs = {word: int(np.abs(np.diff(side.astype(int))).sum() // 2) for word, side in sides.items()}
    assert inked["supported"] == 1.0
    assert runs["supported"] == 0
    assert 0.5 < inked["inferred"] < 0.8
    assert inked["invented"] < 0.5
    assert runs["invented"] > 2 * runs["unknown"] > runs["inferred"] > 10
    assert len(set(runs.values())) == 4


@pytest.mark.parametrize("ground", [0, 119, 255])
def test_lines_show_on_dark_and_on_light(ground: int) -> None:
    plain = Image.new("RGB", (900, 600), (ground,) * 3)
    made = np.asarray(outlined(plain, [part("supported", (0.2, 0.2, 0.6, 0.6))]).convert("L")).astype(int)
    across = made[300, 170:190]
    assert across.max() - across.min() > 200


def test_lines_at_the_edge_stay_on_the_picture() -> None:
    made = np.asarray(outlined(Image.new("RGB", (900, 600), GREY), [part("supported", (0, 0, 1, 1))]).convert("L"))
    for edge in (made[:8, 450], made[-8:, 450], made[300, :8], made[300, -8:]):
        assert edge.min() < 60


def test_numbers_of_parts_with_one_corner_do_not_cover_each_other() -> None:
    grey = Image.new("RGB", (900, 600), GREY)
    both = np.asarray(outlined(grey, [part("supported", (0.2, 0.2, 0.4, 0.4), n) for n in (1, 2)]).convert("L"))
    discs = [(180, 120), (540, 120)]  # the second goes to the next corner
    for x, y in discs:
        assert (both[y - 6 : y + 7, x - 6 : x + 7] > 240).mean() > 0.4


def test_no_colour_is_added() -> None:
    made = np.asarray(outlined(Image.new("RGB", (600, 400), GREY), [part(w, (0.1, 0.1, 0.5, 0.5)) for w in STROKES]))
    assert (made.max(axis=2) == made.min(axis=2)).all()


def test_a_large_picture_is_made_smaller_and_a_small_one_is_left() -> None:
    assert max(outlined(noise((3000, 1000)), []).size) == 1_800
    assert outlined(noise((500, 400)), []).tobytes() == noise((500, 400)).tobytes()
    given = Image.open(io.BytesIO(statement_pictures(noise((500, 400)), {"parts": []})[PICTURE]))
    assert (given.format, given.size) == ("JPEG", (500, 400))
