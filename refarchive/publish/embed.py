"""Photo metadata into the bytes of a finished picture, JPEG or TIFF, without decoding or writing its pixels again.

Three carriers: XMP (all properties), IPTC IIM (those that have a data set), and of EXIF the three tags that the
standard maps (description, artist, copyright), the last only where the file has no EXIF segment, or in a TIFF the tag
is not there. EXIF that is there stays as it is, with the exception below; so do the colour profile and every other
segment.

What is there already: the **private** version keeps XMP properties, IIM data sets and image resources that we never
write and puts ours in place of the rest; if they cannot be read, it refuses. The **public** version replaces all old
XMP and IIM, read or unread, and takes the GPS directory out of EXIF (and of a TIFF), overwriting it with zeros; EXIF
that cannot be read is refused, for nobody could say whether it tells a position. What a camera writes into its own
maker's note, into a comment, or into the picture itself is not looked at.

JPEG: segments before the scan are read one after the other; one that is cut short or says a wrong length is named and
the file refused. Ours stand after JFIF and EXIF; everything from the first SOS marker on is copied byte for byte. A
picture whose further pictures (MPF) would move against their table is refused. A content credential (C2PA) in the file
no longer matches it afterwards, as with any change of a file.

TIFF, in either byte order: a new first directory is added at the end, strips and tiles stay where they are. Of several
pages the first gets the metadata; in the public version the others lose theirs. BigTIFF is refused.

Bytes come in and go out; nothing is written here, so nothing can be half-written.
Sources: ITU-T T.81 B (markers), XMP Specification Part 3 (2016), EXIF 2.32; see also `xmp`, `iim`, `tiff_tags`.
"""

from __future__ import annotations

import hashlib
import re
import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from refarchive.errors import PublishRefused
from refarchive.publish import iim, tiff_tags, xmp
from refarchive.publish.photo_metadata import PhotoMetadata

LARGEST_FILE = 2_000_000_000  # bytes
MOST_SEGMENTS = 10_000
MOST_PAYLOAD = 65_533  # bytes of a segment behind its length
XMP_MARK = b"http://ns.adobe.com/xap/1.0/\0"
EXTENSION_MARK = b"http://ns.adobe.com/xmp/extension/\0"
EXTENSION_PART = 65_400  # bytes of Extended XMP in one segment
EXIF_MARK = b"Exif\0\0"
PHOTOSHOP_MARK = b"Photoshop 3.0\0"
_SOI, _EOI, _SOS, _APP0, _APP1, _APP2, _APP13 = 0xD8, 0xD9, 0xDA, 0xE0, 0xE1, 0xE2, 0xED
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_ALONE = frozenset({0x01, *range(0xD0, 0xD8)})  # markers without a length


def embed(data: bytes, metadata: PhotoMetadata, *, keep_others: bool | None = None) -> bytes:
    """The file with the metadata in it. `keep_others` is as the version is private, unless said otherwise.

    Raises
    ------
    PublishRefused
        for a file that is neither JPEG nor TIFF, is too large, is broken before its picture begins, or holds metadata
        that were to be kept and cannot be read.
    """
    if len(data) > LARGEST_FILE:
        raise PublishRefused(
            f"The file has {len(data):,} bytes; {LARGEST_FILE:,} are the most.", "Export a smaller one.", field="file"
        )
    keep = metadata.private if keep_others is None else keep_others
    if data[:3] == b"\xff\xd8\xff":
        return _into_jpeg(data, metadata, keep)
    if data[:2] in (b"II", b"MM"):
        return _into_tiff(data, metadata, keep)
    raise PublishRefused(
        "The file is neither a JPEG nor a TIFF.", "Export the finished picture as one of these.", field="file"
    )


def picture_digest(data: bytes) -> str:
    """SHA-256 of what holds the picture: a JPEG from its first SOS marker to its end, the strips and tiles of a TIFF.

    Equal before and after `embed`: the picture was not written again.

    Raises
    ------
    PublishRefused
        as `embed`, for a file that is broken.
    """
    digest = hashlib.sha256()
    if data[:3] == b"\xff\xd8\xff":
        digest.update(data[_segments(data)[1] :])
    else:
        for start, end in tiff_tags.read(data, "The TIFF").images:
            digest.update(data[start:end])
    return digest.hexdigest()


# --- JPEG -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Segment:
    marker: int
    at: int
    raw: bytes  # with fill bytes, marker and length
    payload: bytes

    def begins(self, marker: int, mark: bytes) -> bool:
        return self.marker == marker and self.payload.startswith(mark)


def _into_jpeg(data: bytes, metadata: PhotoMetadata, keep: bool) -> bytes:
    segments, scan = _segments(data)
    own = [one for one in segments if _is_ours(one)]
    further = next((one for one in segments if one.begins(_APP2, b"MPF\0")), None)
    if further and any(one.at > further.at for one in own):
        raise PublishRefused(
            "The JPEG holds further pictures (MPF), and old metadata between them and their table.",
            "Export the picture again, as a single JPEG.", field="file",
        )  # fmt: skip
    packet = xmp.packet(metadata, list(_old_xmp(segments)) if keep else ())
    stored = b"".join(one.payload[len(PHOTOSHOP_MARK) :] for one in segments if one.begins(_APP13, PHOTOSHOP_MARK))
    resources = _resources(stored, keep)
    old = next((value for _, number, _, value in resources if number == iim.IPTC), b"")
    block = iim.written(iim.with_iim(resources, iim.iim(metadata, old if keep else b"")))
    fresh = [_segment(_APP1, XMP_MARK + packet.standard)]
    for start in range(0, len(packet.extended), EXTENSION_PART):
        head = EXTENSION_MARK + packet.guid.encode() + struct.pack(">II", len(packet.extended), start)
        fresh.append(_segment(_APP1, head + packet.extended[start : start + EXTENSION_PART]))
    room = MOST_PAYLOAD - len(PHOTOSHOP_MARK)
    fresh += [_segment(_APP13, PHOTOSHOP_MARK + block[at : at + room]) for at in range(0, len(block), room)]
    rest = [one for one in segments if not _is_ours(one)]
    if not any(one.begins(_APP1, EXIF_MARK) for one in rest) and (tags := _exif_values(metadata)):
        bare = tiff_tags.read(b"II*\0" + struct.pack("<IHI", 8, 0, 0), "EXIF")
        fresh.insert(0, _segment(_APP1, EXIF_MARK + tiff_tags.with_tags(bare, tags)))
    kept = [one.raw if metadata.private else _without_position(one) for one in rest]
    lead = 0
    while lead < len(rest) and (rest[lead].marker == _APP0 or rest[lead].begins(_APP1, EXIF_MARK)):
        lead += 1
    return b"".join((b"\xff\xd8", *kept[:lead], *fresh, *kept[lead:], data[scan:]))


def _segments(data: bytes) -> tuple[list[_Segment], int]:
    """The segments between SOI and the first SOS, and where that lies."""
    found: list[_Segment] = []
    at, framed = 2, False
    while True:
        start = at
        if at + 1 >= len(data):
            raise _broken(f"it ends at byte {len(data)}, before its picture begins")
        if data[at] != 0xFF:
            raise _broken(f"there is no marker at byte {at}")
        while at < len(data) and data[at] == 0xFF:  # fill bytes
            at += 1
        if at >= len(data):
            raise _broken(f"it ends at byte {len(data)}, before its picture begins")
        marker = data[at]
        name = f"{_name(marker)} segment at byte {start}"
        if marker == _SOS:
            if not framed:
                raise _broken("its picture begins without a frame header")
            return found, start
        if marker in (0x00, _SOI, _EOI) or len(found) >= MOST_SEGMENTS:
            raise _broken(f"the marker FF{marker:02X} at byte {start} has no place there")
        at += 1
        if marker in _ALONE:
            found.append(_Segment(marker, start, data[start:at], b""))
            continue
        if at + 2 > len(data):
            raise _broken(f"the {name} is cut short")
        (length,) = struct.unpack_from(">H", data, at)
        if length < 2:
            raise _broken(f"the {name} says a length of {length}, which cannot be")
        if at + length > len(data):
            raise _broken(
                f"the {name} says a length of {length:,}, but the file has {len(data) - at:,} bytes from there"
            )
        framed = framed or marker in _FRAMES
        found.append(_Segment(marker, start, data[start : at + length], data[at + 2 : at + length]))
        at += length


def _is_ours(one: _Segment) -> bool:
    """Whether a segment is XMP, Extended XMP, or image resources: what is written afresh."""
    return one.begins(_APP1, XMP_MARK) or one.begins(_APP1, EXTENSION_MARK) or one.begins(_APP13, PHOTOSHOP_MARK)


def _segment(marker: int, payload: bytes) -> bytes:
    assert len(payload) <= MOST_PAYLOAD
    return struct.pack(">BBH", 0xFF, marker, len(payload) + 2) + payload


def _old_xmp(segments: Sequence[_Segment]) -> Iterator[bytes]:
    """The packet that is there, and its Extended XMP where it names one."""
    main = next((one.payload[len(XMP_MARK) :] for one in segments if one.begins(_APP1, XMP_MARK)), None)
    if main is None:
        return
    yield main
    named = re.search(rb"HasExtendedXMP\s*(?:=\s*[\"']|>\s*)([0-9A-Fa-f]{32})", main)
    if named is None:
        return
    parts: dict[int, bytes] = {}
    total = 0
    for one in segments:
        if one.begins(_APP1, EXTENSION_MARK + named[1]) and len(one.payload) >= len(EXTENSION_MARK) + 40:
            total, start = struct.unpack_from(">II", one.payload, len(EXTENSION_MARK) + 32)
            parts[start] = one.payload[len(EXTENSION_MARK) + 40 :]
    whole = b"".join(parts[start] for start in sorted(parts))
    if (
        len(whole) != total
        or hashlib.md5(whole, usedforsecurity=False).hexdigest().upper() != named[1].decode().upper()
    ):
        raise PublishRefused(
            "The second part of the XMP that the file holds already is not whole, so it could not be kept.",
            "Write the public version, which replaces it, or export the picture again.", field="file",
        )  # fmt: skip
    yield whole


def _resources(block: bytes, keep: bool) -> list[iim.Resource]:
    """The image resources that are there; of broken ones the public version keeps none."""
    try:
        found = iim.resources(block)
    except PublishRefused:
        if keep:
            raise
        return []
    return found if keep else [one for one in found if one[1] not in iim.TELLING]


def _without_position(one: _Segment) -> bytes:
    """An EXIF segment without its GPS directory, of the same length; any other segment as it is."""
    if not one.begins(_APP1, EXIF_MARK):
        return one.raw
    tags = tiff_tags.read(one.payload[len(EXIF_MARK) :], f"The EXIF segment at byte {one.at}")
    return one.raw[: len(one.raw) - len(tags.data)] + tiff_tags.emptied(tags, {tiff_tags.GPS})


def _exif_values(metadata: PhotoMetadata) -> dict[int, tuple[int, bytes]]:
    """The three tags, in UTF-8 (common practice for a type that is defined as ASCII), each at most 8,000 bytes."""
    found = {}
    for one, value in metadata.values:
        if one.exif is not None:
            text = value if isinstance(value, str) else "; ".join(str(each) for each in value)
            found[one.exif] = (tiff_tags.ASCII, iim.cut(text, 8_000) + b"\0")
    return found


def _name(marker: int) -> str:
    return f"APP{marker - 0xE0}" if 0xE0 <= marker <= 0xEF else f"FF{marker:02X}"


def _broken(why: str) -> PublishRefused:
    return PublishRefused(f"The JPEG is broken: {why}.", "Export the picture again from its original.", field="file")


# --- TIFF -----------------------------------------------------------------------------------------------------------


def _into_tiff(data: bytes, metadata: PhotoMetadata, keep: bool) -> bytes:
    tags = tiff_tags.read(data, "The TIFF")
    first = tags.pages[0]
    entry = first.get(tiff_tags.RESOURCES)
    found = _resources(tags.value(entry), keep) if entry else []
    entry = first.get(tiff_tags.IPTC)
    old = tags.value(entry) if entry and keep else b""
    if entry and entry.kind == 4 and tags.order == "<":
        old = _unswapped(old)
    entry = first.get(tiff_tags.XMP)
    packet = xmp.packet(metadata, [tags.value(entry)] if entry and keep else (), most=None)
    added = {
        tiff_tags.XMP: (tiff_tags.BYTE, packet.standard),
        tiff_tags.IPTC: (tiff_tags.UNDEFINED, iim.iim(metadata, old)),
    }
    rest = [one for one in found if one[1] not in (iim.IPTC, iim.DIGEST)]
    if rest:
        added[tiff_tags.RESOURCES] = (tiff_tags.BYTE, iim.written(rest))
    added |= {tag: value for tag, value in _exif_values(metadata).items() if first.get(tag) is None}
    gone = {tiff_tags.XMP, tiff_tags.IPTC, tiff_tags.RESOURCES}
    if not metadata.private:
        gone.add(tiff_tags.GPS)
        tags = tiff_tags.read(tiff_tags.emptied(tags, gone), "The TIFF")
    return tiff_tags.with_tags(tags, added, gone)


def _unswapped(old: bytes) -> bytes:
    """IIM as it was, where an old writer stored it as 32-bit numbers of the file's byte order."""
    if old[:1] == b"\x1c" or len(old) % 4:
        return old
    turned = bytearray(len(old))
    for at in range(4):
        turned[at::4] = old[3 - at :: 4]
    return bytes(turned)
