"""Two pages that go with a finished picture: what in it rests on what, and its caption and note with their evidence.

What stands on them was drafted elsewhere and comes as plain values (the JSON of a statement, a caption and a note), so
that paper and screen say the same. The picture keeps its colours: thin outlines are drawn on a copy of it, each black
on a white edge so that it shows on dark and on light, and told apart by the line and the word, never by a colour.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from refarchive.paper import blocks
from refarchive.paper.blocks import Block, Document, Page, Section
from refarchive.records.model import Region

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

Plain = Mapping[str, Any]

PICTURE = "statement"
LONGEST_PX = 1_800
QUALITY = 92  # of the JPEG, whose thin lines keep their whole colour resolution
# How the outline of each word is drawn: lengths on and off, in widths of the line; nothing for a whole line.
STROKES: Mapping[str, tuple[float, ...]] = {
    "supported": (),
    "inferred": (9.0, 4.5),
    "invented": (1.0, 2.2),
    "unknown": (9.0, 3.0, 1.0, 3.0),
}
KEY = "Outlines: —— whole, supported; – – – broken, inferred; · · · · dotted, invented; – · – · both, unknown."
WHAT = "What in the picture is supported, inferred, invented or unknown"
DRAFTED = "Drafted from the record by templates; the photographer has not yet put it into words of their own."
ABOUT = (
    "The words are the photographer's. Beside them stands what the record proposes, by rules that are printed with it; "
    "where the two differ both are told."
)
RULES = (
    "The words are the photographer's. The record proposes: supported, by an independent witness from within a year of "
    "the event (what descends from one original is one witness); inferred, by other evidence only; invented, where the "
    "photographer said so; unknown, where nothing shows or describes it. Shares are of the rectangles, larger "
    "than what they mark."
)
SUPERSCRIPT = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
_SHARP = 3  # times the size at which lines are drawn before they are made small
_SUPPORTING = ("shows", "describes")


# --- the document -----------------------------------------------------------------------------------------------------


def statement_document(
    title: str,
    statement: Plain,
    caption: Plain,
    note: Plain,
    *,
    scene: str,
    version: str,
    date: str,
    alt_text: str = "",
    left_caption: str = "",
    left_note: str = "",
    sources: Iterable[tuple[str, str]] = (),
) -> Document:
    """The pages; their pictures are those of `statement_pictures`.

    `left_caption` and `left_note` are the words as the person left them; where they are given, they are printed in the
    place of the drafts, and the draft's evidence under them without numbers in the text. `sources` are the references
    cited, (number, archival caption), so that the numbers can be read where the dossier is not at hand.
    """
    sections = [
        blocks.section("cover", "What it rests on", [_statement(title, statement, alt_text)]),
        _words(caption, note, left_caption, left_note),
    ]
    cited = list(sources)
    if cited:
        page = blocks.page("", [blocks.facts(cited)])
        sections.append(blocks.section("sources", "References cited", [page], start="sheet"))
    return blocks.document(title, WHAT, scene, version, date, ABOUT, sections)


def _statement(title: str, statement: Plain, alt_text: str) -> Page:
    parts = statement["parts"]
    named = "; ".join(f"{one['number']}, {one['name']}" for one in parts) or "nothing"
    alt = f"{alt_text or title} Outlined: {named}."
    body: list[Block] = [blocks.plate(PICTURE, "", KEY if parts else "", alt, size="large")]
    if parts:
        rows = [(one["number"], one["name"], one["word"], _why(one), _rests_on(one["proposal"])) for one in parts]
        body.append(blocks.table(("", "What", "Word", "Why", "Rests on"), rows))
    else:
        body.append(blocks.text("No part of the picture is marked yet."))
    return blocks.page("", [*body, blocks.text("\n".join([*in_all(statement), RULES]), "small")])


def _why(part: Plain) -> str:
    """The person's reason, else the record's in brief; where the words differ, the record's word."""
    proposal = part["proposal"]
    told = [f"“{part['why']}”." if part["why"] else ""]
    if part["disagreement"]:
        reason = "" if part["why"] else f": {proposal['brief'][:1].lower()}{proposal['brief'][1:-1]}"
        told.append(f"The record proposes {proposal['word']}{reason}.")
    elif proposal and not part["why"]:
        told.append(proposal["brief"])
    return " ".join(one for one in told if one) or "–"


def _rests_on(proposal: Plain | None) -> str:
    """Numbers, each once: what supports, then what contradicts."""
    if proposal is None:
        return "–"
    by = {way: _numbers(proposal["rests_on"], way) for way in (True, False)}
    against = f"against: {by[False]}" if by[False] else ""
    return "; ".join(one for one in (by[True], against) if one) or "–"


def _numbers(grounds: Iterable[Plain], supporting: bool) -> str:
    return folded(one["number"] for one in grounds if (one["relation"] in _SUPPORTING) is supporting)


def folded(numbers: Iterable[str]) -> str:
    """Numbers under which references are cited, each once, the passages of a text together.

    >>> folded(["Pl. 1 a", "T. 2, passage 3", "Pl. 1 a", "T. 2, passage 5"]).split()
    ['Pl.', '1', 'a;', 'T.', '2,', 'passages', '3,', '5']
    """
    together: dict[str, list[str]] = {}
    for number in numbers:
        base, _, passage = number.partition(", passage")
        if base:
            together.setdefault(base, []).append(passage.strip())
    told = []
    for base, found in together.items():
        passages = list(dict.fromkeys(one for one in found if one))
        word = "passages" if len(passages) > 1 else "passage"
        told.append(f"{base}, {word}\u00a0{', '.join(passages)}" if passages else base)
    return "; ".join(told)


def in_all(statement: Plain) -> list[str]:
    """What is to be said of the whole, a paragraph each."""
    shares = [f"{word} {share(part)}" for word, part in statement["shares"].items() if part]
    told = []
    if statement["parts"]:
        rest = f"not marked {share(1.0 - statement['marked_share'])}"
        over = statement["contested_share"]
        pairs = ", ".join(f"{one['one']} and {one['other']}" for one in statement["overlaps"])
        under_two = f" Under two words: {share(over)}, parts {pairs}." if over else ""
        told.append(f"Of the picture: {', '.join([*shares, rest])}.{under_two}")
    unmarked = [f"{one['name']} ({one['word']})" for one in statement["unmarked"]]
    if unmarked:
        told.append(f"Marked nowhere, with what the record proposes: {'; '.join(unmarked)}.")
    told += [
        f"Part {one['number']}: {words}"
        for one in statement["parts"]
        for words in (one["proposal"]["disputed"] if one["proposal"] else ())
        if words.startswith("Open question")
    ]
    return [*told, *statement["notices"]]


def share(part: float) -> str:
    """A share of the picture in per cent, as rounded as the marking by hand deserves."""
    cent = 100.0 * part
    return "under 1 %" if 0 < cent < 1 else f"{cent:.0f} %"


def _words(caption: Plain, note: Plain, left_caption: str, left_note: str) -> Section:
    forms = [("Short", caption["short"]["text"]), ("On the label", caption["label"]["text"])]
    captions = blocks.page("Caption", [blocks.text(left_caption or caption["long"]["text"]), blocks.facts(forms)])
    text = [blocks.text(left_note)] if left_note.strip() else [*_numbered(note), blocks.text(DRAFTED, "small")]
    pages = [captions, *([blocks.page("Historical note", text)] if note["claims"] or left_note.strip() else [])]
    if note["claims"]:
        title = "What the sentences rest on" if not left_note.strip() else "What the draft of the note rests on"
        pages.append(blocks.page(title, _endnotes(note, bool(left_note.strip()))))
    return blocks.section("words", "Caption and note", pages, start="sheet")


def _endnotes(note: Plain, left: bool) -> list[Block]:
    """What the sentences rest on, by section; with `left` behind the sentences, since they do not stand above."""
    told: dict[str, dict[str, list[str]]] = {}
    for number, claim in enumerate(note["claims"], start=1):
        rests = f"{claim['text']} {_evidence(claim)}" if left else _evidence(claim)
        told.setdefault(claim["section"], {}).setdefault(rests, []).append(str(number))
    lines = (
        "  ".join(f"{' '.join(n.translate(SUPERSCRIPT) for n in own)}\u00a0{rests}" for rests, own in by.items())
        for by in told.values()
    )
    return [blocks.text("\n".join(lines), "small")]


def _numbered(note: Plain) -> Iterable[Block]:
    """The note's sections, each sentence with a raised number."""
    headings = note["headings"]
    told: dict[str, list[str]] = {name: [] for name in headings}
    for number, claim in enumerate(note["claims"], start=1):
        told[claim["section"]].append(f"{claim['text']}\u2060{str(number).translate(SUPERSCRIPT)}")
    for name, own in told.items():
        if own:
            yield blocks.text(f"{headings[name]}. {' '.join(own)}" if headings[name] else " ".join(own))


def _evidence(claim: Plain) -> str:
    """What a sentence rests on, in one line: evidence by need, then the fields that it repeats."""
    names = {one["need"]: one["words"] for one in claim["rests_on"] if one["need"] and one["words"]}
    by_need: dict[str, list[str]] = {}
    for one in claim["rests_on"]:
        if one["number"] and not one["words"]:
            way = "" if one["relation"] in (*_SUPPORTING, "") else f" ({one['relation']})"
            by_need.setdefault(names.get(one["need"], ""), []).append(f"{one['number']}{way}")
    told = [f"{f'{name}: ' if name else ''}{folded(own)}" for name, own in by_need.items()]
    if not told:
        told = list(dict.fromkeys(_field(one["field"]) for one in claim["rests_on"] if one["words"]))
    whole = ". ".join(told)
    return f"{whole[:1].upper()}{whole[1:]}."


def _field(name: str) -> str:
    """Where a field stands, for a reader of paper."""
    room, _, rest = name.partition(".")
    kind, _, which = room.partition(":")
    kinds = {
        "scene": "the plan of the scene",
        "figure": "the plan of the scene",
        "need": "the plan's needs",
        "particulars": "what was entered with the picture",
        "part": f"part {which}, as the photographer marked it",
        "place": "the record of the place",
        "first dates": "the table of first dates",
    }
    return kinds.get(kind, f"its record, {rest}")


# --- pictures ---------------------------------------------------------------------------------------------------------


def statement_pictures(picture: Image, statement: Plain) -> dict[str, bytes]:
    """What `statement_document` shows: the outlined copy of an upright sRGB picture, as JPEG."""
    out = io.BytesIO()
    # Without `optimize`: Pillow keeps a byte a pixel for that; a picture of much grain needs more, and then it fails.
    outlined(picture, statement["parts"]).save(out, "JPEG", quality=QUALITY, subsampling=0)
    return {PICTURE: out.getvalue()}


def outlined(picture: Image, parts: Sequence[Plain], *, longest: int = LONGEST_PX) -> Image:
    """A copy of a picture, its long side at most `longest` pixels, with numbered outlines; else unchanged.

    `parts` have `number`, `region` and `word` (a key of `STROKES`).
    """
    from PIL import Image as Pictures
    from PIL.Image import Resampling

    copy = picture.convert("RGB")
    if max(copy.size) > longest:
        copy.thumbnail((longest, longest), resample=Resampling.LANCZOS, reducing_gap=3.0)
    width, height = copy.size
    line = max(1.0, 0.0013 * max(width, height))
    for ink, wide in (("white", 2.6 * line), ("black", line)):
        mask = Pictures.new("L", (width * _SHARP, height * _SHARP), 0)
        _draw_outlines(mask, parts, wide * _SHARP, line * _SHARP, whole=ink == "white")
        copy.paste(ink, (0, 0), mask.resize((width, height), Resampling.BOX))
    _draw_numbers(copy, parts, line)
    return copy


def _draw_outlines(mask: Image, parts: Sequence[Plain], wide: float, line: float, *, whole: bool) -> None:
    from PIL import ImageDraw

    draw = ImageDraw.Draw(mask)
    for part in parts:
        left, top, right, bottom = _box(part["region"], mask.width, mask.height, line)
        dash = () if whole else STROKES[part["word"]]
        sides = [
            (left, top, right, top),
            (right, top, right, bottom),
            (left, bottom, right, bottom),
            (left, top, left, bottom),
        ]
        for side in sides:
            _stroke(draw, side, wide, [length * line for length in dash])


def _box(region: Region, width: int, height: int, line: float) -> tuple[float, float, float, float]:
    """The middle of the outline [px]; at an edge of the picture it is drawn in, so that the whole of it shows."""
    x, y, w, h = region
    inset = 1.3 * line
    return (
        min(max(x * width, inset), width - inset), min(max(y * height, inset), height - inset),
        max(min((x + w) * width, width - inset), inset), max(min((y + h) * height, height - inset), inset),
    )  # fmt: skip


def _stroke(draw: ImageDraw, side: tuple[float, float, float, float], wide: float, dash: Sequence[float]) -> None:
    """An upright or level line, whole or broken, the ends squared by half its width so that corners close."""
    x0, y0, x1, y1 = side
    half = wide / 2.0
    long = math.hypot(x1 - x0, y1 - y0)
    ux, uy = ((x1 - x0) / long, (y1 - y0) / long) if long else (1.0, 0.0)

    def piece(start: float, end: float) -> None:
        xs = sorted((x0 + ux * start, x0 + ux * end))
        ys = sorted((y0 + uy * start, y0 + uy * end))
        draw.rectangle(
            (round(xs[0] - half * uy), round(ys[0] - half * ux), round(xs[1] + half * uy), round(ys[1] + half * ux)),
            fill=255,
        )

    if not dash:
        piece(-half, long + half)
        return
    at, on = 0.0, 0
    while at < long:
        end = at + dash[on % len(dash)]
        if on % 2 == 0:
            piece(at, min(end, long))
        at, on = end, on + 1


def _draw_numbers(copy: Image, parts: Sequence[Plain], line: float) -> None:
    """Numbers on small white discs at a corner of their outline, the first where no other number stands."""
    from pathlib import Path

    from matplotlib import get_data_path
    from PIL import ImageDraw, ImageFont

    radius = max(7.0, 8.5 * line)
    face = ImageFont.truetype(str(Path(get_data_path(), "fonts", "ttf", "DejaVuSerif.ttf")), round(1.25 * radius))
    draw = ImageDraw.Draw(copy)
    taken: list[tuple[float, float]] = []
    for part in parts:
        left, top, right, bottom = _box(part["region"], copy.width, copy.height, line)
        middle = (left + right) / 2.0, (top + bottom) / 2.0
        places = [(left, top), (right, top), (left, bottom), (right, bottom), (middle[0], top), (middle[0], bottom)]
        places += [(left, middle[1]), (right, middle[1]), middle]
        inside = [
            (min(max(x, radius + 1), copy.width - radius - 2), min(max(y, radius + 1), copy.height - radius - 2))
            for x, y in places
        ]
        at = max(inside, key=lambda dot: min([math.dist(dot, one) for one in taken] + [2.4 * radius]))
        taken.append(at)
        box = (at[0] - radius, at[1] - radius, at[0] + radius, at[1] + radius)
        draw.ellipse(box, fill="white", outline="black", width=max(1, round(line)))
        draw.text(at, str(part["number"]), fill="black", font=face, anchor="mm")
