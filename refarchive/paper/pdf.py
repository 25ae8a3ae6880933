"""Set a document as PDF: A4, tagged, with bookmarks, the same bytes from the same input.

Typst does the setting. The document reaches it as data, never as markup, so that no text can be an instruction;
pictures lie in a temporary folder for as long as it works.

Letters. Typst carries its own faces (a serif for Latin, Greek, Cyrillic and Hebrew; others for Arabic and symbols), and
documents that they can show look the same on every machine. Where a text needs a letter that they lack, the faces
installed on this machine are taken into account too; what no face has is printed as its code, as in [U+6F22], never as
an empty box.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Final, Literal

from refarchive import leftovers
from refarchive.errors import CannotPrint
from refarchive.paper.shown import measured

PDF_UA: Final = "ua-1"


def write_pdf(
    document: Mapping[str, Any], pictures: Mapping[str, bytes], *, standards: Literal["ua-1"] | None = PDF_UA
) -> bytes:
    """Set a document.

    Parameters
    ----------
    document
        Title, header fields and sections of blocks, JSON-able.
    pictures
        JPEG or PNG files, or drawings as SVG, by the names that the document uses; a name without a file gets an empty
        frame that says so.
    standards
        The PDF standard to hold to; PDF/UA-1 (ISO 14289-1) unless None.

    Raises
    ------
    CannotPrint
        where a picture is none, or the setting fails.
    """
    data, machine_faces = printable(document)
    with leftovers.temporary("pdf") as folder:
        root = Path(folder)
        data["pictures"] = _lay_out(pictures, root)
        return compiled(
            data,
            root,
            "document.typ",
            machine_faces,
            standards,
            "Print the HTML file instead, and report the words above.",
        )


def printable(document: Mapping[str, Any]) -> tuple[dict[str, Any], bool]:
    """A copy of a document whose every letter can be shown, and whether faces of this machine are needed for that."""
    data, missing_letters = _plain(document)
    used, machine_faces = _letters(data)
    if missing_letters or used:
        data = _mapped(data, lambda text: _written_out(text, used))
    return data, machine_faces


def compiled(
    data: Mapping[str, Any],
    root: Path,
    template: str,
    machine_faces: bool,
    standards: Literal["ua-1"] | None,
    next_step: str,
) -> bytes:
    """Set data by a template of ours; pictures lie in the folder `root` already.

    Raises
    ------
    CannotPrint
        where the setting fails; `next_step` is what can be done then.
    """
    import typst

    for one in files("refarchive.paper").joinpath("templates").iterdir():
        if one.name.endswith(".typ"):
            (root / one.name).write_bytes(one.read_bytes())
    try:
        pdf = typst.compile(
            str(root / template),
            root=str(root),
            sys_inputs={"document": json.dumps(data, ensure_ascii=False, sort_keys=True)},
            ignore_system_fonts=not machine_faces,
            pdf_standards=standards,
        )
    except typst.TypstError as error:
        title = data.get("title", "The document")
        raise CannotPrint(f"{title!s} cannot be set as PDF: {str(error)[:400]}.", next_step) from None
    assert isinstance(pdf, bytes)
    return pdf


def count_pages(pdf: bytes) -> int:
    """Number of sheets in a PDF that `write_pdf` made."""
    found = [int(n) for n in re.findall(rb"/Type\s*/Pages\b[^>]*?/Count\s+(\d+)", pdf)]
    found += [int(n) for n in re.findall(rb"/Count\s+(\d+)[^>]*?/Type\s*/Pages\b", pdf)]
    return max(found, default=0)


def _lay_out(pictures: Mapping[str, bytes], root: Path) -> dict[str, dict[str, Any]]:
    """Write the pictures under names of our own; their file and width over height, by name."""
    laid: dict[str, dict[str, Any]] = {}
    for number, (name, data) in enumerate(sorted(pictures.items())):
        shown = measured(name, data)
        file = f"{number:05d}.{shown.suffix}"
        (root / file).write_bytes(data)
        laid[name] = {"file": file, "aspect": shown.aspect, "millimetres": shown.millimetres}
    return laid


# --- letters --------------------------------------------------------------------------------------------------------


def _mapped(value: Any, change: Callable[[str], str], key: str = "") -> Any:
    """A copy with every shown text changed; names and kinds stay."""
    if isinstance(value, str):
        return value if key in _NAMES else change(value)
    if isinstance(value, Mapping):
        return {k: _mapped(v, change, k) for k, v in value.items()}
    if isinstance(value, Sequence):
        return [_mapped(v, change, key) for v in value]
    return value


_NAMES = frozenset(("type", "picture", "style", "size", "hex", "start", "id", "lang"))


def _plain(document: Mapping[str, Any]) -> tuple[dict[str, Any], bool]:
    """A copy without characters that no text may hold; whether any were written out."""
    seen = False

    def change(text: str) -> str:
        nonlocal seen
        out = []
        for character in text:
            category = unicodedata.category(character)
            if category == "Cs":
                seen = True
                out.append(f"[U+{ord(character):04X}]")
            elif category != "Cc" or character == "\n":
                out.append(character)
        return "".join(out)

    copy = _mapped(document, change)
    assert isinstance(copy, dict)
    return copy, seen


def _texts(value: Any, key: str = "") -> Iterable[str]:
    if isinstance(value, str):
        if key not in _NAMES:
            yield value
    elif isinstance(value, Mapping):
        for k, v in value.items():
            yield from _texts(v, k)
    elif isinstance(value, Sequence):
        for v in value:
            yield from _texts(v, key)


def _letters(data: Mapping[str, Any]) -> tuple[frozenset[str], bool]:
    """Characters that cannot be shown, and whether faces of this machine are needed for the others."""
    used = frozenset("".join(_texts(data))) - frozenset(map(chr, range(32, 127))) - {"\n"}
    lacking = _lacking("".join(sorted(used)), False)
    if not lacking:
        return frozenset(), False
    still = _lacking("".join(sorted(lacking)), True)
    return still, still != lacking


_PROBE = '#set document(title: "probe", date: none)\n#sys.inputs.at("letters")'


@lru_cache(maxsize=256)
def _lacking(characters: str, machine_faces: bool) -> frozenset[str]:
    """Those of the characters that Typst refuses to show; it is asked, by setting them under PDF/UA-1."""
    import typst

    if not characters:
        return frozenset()
    with leftovers.temporary("pdf") as folder:
        source = Path(folder) / "probe.typ"
        source.write_text(_PROBE, encoding="utf-8")
        compiler = typst.Compiler(str(source), root=folder, ignore_system_fonts=not machine_faces)

        def shows(part: str) -> bool:
            # Spaced, so that each is asked about by itself and not as part of a cluster.
            try:
                compiler.compile(sys_inputs={"letters": " ".join(part)}, pdf_standards=PDF_UA)
            except typst.TypstError:
                return False
            return True

        def lacking(part: str) -> set[str]:
            if shows(part):
                return set()
            if len(part) == 1:
                return {part}
            middle = len(part) // 2
            return lacking(part[:middle]) | lacking(part[middle:])

        return frozenset(lacking(characters))


def _written_out(text: str, lacking: frozenset[str]) -> str:
    return "".join(f"[U+{ord(c):04X}]" if c in lacking else c for c in text)
