"""What a picture file says about itself: EXIF, IPTC (IIM) and XMP, as suggestions for fields left empty.

Such fields describe the file as often as the thing shown. The EXIF date is the day of the shot or the scan, never the
historical date, so it comes back as `digitised`. Nothing here fails: a file that says nothing, or nonsense, gives {}.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from refarchive.errors import BadDate
from refarchive.records import files
from refarchive.records.dates import iso_day, julian_day

LONGEST_VALUE = 2000  # characters
LARGEST_XMP = 1_000_000  # bytes

_EXIF_IFD = 0x8769
_EXIF_TEXTS = {
    "description": (0x010E, "EXIF ImageDescription"),
    "creator": (0x013B, "EXIF Artist"),
    "rights": (0x8298, "EXIF Copyright"),
}
_EXIF_DAYS = ((0x9003, "EXIF DateTimeOriginal"), (0x9004, "EXIF DateTimeDigitized"))
_IPTC_TEXTS = {
    "title": ((2, 5), "IPTC Object Name"),
    "subjects": ((2, 25), "IPTC Keywords"),
    "creator": ((2, 80), "IPTC By-line"),
    "credit": ((2, 110), "IPTC Credit"),
    "source": ((2, 115), "IPTC Source"),
    "rights": ((2, 116), "IPTC Copyright Notice"),
    "description": ((2, 120), "IPTC Caption"),
}
_IPTC_PLACES = ((2, 92), (2, 90), (2, 95), (2, 101))  # sublocation, city, state, country
_IPTC_CODING = (1, 90)
# By the local names that Pillow leaves of XMP properties; of several the first that is there.
_XMP_TEXTS = {
    "title": (("title", "XMP dc:title"),),
    "creator": (("creator", "XMP dc:creator"),),
    "description": (("description", "XMP dc:description"),),
    "rights": (
        ("license", "XMP cc:license"), ("WebStatement", "XMP xmpRights:WebStatement"), ("rights", "XMP dc:rights"),
    ),
    "credit": (("Credit", "XMP photoshop:Credit"),),
    "source": (("Source", "XMP photoshop:Source"), ("source", "XMP dc:source")),
    "subjects": (("subject", "XMP dc:subject"),),
    "identifier": (("identifier", "XMP dc:identifier"),),
}  # fmt: skip
_XMP_PLACES = ("Location", "City", "State", "Country")
_XMP_SHOWN = ("Sublocation", "City", "ProvinceState", "CountryName")  # of Iptc4xmpExt:LocationShown
# What cameras and scanners write on their own account.
_EMPTY_WORDS = frozenset({"", "untitled", "default", "olympus digital camera", "digital camera", "sony dsc", "unknown"})


@dataclass(frozen=True)
class Told:
    """One value as a file tells it, and which part of the file does: "XMP dc:creator", "EXIF Artist"."""

    value: str
    origin: str


_Raw = dict[str, tuple[object, str]]


def read_metadata(path: Path) -> dict[str, Told]:
    """Suggestions from a picture's own metadata, by the names of the fields of a reference.

    `title`, `creator`, `description`, `rights`, `credit`, `source`, `place`, `identifier`, `subjects` (parted by
    semicolons) and `digitised` (an ISO day). XMP goes before IPTC, IPTC before EXIF; a licence or web statement of
    rights that is an address goes before rights in words. Values are one line of at most 2000 characters. Pixels are
    not decoded.
    """
    found: dict[str, Told] = {}
    try:
        media_type = files.sniff(path)
        if not media_type:
            return {}
        with files._quiet(), files._reader(path, media_type) as picture:
            for source in (_from_xmp, _from_iptc, _from_exif):
                for field, told in _tried(source, picture).items():
                    found.setdefault(field, told)
    except Exception:  # whatever a broken file does to its decoder, its metadata is only a suggestion
        return {}
    return found


def _tried(source: Any, picture: Any) -> dict[str, Told]:
    """What one source says, cleaned; {} where reading it fails in whatever way."""
    try:
        raw: _Raw = source(picture)
    except Exception:  # Pillow hands on errors of many kinds for broken metadata
        return {}
    told = {field: Told(_clean(value), origin) for field, (value, origin) in raw.items()}
    return {field: one for field, one in told.items() if one.value.lower() not in _EMPTY_WORDS}


def _from_exif(picture: Any) -> _Raw:
    exif = picture.getexif()
    raw: _Raw = {field: (exif.get(tag), origin) for field, (tag, origin) in _EXIF_TEXTS.items()}
    inner = exif.get_ifd(_EXIF_IFD)
    for tag, origin in reversed(_EXIF_DAYS):
        if day := _day(inner.get(tag)):
            raw["digitised"] = (day, origin)
    return raw


def _day(value: object) -> str:
    """The day of an EXIF moment ("2021:06:05 10:11:12") as an ISO day, "" where it is none."""
    moment = re.match(r"([0-9]{4})[:\-]([0-9]{2})[:\-]([0-9]{2})(?: |$)", _text(value))
    if moment is None or moment[1] == "0000":
        return ""
    try:
        return iso_day(julian_day(int(moment[1]), int(moment[2]), int(moment[3])))
    except BadDate:
        return ""


def _from_iptc(picture: Any) -> _Raw:
    from PIL import IptcImagePlugin

    info = IptcImagePlugin.getiptcinfo(picture) or {}
    utf8 = info.get(_IPTC_CODING) == b"\x1b%G"
    raw: _Raw = {field: (_decoded(info.get(tag), utf8), origin) for field, (tag, origin) in _IPTC_TEXTS.items()}
    raw["place"] = (_place([_decoded(info.get(tag), utf8) for tag in _IPTC_PLACES]), "IPTC City and Country")
    return raw


def _place(parts: Sequence[object]) -> str:
    """Parts of a place from the smallest to the largest, each once."""
    return ", ".join(dict.fromkeys(filter(None, (_text(part).strip() for part in parts))))


def _decoded(value: object, utf8: bool) -> object:
    if isinstance(value, list):
        return [_decoded(one, utf8) for one in value[:20]]
    if not isinstance(value, bytes):
        return value
    try:
        return value.decode("utf-8")  # many writers use it without declaring it, and Latin-1 hardly ever passes for it
    except UnicodeDecodeError:
        return value.decode("utf-8" if utf8 else "latin-1", "replace")


def _from_xmp(picture: Any) -> _Raw:
    packet = picture.info.get("xmp", picture.info.get("XML:com.adobe.xmp", b""))
    if not packet or len(packet) > LARGEST_XMP:
        return {}
    tree = picture.getxmp()  # through defusedxml: entities are refused, nothing is fetched
    known: dict[str, object] = {}
    for description in _listed(tree.get("xmpmeta", {}).get("RDF", {}).get("Description", [])):
        if isinstance(description, dict):
            known = {**description, **known}
    found: _Raw = {}
    for field, choices in _XMP_TEXTS.items():
        for name, origin in choices:
            words = _items(known[name]) if name in known else []
            if field == "rights" and name != "rights" and not _is_address(words):
                continue
            if any(word.strip() for word in words):
                found.setdefault(field, (words, origin))
    shown = [place for place in _structures(known.get("LocationShown")) if place]
    if shown:
        found["place"] = (_place([shown[0].get(name) for name in _XMP_SHOWN]), "XMP Iptc4xmpExt:LocationShown")
    elif place := _place([_items(known[name]) if name in known else "" for name in _XMP_PLACES]):
        found["place"] = (place, "XMP photoshop:City and Country")
    return found


def _is_address(words: Sequence[str]) -> bool:
    return len(words) == 1 and re.match(r"https?://\S+$", words[0].strip()) is not None


def _structures(value: object) -> list[dict[str, object]]:
    """The structures in an RDF Bag or Seq."""
    if not isinstance(value, dict):
        return []
    entries = [
        e for name in ("Bag", "Seq") if isinstance(value.get(name), dict) for e in _listed(value[name].get("li"))
    ]
    return [inner for e in entries if isinstance(e, dict) and isinstance(inner := e.get("Description", e), dict)]


def _items(value: object) -> list[str]:
    """The words of an RDF container (Alt, Seq, Bag); of language alternatives the default or the first."""
    if isinstance(value, str):
        return [value]
    if not isinstance(value, dict):
        return []
    for container in ("Alt", "Seq", "Bag"):
        if container in value and isinstance(value[container], dict):
            entries = _listed(value[container].get("li", []))
            if container == "Alt":
                chosen = [e for e in entries if isinstance(e, dict) and e.get("lang") == "x-default"] or entries
                entries = chosen[:1]
            return [e if isinstance(e, str) else str(e.get("text", "")) for e in entries[:20] if e]
    return [str(value["text"])] if "text" in value else []


def _listed(value: object) -> list[Any]:
    return value if isinstance(value, list) else [value]


def _text(value: object) -> str:
    if isinstance(value, bytes):
        return value.decode("utf-8", "replace")
    if isinstance(value, (list, tuple)):
        return "; ".join(filter(None, (_text(one).strip() for one in value)))
    return "" if value is None else str(value)


def _clean(value: object) -> str:
    """One line, without control characters, bounded."""
    text = "".join(c if c.isprintable() else " " for c in _text(value)[: 4 * LONGEST_VALUE])
    return " ".join(text.split())[:LONGEST_VALUE].strip()
