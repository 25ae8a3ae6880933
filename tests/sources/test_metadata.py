"""What pictures say about themselves, written by Pillow or by hand after the public formats, and read back."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

import pytest
from PIL import Image, PngImagePlugin

from refarchive.sources import metadata
from refarchive.sources.metadata import LONGEST_VALUE

XMP = """<?xpacket begin="" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/">
<dc:title><rdf:Alt><rdf:li xml:lang="fr">Charrette</rdf:li>
<rdf:li xml:lang="x-default">Cart at the ford</rdf:li></rdf:Alt></dc:title>
<dc:creator><rdf:Seq><rdf:li>A. Nobody</rdf:li><rdf:li>B. Noone</rdf:li></rdf:Seq></dc:creator>
<dc:description><rdf:Alt><rdf:li xml:lang="x-default">&lt;script&gt; &#xA3;5</rdf:li></rdf:Alt></dc:description>
</rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end="w"?>"""


def read_metadata(path: Path) -> dict[str, str]:
    """Values alone."""
    return {field: told.value for field, told in metadata.read_metadata(path).items()}


def picture() -> Image.Image:
    return Image.new("RGB", (8, 8), (90, 90, 90))


def exif(**values: str) -> Image.Exif:
    made = Image.Exif()
    for tag, name in ((0x010E, "description"), (0x013B, "artist"), (0x8298, "copyright")):
        if name in values:
            made[tag] = values[name]
    if "taken" in values:
        made.get_ifd(0x8769)[0x9003] = values["taken"]
    return made


def iptc(*records: tuple[int, int, bytes]) -> bytes:
    """A JPEG APP13 segment: Photoshop 3.0 resource 0x0404 with IIM records (marker 0x1C, record, data set, length)."""
    iim = b"".join(b"\x1c" + struct.pack(">BBH", record, number, len(data)) + data for record, number, data in records)
    iim += b"\0" * (len(iim) % 2)
    body = b"Photoshop 3.0\0" + b"8BIM" + struct.pack(">H", 0x0404) + b"\0\0" + struct.pack(">I", len(iim)) + iim
    return b"\xff\xed" + struct.pack(">H", len(body) + 2) + body


def test_exif_with_the_day_of_the_shot_kept_apart_from_the_historical_date(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    picture().save(
        path, exif=exif(description="A cart", artist="A. Nobody", copyright="none", taken="2021:06:05 10:11:12")
    )
    assert read_metadata(path) == {
        "description": "A cart",
        "creator": "A. Nobody",
        "rights": "none",
        "digitised": "2021-06-05",
    }


@pytest.mark.parametrize(
    "taken",
    ["0000:00:00 00:00:00", "0000:01:01 00:00:00", "2021:02:30 10:11:12", "    :  :     :  :  ", "yesterday", ""],
)
def test_moments_that_are_none_are_left_out(tmp_path: Path, taken: str) -> None:
    path = tmp_path / "a.jpg"
    picture().save(path, exif=exif(taken=taken))
    assert read_metadata(path) == {}


@pytest.mark.parametrize("ending", ["jpg", "png", "webp", "tif"])
def test_xmp_names_come_before_exif(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"a.{ending}"
    made = exif(artist="Somebody else", copyright="none")
    if ending == "png":
        from PIL.PngImagePlugin import PngInfo

        info = PngInfo()
        info.add_itxt("XML:com.adobe.xmp", XMP)
        picture().save(path, exif=made, pnginfo=info)
    elif ending == "tif":
        made[700] = XMP.encode()
        picture().save(path, exif=made)
    else:
        picture().save(path, exif=made, xmp=XMP.encode())
    assert read_metadata(path) == {
        "title": "Cart at the ford",
        "creator": "A. Nobody; B. Noone",
        "description": "<script> £5",
        "rights": "none",
    }


@pytest.mark.parametrize(("name", "marked"), [("Zoë", True), ("Zoë", False)])
def test_iptc_records(tmp_path: Path, name: str, marked: bool) -> None:
    path = tmp_path / "a.jpg"
    picture().save(path)
    data = path.read_bytes()
    coding = [(1, 90, b"\x1b%G")] if marked else []
    segment = iptc(
        *coding,
        (2, 5, b"Cart"),
        (2, 80, name.encode("utf-8" if marked else "latin-1")),
        (2, 116, b"none"),
        (2, 120, b"At the\nford"),
    )
    path.write_bytes(data[:2] + segment + data[2:])
    assert read_metadata(path) == {"title": "Cart", "creator": name, "rights": "none", "description": "At the ford"}


@pytest.mark.parametrize(
    "packet",
    [
        '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
        + XMP.replace("Cart at", "&b; at"),
        '<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/hostname">]>' + XMP.replace("Cart at", "&a; at"),
        XMP[:300],
        "<",
        "<x:xmpmeta xmlns:x='adobe:ns:meta/'>" + "<a>" * 50_000,
        XMP + " " * 1_000_001,
    ],
)
def test_hostile_or_broken_xmp_is_left_out_and_exif_still_read(tmp_path: Path, packet: str) -> None:
    from PIL.PngImagePlugin import PngInfo

    info = PngInfo()
    info.add_itxt("XML:com.adobe.xmp", packet)
    path = tmp_path / "a.png"
    picture().save(path, exif=exif(artist="A. Nobody"), pnginfo=info)
    assert read_metadata(path) == {"creator": "A. Nobody"}


def test_values_are_one_bounded_line_without_controls(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    picture().save(path, exif=exif(description="a\nb\tc\x1b[31m " + "x" * 5000, artist="\u202e \x07"))
    read = read_metadata(path)
    assert read["description"].startswith("a b c [31m xxx")
    assert len(read["description"]) == LONGEST_VALUE
    assert read["description"].isprintable()


def test_pictures_without_a_word_and_files_that_are_none(tmp_path: Path) -> None:
    picture().save(tmp_path / "plain.jpg")
    whole = (tmp_path / "plain.jpg").read_bytes()
    (tmp_path / "cut.jpg").write_bytes(whole[:100])
    (tmp_path / "empty.jpg").write_bytes(b"")
    (tmp_path / "text.jpg").write_bytes(b"not a picture")
    header = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    chunk = b"IHDR" + header
    (tmp_path / "vast.png").write_bytes(
        b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + chunk + struct.pack(">I", zlib.crc32(chunk))
    )
    for name in ("plain.jpg", "cut.jpg", "empty.jpg", "text.jpg", "vast.png", "nothing.jpg"):
        assert read_metadata(tmp_path / name) == {}, name


def test_what_cameras_write_on_their_own_account_is_no_suggestion(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    picture().save(path, exif=exif(description="OLYMPUS DIGITAL CAMERA", artist="unknown"))
    assert read_metadata(path) == {}


def with_pyexiv2(path: Path, **parts: dict[str, object]) -> Path:
    """A picture with metadata written by another library."""
    import pyexiv2

    picture().save(path)
    other = pyexiv2.Image(str(path))
    for name, values in parts.items():
        getattr(other, f"modify_{name}")(values)
    other.close()
    return path


def test_what_another_library_writes_is_read_with_its_origin(tmp_path: Path) -> None:
    """pyexiv2 (the library Exiv2) writes by the names of the IPTC Photo Metadata and XMP standards."""
    xmp = {
        "Xmp.dc.title": {'lang="x-default"': "Cart"},
        "Xmp.dc.subject": ["ford", "cart"],
        "Xmp.dc.identifier": "MM 12",
        "Xmp.photoshop.Credit": "Courtesy of nobody",
        "Xmp.photoshop.Source": "An album",
        "Xmp.photoshop.City": "Corrow",
        "Xmp.photoshop.Country": "England",
        "Xmp.xmpRights.WebStatement": "http://rightsstatements.org/vocab/NKC/1.0/",
        "Xmp.dc.rights": {'lang="x-default"': "No known copyright"},
    }
    exif_ = {"Exif.Image.Artist": "E. Xif", "Exif.Photo.DateTimeDigitized": "2020:02:03 01:02:03"}
    told = metadata.read_metadata(with_pyexiv2(tmp_path / "a.jpg", xmp=xmp, exif=exif_))
    assert {field: (one.value, one.origin) for field, one in told.items()} == {
        "title": ("Cart", "XMP dc:title"),
        "subjects": ("ford; cart", "XMP dc:subject"),
        "identifier": ("MM 12", "XMP dc:identifier"),
        "credit": ("Courtesy of nobody", "XMP photoshop:Credit"),
        "source": ("An album", "XMP photoshop:Source"),
        "place": ("Corrow, England", "XMP photoshop:City and Country"),
        "rights": ("http://rightsstatements.org/vocab/NKC/1.0/", "XMP xmpRights:WebStatement"),
        "creator": ("E. Xif", "EXIF Artist"),
        "digitised": ("2020-02-03", "EXIF DateTimeDigitized"),
    }


def test_iptc_as_another_library_writes_it(tmp_path: Path) -> None:
    iptc_ = {
        "Iptc.Application2.ObjectName": "Ford",
        "Iptc.Application2.Byline": ["B. Line"],
        "Iptc.Application2.Keywords": ["sand", "water"],
        "Iptc.Application2.Credit": "C",
        "Iptc.Application2.Source": "S",
        "Iptc.Application2.City": "Merrow",
        "Iptc.Application2.CountryName": "England",
    }
    told = metadata.read_metadata(with_pyexiv2(tmp_path / "a.jpg", iptc=iptc_))
    assert {field: (one.value, one.origin) for field, one in told.items()} == {
        "title": ("Ford", "IPTC Object Name"),
        "creator": ("B. Line", "IPTC By-line"),
        "subjects": ("sand; water", "IPTC Keywords"),
        "credit": ("C", "IPTC Credit"),
        "source": ("S", "IPTC Source"),
        "place": ("Merrow, England", "IPTC City and Country"),
    }


def test_the_place_shown_goes_before_the_place_of_making(tmp_path: Path) -> None:
    packet = XMP.replace(
        'xmlns:dc="http://purl.org/dc/elements/1.1/">',
        'xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:e="http://iptc.org/std/Iptc4xmpExt/2008-02-29/" '
        'xmlns:p="http://ns.adobe.com/photoshop/1.0/" p:City="Elsewhere">'
        '<e:LocationShown><rdf:Bag><rdf:li rdf:parseType="Resource"><e:City>Merrow Sands</e:City>'
        "<e:CountryName>England</e:CountryName></rdf:li></rdf:Bag></e:LocationShown>",
    )
    info = PngImagePlugin.PngInfo()
    info.add_itxt("XML:com.adobe.xmp", packet)
    picture().save(tmp_path / "a.png", pnginfo=info)
    told = metadata.read_metadata(tmp_path / "a.png")["place"]
    assert (told.value, told.origin) == ("Merrow Sands, England", "XMP Iptc4xmpExt:LocationShown")
