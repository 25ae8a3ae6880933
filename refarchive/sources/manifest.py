"""Reading IIIF Presentation 3 manifests: canvases as references, annotations on them as details.

Manifests in the world are written in many ways, so the reader is lenient: what it does not know it passes over, what
it cannot place under a field of ours it keeps in the description. A canvas that cannot be gathered has its sentence.
What a foreign manifest says carries its origin ("IIIF summary"); what an archive of ours wrote comes back as it left.

`navDate` is there to find one's way by, often with an invented day, and is no statement of when the thing was made: it
is taken, as approximate and with its origin, only where the manifest gives no other date, and the report says so.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from refarchive.errors import BadDate, SourceRefused
from refarchive.records.dates import read_date
from refarchive.records.fragments import region_in
from refarchive.records.model import Region
from refarchive.records.terms import BASE, LISTS, TERMS, WRITTEN_BY, joined
from refarchive.sources.described import (
    MOST_DETAILS,
    MOST_ROWS,
    Described,
    DescribedRow,
    bounded,
    complete,
    listed,
    local_path,
    objects,
    text_of,
    without_markup,
)
from refarchive.sources.folder import shown_name
from refarchive.sources.mapping import MAY_MEAN, word_of
from refarchive.sources.sheet import complain, refused

MOST_PAIRS = 200  # of metadata, of one canvas
_LABELS = {term.label: term.field for term in TERMS}
# Labels of metadata that mean a field of ours, in the form in which names are compared (common practice, no source).
_MEANING = {
    word: field
    for field, words in MAY_MEAN.items()
    if field not in ("file", "kind", "witness", "identifier", "rights")
    for word in (field, *words.split())
} | {
    "dc_creator": "creator", "dc_date": "date", "contributor": "creator", "date_of_creation": "date",
    "date_of_origin": "date", "place_of_creation": "place", "holding_institution": "collection",
    "shelf_mark": "accession", "identifier": "accession", "subject": "subjects", "attribution": "credit",
    "rights_holder": "credit",
}  # fmt: skip
_NO_NOTES = ("painting", "supplementing")  # motivations: the picture itself, and the text that is written in it


def is_manifest(document: Any) -> bool:
    """Whether a JSON document is of the IIIF Presentation API, of whatever version and kind."""
    if not isinstance(document, dict):
        return False
    contexts = [text_of(one) for one in listed(document.get("@context"))]
    kind = text_of(document.get("type", document.get("@type")))
    return any("iiif.io/api/presentation" in one for one in contexts) or kind in ("Manifest", "sc:Manifest")


def read_manifest(path: Path, document: Mapping[str, Any]) -> Described:
    """What a manifest says of its canvases; pictures in its folder are found, others keep their address.

    Raises
    ------
    SourceRefused
        where it is of version 2, a collection or something else, or has no canvases, or more than 20,000.
    """
    path = path.resolve()
    name = shown_name(path.name)
    kind = text_of(document.get("type")) or text_of(document.get("@type"))
    if kind.startswith("sc:") or "sequences" in document:
        raise SourceRefused(
            f"{name} is written to version 2 of IIIF Presentation; version 3 is read.",
            "Ask its publisher for version 3 (many give it at another address), or convert it.",
        )
    if kind == "Collection":
        members = [_label(one) or text_of(one.get("id")) for one in objects(document.get("items"))]
        named = "; ".join(shown_name(member, 80) for member in members[:5])
        raise SourceRefused(
            f"{name} is a collection of {len(members):,} manifests, not a manifest{': ' + named if named else ''}.",
            "Save the manifests that you want, and gather those.",
        )
    if kind != "Manifest":
        raise SourceRefused(f"{name} is IIIF, but no manifest ({shown_name(kind, 40) or 'no type'}).", "Leave it out.")
    canvases = listed(document.get("items"))
    if not canvases:
        raise SourceRefused(f"{name} is a manifest without canvases.", "There is nothing to gather from it.")
    if len(canvases) > MOST_ROWS:
        raise SourceRefused(f"{name} has {len(canvases):,} canvases, more than {MOST_ROWS:,}.", "Split it.")
    return _Reader(path, document).read(canvases)


class _Reader:
    def __init__(self, path: Path, document: Mapping[str, Any]) -> None:
        self.path = path
        self.name = shown_name(path.name)
        self.document = document
        self.base = text_of(document.get("id"))
        self.own = any(
            _words(pair.get("label")) == [WRITTEN_BY[0]] and _first(pair.get("value")).startswith(WRITTEN_BY[1])
            for pair in objects(document.get("metadata"))
        )
        self.notices: dict[str, int] = {}
        self.ids: dict[str, int] = {}
        self.files: dict[str, int] = {}
        self.rows: list[DescribedRow] = []

    def read(self, canvases: list[Any]) -> Described:
        for number, canvas in enumerate(canvases, 1):
            row = DescribedRow(self.path, number, "", {}, unit="Canvas")
            if not isinstance(canvas, dict) or text_of(canvas.get("type", "Canvas")) != "Canvas":
                self.rows.append(refused(row, f"{row.where} is no canvas.", "Leave it out, or mend the manifest."))
                continue
            self._canvas(row, canvas, alone=len(canvases) == 1)
        told = [
            one if times == 1 else f"{one} This is so of {times:,} canvases." for one, times in self.notices.items()
        ]
        return Described(tuple(self.rows), tuple(f"{self.name}: {one}" for one in told))

    def notice(self, sentence: str) -> None:
        self.notices[sentence] = self.notices.get(sentence, 0) + 1

    def _canvas(self, row: DescribedRow, canvas: Mapping[str, Any], *, alone: bool) -> None:
        own_id = text_of(canvas.get("id"))
        twice = own_id and self.ids.setdefault(own_id, row.line) != row.line
        pictures = list(_pictures(canvas))
        details, loose, tags = self._annotations(canvas, own_id)
        told: tuple[tuple[str, str], ...] = ()
        if self.own:
            fields = _own_fields(canvas)
        else:
            fields, told = self._foreign_fields(canvas, "" if twice else own_id, loose, tags, alone=alone)
        row = replace(row, fields=fields, told=told, details=details)
        if twice:
            row = complain(
                row,
                f"{row.where} has the same id as canvas {self.ids[own_id]}.",
                "Nothing is lost; mend it if you can.",
            )
        if not pictures:
            self._without_picture(row, canvas)
            return
        self._with_picture(row, pictures[0])
        for more in pictures[1:]:
            self._with_picture(replace(row, details=(), problems=()), more)

    def _without_picture(self, row: DescribedRow, canvas: Mapping[str, Any]) -> None:
        """A text or an object, where an archive wrote the canvas; else there is nothing to gather."""
        if not self.own:
            self.rows.append(refused(row, f"{row.where} has no picture.", "Look whether the manifest is complete."))
            return
        address = next((text_of(one.get("id")) for one in objects(canvas.get("rendering"))), "")
        file = local_path(address, self.base, self.path.parent) if address else ""
        if file is None:
            self.rows.append(refused(row, f"{row.where}: its file is not beside the manifest.", "Put it there."))
        else:
            self._add(complete(row, file))

    def _with_picture(self, row: DescribedRow, body: Mapping[str, Any]) -> None:
        address = _address(body)
        if not address:
            self.rows.append(refused(row, f"{row.where} has a picture without an address.", "Mend the manifest."))
            return
        file = local_path(address, self.base, self.path.parent)
        if file is None:
            self._add(complete(replace(row, url=address), ""))
            return
        self._add(complete(row, file))

    def _add(self, row: DescribedRow) -> None:
        """The row, unless its picture stands on an earlier canvas: then only its details go there."""
        key = str(row.path or row.url)
        if row.refused or not (row.path or row.url):
            self.rows.append(row)
            return
        first = self.files.setdefault(key, len(self.rows))
        if first == len(self.rows):
            self.rows.append(row)
            return
        before = self.rows[first]
        self.rows[first] = replace(before, details=(*before.details, *row.details))
        self.rows.append(
            refused(row, f"{row.where} shows the same picture as canvas {before.line}, which stands.", "Nothing to do.")
        )

    # --- annotations --------------------------------------------------------------------------------------------

    def _annotations(
        self, canvas: Mapping[str, Any], own_id: str
    ) -> tuple[tuple[tuple[Region, str], ...], list[str], list[str]]:
        """Details; notes on the canvas as a whole; and words that tag the whole of it."""
        details: list[tuple[Region, str]] = []
        loose: list[str] = []
        tags: list[str] = []
        size = (_number(canvas.get("width")), _number(canvas.get("height")))
        for page in objects(canvas.get("annotations")):
            if "items" not in page:
                self.notice("A list of annotations lies elsewhere and was not read.")
            for annotation in objects(page.get("items")):
                motives = [text_of(one).rpartition(":")[2] for one in listed(annotation.get("motivation"))]
                if any(one in _NO_NOTES for one in motives):
                    if "supplementing" in motives:
                        self.notice("Text of the canvas, given as annotations, was not taken.")
                    continue
                note = bounded("\n".join(_notes(annotation.get("body"))))
                for target in listed(annotation.get("target"))[:20]:
                    address, fragments, other = _target(target)
                    if address and own_id and address != own_id:
                        self.notice("An annotation speaks of something else than its canvas and was left out.")
                    elif (region := next(filter(None, (region_in(f, *size) for f in fragments)), None)) is not None:
                        details.append((region, note))
                    elif fragments or other:
                        self.notice("An annotation marks no rectangle on its canvas and was left out.")
                    elif note:
                        (tags if motives == ["tagging"] else loose).append(note)
        if len(details) > MOST_DETAILS:
            self.notice(f"Of its details only the first {MOST_DETAILS:,} were taken.")
        return tuple(details[:MOST_DETAILS]), loose, tags

    # --- what others say ----------------------------------------------------------------------------------------

    def _foreign_fields(
        self, canvas: Mapping[str, Any], own_id: str, loose: list[str], tags: list[str], *, alone: bool
    ) -> tuple[dict[str, str], tuple[tuple[str, str], ...]]:
        """Fields, and the origin of each. What the canvas says goes before what the manifest says."""
        found: dict[str, str] = {}
        origins: dict[str, str] = {}

        def say(field: str, value: str, origin: str) -> None:
            if value.strip() and field not in found:
                found[field], origins[field] = bounded(value.strip()), f"IIIF {origin}"

        rest: list[str] = []
        things = (canvas, self.document)
        whole, part = _label(self.document), _label(canvas)
        say("title", whole if alone and whole else ", ".join(dict.fromkeys(filter(None, (whole, part)))), "label")
        for thing in things:
            for label, values in _metadata(thing):
                field = _MEANING.get(word_of(label), "")
                value = joined(values) if field == "subjects" else "; ".join(values)
                if not field or field in found or (field == "date" and not _is_date(value)):
                    rest.append(f"{label}: {value}")
                else:
                    say(field, value, f"metadata “{shown_name(label, 60)}”")
            required = thing.get("requiredStatement")
            if isinstance(required, dict):
                say("credit", "; ".join(_words(required.get("value"))), "requiredStatement")
            say("rights", text_of(thing.get("rights")), "rights")
            say("collection", "; ".join(_label(one) for one in objects(thing.get("provider"))), "provider")
            for home in objects(thing.get("homepage")):
                say("source", text_of(home.get("id")), "homepage")
        say("subjects", joined(tags), "tagging")
        say("source", self.base if self.base.startswith(("http://", "https://")) else "", "id")
        say("identifier", own_id if not own_id.startswith(BASE) else "", "id")
        say("date", self._from_nav_date(things) if "date" not in found else "", "navDate")
        summary = [text for thing in things for text in _words(thing.get("summary"))]
        told = "\n".join(
            dict.fromkeys((*summary, *([found["description"]] if "description" in found else []), *loose, *rest))
        )
        if told:
            found["description"] = bounded(told)
            origins["description"] = "IIIF summary, metadata and notes" if loose or rest else "IIIF summary"
        return found, tuple(origins.items())

    def _from_nav_date(self, things: tuple[Mapping[str, Any], ...]) -> str:
        """The day of a navDate as EDTF, as approximate; only the year where it is the first of January."""
        for thing in things:
            day = re.match(r"([0-9]{4})-([0-9]{2})-([0-9]{2})T", text_of(thing.get("navDate")))
            if day is None:
                continue
            edtf = f"{day[1]}~" if (day[2], day[3]) == ("01", "01") else f"{day[1]}-{day[2]}-{day[3]}~"
            if _is_date(edtf):
                self.notice(
                    "No date of making is given; that for finding one's way by (navDate) was taken as approximate."
                )
                return edtf
        return ""


def _own_fields(canvas: Mapping[str, Any]) -> dict[str, str]:
    """The pairs that an archive wrote, to the letter."""
    fields = {}
    for label, values in _metadata(canvas):
        if field := _LABELS.get(label):
            fields[field] = bounded(joined(values) if field in LISTS else "".join(values[:1]))
    return fields


def _metadata(thing: Mapping[str, Any]) -> Iterator[tuple[str, list[str]]]:
    for pair in list(objects(thing.get("metadata")))[:MOST_PAIRS]:
        values = [value for value in _words(pair.get("value")) if value.strip()]
        if values:
            yield _first(pair.get("label")), values


def _label(thing: Mapping[str, Any]) -> str:
    return "; ".join(_words(thing.get("label")))


def _words(value: Any) -> list[str]:
    """The values of a language map in one language: English, none, or the first; plain texts are taken too."""
    if isinstance(value, dict):
        if "@value" in value:
            return _words(value["@value"])
        language = next((one for one in ("en", "en-GB", "none", "@none") if one in value), next(iter(value), ""))
        return _words(value.get(language)) if not isinstance(value.get(language), dict) else []
    return [without_markup(text) for one in listed(value) if (text := text_of(one))]


def _first(value: Any) -> str:
    return next(iter(_words(value)), "")


def _is_date(text: str) -> bool:
    try:
        read_date(text)
    except BadDate:
        return False
    return True


def _number(value: Any) -> float:
    number = (
        float(value) if isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < 1e9 else 0.0
    )
    return max(number, 0.0)


def _pictures(canvas: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    """The pictures painted on a canvas; of those to choose from, the first."""
    for page in objects(canvas.get("items")):
        for annotation in objects(page.get("items")):
            if "painting" not in [
                text_of(one).rpartition(":")[2] for one in listed(annotation.get("motivation", "painting"))
            ]:
                continue
            for body in listed(annotation.get("body")):
                yield from _picture(body)


def _picture(body: Any, depth: int = 0) -> Iterator[Mapping[str, Any]]:
    if isinstance(body, str):
        yield {"id": body}
    elif isinstance(body, dict) and depth < 5:
        kind = text_of(body.get("type"))
        if kind == "Choice":
            for one in listed(body.get("items"))[:1]:
                yield from _picture(one, depth + 1)
        elif kind == "SpecificResource":
            yield from _picture(body.get("source"), depth + 1)
        elif kind == "Image" or text_of(body.get("format")).startswith("image/") or (not kind and "id" in body):
            yield body


def _address(body: Mapping[str, Any]) -> str:
    """The address of a picture: its own, or that which its image service gives the whole of it at."""
    if own := text_of(body.get("id")).strip():
        return own
    for service in objects(body.get("service")):
        if base := (text_of(service.get("id")) or text_of(service.get("@id"))).strip().rstrip("/"):
            size = "max" if text_of(service.get("type")) == "ImageService3" else "full"
            return f"{base}/full/{size}/0/default.jpg"
    return ""


def _notes(body: Any) -> Iterator[str]:
    for one in listed(body)[:50]:
        if isinstance(one, str):
            yield one
        elif isinstance(one, dict):
            yield from _words(one.get("value"))


def _target(target: Any) -> tuple[str, list[str], bool]:
    """What an annotation speaks of: an address, fragments that may be regions, and whether it selects otherwise."""
    if isinstance(target, str):
        address, sharp, fragment = target.partition("#")
        return address, [fragment] if sharp else [], False
    if not isinstance(target, dict):
        return "", [], False
    source = target.get("source", target.get("id"))
    address, fragments, _ = _target(source.get("id") if isinstance(source, dict) else text_of(source))
    other = False
    for selector in listed(target.get("selector"))[:20]:
        if isinstance(selector, dict) and text_of(selector.get("type", "FragmentSelector")) == "FragmentSelector":
            fragments.append(text_of(selector.get("value")))
        else:
            other = True
    return address, fragments, other
