"""The shape of a printed document: plain dictionaries, lists, strings and numbers, and no markup.

A document is JSON-able. Whoever writes content builds it with the functions here; whoever sets it (HTML, PDF) knows
these blocks and no records. Pictures are named and travel beside the document. Every text is untrusted: it is cleaned
here of what no page can show, and is never markup.

Blocks, by `type`:

==========  ============================================================================================
heading     `text`
text        `text` (blank lines part paragraphs), `style`: "lead", "body" or "small"
facts       `rows`: (label, value); a value is a text or a list of texts
table       `columns`, `rows`, `numeric` (indexes of columns set to the right), `total` (whether the last row sums up)
plate       one picture: `picture` (name or None), `number`, `caption`, `remark` (small print after the caption),
            `alt`, `size` "large", "medium" or "small", `within` (for a detail: `picture` and `region` of where it
            sits), `details` (plates set under it), `beside` (blocks set next to it)
plates      `items`: plates in a row of small ones
quote       `text`, `number`, `caption`, `remark`
swatches    `items`: `hex`, `lab`, `name`, `note`
list        `items`, `title`
caution     `title`, `text`, `items`
question    `title`, `items`: (about, text)
tick        `title`, `items`: lines to be ticked by hand
pair        `left`, `right`: plates shown at equal height
verdicts    `groups`: `title`, `lines` of `label`, `target`, `frame`, `difference`, `tolerance`, `verdict`, `note`,
            `remedy` (what would bring the line within), and `target_colours`, `frame_colours`: (hex, start,
            width) of a bar of colours, or empty
==========  ============================================================================================
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

Block = dict[str, Any]
Page = dict[str, Any]
Section = dict[str, Any]
Document = dict[str, Any]
Plate = dict[str, Any]
FactValue = str | Sequence[str]

TEXT_LIMIT = 6_000  # characters of one text on paper; what is cut is said
CAPTION_LIMIT = 2_000  # of a caption
_HEX = re.compile(r"#[0-9a-fA-F]{6}")
_DIRECTION = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def clean(value: object, limit: int = TEXT_LIMIT, *, lines: bool = False) -> str:
    """Make one printable text.

    Control characters go; line ends become spaces unless `lines`; characters that reorder the text around them, and
    halves of surrogate pairs, are written out, as in [U+202E]; a text over `limit` characters is cut and says so.
    """
    text = str(value)
    length = len(text)
    cut = length > limit
    out = []
    for character in text[:limit]:
        if character in "\n\r\x0b\x0c\x85\u2028\u2029":
            out.append("\n" if lines and character != "\r" else " ")
        elif character in _DIRECTION or unicodedata.category(character) == "Cs":
            out.append(f"[U+{ord(character):04X}]")
        elif unicodedata.category(character) == "Cc":
            out.append(" ")
        else:
            out.append(character)
    kept = "".join(out)
    kept = "\n".join(" ".join(line.split(" ")).strip() for line in kept.split("\n")) if lines else kept.strip()
    return f"{kept} … [cut; {length:,} characters in all]" if cut else kept


def heading(text: str) -> Block:
    """A heading inside a page."""
    return {"type": "heading", "text": clean(text)}


def text(value: str, style: str = "body") -> Block:
    """Running text."""
    return {"type": "text", "text": clean(value, lines=True), "style": style}


def facts(rows: Iterable[tuple[str, FactValue]]) -> Block:
    """Label and value rows; rows without a value are left out."""
    kept: list[list[Any]] = []
    for label, value in rows:
        cleaned = clean(value, lines=True) if isinstance(value, str) else [c for c in map(clean, value) if c]
        if cleaned:
            kept.append([clean(label, 200), cleaned])
    return {"type": "facts", "rows": kept}


def table(
    columns: Sequence[str], rows: Iterable[Sequence[object]], *, numeric: Sequence[int] = (), total: bool = False
) -> Block:
    """A table; `numeric` columns are set to the right, and with `total` the last row is a sum."""
    return {
        "type": "table",
        "columns": [clean(c, 200) for c in columns],
        "rows": [[clean(cell, 1_000) for cell in row] for row in rows],
        "numeric": list(numeric),
        "total": total,
    }


def plate(
    picture: str | None,
    number: str,
    caption: str,
    alt: str,
    *,
    remark: str = "",
    size: str = "large",
    within: Mapping[str, Any] | None = None,
    details: Iterable[Plate] = (),
    beside: Iterable[Block] = (),
) -> Plate:
    """One picture with its number and caption; see the table above."""
    return {
        "type": "plate",
        "picture": picture,
        "number": clean(number, 40),
        "caption": clean(caption, CAPTION_LIMIT),
        "remark": clean(remark, CAPTION_LIMIT),
        "alt": clean(alt, 600) or "Picture without a description",
        "size": size,
        "within": dict(within) if within else None,
        "details": list(details),
        "beside": list(beside),
    }


def plates(items: Iterable[Plate]) -> Block:
    """A row of small plates."""
    return {"type": "plates", "items": list(items)}


def quote(value: str, number: str, caption: str, remark: str = "") -> Block:
    """A passage of a text with its number."""
    return {
        "type": "quote",
        "text": clean(value, lines=True),
        "number": clean(number, 40),
        "caption": clean(caption),
        "remark": clean(remark, CAPTION_LIMIT),
    }


def swatches(items: Iterable[Mapping[str, str]]) -> Block:
    """Colours with where they were read; `hex` is "#rrggbb", or "" where no colour could be read."""
    made = [{key: clean(v, 600) for key, v in item.items()} for item in items]
    for item in made:
        item["hex"] = item["hex"].lower() if _HEX.fullmatch(item["hex"]) else ""
    return {"type": "swatches", "items": made}


def listing(items: Iterable[str], title: str = "") -> Block:
    """A plain list."""
    return {"type": "list", "title": clean(title, 200), "items": [clean(item) for item in items]}


def caution(title: str, value: str, items: Iterable[str] = ()) -> Block:
    """A caution, with what was arranged for it."""
    return {
        "type": "caution",
        "title": clean(title, 200),
        "text": clean(value, lines=True),
        "items": [clean(item) for item in items],
    }


def question(title: str, items: Iterable[tuple[str, str]]) -> Block:
    """Open questions of one kind: what each is about, and the question."""
    return {"type": "question", "title": clean(title, 200), "items": [[clean(a), clean(b)] for a, b in items]}


def tick(title: str, items: Iterable[str]) -> Block:
    """Lines to be ticked by hand."""
    return {"type": "tick", "title": clean(title, 200), "items": [clean(item) for item in items]}


def pair(left: Plate, right: Plate) -> Block:
    """Two pictures at equal height."""
    return {"type": "pair", "left": left, "right": right}


def verdicts(groups: Iterable[Mapping[str, Any]]) -> Block:
    """The lines of a check, in groups."""
    return {
        "type": "verdicts",
        "groups": [
            {
                "title": clean(group["title"], 400),
                "lines": [
                    {key: _bar(v) if key.endswith("_colours") else clean(v, 1_500) for key, v in line.items()}
                    for line in group["lines"]
                ],
            }
            for group in groups
        ],
    }


def _bar(colours: Iterable[tuple[str, float]]) -> list[list[Any]]:
    """Colours with their shares as (hex, start, width), widths adding up to 1."""
    kept = [(hexed.lower(), float(share)) for hexed, share in colours if _HEX.fullmatch(hexed) and share > 0]
    whole = sum(share for _, share in kept)
    bar, start = [], 0.0
    for hexed, share in kept:
        bar.append([hexed, round(start / whole, 5), round(share / whole, 5)])
        start += share
    return bar


def page(title: str, blocks: Iterable[Block], *, start: str = "flow") -> Page:
    """A page: kept together where it fits on one sheet; `start` "sheet" begins a new one."""
    return {"title": clean(title, 400), "blocks": [b for b in blocks if not _empty(b)], "start": start}


def section(identity: str, title: str, pages: Iterable[Page], *, department: str = "", start: str = "flow") -> Section:
    """A section: its own heading and bookmark; `start` "sheet" begins a new sheet."""
    return {
        "id": identity,
        "title": clean(title, 400),
        "department": department,
        "start": start,
        "pages": list(pages),
    }


def document(
    title: str, subtitle: str, scene: str, version: str, date: str, about: str, sections: Iterable[Section]
) -> Document:
    """The whole; sections without pages are left out."""
    return {
        "title": clean(title, 400),
        "subtitle": clean(subtitle, 600),
        "scene": clean(scene, 200),
        "version": clean(version, 60),
        "date": clean(date, 60),
        "lang": "en",
        "about": clean(about),
        "sections": [s for s in sections if s["pages"]],
    }


def walk(value: Any) -> Iterable[dict[str, Any]]:
    """Every dictionary inside a document, outermost first."""
    if isinstance(value, dict):
        yield value
        for inner in value.values():
            yield from walk(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from walk(inner)


def pictures_of(document: Document) -> tuple[str, ...]:
    """Names of the pictures that a document shows, in order of first use."""
    found = (d["picture"] for d in walk(document) if isinstance(d.get("picture"), str))
    return tuple(dict.fromkeys(found))


def _empty(block: Block) -> bool:
    for key in ("rows", "items", "groups"):
        if key in block and not block[key] and not block.get("text"):
            return True
    return block["type"] == "text" and not block["text"]
