"""Finished pictures for tests: JPEG and TIFF of many kinds, and what is said of them."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import numpy as np
import tifffile
from PIL import Image, ImageCms

from refarchive.publish.photo_metadata import photo_metadata
from refarchive.records.wall import Leave, Particulars, Place

ON = "2026-11-26"
PARTICULARS = Particulars(
    frame="f1",
    title="First light — 曙光",
    headline="Gatherers set out",
    caption='They <set> out & "sing".\nIt is dark ]]> <!-- --> <?x ?>',
    note="What is known of that morning.\n\nAnd what is not.",
    alt_text="Nine figures on wet sand.",
    keywords=("песок", "άμμος", "رمل", "sand"),
    creator="Нина Никто",
    credit_line="Nobody / Series",
    copyright_notice="© 2026 Nobody",
    usage_terms="Ask first.",
    web_statement="https://nobody.invalid/rights?a=1&b=2",
    created="2026-02-14",
    event="The morning",
    taken_at=Place("Ferry stage", "Merrow Sands", "Shore", "Nowhere", "GB", 54.123456, -2.987654),
    shown=Place("", "Merrow Sands", "", "Nowhere", "GB"),
    persons=("Ida Noone", "名無し", "Μηδείς"),
    contributors=(("C. Carter", "costume"), ("لا أحد", "smoke")),
    source_type="digitalCapture",
    leaves=(
        Leave("model", "Ida Noone", "unlimited", "granted", "letter 3"),
        Leave("property", "Stage", "", "granted", "no. 4"),
    ),
)
PRIVATE = photo_metadata(PARTICULARS, on=ON, private=True)
PUBLIC = photo_metadata(PARTICULARS, on=ON)
PREFIX = {"Iptc4xmpCore": "iptc", "Iptc4xmpExt": "iptcExt"}  # as exiv2 calls them


def noise(height: int = 48, width: int = 64, channels: int = 3) -> np.ndarray[Any, Any]:
    made = np.random.default_rng(7).integers(0, 255, (height, width, channels), np.uint8)
    return made[:, :, 0] if channels == 1 else made


def jpeg(pixels: np.ndarray[Any, Any] | None = None, mode: str | None = None, **options: Any) -> bytes:
    image = Image.fromarray(noise() if pixels is None else pixels)
    out = io.BytesIO()
    (image.convert(mode) if mode else image).save(out, "JPEG", **options)
    return out.getvalue()


def camera_exif() -> Image.Exif:
    exif = Image.Exif()
    exif[0x010F], exif[0x0112] = "Maker", 6
    exif.get_ifd(0x8769)[0x9003] = "2026:02:14 06:10:00"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2], gps[3], gps[4] = "N", (54.0, 7.0, 24.4), "W", (2.0, 59.0, 15.5)
    gps[28] = b"ASCII\0\0\0the ferry stage"  # GPSAreaInformation
    return exif


def icc() -> bytes:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


JPEGS: dict[str, Callable[[], bytes]] = {
    "baseline": lambda: jpeg(),
    "progressive": lambda: jpeg(progressive=True, quality=95),
    "grey": lambda: jpeg(noise(channels=1)),
    "CMYK": lambda: jpeg(mode="CMYK"),
    "restart markers": lambda: jpeg(restart_marker_blocks=2),
    "profile, EXIF, comment": lambda: jpeg(icc_profile=icc() * 40, exif=camera_exif(), comment=b"keep me"),
}
TIFFS: dict[str, Callable[[], bytes]] = {
    "little-endian": lambda: tiff(noise(), byteorder="<"),
    "big-endian": lambda: tiff(noise(), byteorder=">"),
    "16 bit": lambda: tiff(noise().astype(np.uint16) * 257, byteorder=">"),
    "tiles, deflated": lambda: tiff(noise(), tile=(16, 16), compression="zlib"),
    "many strips": lambda: tiff(noise(), rowsperstrip=1),
    "two pages": lambda: tiff(noise(), noise(20, 30)),
    "profile": lambda: tiff(noise(), iccprofile=icc()),
}


def tiff(*pages: np.ndarray[Any, Any], byteorder: Any = "<", bigtiff: bool = False, **options: Any) -> bytes:
    out = io.BytesIO()
    with tifffile.TiffWriter(out, byteorder=byteorder, bigtiff=bigtiff) as writer:
        for page in pages:
            writer.write(page, photometric="rgb", metadata=None, software="", **options)
    return out.getvalue()
