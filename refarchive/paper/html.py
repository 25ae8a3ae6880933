"""Set a document as one HTML file that needs nothing else: no script, no other file, no network.

Every text passes through the template engine's escaping. The content security policy in the file forbids scripts,
connections and every style but the one sheet it carries (by its digest), so that even a mistake here could not run.
Printed from a browser it keeps to A4, with the same header as the PDF.
"""

from __future__ import annotations

import base64
import hashlib
import re
import unicodedata
from collections.abc import Mapping, Sequence
from importlib.resources import files
from typing import Any

from refarchive.paper.shown import measured

_HEX = re.compile(r"#[0-9a-fA-F]{6}")


def write_html(document: Mapping[str, Any], pictures: Mapping[str, bytes]) -> str:
    """Set a document.

    Parameters
    ----------
    document
        Title, header fields and sections of blocks, JSON-able.
    pictures
        JPEG or PNG files, or drawings as SVG, by the names that the document uses; a name without a file gets a line
        that says so.

    Raises
    ------
    CannotPrint
        where a picture is none.
    """
    import jinja2

    data = _plain(document)
    shown = {name: _picture(name, content) for name, content in pictures.items()}
    style = _template("document.css") + _running_header(data) + _pair_styles(data, shown)
    environment = jinja2.Environment(
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        loader=jinja2.FunctionLoader(_template),
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["paragraphs"] = _paragraphs
    environment.tests["hexadecimal"] = lambda value: isinstance(value, str) and _HEX.fullmatch(value) is not None
    environment.tests["run_on"] = lambda value: isinstance(value, str) and any(len(w) > 18 for w in value.split())
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = f"default-src 'none'; img-src data:; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    return environment.get_template("document.html.j2").render(
        document=data, pictures=shown, style=_Trusted(style), policy=policy
    )


class _Trusted(str):
    """The style sheet: ours, and holding what came from outside only as CSS escapes."""

    __slots__ = ()

    def __html__(self) -> str:
        return str(self)


def _template(name: str) -> str:
    return files("refarchive.paper").joinpath("templates", name).read_text(encoding="utf-8")


def _picture(name: str, data: bytes) -> dict[str, Any]:
    shown = measured(name, data)
    uri = f"data:{shown.media_type};base64,{base64.b64encode(data).decode()}"
    return {"uri": uri, "width": shown.width, "height": shown.height, "aspect": shown.aspect}


def _plain(value: Any) -> Any:
    """A copy without characters that HTML cannot hold: controls go, halves of surrogate pairs are written out."""
    if isinstance(value, str):
        kept = []
        for character in value:
            category = unicodedata.category(character)
            if category == "Cs":
                kept.append(f"[U+{ord(character):04X}]")
            elif category != "Cc" or character == "\n":
                kept.append(character)
        return "".join(kept)
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, Sequence):
        return [_plain(inner) for inner in value]
    return value


def _paragraphs(text: str) -> list[str]:
    return [part.strip() for part in text.split("\n") if part.strip()]


def css_string(text: str) -> str:
    """A CSS string in which everything but ASCII letters and digits is an escape."""
    inner = "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):06x}" for c in text if c.isprintable())
    return f'"{inner}"'


def _running_header(data: Mapping[str, Any]) -> str:
    right = ", ".join(x for x in (data["version"], data["date"]) if x)
    return (
        "@page{@top-left{content:"
        + css_string(data["scene"][:90])
        + "}@top-right{content:"
        + css_string(f"{right}   page " if right else "page ")
        + 'counter(page)" of "counter(pages)}}\n'
    )


def _pair_styles(data: Any, pictures: Mapping[str, Mapping[str, Any]]) -> str:
    """Widths in proportion to the pictures, so that both of a pair stand equally high; numbers the pairs on the way."""
    rules: list[str] = []

    def look(value: Any) -> None:
        if isinstance(value, dict):
            if value.get("type") == "pair":
                aspects = [
                    pictures[value[side]["picture"]]["aspect"] if value[side]["picture"] in pictures else 1.4
                    for side in ("left", "right")
                ]
                number = len(rules) + 1
                value["index"] = number
                # As wide as the sheet allows, and no higher than 26rem.
                rules.append(
                    f".pair-{number}{{max-width:calc({26 * sum(aspects):.3f}rem + 1.2rem)}}"
                    + "".join(
                        f".pair-{number} .{side}{{flex:{aspect:.5f} 1 0}}"
                        for side, aspect in zip(("left", "right"), aspects, strict=True)
                    )
                    + "\n"
                )
            for inner in value.values():
                look(inner)
        elif isinstance(value, list):
            for inner in value:
                look(inner)

    look(data)
    return "".join(rules)
