"""Sheets on which every picture, line and word stands at a place given in millimetres, set as PDF.

Where `pdf.py` lets text flow, here nothing does: a picture that is to be 237 × 158 mm is that, within what a PDF can
say (tests measure it, in the file and in its pixels). Typst does the setting; what is shown reaches it as data, never
as markup. The PDF is tagged and holds to PDF/UA-1; items are read in the order given. The same input gives the same
bytes.

A document is a dictionary, JSON-able: `title`, `about`, `lang`, and `sheets` of `width`, `height` and `items`. Items
come from the functions here, which clean every text and refuse every number that cannot be.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal

from refarchive import leftovers
from refarchive.errors import CannotPrint
from refarchive.paper import pdf as setting
from refarchive.paper.blocks import clean
from refarchive.paper.print_pictures import AS_IT_IS_BYTES, MOST_PPI, Ready, ready
from refarchive.paper.print_sizes import Box, positive
from refarchive.paper.shown import is_drawing, measured

INK: Final = "#1a1a1a"
GREY: Final = "#595959"
RULE: Final = "#737373"
HAIR: Final = "#b2b2b2"
MOST_SHEETS: Final = 200
MOST_ITEMS: Final = 20_000
_MOST_TOGETHER: Final = 200_000_000  # bytes of files that go into one PDF as they are
_OFF: Final = 0.015  # part by which a picture's proportions may differ from those of its place: a preview is rounded
_MOST_MM: Final = 2_000.0

Item = dict[str, Any]
Sheet = dict[str, Any]
Document = dict[str, Any]
Cut = Literal["end", "middle", "wrap"]


def words(
    x: float,
    y: float,
    width: float,
    value: object,
    size_pt: float = 8.0,
    *,
    italic: bool = False,
    align: Literal["left", "center", "right"] = "left",
    cut: Cut = "end",
    ink: str = INK,
    level: int = 0,
) -> Item:
    """Words whose capitals begin at y: one line, cut to its width at its end or in its middle, or wrapped.

    With a `level` from 1 they are a heading, and a bookmark.
    """
    text = clean(value, 1_500 if cut == "wrap" else 400)
    return {
        "type": "words",
        **_at(x, y),
        "w": positive(width, "the width of words", least=0.0, most=_MOST_MM, unit="mm"),
        "text": text if cut == "wrap" else " ".join(text.split()),
        "size": positive(size_pt, "the size of words", least=3.0, most=60.0, unit="pt"),
        "style": "italic" if italic else "normal",
        "align": align,
        "cut": cut,
        "ink": ink,
        "level": level,
    }


def picture(
    box: Box,
    name: str,
    alt: object,
    *,
    most_ppi: float = MOST_PPI,
    as_it_is_bytes: int = AS_IT_IS_BYTES,
    sharp: bool = False,
) -> Item:
    """A picture, whole, in a box of its own proportions; with `sharp`, its pixels are not smoothed."""
    x, y, wide, tall = box
    return {
        "type": "picture",
        **_at(x, y),
        "w": positive(wide, "the width of a picture", least=0.5, most=_MOST_MM, unit="mm"),
        "h": positive(tall, "the height of a picture", least=0.5, most=_MOST_MM, unit="mm"),
        "picture": name,
        "alt": clean(alt, 600) or "Picture without a description",
        "most_ppi": positive(most_ppi, "the pixels per inch", least=36.0, most=2_400.0),
        "as_it_is_bytes": int(as_it_is_bytes),
        "sharp": bool(sharp),
    }


def rule(x: float, y: float, to_x: float, to_y: float, *, weight_pt: float = 0.25, ink: str = RULE) -> Item:
    """A thin line."""
    ends = {"w": _at(to_x, to_y)["x"] - x, "h": _at(to_x, to_y)["y"] - y}
    return {"type": "rule", **_at(x, y), **ends, "weight": weight_pt, "ink": ink}


def area(box: Box, *, fill: str = "", weight_pt: float = 0.0, ink: str = RULE) -> Item:
    """A rectangle, filled or with an outline."""
    return {
        "type": "area",
        **_at(box[0], box[1]),
        "w": positive(box[2], "the width of an area", least=0.0, most=_MOST_MM, unit="mm"),
        "h": positive(box[3], "the height of an area", least=0.0, most=_MOST_MM, unit="mm"),
        "fill": fill,
        "weight": weight_pt,
        "ink": ink,
    }


def blanks(x: float, y: float, width: float, parts: Sequence[tuple[str, float]], size_pt: float = 8.0) -> Item:
    """A line of words, each followed by a rule so many millimetres long to write on."""
    return {
        **words(x, y, width, "", size_pt),
        "type": "blanks",
        "parts": [
            {"text": clean(label, 200), "room": positive(room, "the room to write", least=0.0, most=200.0, unit="mm")}
            for label, room in parts
        ],
    }


def sheet(width_mm: float, height_mm: float, items: Iterable[Item]) -> Sheet:
    """One sheet of paper."""
    return {"width": width_mm, "height": height_mm, "items": list(items)}


def document(title: object, about: object, sheets: Iterable[Sheet]) -> Document:
    """All sheets of one PDF."""
    return {
        "title": clean(title, 400) or "Sheets",
        "about": clean(about, 1_000),
        "lang": "en",
        "sheets": list(sheets),
    }


@dataclass(frozen=True)
class Set:
    """A PDF, and what was done to each picture in it, by name."""

    pdf: bytes
    said: Mapping[str, str]


def write_sheets(
    given: Document, pictures: Mapping[str, bytes], *, standards: Literal["ua-1"] | None = setting.PDF_UA
) -> Set:
    """Set sheets as PDF.

    Parameters
    ----------
    given
        As `document` makes it.
    pictures
        JPEG, PNG or TIFF files, or drawings as SVG, by the names that the items use; in place of one that lacks, an
        empty frame says so.
    standards
        The PDF standard to hold to; PDF/UA-1 (ISO 14289-1) unless None.

    Raises
    ------
    CannotPrint
        where there are no sheets or too many, an item leaves its sheet, a picture cannot be used or has other
        proportions than its place, or the setting fails.
    """
    _check(given)
    data, machine_faces = setting.printable(given)
    with leftovers.temporary("pdf") as folder:
        root = Path(folder)
        data["pictures"], said = _lay_out(data, pictures, root)
        next_step = "Take out the last picture added, and report the words above."
        return Set(setting.compiled(data, root, "sheets.typ", machine_faces, standards, next_step), said)


def _at(x: object, y: object) -> dict[str, float]:
    return {
        key: positive(value, "a place on a sheet", least=-1.0, most=_MOST_MM, unit="mm")
        for key, value in (("x", x), ("y", y))
    }


def _check(given: Document) -> None:
    sheets: Sequence[Sheet] = given["sheets"]
    if not 1 <= len(sheets) <= MOST_SHEETS:
        raise CannotPrint(
            f"{len(sheets)} sheets cannot be set at once.", f"Give from 1 to {MOST_SHEETS}, and the rest after that."
        )
    if sum(len(one["items"]) for one in sheets) > MOST_ITEMS:
        raise CannotPrint("There is too much on these sheets.", "Set them in parts.")
    for number, one in enumerate(sheets, start=1):
        for item in one["items"]:
            right, bottom = item["x"] + item["w"], item["y"] + item.get("h", 0.0)
            if (
                min(right, item["x"], bottom, item["y"]) < -0.01
                or right > one["width"] + 0.01
                or bottom > one["height"] + 0.01
            ):
                raise CannotPrint(
                    f"Something on sheet {number} would leave it: {clean(item.get('text', item['type']), 60)!r}.",
                    "Give wider margins, or fewer pictures a sheet.",
                )


def _lay_out(
    data: Document, pictures: Mapping[str, bytes], root: Path
) -> tuple[dict[str, dict[str, str]], dict[str, str]]:
    """Write the pictures under names of our own, and put a key of each into its item; files by key, words by name."""
    places = [item for one in data["sheets"] for item in one["items"] if item["type"] == "picture"]
    shared = max(1, _MOST_TOGETHER // max(1, len({item["picture"] for item in places})))
    laid: dict[str, dict[str, str]] = {}
    keys: dict[tuple[Any, ...], str] = {}
    said: dict[str, str] = {}
    for item in places:
        name, most = item["picture"], min(item.pop("as_it_is_bytes"), shared)
        key = (name, item["w"], item["h"], item.pop("most_ppi"), most)
        if name in pictures and key not in keys:
            keys[key] = mark = f"{len(keys):05d}"
            made = _prepared(name, pictures[name], item, key[3], most)
            (root / f"{mark}.{made.suffix}").write_bytes(made.data)
            if made.profile is not None:
                (root / f"{mark}.icc").write_bytes(made.profile)
            laid[mark] = {"file": f"{mark}.{made.suffix}", "profile": f"{mark}.icc" if made.profile else ""}
            said[name] = made.said
        item["picture"] = keys.get(key, "")
    return laid, said


def _prepared(name: str, data: bytes, item: Item, most_ppi: float, most_bytes: int) -> Ready:
    if is_drawing(data):
        drawn = measured(name, data)
        made = Ready(
            data, drawn.suffix, None, round(drawn.width * 1000), round(drawn.height * 1000), True, "A drawing."
        )
    else:
        made = ready(name, data, item["w"], item["h"], most_ppi=most_ppi, as_it_is_bytes=most_bytes)
    place, own = item["w"] / item["h"], made.width_px / made.height_px
    if not 1.0 - _OFF <= own / place <= 1.0 + _OFF:
        raise CannotPrint(
            f"The picture {clean(name, 80)!r} is {made.width_px} × {made.height_px} pixels and would be stretched to "
            f"{item['w']:.1f} × {item['h']:.1f} mm.",
            "Lay the sheet out again with the picture's own proportions.",
        )
    return made
