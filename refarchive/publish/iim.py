"""IPTC IIM data sets, and the Photoshop image resources that carry them in a JPEG (APP13) or a TIFF (tag 34377).

Sources: IPTC-NAA Information Interchange Model 4 (data set 1:90 names UTF-8 by ESC % G; a data set is 1C, record,
number, length, value; values over 32,767 bytes need another form and never occur here); Adobe Photoshop File Formats
Specification, Image Resource Blocks (0x0404 IPTC, 0x0425 MD5 digest of it as XMP-aware programs compare).

A value longer than IIM allows is cut to whole characters, and never before a mark that combines with the last one; XMP
holds it whole.
"""

from __future__ import annotations

import hashlib
import struct
import unicodedata
from collections.abc import Iterator, Sequence

from refarchive.errors import PublishRefused
from refarchive.publish.photo_metadata import PROPERTIES, PhotoMetadata

UTF8 = b"\x1b%G"
IPTC, DIGEST = 0x0404, 0x0425
TELLING = (
    0x0422,
    0x0423,
    0x0424,
)  # EXIF, EXIF and XMP as image resources: they could tell what the public one does not
SIGNATURES = (b"8BIM", b"MeSa", b"AgHg", b"PHUT", b"DCSR")
MOST_BYTES = 16_000_000  # of resources in one file, and of data sets
MOST_SETS, MOST_RESOURCES = 100_000, 20_000  # a picture has some dozens
_RECORD = 4  # version of the model

Resource = tuple[bytes, int, bytes, bytes]  # signature, id, name, data
Sets = list[tuple[int, int, bytes]]  # record, number, value


def iim(metadata: PhotoMetadata, old: bytes = b"") -> bytes:
    """The data sets of a picture's metadata in order; of `old`, those that we never write stay.

    Raises
    ------
    PublishRefused
        for old data sets that cannot be read.
    """
    ours = {one.iim for one in PROPERTIES if one.iim} | {60}  # the time of a day that is replaced
    sets: Sets = [(1, 0, struct.pack(">H", _RECORD)), (1, 90, UTF8), (2, 0, struct.pack(">H", _RECORD))]
    before = list(data_sets(old))
    utf8 = any((record, number, value) == (1, 90, UTF8) for record, number, value in before)
    for record, number, value in before:
        if number and (record, number) != (1, 90) and not (record == 2 and number in ours):
            sets.append((record, number, value if utf8 or record != 2 else _as_utf8(value)))
    for one, told in metadata.values:
        if one.iim is None or one.iim_bytes is None:
            continue
        for text in [told] if isinstance(told, str) else told:
            assert isinstance(text, str)
            flat = text.replace("-", "") if one.iim == 55 else text
            sets.append((2, one.iim, cut(flat, one.iim_bytes)))
    sets.sort(key=lambda each: each[:2])
    return b"".join(_data_set(*one) for one in sets)


def _data_set(record: int, number: int, value: bytes) -> bytes:
    """One data set; a length that 15 bits do not hold is written extended, in four octets (IIM 4.2, 1.6)."""
    if len(value) < 0x8000:
        return struct.pack(">BBBH", 0x1C, record, number, len(value)) + value
    return struct.pack(">BBBHI", 0x1C, record, number, 0x8004, len(value)) + value


def cut(text: str, most: int) -> bytes:
    """A text in UTF-8, in at most so many bytes, at the end of a character.

    >>> cut("Öre", 3).decode(), cut("e\u0301e\u0301", 4).decode() == "e\u0301"
    ('Ör', True)
    """
    whole = text.encode()
    if len(whole) <= most:
        return whole
    kept = whole[:most].decode("utf-8", "ignore")
    while kept and unicodedata.combining(text[len(kept)]):
        kept = kept[:-1]
    return kept.rstrip().encode()


def _as_utf8(value: bytes) -> bytes:
    """An old value that does not say its coding: UTF-8 where it is, else Latin-1, as elsewhere in this package."""
    try:
        value.decode()
        return value
    except UnicodeDecodeError:
        return value.decode("latin-1").encode()


def data_sets(data: bytes) -> Iterator[tuple[int, int, bytes]]:
    """The data sets of a block: record, number, value. Zeros at the end are filling.

    Raises
    ------
    PublishRefused
        for one that does not begin with its mark, or is longer than the block, and for a block over `MOST_BYTES` or
        `MOST_SETS`.
    """
    if len(data) > MOST_BYTES:
        raise _unreadable(f"{len(data):,} bytes of data sets, {MOST_BYTES:,} are the most")
    at, end, count = 0, len(data.rstrip(b"\0")), 0
    while at < end:
        if data[at] != 0x1C or at + 5 > len(data):
            raise _unreadable(f"no data set at byte {at}")
        if (count := count + 1) > MOST_SETS:
            raise _unreadable(f"more than {MOST_SETS:,} data sets")
        record, number, length = struct.unpack_from(">BBH", data, at + 1)
        at += 5
        if length & 0x8000:
            octets = length & 0x7FFF
            if octets > 4 or at + octets > len(data):
                raise _unreadable(f"a length that cannot be at byte {at}")
            length = int.from_bytes(data[at : at + octets], "big")
            at += octets
        if at + length > len(data):
            raise _unreadable(f"data set {record}:{number} is longer than the block")
        yield record, number, data[at : at + length]
        at += length


# --- image resources ------------------------------------------------------------------------------------------------


def resources(data: bytes) -> list[Resource]:
    """The image resources of a block, in order.

    Raises
    ------
    PublishRefused
        for a block that is cut short, holds something else, or is larger than `MOST_BYTES` or `MOST_RESOURCES`.
    """
    if len(data) > MOST_BYTES:
        raise _unreadable(f"{len(data):,} bytes of image resources, {MOST_BYTES:,} are the most")
    found: list[Resource] = []
    at, end = 0, len(data.rstrip(b"\0"))  # zeros at the end are filling
    while at < end:
        signature = data[at : at + 4]
        if signature not in SIGNATURES or at + 7 > len(data):
            raise _unreadable(f"no image resource at byte {at}")
        (number,) = struct.unpack_from(">H", data, at + 4)
        length = data[at + 6]
        name = data[at + 6 : at + 7 + length]
        at += 6 + len(name) + len(name) % 2
        if at + 4 > len(data):
            raise _unreadable(f"resource {number:#06x} is cut short")
        (size,) = struct.unpack_from(">I", data, at)
        at += 4
        if at + size > len(data):
            raise _unreadable(f"resource {number:#06x} is longer than the block")
        found.append((signature, number, name, data[at : at + size]))
        if len(found) > MOST_RESOURCES:
            raise _unreadable(f"more than {MOST_RESOURCES:,} image resources")
        at += size + size % 2
    return found


def written(found: Sequence[Resource]) -> bytes:
    """Image resources as a block, each filled up to an even length."""
    out = []
    for signature, number, name, data in found:
        out.append(signature + struct.pack(">H", number) + name + b"\0" * (len(name) % 2))
        out.append(struct.pack(">I", len(data)) + data + b"\0" * (len(data) % 2))
    return b"".join(out)


def with_iim(found: Sequence[Resource], block: bytes) -> list[Resource]:
    """The resources with this IIM and its digest, in place of those that were there."""
    rest = [one for one in found if one[1] not in (IPTC, DIGEST)]
    digest = hashlib.md5(block, usedforsecurity=False).digest()
    return [(b"8BIM", IPTC, b"\0", block), *rest, (b"8BIM", DIGEST, b"\0", digest)]


def _unreadable(why: str) -> PublishRefused:
    return PublishRefused(
        f"The IPTC metadata that the file holds already cannot be read ({why}), so nothing could be kept of them.",
        "Write the public version, which replaces them, or export the picture again.",
        field="file",
    )
