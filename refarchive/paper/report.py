"""What the report of a check says, as a plain document: the frame, each line with its word, and how to read them."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from refarchive.frames.check import CANNOT_TELL, DEPARTURE, INTENT, OUTSIDE, WITHIN
from refarchive.paper import blocks
from refarchive.paper.blocks import Block, Document, Page, Plate
from refarchive.paper.citing import FULL_PX, SMALL_PX, PlateRequest, archival_caption, credited, short_caption
from refarchive.records.model import Frame, Reference, Scene
from refarchive.scenes.mediums import in_brief

PAIR_PX = 900
NO_VALUE = "–"
LEGEND = (
    (WITHIN, "The difference lies within the tolerance of the line."),
    (OUTSIDE, "The difference lies outside it. That is a finding, not a fault."),
    (CANNOT_TELL, "Nothing trustworthy was measured, or nobody has said; the note says why and what would change it."),
    (DEPARTURE, "The photographer notes that the frame departs here on purpose; the figures stay as measured."),
)
ABOUT = (
    "Each line is measured by itself, and there is no score for the whole: likeness to references is not success. "
    "Figures depend on how the file was developed. The notes say how each was measured."
)
STUDIED = "Measured by itself, with nothing to hold it against: what is there, not what ought to be."
MEASURES = {
    "palette": "Palette",
    "key": "Key (median lightness)",
    "contrast": "Contrast",
    "warmth": "Warmth",
    "blown out": "Blown out",
    "blocked up": "Blocked up",
    "horizon": "Horizon",
    "light": "Direction of light",
    "lit to shadow": "Lit side to shadow side",
    "shadow edge": "Width of a shadow's edge",
    "values": "Values",
    "layout": "Layout of light and dark",
    "likeness": "Likeness",
}


def check_report(
    scene: Scene,
    frame: Frame,
    lines: Sequence[Mapping[str, Any]],
    *,
    references: Mapping[str, Reference],
    date: str,
    version: str = "",
    facts: Sequence[tuple[str, str]] = (),
    colours: Sequence[Mapping[str, str]] = (),
    studies: Sequence[tuple[str, str]] = (),
    overlays: Mapping[str, tuple[bool, str]] | None = None,
    beside: Collection[str] | None = None,
) -> tuple[Document, tuple[PlateRequest, ...]]:
    """Write the report of a check.

    Parameters
    ----------
    scene, frame
        The scene, and the frame shot for it.
    lines
        Dictionaries with `measure`, `against` ("intent" or a reference id), `target`, `frame`, `difference`,
        `tolerance`, `unit`, `verdict`, `note`, `label`, `remedy`.
    references
        Those compared, by id, in the order to show them.
    date, version
        As printed in the header; the revision of the scene where `version` is empty.
    facts, colours, studies
        What the frame is like by itself: names and words; its main colours as swatches; titles and words of studies,
        whose pictures are asked for as frames called `study:TITLE`.
    overlays
        By reference: whether the frame could be laid over it (then asked for as `overlay:ID`), and the words to it.
    beside
        References to show beside the frame with all figures; the others get a row each. All where None.

    Returns
    -------
    The document, and the pictures it shows.
    """
    requests = [PlateRequest("frame", "", None, FULL_PX, frame=frame.id)]
    intent = [line for line in lines if line["against"] == INTENT and line["measure"] != "need"]
    needs = [line for line in lines if line["measure"] == "need"]
    others: dict[str, list[Mapping[str, Any]]] = {name: [] for name in references}
    for line in lines:
        if line["against"] != INTENT:
            others.setdefault(line["against"], []).append(line)
    numbered = [name for name, own in others.items() if own or name in references]
    numbers = {name: number for number, name in enumerate(numbered, start=1)}
    full = [name for name in numbered if beside is None or name in beside or name not in references]
    compared: list[Page] = []
    for name in full:
        number, own, reference = numbers[name], others[name], references.get(name)
        parts: list[Block] = []
        if reference is not None and reference.kind == "image":
            picture = f"reference-{number:03d}"
            requests.append(PlateRequest(picture, reference.id, None, PAIR_PX))
            left = _frame(scene, frame, "frame-beside", "small")
            parts.append(blocks.pair(left, _reference(reference, picture, number)))
            parts += _overlay(name, number, overlays or {}, requests)
        if own:
            title = f"Frame against reference {number}"
            parts.append(blocks.verdicts([{"title": title, "lines": list(map(_line, own))}]))
        label = short_caption(reference) if reference else (own[0].get("label") or name)
        compared.append(blocks.page(f"{number}. {label}", parts))
    if any(request.reference for request in requests):
        requests.insert(1, PlateRequest("frame-beside", "", None, PAIR_PX, frame=frame.id))
    rest = [name for name in numbered if name not in full]
    if rest:
        compared.append(_in_brief_against(rest, numbers, others, references, requests))
    meant = [blocks.text(ABOUT, "small")]
    meant += [blocks.text(scene.intent.words, "lead")] if scene.intent.words else []
    sections = [
        blocks.section("frame", "The frame", [_first_page(scene, frame, lines, references)], start="sheet"),
        blocks.section("intent", "Against the intent", _group("What was intended, and what is", intent, meant)),
        blocks.section("needs", "Needs of the scene", _needs(needs)),
        blocks.section(
            "studies", "What is in the frame", _studies(scene, frame, facts, colours, studies, requests), start="sheet"
        ),
        blocks.section("references", "Against the references", compared, start="sheet"),
        blocks.section("words", "How to read the words", [blocks.page("", [blocks.facts(LEGEND)])]),
    ]
    document = blocks.document(
        f"Check of {frame.source_name}",
        scene.title,
        f"{scene.title}: {frame.source_name}",
        version or f"revision {scene.revision}",
        date,
        ABOUT,
        sections,
    )
    return document, tuple(requests)


def _first_page(
    scene: Scene, frame: Frame, lines: Sequence[Mapping[str, Any]], references: Mapping[str, Reference]
) -> Page:
    rows = [
        ("Event", scene.event),
        ("Story", scene.story),
        ("Picture", f"{frame.width} × {frame.height} pixels, in the archive since {frame.added_at[:10]}"),
    ]
    beside = _beside(lines)
    return blocks.page(
        "",
        [
            _frame(scene, frame, "frame", "large"),
            blocks.heading("In brief, against the intent"),
            blocks.facts(_in_brief(lines)),
            *([blocks.heading("Beside the references, to compare"), blocks.facts(beside)] if beside else []),
            blocks.facts(rows),
        ],
    )


def _in_brief_against(
    names: Sequence[str],
    numbers: Mapping[str, int],
    lines: Mapping[str, Sequence[Mapping[str, Any]]],
    references: Mapping[str, Reference],
    requests: list[PlateRequest],
) -> Page:
    """References that the frame need not resemble as a whole: small plates, a row each, and what was measured how."""
    plates = []
    for name in names:
        reference = references[name]
        if reference.kind == "image":
            picture = f"reference-{numbers[name]:03d}"
            requests.append(PlateRequest(picture, name, None, SMALL_PX))
            caption = credited(f"{short_caption(reference)}. {in_brief(reference)}".rstrip(), reference)
            plates.append(blocks.plate(picture, str(numbers[name]), caption, _alt(reference, numbers[name])))
    every = [(name, line) for name in names for line in lines[name]]
    measures = list(dict.fromkeys(line["measure"] for _, line in every))
    rows = []
    for name in names:
        own = {line["measure"]: _ended(line) for line in lines[name]}
        title = f"{numbers[name]}. {short_caption(references[name])}"
        rows.append([title, *(own.get(measure, NO_VALUE) for measure in measures)])
    told = [
        (
            MEASURES.get(measure, measure),
            _told([(numbers[name], line["note"]) for name, line in every if line["measure"] == measure]),
        )
        for measure in measures
    ]
    return blocks.page(
        "Other references of the scene, in brief",
        [
            blocks.plates(plates),
            blocks.table(["Reference", *(MEASURES.get(m, m) for m in measures)], rows),
            blocks.heading("How it was measured"),
            blocks.facts(told),
        ],
        start="sheet",
    )


def _told(notes: Sequence[tuple[int, str]]) -> list[str]:
    """Sentences on a measure, each once, with the numbers of the references it is said of; those of all come first."""
    said: dict[str, list[int]] = {}
    for number, note in notes:
        for sentence in dict.fromkeys(re.split(r"(?<=[.!?]) (?=[A-Z])", note)):
            said.setdefault(sentence, []).append(number)
    together: dict[tuple[int, ...], list[str]] = {}
    for sentence, of in said.items():
        together.setdefault(tuple(of), []).append(sentence)
    whole = tuple(number for number, _ in notes)
    told = [" ".join(together.pop(whole))] if whole in together else []
    return told + [f"{', '.join(map(str, of))}: {' '.join(sentences)}" for of, sentences in together.items()]


def _ended(line: Mapping[str, Any]) -> str:
    """The word a line ends in, with its figure."""
    if line["measure"] == "likeness" and isinstance(line["frame"], int | float):
        return f"{line['verdict']}: {line['frame']:.0f} of 100"
    number = _number(line["difference"], line["unit"])
    return line["verdict"] if number == NO_VALUE else f"{line['verdict']}: {number}"


def _overlay(
    name: str, number: int, overlays: Mapping[str, tuple[bool, str]], requests: list[PlateRequest]
) -> list[Block]:
    """The frame half over a reference, to look at; nothing is scored on it."""
    told, words = overlays.get(name, (False, ""))
    if not told:
        return [blocks.text(f"Not laid over each other. {words}", "small")] if words else []
    picture = f"overlay-{number:03d}"
    requests.append(PlateRequest(picture, "", None, PAIR_PX, frame=f"overlay:{name}"))
    alt = f"The frame half over reference {number}, aligned."
    caption = f"The frame half over the reference, to look at; no word hangs on it. {words}"
    return [blocks.plate(picture, f"Overlay {number}", caption, alt, size="medium")]


def _studies(
    scene: Scene,
    frame: Frame,
    facts: Sequence[tuple[str, str]],
    colours: Sequence[Mapping[str, str]],
    studies: Sequence[tuple[str, str]],
    requests: list[PlateRequest],
) -> list[Page]:
    """Studies beside each other and beside the frame, the facts, the main colours."""
    plates = []
    for number, (title, words) in enumerate(studies, start=1):
        picture = f"study-{number}"
        requests.append(PlateRequest(picture, "", None, PAIR_PX, frame=f"study:{title}"))
        plates.append(blocks.plate(picture, title, words, f"The frame, {title.lower()}.", size="small"))
    if len(plates) % 2:
        if not any(request.name == "frame-beside" for request in requests):
            requests.append(PlateRequest("frame-beside", "", None, PAIR_PX, frame=frame.id))
        plates.append(_frame(scene, frame, "frame-beside", "small"))
    parts: list[Block] = [blocks.pair(*two) for two in zip(plates[::2], plates[1::2], strict=True)]
    if facts:
        parts.append(blocks.facts(facts))
    found = [blocks.page("", [blocks.text(STUDIED, "small"), *parts])] if parts else []
    if colours:  # on a sheet of their own rather than parted
        found.append(blocks.page("Its main colours, and where they sit", [blocks.swatches(colours)]))
    return found


def _in_brief(lines: Sequence[Mapping[str, Any]]) -> list[tuple[str, str]]:
    """Lines against the intent and needs by the word they end in, and needs that nobody spoke of."""
    unsaid = [str(line.get("label") or "Need") for line in lines if _unsaid(line)]
    rows = []
    for verdict, _ in LEGEND:
        own = [
            str(line.get("label") or "Need") if line["measure"] == "need" else _measure(line)
            for line in lines
            if line["verdict"] == verdict and line["against"] == INTENT and not _unsaid(line)
        ]
        rows.append((verdict.capitalize(), ", ".join(own) or "none"))
    if unsaid:
        rows.append(("Not said yet", f"what is seen of {', '.join(unsaid)}"))
    return rows


def _beside(lines: Sequence[Mapping[str, Any]]) -> list[tuple[str, str]]:
    """Lines against references, counted by measure and the word they end in."""
    rows = []
    counted: dict[str, dict[str, int]] = {}
    for line in lines:
        if line["against"] != INTENT:
            words = counted.setdefault(_measure(line), {})
            words[line["verdict"]] = words.get(line["verdict"], 0) + 1
    for measure, words in counted.items():
        told = ", ".join(f"{words[verdict]} {verdict}" for verdict, _ in LEGEND if verdict in words)
        count = sum(words.values())
        rows.append((f"{measure}, {count} reference{'' if count == 1 else 's'}", told))
    return rows


def _unsaid(line: Mapping[str, Any]) -> bool:
    """Whether a need's line is only that nobody has said anything of it."""
    return line["measure"] == "need" and line["frame"] is None


def _measure(line: Mapping[str, Any]) -> str:
    return MEASURES.get(line["measure"], str(line["measure"]).capitalize())


def _frame(scene: Scene, frame: Frame, picture: str, size: str) -> Plate:
    return blocks.plate(
        picture, "Frame", frame.source_name, f"The frame {frame.source_name}, shot for {scene.title}.", size=size
    )


def _reference(reference: Reference, picture: str, number: int) -> Plate:
    witness = reference.witness.value.capitalize()
    told = f"{archival_caption(reference, credit=False)} {witness}. {in_brief(reference)}".rstrip()
    caption = credited(told, reference)
    return blocks.plate(picture, f"Reference {number}", caption, _alt(reference, number), size="small")


def _alt(reference: Reference, number: int) -> str:
    return f"Reference {number}: {short_caption(reference)}. {reference.description}".strip()


def _needs(needs: Sequence[Mapping[str, Any]]) -> list[Page]:
    """Needs that the person spoke of, each with its line; the others in one sentence."""
    said = [line for line in needs if not _unsaid(line)]
    unsaid = [str(line.get("label") or "Need") for line in needs if _unsaid(line)]
    pages = _group("As the person says", said) if said or not unsaid else []
    if unsaid:
        told = f"Nobody has said yet whether these are present, absent or hidden: {', '.join(unsaid)}."
        pages.append(blocks.page("", [blocks.text(told)]))
    return pages


def _group(title: str, lines: Sequence[Mapping[str, Any]], before: Sequence[Block] = ()) -> list[Page]:
    if not lines:
        return [blocks.page("", [*before, blocks.text("Nothing measurable was planned here.")])]
    return [blocks.page("", [*before, blocks.verdicts([{"title": title, "lines": list(map(_line, lines))}])])]


def _line(line: Mapping[str, Any]) -> dict[str, Any]:
    measure, unit, need = line["measure"], line["unit"], line["measure"] == "need"
    label = str(line.get("label") or "")
    # A reference's title stands above its lines already; a label beside the intent says what was asked in words.
    name = label if need else MEASURES.get(measure, measure)
    words = f"; asked for: {label}" if label and not need and line["against"] == INTENT else ""
    return {
        "label": name + words,
        "target": _value(line["target"], measure),
        "target_colours": _colours(line["target"]),
        "frame": _value(line["frame"], measure),
        "frame_colours": _colours(line["frame"]),
        "difference": _figure(line["difference"], measure, unit),
        "tolerance": _figure(line["tolerance"], measure, unit, signed=False),
        "verdict": line["verdict"],
        "remedy": str(line.get("remedy") or ""),
        "words": str(line.get("words") or ""),
        "note": " ".join(x for x in (_unit_note(line), str(line.get("note") or "")) if x),
    }


def _figure(value: Any, measure: str, unit: str, *, signed: bool = True) -> str:
    if value is not None and measure in SHARES:
        return _number(100 * value, "%", signed=signed and measure == "horizon")
    return _number(value, unit, signed=signed and measure in ("key", "contrast", "warmth"))


NO_UNIT_NOTE = ("words", "of the area", "of the height")


def _unit_note(line: Mapping[str, Any]) -> str:
    unit = str(line["unit"])
    return f"Unit: {unit}." if len(unit) > 5 and line["measure"] != "need" and unit not in NO_UNIT_NOTE else ""


def _number(value: object, unit: str, *, signed: bool = False) -> str:
    if value is None:
        return NO_VALUE
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    text = f"{value:+.1f}" if signed else f"{value:.1f}"
    short = f" {unit}" if len(unit) <= 5 else ""
    return f"{text}{short}".replace("-", "−")


def _value(value: object, measure: str = "") -> str:
    if value is None:
        return NO_VALUE
    if isinstance(value, float | int) and not isinstance(value, bool):
        if measure in SHARES:
            return f"{100 * value:.1f}\u00a0%".replace("-", "−")
        return (f"{value:.0f}\u00a0K" if measure == "warmth" else f"{value:.1f}").replace("-", "−")
    if isinstance(value, Mapping):
        return ", ".join(f"{PERCENTILES.get(str(k), str(k))} {_value(v)}" for k, v in value.items())
    if isinstance(value, Iterable) and not isinstance(value, str | bytes):
        colours = _colours(value)
        return ", ".join([f"{hexed} {share * 100:.0f}\u00a0%" for hexed, share in colours] or map(_value, value))
    return str(value)


SHARES = ("blown out", "blocked up", "horizon")  # held as parts of 1, printed in per cent
PERCENTILES = {"p5": "5th percentile", "median": "median", "p95": "95th percentile"}


def _colours(value: object) -> list[tuple[str, float]]:
    if not isinstance(value, list | tuple):
        return []
    return [(v["hex"], v["share"]) for v in value if isinstance(v, Mapping) and "hex" in v and "share" in v]
