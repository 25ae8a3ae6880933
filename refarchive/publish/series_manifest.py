"""A series of finished pictures as a IIIF Presentation 3.0 manifest: a canvas for each, in their order.

Source: IIIF Presentation API 3.0 (iiif.io/api/presentation/3.0). What stands in it is the public version of
`photo_metadata`: no coordinates, no person without a release on record. The canvas has the picture's size in pixels;
its label is the title, its summary the caption; the alt text is a pair of metadata, for the API has no property of its
own for it. `rights` is set only to an address that the API allows (Creative Commons, RightsStatements.org); what all
pictures share, credit line and rights, is said of the whole series as well. The pictures are parts of a whole, each to
be seen by itself (behavior "individuals").

Addresses begin with `base`; without one of the web, with one where nothing can ever be (see `manifest`), and whoever
puts the folder on the web writes its address over it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from refarchive.errors import PublishRefused
from refarchive.publish.manifest import _ALLOWED_RIGHTS, CONTEXT, NO_TITLE, _pair, _words
from refarchive.publish.photo_metadata import PhotoMetadata, cleaned, photo_metadata, words_of
from refarchive.records.model import When
from refarchive.records.rights import canonical_uri
from refarchive.records.terms import BASE, WRITTEN_BY
from refarchive.records.wall import Particulars

MOST_PICTURES = 1_000
LONGEST_SIDE = 200_000  # pixels
_FOLDER = re.compile(r"https?://[A-Za-z0-9.\-\[\]:]+(/[A-Za-z0-9._~!$&'()*+,;=:@%\-]*)*/")
MEDIA_TYPES = ("image/jpeg", "image/tiff", "image/png", "image/webp")
# Pairs of metadata: label in English, property of the standard.
_PAIRS = (
    ("Creator", "dc:creator"),
    ("Photographed on", "photoshop:DateCreated"),
    ("Photographed at", "Iptc4xmpExt:LocationCreated"),
    ("Place shown", "Iptc4xmpExt:LocationShown"),
    ("Event", "Iptc4xmpExt:Event"),
    ("Persons", "Iptc4xmpExt:PersonInImage"),
    ("Contributors", "Iptc4xmpExt:Contributor"),
    ("Historical note", "Iptc4xmpCore:ExtDescrAccessibility"),
    ("Alternative text", "Iptc4xmpCore:AltTextAccessibility"),
    ("Keywords", "dc:subject"),
    ("Copyright", "dc:rights"),
    ("Terms of use", "xmpRights:UsageTerms"),
)


@dataclass(frozen=True)
class File:
    """A picture file beside the manifest: path with forward slashes, media type, width and height in pixels."""

    path: str
    media_type: str
    width: int
    height: int


@dataclass(frozen=True)
class Finished:
    """One finished picture of the series; `event` is the date of what it shows, `thumbnail` a small copy."""

    particulars: Particulars
    picture: File
    thumbnail: File | None = None
    event: When | None = None


def series_manifest(
    pictures: Sequence[Finished],
    *,
    label: str,
    on: str,
    program: str,
    summary: str = "",
    base: str = BASE,
    name: str = "manifest.json",
    language: str = "none",
    see_also: Sequence[tuple[str, str, str]] = (),
) -> dict[str, Any]:
    """The manifest of a series. `language` (BCP 47) is that of the person's own words, "none" where it is not said.

    `on` is the day it goes out (ISO), `program` what wrote it, `see_also` further files: path, media type, label.

    Raises
    ------
    PublishRefused
        for no pictures, one that stands twice, a size, path, address, language or media type that cannot be, and as
        `photo_metadata`.
    """
    base = _base(base)
    if not re.fullmatch(r"none|[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*", language):
        raise PublishRefused(f"{language[:40]!r} is no language.", "Give a tag as in en or pt-BR.", field="language")
    if not pictures or len(pictures) > MOST_PICTURES:
        raise PublishRefused(
            f"A manifest of {len(pictures):,} pictures cannot be.", f"Give 1 to {MOST_PICTURES:,}.", field="pictures"
        )
    frames = [one.particulars.frame for one in pictures]
    twice = sorted({frame for frame in frames if frames.count(frame) > 1})
    if twice or not all(frames):
        raise PublishRefused(
            f"The picture {twice[0] if twice else ''!r} stands in the series more than once, or has no id.",
            "Name each picture once.", field="pictures", records=twice,
        )  # fmt: skip
    told = [photo_metadata(one.particulars, on=on, event=one.event) for one in pictures]
    canvases = [_canvas(one, data, base, language) for one, data in zip(pictures, told, strict=True)]
    manifest: dict[str, Any] = {
        "@context": CONTEXT,
        "id": base + _path(name),
        "type": "Manifest",
        "label": _words(language, cleaned(label) or NO_TITLE),
        "metadata": [_pair(WRITTEN_BY[0], [program])],
        "behavior": ["individuals"],
    }
    if cleaned(summary):
        manifest["summary"] = _words(language, cleaned(summary, lines=True))
    for shared in ("requiredStatement", "rights"):
        values = [canvas.get(shared) for canvas in canvases]
        if values[0] is not None and all(value == values[0] for value in values):
            manifest[shared] = values[0]
    thumbnails = [canvas["thumbnail"] for canvas in canvases if "thumbnail" in canvas]
    if thumbnails:
        manifest["thumbnail"] = thumbnails[0]
    if see_also:
        manifest["seeAlso"] = [
            {"id": base + _path(path), "type": "Dataset", "format": media_type, "label": _words("en", cleaned(said))}
            for path, media_type, said in see_also
        ]
    manifest["items"] = canvases
    return manifest


def _canvas(one: Finished, data: PhotoMetadata, base: str, language: str) -> dict[str, Any]:
    own = f"{base}canvas/{quote(one.particulars.frame, safe='')}"
    body = _image(one.picture, base)
    canvas: dict[str, Any] = {
        "id": own,
        "type": "Canvas",
        "label": _words(language, *(_said(data, "dc:title") or [NO_TITLE])),
        "width": body["width"],
        "height": body["height"],
    }
    if caption := _said(data, "dc:description"):
        canvas["summary"] = _words(language, *caption)
    pairs = [(label, _said(data, xmp)) for label, xmp in _PAIRS]
    metadata = [{**_pair(label, ()), "value": _words(language, *values)} for label, values in pairs if values]
    if metadata:
        canvas["metadata"] = metadata
    if credit := _said(data, "photoshop:Credit"):
        canvas["requiredStatement"] = {**_pair("Credit line", ()), "value": _words(language, *credit)}
    uri = canonical_uri(one.particulars.rights)
    if uri and _ALLOWED_RIGHTS.fullmatch(uri):
        canvas["rights"] = uri
    if one.thumbnail:
        canvas["thumbnail"] = [_image(one.thumbnail, base)]
    painting = {
        "id": f"{own}/picture",
        "type": "Annotation",
        "motivation": "painting",
        "body": body,
        "target": own,
    }
    canvas["items"] = [{"id": f"{own}/page", "type": "AnnotationPage", "items": [painting]}]
    return canvas


def _said(data: PhotoMetadata, xmp: str) -> list[str]:
    value = data.get(xmp)
    return [] if value is None else list(words_of(value))


def _image(file: File, base: str) -> dict[str, Any]:
    if file.media_type not in MEDIA_TYPES:
        raise PublishRefused(
            f"{file.path[:80]!r} is said to be {file.media_type[:40]!r}.", f"Give one of {', '.join(MEDIA_TYPES)}.",
            field="media_type",
        )  # fmt: skip
    if not (1 <= file.width <= LONGEST_SIDE and 1 <= file.height <= LONGEST_SIDE):
        raise PublishRefused(
            f"{file.path[:80]!r} has {file.width} × {file.height} pixels.", "Give its size in pixels.", field="width"
        )
    return {
        "id": base + _path(file.path),
        "type": "Image",
        "format": file.media_type,
        "width": file.width,
        "height": file.height,
    }


def _path(path: str) -> str:
    """A path beneath the manifest's folder, as part of an address."""
    parts = path.split("/")
    if not path or len(path) > 500 or "\\" in path or any(part in ("", ".", "..") for part in parts) or ":" in parts[0]:
        raise PublishRefused(
            f"{path[:80]!r} does not name a file beside the manifest.", "Give a relative path with forward slashes.",
            field="path",
        )  # fmt: skip
    try:
        return quote(path)
    except UnicodeEncodeError:
        raise PublishRefused("A path holds half a character.", "Rename the file.", field="path") from None


def _base(base: str) -> str:
    whole = base if base.endswith("/") else f"{base}/"
    if len(base) > 1_000 or not re.fullmatch(
        r"https?://[A-Za-z0-9.\-\[\]:]+(/[A-Za-z0-9._~!$&'()*+,;=:@%\-]*)*/", whole
    ):
        raise PublishRefused(
            f"{base[:80]!r} is no address of a folder on the web.", "Give one as in https://example.org/series/.",
            field="base",
        )  # fmt: skip
    return whole
