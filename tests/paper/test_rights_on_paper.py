"""Rights and credit lines on paper: what each picture may be used for, and credits whole and as given."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from poppler import text_of

from refarchive.paper import blocks
from refarchive.paper.citing import CAPTION_CREDIT, archival_caption, in_pieces
from refarchive.paper.found import found_sheet
from refarchive.paper.html import write_html
from refarchive.paper.pdf import write_pdf
from refarchive.records.model import Reference
from refarchive.records.uses import CAUTION

ODD = "© The Keeper’s Room; “Gift of N.” (no. 3) – do not crop"


def rows_of(document: dict[str, Any]) -> dict[str, dict[str, Any]]:
    section = next(s for s in document["sections"] if s["title"] == "Sources and rights")
    return {
        b["number"].replace("\u00a0", " "): dict(b["beside"][0]["rows"])
        for b in blocks.walk(section)
        if b.get("type") == "plate"
    }


def credited(made: Any, **changes: str) -> Any:
    return replace(made, references={**made.references, "sands": replace(made.references["sands"], **changes)})


def test_each_source_says_what_it_may_be_used_for(made: Any) -> None:
    document = credited(
        made, rights="CC BY-NC 4.0", basis="its licence", basis_evidence="the page", credit=ODD
    ).dossier()
    rows = rows_of(document)
    assert all(row["Rights"] and row["Use"] for row in rows.values())
    assert rows["Pl. 1"]["Rights"] == "CC BY-NC 4.0 (http://creativecommons.org/licenses/by-nc/4.0/)"
    assert "no commercial use" in rows["Pl. 1"]["Use"]
    assert rows["Pl. 1"]["Credit line"] == ODD
    assert CAUTION in [b.get("text") for s in document["sections"] for b in blocks.walk(s)]


def test_a_credit_line_is_printed_as_it_was_given(made: Any) -> None:
    document = credited(made, credit=ODD).dossier()
    assert ODD in text_of(write_pdf(document, {}))
    assert ODD in write_html(document, {})


def test_a_credit_line_is_never_cut(made: Any) -> None:
    long = " ".join(f"giver{number:04d}" for number in range(1, 1_301))
    assert len(long) > 2 * blocks.TEXT_LIMIT
    document = credited(made, credit=long).dossier()
    numbers = [f"giver{number:04d}" for number in range(1, 1_301)]
    for text in (text_of(write_pdf(document, {})), write_html(document, {})):
        assert re.findall(r"giver\d{4}", text) == numbers


def test_a_long_caption_gives_way_to_its_credit() -> None:
    reference = Reference("r", "image", "t" * 5_000, "f.png", medium="m" * 5_000, credit=ODD)
    caption = archival_caption(reference, "n" * 5_000)
    assert caption.endswith(ODD)
    assert blocks.plate(None, "1", caption, "a")["caption"] == caption
    longer = replace(reference, credit="c" * (CAPTION_CREDIT + 1))
    assert archival_caption(longer).endswith("Credit line: see the source.")


def test_pieces_join_to_the_whole() -> None:
    for text in ("", "one", "a b " * 50, "x" * 95, " " * 41 + "end"):
        pieces = in_pieces(text, 10)
        assert "".join(pieces) == text
        assert all(0 < len(piece) <= 10 for piece in pieces)


def test_the_sheet_of_a_find_carries_rights_and_credit(made: Any) -> None:
    class Answer:
        rank, region, passage, because = 1, None, None, ()
        reference = replace(made.references["sands"], credit=ODD, rights="InC")

    document, _ = found_sheet("q", [Answer()], [], encoder="e", date="2026-02-11")
    remarks = [b["remark"] for s in document["sections"] for b in blocks.walk(s) if b.get("type") == "plate"]
    assert remarks == [f"Rights: In Copyright. Publication: no basis. {ODD} {Answer.reference.id}"]
