"""A second reader from outside: ExifTool (Debian's libimage-exiftool-perl), with its own tables of the standard.

It puts Extended XMP together, which exiv2 does not, and compares the digest of the IIM.
"""

from __future__ import annotations

import json
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from finished import JPEGS, ON, PARTICULARS, PRIVATE, PUBLIC, TIFFS

from refarchive.publish.embed import embed
from refarchive.publish.photo_metadata import NAMES, PLACES, PhotoMetadata, photo_metadata
from refarchive.records.wall import Place


def by_exiftool(data: bytes, tmp_path: Path, *options: str) -> dict[str, Any]:
    path = tmp_path / "picture"
    path.write_bytes(data)
    done = subprocess.run(
        ["exiftool", "-j", "-a", "-G1", "-n", "-struct", "-charset", "iptc=utf8", *options, str(path)],
        capture_output=True, check=True, timeout=60,
    )  # fmt: skip
    (told,) = json.loads(done.stdout)
    return dict(told)


def expected(metadata: PhotoMetadata) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for one, value in metadata.values:
        prefix, _, local = one.xmp.partition(":")
        group = {"Iptc4xmpCore": "iptcCore", "Iptc4xmpExt": "iptcExt"}.get(prefix, prefix)
        key = f"XMP-{group}:{local[0].upper()}{local[1:]}"
        if one.form == PLACES:
            (place,) = value
            assert isinstance(place, Place)
            parts = {
                "Sublocation": place.sublocation, "City": place.city, "ProvinceState": place.province,
                "CountryName": place.country, "CountryCode": place.country_code,
            }  # fmt: skip
            fields: dict[str, Any] = {name: each for name, each in parts.items() if each}
            if place.latitude is not None and place.longitude is not None:
                fields["GPSLatitude"] = pytest.approx(place.latitude, abs=1e-6)
                fields["GPSLongitude"] = pytest.approx(place.longitude, abs=1e-6)
            found[key] = [fields]
        elif one.form == NAMES:
            found[key] = [{"Name": name, "Role": [role]} for name, role in value]
        elif isinstance(value, tuple):
            found[key] = list(value) if len(value) > 1 or one.xmp.endswith("ID") else value[0]
        elif prefix == "photoshop" and local == "DateCreated":
            found[key] = value.replace("-", ":")
        else:
            found[key] = value.rpartition("/")[2] if prefix == "plus" else value
    return found


@pytest.mark.parametrize("make", [JPEGS["progressive"], TIFFS["big-endian"]], ids=["JPEG", "TIFF"])
@pytest.mark.parametrize("metadata", [PUBLIC, PRIVATE], ids=["public", "private"])
def test_exiftool_reads_every_property_by_its_tables(make: Any, metadata: PhotoMetadata, tmp_path: Path) -> None:
    told = by_exiftool(embed(make(), metadata), tmp_path)
    for key, value in expected(metadata).items():
        assert told[key] in (value, [value]), key
    assert told["IPTC:CodedCharacterSet"] in ("\x1b%G", "UTF8")
    assert told["IPTC:ObjectName"] == PARTICULARS.title
    assert told["IPTC:Caption-Abstract"] == PARTICULARS.caption
    assert told["IPTC:Keywords"] == list(PARTICULARS.keywords)
    assert told["IPTC:DateCreated"] == "2026:02:14"
    assert told["IPTC:By-line"] == PARTICULARS.creator


def test_the_digest_is_the_current_one(tmp_path: Path) -> None:
    told = by_exiftool(embed(JPEGS["baseline"](), PUBLIC), tmp_path, "-IPTCDigest", "-File:CurrentIPTCDigest")
    assert told["Photoshop:IPTCDigest"] == told["File:CurrentIPTCDigest"]


def test_validation_finds_nothing_new_wrong_with_lengths_or_order(tmp_path: Path) -> None:
    """ExifTool's -validate: it adds that a small EXIF has not all tags of a camera's, and the type of tag 33723."""
    long = replace(PARTICULARS, title="ö" * 90, credit_line="x" * 90, caption="y" * 9_000, keywords=("z" * 90, "q"))
    metadata = photo_metadata(long, on=ON)
    for make in (JPEGS["profile, EXIF, comment"], JPEGS["baseline"], TIFFS["little-endian"], TIFFS["two pages"]):
        before, after = warnings(make(), tmp_path), warnings(embed(make(), metadata), tmp_path)
        for one in after - before:
            assert one.startswith(("Missing required JPEG", "Non-standard format (undef) for IFD0 0x83bb")), one


def warnings(data: bytes, tmp_path: Path) -> set[str]:
    told = by_exiftool(data, tmp_path, "-validate", "-warning", "-error")
    assert "ExifTool:Error" not in told
    found = told.get("ExifTool:Warning", [])
    return {found} if isinstance(found, str) else set(found)


def test_extended_xmp_is_put_together(tmp_path: Path) -> None:
    keywords = tuple(f"{n} {'слово' * 200}" for n in range(400))
    metadata = photo_metadata(replace(PARTICULARS, keywords=keywords, note="曙光 " * 5_000), on=ON)
    out = embed(JPEGS["baseline"](), metadata)
    assert out.count(b"http://ns.adobe.com/xmp/extension/\0") > 10
    told = by_exiftool(out, tmp_path)
    assert told["XMP-dc:Subject"] == list(keywords)
    assert told["XMP-iptcCore:ExtDescrAccessibility"] == metadata.get("Iptc4xmpCore:ExtDescrAccessibility")
    assert "ExifTool:Warning" not in told
