"""IIIF Presentation 3 manifests: canvases with a picture as references, annotations with a region as details.

Pictures are taken from the manifest's own folder; those at an address are named, and fetched only where a person asks.
Manifests in the world are untidy, so what cannot be understood is left out with a sentence, canvas by canvas. A
`navDate` is for finding one's way and never taken as the date of making.

Source: IIIF Presentation API 3.0.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

from refarchive.errors import SourceRefused
from refarchive.records.terms import BY_LABEL
from refarchive.sources.bundle import MOST_ROWS, Bundle, Marked, Wanted, beside, read_json, region_of, words
from refarchive.sources.folder import Refusal, shown_name
from refarchive.sources.mapping import suggestions
from refarchive.sources.sheet import SheetRow, usable

MOST_ANNOTATIONS = 2_000  # of one canvas
MOST_METADATA = 200  # pairs of one canvas
LONGEST_ADDRESS = 2_000  # characters
_RIGHTS = next(label for label, column in BY_LABEL.items() if column == "rights")
_NOTES = frozenset({"commenting", "describing", "tagging", "identifying", "highlighting"})


def is_manifest(data: object) -> bool:
    """Whether a JSON document says that it is of IIIF's presentation, in whatever version."""
    if not isinstance(data, dict):
        return False
    context = data.get("@context")
    contexts = context if isinstance(context, list) else [context]
    return any(isinstance(one, str) and "iiif.io/api/presentation/" in one for one in contexts)


def read_manifest(path: Path, data: Any = None) -> Bundle:
    """The references that a manifest names.

    Raises
    ------
    SourceRefused
        where it is no manifest of version 3, or has no canvas, or too many.
    """
    data = read_json(path) if data is None else data
    name = shown_name(path.name)
    if not is_manifest(data):
        raise SourceRefused(f"{name} is no IIIF manifest.", "Give the manifest itself, as a JSON file.")
    if "sc:" in str(data.get("@type", "")) or "presentation/2" in str(data.get("@context")):
        raise SourceRefused(f"{name} is a manifest of version 2.", "Ask its keeper for version 3, or convert it.")
    if data.get("type") == "Collection":
        raise SourceRefused(f"{name} is a collection, which only names manifests.", "Gather those that you need.")
    if data.get("type") != "Manifest":
        raise SourceRefused(f"{name} does not say that it is a manifest.", "Its type should be Manifest.")
    canvases = [c for c in _listed(data.get("items")) if isinstance(c, dict) and c.get("type") == "Canvas"]
    if not canvases:
        raise SourceRefused(f"{name} has no canvas, so there is no picture in it.", "Give another manifest.")
    if len(canvases) > MOST_ROWS:
        raise SourceRefused(f"{name} has {len(canvases):,} canvases, more than {MOST_ROWS:,}.", "Split it.")
    reader = _Reader(path, data)
    for number, canvas in enumerate(canvases, 1):
        reader.take(number, canvas)
    return Bundle(tuple(reader.rows), tuple(reader.marked), tuple(reader.wanted), tuple(reader.notices))


class _Reader:
    def __init__(self, path: Path, manifest: Mapping[str, Any]) -> None:
        self.path = path
        self.manifest = manifest
        self.base = str(manifest.get("id") or "").rpartition("/")[0]
        self.rows: list[SheetRow] = []
        self.marked: list[Marked] = []
        self.wanted: list[Wanted] = []
        self.notices: list[str] = []
        self.seen: dict[str, int] = {}
        self.shared = self._shared()

    def _shared(self) -> dict[str, str]:
        """What the manifest says of all its canvases."""
        fields = _fields(self.manifest)
        fields.pop("title", None)
        if provider := next((_label(p.get("label")) for p in _objects(self.manifest.get("provider"))), ""):
            fields.setdefault("collection", provider)
        home = next((str(h.get("id") or "") for h in _objects(self.manifest.get("homepage"))), "")
        address = home or str(self.manifest.get("id") or "")
        if address.startswith(("http://", "https://")) and ".invalid/" not in address:
            fields.setdefault("source", words(address, LONGEST_ADDRESS))
        return {key: value for key, value in fields.items() if value}

    def take(self, number: int, canvas: Mapping[str, Any]) -> None:
        fields = {**self.shared, **_fields(canvas)}
        row = SheetRow(self.path.resolve(), number, "", fields)
        place = len(self.rows)
        own = str(canvas.get("id") or "")
        if own and (first := self.seen.setdefault(own, number)) != number:
            self._refuse(row, f"Canvas {number} has the id of canvas {first}, which stands.", "Mend the manifest.")
            return
        body = next(_pictures(canvas), None)
        if body is None:
            self._refuse(row, f"Canvas {number} has no picture.", "Leave it out.")
            return
        address = str(body.get("id") or body.get("@id") or "")[:LONGEST_ADDRESS]
        file = self._local(address)
        if file is None and not address.startswith(("http://", "https://")):
            what = f"Canvas {number}: there is no file {shown_name(address, 100)} beside the manifest."
            self._refuse(row, what, "Put the picture where the manifest names it.")
            return
        row = usable(row, has_file=True)
        if file is not None:
            row = replace(row, file=file.relative_to(self.path.resolve().parent).as_posix(), path=file)
        else:
            self.wanted.append(Wanted(place, address))
            what = f"Canvas {number} has its picture at {shown_name(address, 200)}."
            row = replace(_told(row, what, "Gather with --fetch to have such pictures fetched."), refused=True)
        self.rows.append(row)
        self._mark(place, canvas, own)

    def _refuse(self, row: SheetRow, problem: str, step: str) -> None:
        self.rows.append(replace(_told(row, problem, step), refused=True))

    def _local(self, address: str) -> Path | None:
        """The picture in the manifest's folder: named relative to it, or by an address under the manifest's own."""
        if self.base and address.startswith(self.base + "/"):
            address = address[len(self.base) + 1 :]
        elif address.startswith(("http://", "https://", "file:")):
            return None
        return beside(self.path, unquote(address))

    def _mark(self, place: int, canvas: Mapping[str, Any], own: str) -> None:
        width, height = (_number(canvas.get(side)) for side in ("width", "height"))
        pages = [page for page in _objects(canvas.get("annotations")) if page.get("type") == "AnnotationPage"]
        entries = [entry for page in pages for entry in _objects(page.get("items"))]
        if len(entries) > MOST_ANNOTATIONS:
            self.notices.append(f"Canvas {place + 1} has {len(entries):,} annotations; {MOST_ANNOTATIONS:,} were read.")
        for entry in entries[:MOST_ANNOTATIONS]:
            if not _NOTES & set(map(str, _listed(entry.get("motivation")))):
                continue
            region = _region(entry.get("target"), own, width, height)
            if region is not None:
                self.marked.append(Marked(place, region, _note(entry.get("body"))))


def _told(row: SheetRow, problem: str, step: str) -> SheetRow:
    source = f"{shown_name(row.sheet.name)}, canvas {row.line}"
    return replace(row, problems=(*row.problems, Refusal(source, problem, step)))


# -- IIIF's shapes --------


def _listed(value: object) -> list[Any]:
    return value if isinstance(value, list) else [] if value is None else [value]


def _objects(value: object) -> list[dict[str, Any]]:
    return [one for one in _listed(value) if isinstance(one, dict)]


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) and value > 0 else 0.0


def _label(value: object, joint: str = "; ") -> str:
    """The words of a language map: English, else no language, else the first there is."""
    if not isinstance(value, dict):
        return words(value)
    chosen: Any = next((value[key] for key in ("en", "none") if key in value), next(iter(value.values()), []))
    return joint.join(filter(None, (words(one) for one in _listed(chosen)[:MOST_METADATA])))


def _fields(thing: Mapping[str, Any]) -> dict[str, str]:
    """What a manifest or a canvas says, by our columns."""
    pairs = {_label(p.get("label")): _label(p.get("value")) for p in _objects(thing.get("metadata"))[:MOST_METADATA]}
    fields = {BY_LABEL[label]: value for label, value in pairs.items() if label in BY_LABEL}
    for label, column in suggestions((label for label in pairs if label not in BY_LABEL), fields).items():
        if column != "file":
            fields.setdefault(column, pairs[label])
    fields.setdefault("title", _label(thing.get("label")))
    fields.setdefault("description", _label(thing.get("summary")))
    required = thing.get("requiredStatement")
    fields.setdefault("credit", _label(required.get("value")) if isinstance(required, dict) else "")
    if isinstance(thing.get("rights"), str) and _RIGHTS not in pairs:
        fields["rights"] = words(thing["rights"], LONGEST_ADDRESS)
    own = str(thing.get("id") or "").rpartition("/")[2]
    if own.startswith("ref-"):
        fields["reference"] = own
    return {key: value for key, value in fields.items() if value}


def _pictures(canvas: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """Bodies of the painting annotations that are pictures; of a choice the first."""
    for page in _objects(canvas.get("items")):
        for annotation in _objects(page.get("items")):
            if "painting" not in map(str, _listed(annotation.get("motivation"))):
                continue
            for body in _objects(annotation.get("body")):
                if body.get("type") == "Choice":
                    body = next(iter(_objects(body.get("items"))), {})
                if body.get("type") == "SpecificResource" and isinstance(body.get("source"), dict):
                    body = body["source"]
                if body.get("type") == "Image":
                    yield body


def _region(target: object, canvas: str, width: float, height: float) -> tuple[float, float, float, float] | None:
    """The region an annotation points at, by the fragment of its target or by a selector."""
    for one in _listed(target):
        if isinstance(one, str):
            found = region_of(urlsplit(one).fragment if one.partition("#")[0] in (canvas, "") else "", width, height)
        elif isinstance(one, dict):
            selectors = _objects(one.get("selector"))
            values = [str(s.get("value")) for s in selectors if s.get("type") == "FragmentSelector"]
            found = next((r for v in values if (r := region_of(v, width, height)) is not None), None)
            if found is None and not selectors:
                found = region_of(urlsplit(str(one.get("id") or "")).fragment, width, height)
        else:
            continue
        if found is not None:
            return found
    return None


def _note(body: object) -> str:
    """The words of an annotation's bodies; markup is no words and stays as it is written."""
    texts = [words(b.get("value")) for b in _objects(body) if b.get("type") == "TextualBody"]
    texts += [words(b) for b in _listed(body) if isinstance(b, str)]
    return "; ".join(filter(None, texts))
