"""What a picture file says about itself: EXIF, IPTC (IIM) and XMP, as suggestions for fields left empty.

Such fields describe the file as often as the thing shown. The EXIF date is the day of the shot or the scan, never the
historical date, so it comes back as `digitised`. Nothing here fails: a file that says nothing, or nonsense, gives {}.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from refarchive.errors import BadDate
from refarchive.records import files
from refarchive.records.dates import iso_day, julian_day

LONGEST_VALUE = 2000  # characters
LARGEST_XMP = 1_000_000  # bytes

_EXIF_IFD = 0x8769
_EXIF_TEXTS = {"description": 0x010E, "creator": 0x013B, "rights": 0x8298}
_EXIF_TAKEN, _EXIF_DIGITISED = 0x9003, 0x9004
_IPTC_TEXTS = {"title": (2, 5), "creator": (2, 80), "rights": (2, 116), "description": (2, 120)}
_IPTC_CODING = (1, 90)
_XMP_TEXTS = ("title", "creator", "description", "rights")
# What cameras and scanners write on their own account.
_EMPTY_WORDS = frozenset({"", "untitled", "default", "olympus digital camera", "digital camera", "sony dsc", "unknown"})


def read_metadata(path: Path) -> dict[str, str]:
    """Suggestions from a picture's own metadata: `title`, `creator`, `description`, `rights`, `digitised`.

    XMP goes before IPTC, IPTC before EXIF. Values are one line of at most 2000 characters; `digitised` is an ISO day.
    Pixels are not decoded.
    """
    found: dict[str, str] = {}
    try:
        media_type = files.sniff(path)
        if not media_type:
            return {}
        with files._quiet(), files._reader(path, media_type) as picture:
            for source in (_from_xmp, _from_iptc, _from_exif):
                for field, value in _tried(source, picture).items():
                    found.setdefault(field, value)
    except Exception:  # whatever a broken file does to its decoder, its metadata is only a suggestion
        return {}
    return found


def _tried(source: Any, picture: Any) -> dict[str, str]:
    """What one source says, cleaned; {} where reading it fails in whatever way."""
    try:
        raw: Mapping[str, object] = source(picture)
    except Exception:  # Pillow hands on errors of many kinds for broken metadata
        return {}
    values = {field: _clean(value) for field, value in raw.items()}
    return {field: value for field, value in values.items() if value.lower() not in _EMPTY_WORDS}


def _from_exif(picture: Any) -> dict[str, object]:
    exif = picture.getexif()
    raw: dict[str, object] = {field: exif.get(tag) for field, tag in _EXIF_TEXTS.items()}
    inner = exif.get_ifd(_EXIF_IFD)
    raw["digitised"] = _day(inner.get(_EXIF_TAKEN)) or _day(inner.get(_EXIF_DIGITISED))
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


def _from_iptc(picture: Any) -> dict[str, object]:
    from PIL import IptcImagePlugin

    info = IptcImagePlugin.getiptcinfo(picture) or {}
    utf8 = info.get(_IPTC_CODING) == b"\x1b%G"
    return {field: _decoded(info.get(tag), utf8) for field, tag in _IPTC_TEXTS.items()}


def _decoded(value: object, utf8: bool) -> object:
    if isinstance(value, list):
        return [_decoded(one, utf8) for one in value[:20]]
    if not isinstance(value, bytes):
        return value
    try:
        return value.decode("utf-8")  # many writers use it without declaring it, and Latin-1 hardly ever passes for it
    except UnicodeDecodeError:
        return value.decode("utf-8" if utf8 else "latin-1", "replace")


def _from_xmp(picture: Any) -> dict[str, object]:
    packet = picture.info.get("xmp", picture.info.get("XML:com.adobe.xmp", b""))
    if not packet or len(packet) > LARGEST_XMP:
        return {}
    tree = picture.getxmp()  # through defusedxml: entities are refused, nothing is fetched
    found: dict[str, object] = {}
    for description in _listed(tree.get("xmpmeta", {}).get("RDF", {}).get("Description", [])):
        if isinstance(description, dict):
            for field in _XMP_TEXTS:
                if field in description and field not in found:
                    found[field] = _items(description[field])
    return found


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
