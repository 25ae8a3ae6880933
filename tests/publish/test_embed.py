"""Metadata in the bytes of JPEG and TIFF: the picture untouched, and what others read back.

Independent readers: exiv2 (through pyexiv2), Pillow, tifffile, and what this package reads from any gathered file.
"""

from __future__ import annotations

import hashlib
import io
import struct
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pyexiv2
import pytest
import tifffile
from finished import JPEGS, ON, PARTICULARS, PREFIX, PRIVATE, PUBLIC, TIFFS, camera_exif, jpeg, noise, tiff
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, IptcImagePlugin

from refarchive.errors import PublishRefused
from refarchive.publish import embed as embedding
from refarchive.publish import iim, tiff_tags, xmp
from refarchive.publish.embed import embed, picture_digest
from refarchive.publish.photo_metadata import BAG, LANGUAGE, PLACES, SEQ, TEXT, PhotoMetadata, photo_metadata
from refarchive.records.wall import Particulars, Place
from refarchive.sources.metadata import read_metadata


def scan_of(data: bytes) -> bytes:
    """From the first SOS on, found by its own small walk over the markers."""
    at = 2
    while data[at + 1] != 0xDA:
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return data[at:]


def parts_of(data: bytes) -> list[tuple[int, bytes]]:
    """(marker, payload) of what stands before the scan."""
    at, found = 2, []
    while data[at + 1] != 0xDA:
        length = int.from_bytes(data[at + 2 : at + 4], "big")
        found.append((data[at + 1], data[at + 4 : at + 2 + length]))
        at += 2 + length
    return found


def by_exiv2(data: bytes) -> tuple[dict[str, Any], dict[str, Any], dict[str, Any]]:
    with pyexiv2.ImageData(data) as image:
        return image.read_xmp(), image.read_iptc(), image.read_exif()


def expected_by_exiv2(metadata: PhotoMetadata) -> dict[str, Any]:
    """What exiv2 is to say of each property, by its own keys."""
    found: dict[str, Any] = {}
    for one, value in metadata.values:
        prefix, _, local = one.xmp.partition(":")
        key = f"Xmp.{PREFIX.get(prefix, prefix)}.{local}"
        if one.form == LANGUAGE:
            found[key] = {'lang="x-default"': value}
        elif one.form == TEXT:
            found[key] = value
        elif one.form in (BAG, SEQ):
            found[key] = list(value)
        elif one.form == PLACES:
            (place,) = value
            assert isinstance(place, Place)
            fields = {
                "Sublocation": place.sublocation, "City": place.city, "ProvinceState": place.province,
                "CountryName": place.country, "CountryCode": place.country_code,
            }  # fmt: skip
            found |= {f"{key}[1]/Iptc4xmpExt:{name}": text for name, text in fields.items() if text}
        else:
            for number, (name, role) in enumerate(value, 1):
                found[f"{key}[{number}]/Iptc4xmpExt:Name"] = {'lang="x-default"': name}
                found[f"{key}[{number}]/Iptc4xmpExt:Role"] = [role]
    return found


# --- the picture stays ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", JPEGS)
@pytest.mark.parametrize("metadata", [PUBLIC, PRIVATE], ids=["public", "private"])
def test_a_jpegs_scan_is_the_same_bytes_and_decodes_to_the_same_pixels(kind: str, metadata: PhotoMetadata) -> None:
    data = JPEGS[kind]()
    out = embed(data, metadata)
    assert scan_of(out) == scan_of(data)
    assert picture_digest(out) == picture_digest(data) == hashlib.sha256(scan_of(data)).hexdigest()
    with Image.open(io.BytesIO(data)) as before, Image.open(io.BytesIO(out)) as after:
        assert np.array_equal(np.asarray(before), np.asarray(after))
        assert before.info.get("icc_profile") == after.info.get("icc_profile")
    rest = [part for part in parts_of(data) if part[0] != 0xE1]
    assert [part for part in parts_of(out) if part[0] not in (0xE1, 0xED)] == rest


@pytest.mark.parametrize("kind", TIFFS)
@pytest.mark.parametrize("metadata", [PUBLIC, PRIVATE], ids=["public", "private"])
def test_a_tiffs_strips_are_the_same_bytes_at_the_same_place(kind: str, metadata: PhotoMetadata) -> None:
    data = TIFFS[kind]()
    out = embed(data, metadata)
    assert picture_digest(out) == picture_digest(data)
    with tifffile.TiffFile(io.BytesIO(data)) as before, tifffile.TiffFile(io.BytesIO(out)) as after:
        assert len(before.pages) == len(after.pages)
        for one, other in zip(before.pages, after.pages, strict=True):
            assert one.dataoffsets == other.dataoffsets
            assert one.databytecounts == other.databytecounts
            assert np.array_equal(one.asarray(), other.asarray())
            for start, size in zip(one.dataoffsets, one.databytecounts, strict=True):
                assert data[start : start + size] == out[start : start + size]
        tags = [tag.code for tag in after.pages[0].tags.values()]
        assert tags == sorted(tags)
        assert {tag.code for tag in before.pages[0].tags.values()} <= set(tags)
        assert (700 in [tag.code for tag in after.pages[-1].tags.values()]) is (len(after.pages) == 1)
    assert out[8 : len(data)] == data[8:]  # nothing that was there is changed but the first offset


def test_writing_twice_is_writing_once() -> None:
    for data in (*(made() for made in JPEGS.values()), *(made() for made in TIFFS.values())):
        for metadata in (PUBLIC, PRIVATE):
            once = embed(data, metadata)
            twice = embed(once, metadata)
            assert by_exiv2(twice)[:2] == by_exiv2(once)[:2]
            assert picture_digest(twice) == picture_digest(data)
            if data[:1] == b"\xff":
                assert twice == once


# --- what others read -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "make", [JPEGS["baseline"], JPEGS["profile, EXIF, comment"], TIFFS["big-endian"], TIFFS["two pages"]]
)
@pytest.mark.parametrize("metadata", [PUBLIC, PRIVATE], ids=["public", "private"])
def test_exiv2_reads_every_property_by_the_standards_names(make: Callable[[], bytes], metadata: PhotoMetadata) -> None:
    told, sets, _ = by_exiv2(embed(make(), metadata))
    for key, value in expected_by_exiv2(metadata).items():
        assert told[key] == value, key
    assert sets == {
        "Iptc.Envelope.ModelVersion": "4",
        "Iptc.Envelope.CharacterSet": "\x1b%G",
        "Iptc.Application2.RecordVersion": "4",
        "Iptc.Application2.ObjectName": PARTICULARS.title,
        "Iptc.Application2.Headline": PARTICULARS.headline,
        "Iptc.Application2.Caption": PARTICULARS.caption,
        "Iptc.Application2.Keywords": list(PARTICULARS.keywords),
        "Iptc.Application2.DateCreated": "2026-02-14",
        "Iptc.Application2.Byline": ["Нина Никто"],
        "Iptc.Application2.Credit": PARTICULARS.credit_line,
        "Iptc.Application2.Copyright": PARTICULARS.copyright_notice,
    }
    position = [key for key in told if "GPS" in key]
    assert position == [] if metadata is PUBLIC else len(position) == 2


def test_exif_is_written_only_where_there_is_none() -> None:
    _, _, exif = by_exiv2(embed(jpeg(), PUBLIC))
    assert exif == {
        "Exif.Image.ImageDescription": PARTICULARS.caption,
        "Exif.Image.Artist": "Нина Никто",
        "Exif.Image.Copyright": "© 2026 Nobody",
    }
    _, _, exif = by_exiv2(embed(JPEGS["profile, EXIF, comment"](), PRIVATE))
    assert "Exif.Image.Artist" not in exif
    assert exif["Exif.Image.Make"] == "Maker"
    assert exif["Exif.Photo.DateTimeOriginal"] == "2026:02:14 06:10:00"


@pytest.mark.parametrize("make", [JPEGS["baseline"], TIFFS["little-endian"], TIFFS["big-endian"]])
def test_pillow_and_this_package_read_it_too(make: Callable[[], bytes], tmp_path: Path) -> None:
    out = embed(make(), PUBLIC)
    with Image.open(io.BytesIO(out)) as image:
        (descriptions,) = [image.getxmp()["xmpmeta"]["RDF"]["Description"]]
        assert descriptions["subject"]["Bag"]["li"] == list(PARTICULARS.keywords)
        assert descriptions["description"]["Alt"]["li"]["text"] == PARTICULARS.caption
        sets = IptcImagePlugin.getiptcinfo(image)
    assert sets is not None
    assert sets[(2, 80)] in ("Нина Никто".encode(), ["Нина Никто".encode()])
    assert sets[(1, 90)] == b"\x1b%G"
    path = tmp_path / "out"
    path.write_bytes(out)
    told = read_metadata(path)
    assert told["title"].value == PARTICULARS.title
    assert told["creator"].value == PARTICULARS.creator
    assert told["credit"].value == PARTICULARS.credit_line
    assert told["rights"].value == PARTICULARS.web_statement
    assert told["subjects"].value == "; ".join(PARTICULARS.keywords)
    assert told["place"].value == "Merrow Sands, Nowhere"
    assert told["place"].origin == "XMP Iptc4xmpExt:LocationShown"


def test_the_digest_of_iim_is_its_md5() -> None:
    """Photoshop File Formats Specification: resource 0x0425 beside 0x0404."""
    block = b"".join(p[len(b"Photoshop 3.0\0") :] for m, p in parts_of(embed(jpeg(), PUBLIC)) if m == 0xED)
    by_id = {number: data for _, number, _, data in iim.resources(block)}
    assert by_id[0x0425] == hashlib.md5(by_id[0x0404], usedforsecurity=False).digest()


def test_values_longer_than_iim_takes_are_cut_there_and_whole_in_xmp() -> None:
    long = replace(PARTICULARS, title="ö" * 60, credit_line="名" * 12, caption="e\u0301" * 900)
    metadata = photo_metadata(long, on=ON)
    assert metadata.shortened == ("Title", "Description", "Credit Line")
    told, sets, _ = by_exiv2(embed(jpeg(), metadata))
    assert sets["Iptc.Application2.ObjectName"] == "ö" * 32  # 64 bytes
    assert sets["Iptc.Application2.Credit"] == "名" * 10  # 30 of 32 bytes
    assert sets["Iptc.Application2.Caption"] == "e\u0301" * 666  # 1,998 of 2,000 bytes, no accent left behind
    assert told["Xmp.dc.title"] == {'lang="x-default"': "ö" * 60}


# --- more than a segment holds --------------------------------------------------------------------------------------


def reassembled(data: bytes) -> tuple[bytes, bytes]:
    """The standard and the extended packet, put together after XMP Specification Part 3, 1.1.3.1."""
    standard = next(p[29:] for m, p in parts_of(data) if m == 0xE1 and p.startswith(b"http://ns.adobe.com/xap/1.0/\0"))
    mark = b"http://ns.adobe.com/xmp/extension/\0"
    whole = bytearray()
    for marker, payload in parts_of(data):
        if marker == 0xE1 and payload.startswith(mark):
            guid, (total, start) = payload[35:67], struct.unpack(">II", payload[67:75])
            assert guid in standard
            assert len(whole) == start
            whole += payload[75:]
    if whole:
        assert len(whole) == total
        assert hashlib.md5(whole, usedforsecurity=False).hexdigest().upper().encode() == guid
    return standard, bytes(whole)


def test_a_packet_longer_than_a_segment_is_parted_as_the_specification_says() -> None:
    note, caption = "曙光 " * 4_000, "Ω" * 10_000
    keywords = tuple(f"{n} {'x' * 1_000}" for n in range(500))
    metadata = photo_metadata(replace(PARTICULARS, note=note, caption=caption, keywords=keywords), on=ON)
    data = jpeg()
    out = embed(data, metadata)
    standard, extended = reassembled(out)
    assert len(standard) <= 65_502
    assert len(extended) > 500_000
    assert scan_of(out) == scan_of(data)
    by_part = [xmp._read([part]) for part in (standard, extended)]
    names = [{one.element.tagName for one in part} for part in by_part]
    assert not names[0] & names[1]
    assert names[1] == {"dc:subject"}  # the largest goes first, and was enough
    told, _, _ = by_exiv2(out)
    assert told["Xmp.dc.description"] == {'lang="x-default"': caption}
    again = embed(out, metadata, keep_others=True)
    assert reassembled(again)[1] == extended


@pytest.mark.parametrize("length", range(0, 200, 7))
def test_parting_begins_at_the_byte(length: int) -> None:
    metadata = photo_metadata(Particulars("f", caption="x" * 20_000, note="y" * 20_000), on=ON)
    room = len(xmp.packet(metadata, most=None).standard)
    packet = xmp.packet(metadata, most=room - length)
    assert (packet.extended == b"") is (length == 0)
    assert len(packet.standard) <= room - length


def test_an_extended_part_that_is_not_whole_is_not_lost_silently() -> None:
    metadata = photo_metadata(replace(PARTICULARS, note="曙" * 20_000, caption="光" * 20_000), on=ON)
    out = embed(jpeg(), metadata)
    at = out.rindex(b"http://ns.adobe.com/xmp/extension/\0")
    broken = out[: at + 80] + b"\0" + out[at + 81 :]
    with pytest.raises(PublishRefused, match="not whole"):
        embed(broken, PRIVATE)
    assert reassembled(embed(broken, PUBLIC))[1] == b""


# --- what is there already ------------------------------------------------------------------------------------------

OLD_XMP = """<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/"><r:RDF xmlns:r="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<r:Description r:about="uuid:1" xmlns:own="urn:own:" xmlns:d="http://purl.org/dc/elements/1.1/" own:kept="by attribute"
 xmlns:e="http://ns.adobe.com/exif/1.0/" e:GPSLatitude="54,7.4N">
<d:title><r:Alt><r:li xml:lang="x-default">old title</r:li></r:Alt></d:title><own:also>by element</own:also>
</r:Description></r:RDF></x:xmpmeta><?xpacket end="w"?>"""


def with_old(packet: bytes = OLD_XMP.encode(), sets: bytes | None = None) -> bytes:
    """A JPEG with an XMP packet and image resources: IIM, a caption digest of another program, XMP once more."""
    made = b"\x1c\x02\x05\x00\x03old" + b"\x1c\x02\x0f\x00\x02Lo" + b"\x1c\x02\x74\x00\x05secre"
    block = iim.written([
        (b"8BIM", 0x0404, b"\0", made if sets is None else sets), (b"8BIM", 0x040A, b"\x03abc", b"\1"),
        (b"8BIM", 0x0424, b"\0", OLD_XMP.encode()),
    ])  # fmt: skip
    data = jpeg(exif=camera_exif())
    fresh = embedding._segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0" + packet)
    return data[:2] + fresh + embedding._segment(0xED, b"Photoshop 3.0\0" + block) + data[2:]


def test_the_private_version_keeps_what_others_wrote() -> None:
    out = embed(with_old(), PRIVATE)
    told, sets, exif = by_exiv2(out)
    assert told["Xmp.dc.title"] == {'lang="x-default"': PARTICULARS.title}
    assert b"by attribute" in out
    assert b"by element" in out
    assert told["Xmp.exif.GPSLatitude"] == "54,7.4N"
    assert sets["Iptc.Application2.Category"] == "Lo"
    assert sets["Iptc.Application2.ObjectName"] == PARTICULARS.title
    assert "Exif.GPSInfo.GPSLatitude" in exif
    block = b"".join(p[14:] for m, p in parts_of(out) if m == 0xED)
    assert [number for _, number, _, _ in iim.resources(block)] == [0x0404, 0x040A, 0x0424, 0x0425]


def test_the_public_version_holds_nothing_of_what_was_there_but_the_camera_exif() -> None:
    out = embed(with_old(), PUBLIC)
    told, sets, exif = by_exiv2(out)
    for secret in (b"old title", b"by attribute", b"by element", b"54,7.4N", b"secre"):
        assert secret not in out
    assert "Iptc.Application2.Category" not in sets
    assert not any("GPS" in key for key in (*told, *exif))
    assert exif["Exif.Image.Orientation"] == "6"
    assert exif["Exif.Photo.DateTimeOriginal"] == "2026:02:14 06:10:00"
    assert b"the ferry stage" in with_old()
    assert b"the ferry stage" not in out


def test_the_public_version_of_a_tiff_leaves_no_trace_of_old_metadata_on_any_page() -> None:
    out = io.BytesIO()
    with tifffile.TiffWriter(out) as writer:
        for page in (noise(), noise(20, 30)):
            extra = [
                (700, 1, len(OLD_XMP.encode()), OLD_XMP.encode(), True),
                (33723, 7, 12, b"\x1c\x02\x05\x00\x07oldname", True),
            ]
            writer.write(page, photometric="rgb", metadata=None, extratags=extra)
    old = with_gps(out.getvalue())
    assert "Exif.GPSInfo.GPSLatitudeRef" in by_exiv2(old)[2]
    made = embed(old, PUBLIC)
    for secret in (b"old title", b"oldname", b"by element", b"GPS-SECRET"):
        assert secret in old
        assert secret not in made
    assert not any("GPS" in key for key in by_exiv2(made)[2])
    assert picture_digest(made) == picture_digest(old)
    kept = embed(old, PRIVATE)
    assert b"by element" in kept[len(old) :]
    assert by_exiv2(kept)[0]["Xmp.dc.title"] == {'lang="x-default"': PARTICULARS.title}


def with_gps(data: bytes) -> bytes:
    """A little-endian TIFF with a GPS directory: a reference in the entry itself, and an area's name outside it."""
    at = len(data) + len(data) % 2
    name = b"ASCII\0\0\0GPS-SECRET"
    ifd = (
        struct.pack("<H", 2) + struct.pack("<HHI4s", 1, 2, 2, b"N\0") + struct.pack("<HHII", 28, 7, len(name), at + 30)
    )
    longer = data.ljust(at, b"\0") + ifd + struct.pack("<I", 0) + name
    made = bytearray(tiff_tags.with_tags(tiff_tags.read(longer, "a TIFF"), {34853: (4, b"\0\0\0\0")}))
    entry = made.rindex(struct.pack("<HHI", 34853, 4, 4))
    struct.pack_into("<II", made, entry + 4, 1, at)  # one number, not four bytes
    return bytes(made)


def test_old_metadata_that_cannot_be_read_are_refused_or_replaced() -> None:
    entity = b'<!DOCTYPE x [<!ENTITY a "b">]><x:xmpmeta xmlns:x="adobe:ns:meta/">&a;</x:xmpmeta>'
    deep = b"<a>" * 5_000 + b"</a>" * 5_000
    for packet in (b"", b"<x", entity, deep, b"\xff\xfe\x00"):
        with pytest.raises(PublishRefused, match="cannot be read") as refused:
            embed(with_old(packet), PRIVATE)
        assert "public version" in refused.value.next_step
        assert by_exiv2(embed(with_old(packet), PUBLIC))[0]["Xmp.dc.title"]
    for sets in (b"junk", b"\x1c\x02\x05\x00\x50short", b"\x1c\x02\x05\x80\x09"):
        with pytest.raises(PublishRefused, match="cannot be read"):
            embed(with_old(sets=sets), PRIVATE)
        assert by_exiv2(embed(with_old(sets=sets), PUBLIC))[1]["Iptc.Application2.ObjectName"]


def test_an_old_packet_with_other_prefixes_comes_out_with_the_usual_ones() -> None:
    """Fields of a structure as attributes, RDF and IPTC under names of their own."""
    old = """<r:RDF xmlns:r="http://www.w3.org/1999/02/22-rdf-syntax-ns#"
    xmlns:i="http://iptc.org/std/Iptc4xmpExt/2008-02-29/">
    <r:Description r:about=""><i:ArtworkOrObject><r:Bag>
    <r:li i:AOSource="The Keeper's Room"/></r:Bag></i:ArtworkOrObject>
    </r:Description></r:RDF>"""
    told, _, _ = by_exiv2(embed(with_old(old.encode()), PRIVATE))
    assert told["Xmp.iptcExt.ArtworkOrObject[1]/Iptc4xmpExt:AOSource"] == "The Keeper's Room"
    with pytest.raises(PublishRefused, match="uses dc for another namespace"):
        embed(with_old(OLD_XMP.replace("xmlns:d=", 'xmlns:dc="urn:x" xmlns:d=').encode()), PRIVATE)


def test_old_iim_in_latin_1_is_kept_as_utf_8() -> None:
    out = embed(with_old(sets=b"\x1c\x02\x0f\x00\x02\xd6l" + b"\x1c\x02\x3c\x00\x0b101010+0000"), PRIVATE)
    sets = by_exiv2(out)[1]
    assert sets["Iptc.Application2.Category"] == "Öl"
    assert "Iptc.Application2.TimeCreated" not in sets  # it told the time of a day that was replaced


@pytest.mark.parametrize("byteorder", ["<", ">"])
def test_old_iim_of_a_tiff_that_stands_there_as_32_bit_numbers_is_kept(byteorder: str) -> None:
    """As old writers stored tag 33723: type LONG, so that a little-endian file has each four bytes turned."""
    numbers = struct.unpack(">2I", b"\x1c\x02\x0f\x00\x03Sea")
    old = tiff(noise(), byteorder=byteorder, extratags=[(33723, 4, len(numbers), numbers, True)])
    assert by_exiv2(embed(old, PRIVATE))[1]["Iptc.Application2.Category"] == "Sea"


# --- broken and hostile ---------------------------------------------------------------------------------------------


def broken_jpegs() -> dict[str, tuple[bytes, str]]:
    data = jpeg()
    exif = embedding._segment(0xE1, b"Exif\0\0II*\0" + struct.pack("<I", 9_999))
    return {
        "a length past the end": (
            data[:2] + b"\xff\xe1\xff\xff" + b"x" * 40,
            "the APP1 segment at byte 2 says a length of",
        ),
        "a length of 1": (data[:2] + b"\xff\xe1\x00\x01" + data[2:], "says a length of 1"),
        "no length": (data[:2] + b"\xff\xe1", "the APP1 segment at byte 2 is cut short"),
        "a length too long by one": (data[:2] + b"\xff\xe1\x00\x08abcde" + data[2:], "there is no marker at byte"),
        "no scan": (data[: data.index(b"\xff\xda")], "before its picture begins"),
        "only a beginning": (b"\xff\xd8\xff", "before its picture begins"),
        "an end first": (b"\xff\xd8\xff\xd9", "has no place there"),
        "a scan without a frame": (b"\xff\xd8\xff\xda\x00\x02", "without a frame header"),
        "EXIF out of bounds": (data[:2] + exif + data[2:], "The EXIF segment at byte 2 cannot be read"),
        "another kind": (b"\x89PNG\r\n\x1a\n" + b"\0" * 40, "neither a JPEG nor a TIFF"),
        "nothing": (b"", "neither a JPEG nor a TIFF"),
    }


@pytest.mark.parametrize("kind", broken_jpegs())
def test_what_is_broken_is_named_and_refused(kind: str) -> None:
    data, problem = broken_jpegs()[kind]
    with pytest.raises(PublishRefused, match=problem) as refused:
        embed(data, PUBLIC)
    assert refused.value.next_step
    assert refused.value.field == "file"


def test_exif_that_cannot_be_read_stays_in_the_private_version() -> None:
    data, _ = broken_jpegs()["EXIF out of bounds"]
    assert parts_of(embed(data, PRIVATE))[0] == parts_of(data)[0]


def broken_tiffs() -> dict[str, tuple[bytes, str]]:
    data = tiff(noise())
    (at,) = struct.unpack_from("<I", data, 4)
    end = at + 2 + 12 * struct.unpack_from("<H", data, at)[0]
    ring = data[:end] + struct.pack("<I", at) + data[end + 4 :]
    over = tiff_tags.read(data, "").images[0][0]
    laid = bytearray(tiff_tags.with_tags(tiff_tags.read(data, ""), {700: (1, b"x" * 50)}))
    entry = tiff_tags.read(bytes(laid), "").pages[0].get(700)
    assert entry is not None
    place = bytes(laid).index(struct.pack("<HHII", 700, 1, 50, entry.at)) + 8
    outside = bytearray(laid)
    struct.pack_into("<I", laid, place, over)
    struct.pack_into("<I", outside, place, len(outside))
    return {
        "BigTIFF": (tiff(noise(), bigtiff=True), "is a BigTIFF"),
        "no header": (b"II\x00\x00" + data[4:], "no TIFF header"),
        "cut short": (data[:20], "directory is said to begin|goes on after its end"),
        "a ring": (ring, "in a ring"),
        "no directory": (b"II*\0\0\0\0\0", "no directory"),
        "XMP laid over the strips": (bytes(laid), "lies over its image data"),
        "XMP outside": (bytes(outside), "lies outside it"),
    }


@pytest.mark.parametrize("kind", broken_tiffs())
def test_a_broken_tiff_is_named_and_refused(kind: str) -> None:
    data, problem = broken_tiffs()[kind]
    with pytest.raises(PublishRefused, match=problem) as refused:
        embed(data, PUBLIC)
    assert refused.value.next_step


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_whatever_the_bytes_before_the_scan_it_is_refused_or_the_scan_stays(data: st.DataObject) -> None:
    sound = bytearray(with_old())
    begins = sound.index(scan_of(bytes(sound))[:64])
    for _ in range(data.draw(st.integers(1, 6))):
        sound[data.draw(st.integers(2, begins - 1))] = data.draw(st.integers(0, 255))
    for metadata in (PUBLIC, PRIVATE):
        try:
            out = embed(bytes(sound), metadata)
        except PublishRefused:
            continue
        assert picture_digest(out) == picture_digest(bytes(sound))


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 10_000), st.integers(0, 255)), min_size=1, max_size=6), st.booleans())
def test_whatever_the_bytes_of_a_tiff_it_is_refused_or_its_strips_stay(
    changes: list[tuple[int, int]], big: bool
) -> None:
    first = embed(tiff(noise(8, 8), byteorder=">" if big else "<"), PRIVATE)
    strip = tiff_tags.read(first, "").images[0]
    made = bytearray(first)
    for at, value in changes:
        at %= len(made)
        if not strip[0] <= at < strip[1]:
            made[at] = value
    for metadata in (PUBLIC, PRIVATE):
        try:
            out = embed(bytes(made), metadata)
            before = picture_digest(bytes(made))
        except PublishRefused:
            continue
        assert picture_digest(out) == before


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=80), st.text(max_size=40))
def test_any_text_comes_back_as_it_was_cleaned(caption: str, name: str) -> None:
    metadata = photo_metadata(Particulars("f", caption=caption, headline=name, keywords=(name,)), on=ON)
    told, _, _ = by_exiv2(embed(SMALL, metadata))
    for xmp_id, key in (("dc:description", "Xmp.dc.description"), ("photoshop:Headline", "Xmp.photoshop.Headline")):
        value = metadata.get(xmp_id)
        if value:
            assert told[key] == ({'lang="x-default"': value} if xmp_id == "dc:description" else value)


SMALL = jpeg(noise(8, 8))


def test_a_value_cannot_add_a_property() -> None:
    attack = "</rdf:li></rdf:Alt></dc:title><plus:ModelReleaseStatus>MR-UMR</plus:ModelReleaseStatus>"
    told, _, _ = by_exiv2(embed(SMALL, photo_metadata(Particulars("f", title=attack), on=ON)))
    assert told == {"Xmp.dc.title": {'lang="x-default"': attack}}


def test_further_pictures_are_not_moved_against_their_table() -> None:
    """CIPA DC-007: offsets in the table of an MPF are counted from the table itself."""
    table, old = embedding._segment(0xE2, b"MPF\0table"), embedding._segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0x")
    data = jpeg()
    behind = embed(data[:2] + old + table + data[2:], PUBLIC)
    assert len(behind) - behind.index(b"MPF\0") == len(data) - 2 + len(table) - 4
    with pytest.raises(PublishRefused, match="further pictures"):
        embed(data[:2] + table + old + data[2:], PUBLIC)


def test_a_file_too_large_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(embedding, "LARGEST_FILE", 100)
    with pytest.raises(PublishRefused, match="100 are the most"):
        embed(SMALL, PUBLIC)
    monkeypatch.setattr(xmp, "LARGEST", 500)
    monkeypatch.setattr(embedding, "LARGEST_FILE", 10_000)
    with pytest.raises(PublishRefused, match="500 are the most"):
        embed(SMALL, PUBLIC)


def test_image_resources_longer_than_a_segment_go_into_several() -> None:
    big = iim.written([(b"8BIM", 0x0BB7, b"\0", b"z" * 100_000)])
    mark = b"Photoshop 3.0\0"
    parts = [embedding._segment(0xED, mark + big[at : at + 60_000]) for at in range(0, len(big), 60_000)]
    out = embed(SMALL[:2] + b"".join(parts) + SMALL[2:], PRIVATE)
    block = b"".join(p[14:] for m, p in parts_of(out) if m == 0xED)
    assert {number: len(data) for _, number, _, data in iim.resources(block)}[0x0BB7] == 100_000
    assert by_exiv2(out)[1]["Iptc.Application2.ObjectName"] == PARTICULARS.title


@pytest.mark.parametrize(
    ("degrees", "letters", "told"),
    [
        (54.123456, "NS", "54,7.407360N"),
        (-2.987654, "EW", "2,59.259240W"),
        (0, "NS", "0,0.000000N"),
        (-90, "NS", "90,0.000000S"),
        (59.9999999999, "NS", "60,0.000000N"),
    ],
)
def test_coordinates_are_written_as_xmp_says(degrees: float, letters: str, told: str) -> None:
    """XMP Specification Part 2, GPSCoordinate: DDD,MM.mmk."""
    assert xmp.gps(degrees, letters) == told


def test_a_small_tiff_cannot_ask_for_endless_work() -> None:
    """Directories of tens of thousands of entries, one after the other."""
    chain = bytearray(b"II*\0\x08\0\0\0" + b"\x60\xea" * 500_000)
    with pytest.raises(PublishRefused, match="after its end"):
        embed(bytes(chain), PUBLIC)
    pages = [bytearray(struct.pack("<H", 40_000) + b"\0" * 480_000 + struct.pack("<I", 0)) for _ in range(4)]
    data = bytearray(b"II*\0\x08\0\0\0")
    for number, page in enumerate(pages):
        if number < 3:
            struct.pack_into("<I", page, len(page) - 4, len(data) + len(page))
        data += page
    with pytest.raises(PublishRefused, match="there are too many"):
        embed(bytes(data), PUBLIC)


def test_image_resources_are_read_once_each_however_many_there_are() -> None:
    """What is left of the block is not taken again and again: a megabyte of small ones took 8 s so."""

    class Counted(bytes):
        taken = 0

        def __getitem__(self, which: Any) -> Any:
            found = super().__getitem__(which)
            Counted.taken += len(found) if isinstance(found, bytes) else 1
            return found

    block = iim.written([(b"8BIM", 0x0BB7, b"\0", b"")]) * 1_000 + b"\0" * 3
    assert len(iim.resources(Counted(block))) == 1_000
    assert 0 < Counted.taken < len(block)


def test_data_sets_beyond_the_most_are_refused_before_they_are_read() -> None:
    with pytest.raises(PublishRefused, match="16,000,000 are the most") as refused:
        list(iim.data_sets(b"\x1c\x02\x0f\0\0" * (iim.MOST_BYTES // 5 + 1)))
    assert refused.value.next_step


def rdf_of(*descriptions: str, declared: str = "") -> bytes:
    start = f'<r:RDF xmlns:r="http://www.w3.org/1999/02/22-rdf-syntax-ns#" xmlns:a="urn:a"{declared}>'
    return f"{start}{''.join(f'<r:Description>{one}</r:Description>' for one in descriptions)}</r:RDF>".encode()


@pytest.mark.parametrize("apart", [False, True])
def test_an_old_packet_of_many_properties_is_parted_by_a_few_trials(
    apart: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each trial writes the packet anew: one for every property that is moved out took minutes for eight thousand."""
    each = [f"<a:p{number}>{'x' * (1 + number % 50)}</a:p{number}>" for number in range(3_000)]
    trials, written = [], xmp._serialised

    def counted(held: Any, guid: str = "") -> bytes:
        trials.append(len(held))
        return written(held, guid)

    monkeypatch.setattr(xmp, "_serialised", counted)
    made = xmp.packet(PRIVATE, [rdf_of(*each) if apart else rdf_of("".join(each))])
    assert len(trials) < 20
    assert len(made.standard) <= xmp.STANDARD_MOST
    assert len(made.standard) > xmp.STANDARD_MOST - 1_000  # no more was moved than had to be
    both = made.standard + made.extended
    assert all(both.count(f"<a:p{number}>".encode()) == 1 for number in range(3_000))


def test_namespaces_that_each_description_would_repeat_are_refused_before_they_are_written() -> None:
    declared = "".join(f' xmlns:n{number}="urn:{number}"' for number in range(2_000))
    old = rdf_of(*(f"<a:p{number}/>" for number in range(2_000)), declared=declared)
    assert len(old) < 150_000
    with pytest.raises(PublishRefused, match="its namespaces would take more than 4,000,000 bytes"):
        xmp.packet(PRIVATE, [old])


def test_a_tiff_that_is_cut_short_is_refused() -> None:
    data = tiff(noise())
    tags = tiff_tags.read(data, "")
    assert tags.images[-1][1] == len(data)
    with pytest.raises(PublishRefused, match="it is cut short, its image data"):
        embed(data[:-1], PUBLIC)
