"""Good files, small, of every kind that is read: what hostile cases are made from. All of it is drawn or invented."""

# ruff: noqa: E501 (tables of hostile values)
from __future__ import annotations

import io
import json
import pickle
import sys
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageCms

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests" / "frames"), str(ROOT / "tests")]

XMP = (
    b'<?xpacket begin="" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf='
    b'"http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements'
    b'/1.1/" xmlns:photoshop="http://ns.adobe.com/photoshop/1.0/" photoshop:City="Merrow Sands"><dc:title><rdf:Alt>'
    b'<rdf:li xml:lang="x-default">The ford</rdf:li></rdf:Alt></dc:title><dc:creator><rdf:Seq><rdf:li>Nobody</rdf:li>'
    b"</rdf:Seq></dc:creator></rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end='w'?>"
)
IIM = b"\x1c\x01\x5a\x00\x03\x1b%G\x1c\x02\x05\x00\x04Ford\x1c\x02\x50\x00\x06Nobody\x1c\x02\x78\x00\x03sea"
RESOURCES = b"8BIM\x04\x04\0\0" + len(IIM).to_bytes(4, "big") + IIM + b"\0" * (len(IIM) % 2)


def pixels(height: int = 24, width: int = 32, channels: int = 3) -> np.ndarray[Any, Any]:
    made = np.random.default_rng(3).integers(0, 255, (height, width, channels), np.uint8)
    return made[:, :, 0] if channels == 1 else made


def exif() -> Image.Exif:
    made = Image.Exif()
    made[0x0112], made[0x010E], made[0x013B] = 6, "The ford", "Nobody"
    inner = made.get_ifd(0x8769)
    inner[0x9003], inner[0x9291], inner[0x829A], inner[0x829D], inner[0x8827] = (
        "2026:02:14 06:10:00",
        "42",
        0.01,
        8.0,
        100,
    )
    made.get_ifd(0x8825)[1] = "N"
    return made


def icc() -> bytes:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def saved(kind: str, mode: str = "RGB", **options: Any) -> bytes:
    out = io.BytesIO()
    Image.fromarray(pixels()).convert(mode).save(out, kind, **options)
    return out.getvalue()


@cache
def jpegs() -> tuple[bytes, ...]:
    whole = saved("JPEG", exif=exif(), icc_profile=icc(), xmp=XMP, comment=b"invented")
    app13 = b"Photoshop 3.0\0" + RESOURCES
    marked = whole[:2] + b"\xff\xed" + (len(app13) + 2).to_bytes(2, "big") + app13 + whole[2:]
    return (marked, saved("JPEG", "L"), saved("JPEG", "CMYK"), saved("JPEG", progressive=True, exif=exif()))


@cache
def pngs() -> tuple[bytes, ...]:
    return (
        saved("PNG", exif=exif(), icc_profile=icc()), saved("PNG", "RGBA"), saved("PNG", "P"), saved("PNG", "1"),
        saved("PNG", "LA"),
    )  # fmt: skip


@cache
def tiffs() -> tuple[bytes, ...]:
    import tifffile

    def by_tifffile(array: np.ndarray[Any, Any], **options: Any) -> bytes:
        out = io.BytesIO()
        with tifffile.TiffWriter(out, bigtiff=options.pop("bigtiff", False)) as writer:
            writer.write(array, metadata=None, software="", **options)
        return out.getvalue()

    wide = pixels().astype(np.uint16) * 257
    return (
        saved("TIFF", exif=exif(), icc_profile=icc()), saved("TIFF", "L", compression="tiff_lzw"),
        saved("TIFF", "CMYK"), saved("TIFF", compression="tiff_adobe_deflate"),
        by_tifffile(wide, photometric="rgb"), by_tifffile(np.moveaxis(wide, 2, 0), photometric="rgb", planarconfig="separate"),
        by_tifffile(pixels().astype(np.float32) / 255, photometric="rgb"),
        by_tifffile(pixels(), photometric="rgb", tile=(16, 16), compression="zlib"),
        by_tifffile(pixels(channels=1), photometric="miniswhite"), by_tifffile(pixels(), photometric="rgb", bigtiff=True),
    )  # fmt: skip


@cache
def linears() -> tuple[bytes, ...]:
    """TIFFs that say that they are linear: floating-point numbers, and whole ones with a profile of straight lines."""
    import tifffile
    from wide_profile import matrix_profile

    def written(array: np.ndarray[Any, Any], **options: Any) -> bytes:
        out = io.BytesIO()
        with tifffile.TiffWriter(out, bigtiff=options.pop("bigtiff", False)) as writer:
            writer.write(array, metadata=None, software="", **options)
        return out.getvalue()

    light = pixels().astype(np.float32) / 255
    whole = pixels().astype(np.uint16) * 257
    profile = [(34675, 7, None, matrix_profile("sRGB", 1.0), True)]
    return (
        written(light, photometric="rgb"), written(light.astype(np.float64), photometric="rgb"),
        written(light.astype(np.float16), photometric="rgb"), written(light[..., 0], photometric="minisblack"),
        written(light, photometric="rgb", compression="zlib"), written(light, photometric="rgb", tile=(16, 16)),
        written(light, photometric="rgb", bigtiff=True),
        written(np.dstack([light, light[..., 0]]), photometric="rgb", extrasamples=["unassalpha"], rowsperstrip=5),
        written(light, photometric="rgb", rowsperstrip=7),
        written(whole, photometric="rgb", extratags=profile), written(pixels(), photometric="rgb", extratags=profile),
    )  # fmt: skip


@cache
def webps() -> tuple[bytes, ...]:
    return (saved("WEBP", exif=exif(), xmp=XMP), saved("WEBP", "RGBA", lossless=True))


@cache
def gifs() -> tuple[bytes, ...]:
    more = [Image.fromarray(pixels()[::-1]).convert("P")]
    return (saved("GIF", "P"), saved("GIF", "P", save_all=True, append_images=more, transparency=3))


@cache
def heics() -> tuple[bytes, ...]:
    import pillow_heif

    pillow_heif.register_heif_opener()
    return (saved("HEIF", exif=exif()), saved("HEIF", "RGBA"))


@cache
def raws() -> tuple[bytes, ...]:
    from raw_file import write_dng

    with tempfile.TemporaryDirectory() as folder:
        return (write_dng(Path(folder) / "a.dng", np.full((16, 24, 3), 0.25)).read_bytes(),)


@cache
def pdfs() -> tuple[bytes, ...]:
    from refarchive.paper.html import write_html  # noqa: F401 (the room must be importable)
    from refarchive.paper.pdf import write_pdf

    document = {
        "title": "The ford", "scene": "The ford", "date": "1871", "version": "1", "lang": "en", "department": "",
        "sections": [], "notes": [], "header": [], "cautions": [],
    }  # fmt: skip
    try:
        written = write_pdf(document, {})
    except Exception:
        written = b""
    plain = (
        b"%PDF-1.4\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n2 0 obj<</Type/Pages/Kids[3 0 R]/Count 1>>endobj\n"
        b"3 0 obj<</Type/Page/Parent 2 0 R/MediaBox[0 0 200 100]/Contents 4 0 R/Resources<</Font<</F 5 0 R>>>>>>endobj\n"
        b"4 0 obj<</Length 44>>stream\nBT /F 18 Tf 10 40 Td (The ford at dawn) Tj ET\nendstream endobj\n"
        b"5 0 obj<</Type/Font/Subtype/Type1/BaseFont/Times-Roman>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF\n"
    )
    return tuple(filter(None, (plain, written)))


SHEETS = (
    (ROOT / "sample_refs" / "references.csv").read_bytes()[:6000].rpartition(b"\n")[0],
    b"file,title,creator,date,details,witness,kind,reference,identifier\na.jpg,The ford,Nobody,c. 1870,"
    b'"xywh=percent:10,10,20,20 cart",surviving-object,image,ref-0123456789ab,x1\n,Lamp,,186X,,,object,,x2\n',
    b"Filename;Artist;Date made;Keywords\na.jpg;Nobody;1871-02;cockles|carts\n",
)
FIRSTS = (
    b"thing,also,invented,on_sale,common,region,source,weak,note\nsafety match,matches; lucifers,1844,1855,1860~,Sweden,"
    b'"from memory",yes,"a, b"\nzip,,1893,1917,193X,,"a book, p. 3",no,\n',
    (ROOT / "refarchive" / "data" / "not_before.csv").read_bytes()[:4000].rpartition(b"\n")[0],
)
SITTINGS = ((ROOT / "sample_refs" / "sittings.csv").read_bytes()[:3000].rpartition(b"\n")[0],)
DEBTS = (b"reference,title,source_name,missing,holds_up,creator,date,place,source,rights,description,witness\n"
         b"ref-0123456789ab,The ford,a.jpg,date,,Nobody,c. 1870,Merrow Sands,a book,,,\n",)  # fmt: skip
PLANS = tuple(path.read_bytes() for path in sorted((ROOT / "sample_refs" / "scenes").glob("*.toml")))
TEXTS = (
    b"# Diary\n\nFog at four; the carrier waited at the ford. \xe2\x82\xac2 lost.\n\n" + b"The lamp hung. " * 200,
    b"---\ntitle: The ford\n---\nFord\n====\n\nMr. Nobody said: \"Wait.\" Then he went.\r\n\r\nEnd",
    "Möwen über dem Watt.".encode("utf-16"), "Prés salés".encode("cp1252"),
)  # fmt: skip
MANIFESTS = (
    json.dumps({
        "@context": "http://iiif.io/api/presentation/3/context.json", "id": "https://example.org/m/manifest.json",
        "type": "Manifest", "label": {"en": ["Merrow Sands"]},
        "metadata": [{"label": {"en": ["Date"]}, "value": {"none": ["1871"]}}, {"label": "Artist", "value": "Nobody"}],
        "rights": "http://creativecommons.org/publicdomain/mark/1.0/", "navDate": "1871-02-03T00:00:00Z",
        "requiredStatement": {"label": {"en": ["By"]}, "value": {"en": ["<p>Nobody<br>at all</p>"]}},
        "provider": [{"type": "Agent", "label": {"en": ["Invented"]}}], "homepage": [{"id": "https://example.org/"}],
        "items": [{
            "id": "https://example.org/m/c1", "type": "Canvas", "width": 32, "height": 24, "label": {"en": ["Ford"]},
            "items": [{"type": "AnnotationPage", "items": [{
                "type": "Annotation", "motivation": "painting", "target": "https://example.org/m/c1",
                "body": {"type": "Choice", "items": [{"id": "https://example.org/m/a.jpg", "type": "Image",
                         "service": [{"id": "https://example.org/s", "type": "ImageService3"}]}]}}]}],
            "annotations": [{"type": "AnnotationPage", "items": [{
                "type": "Annotation", "motivation": ["commenting"], "body": {"type": "TextualBody", "value": "cart"},
                "target": {"source": "https://example.org/m/c1", "selector": {"type": "FragmentSelector",
                           "value": "xywh=1,1,9,9"}}}]}]}]}).encode(),
)  # fmt: skip
LINKED = (
    json.dumps({
        "@context": {"dcterms": "http://purl.org/dc/terms/", "t": "dcterms:title", "k": {"@id": "dc:creator"}},
        "@graph": [{"@id": "urn:x:1", "t": "The ford", "k": ["Nobody", {"@value": "Else"}], "dcterms:created": "1871",
                    "ref:file": {"@id": "a.jpg"}, "ref:detail": [{"oa:hasTarget": {"oa:hasSelector": {
                        "rdf:value": "xywh=percent:1,1,9,9"}}, "oa:bodyValue": "cart"}]}]}).encode(),
)  # fmt: skip
DATES = tuple(
    one.encode() for one in (
        "1871-02-03", "186X", "1870~", "1783?/1785%", "[1667,1668..1670]", "{1960,1961-12}", "Y-17E7", "1783S2", "2001-21",
        "1871-02-03T10:00:00Z", "../1871", "c. 1870", "probably 1870", "early 1780s", "first half of the 19th century",
        "between Michaelmas 1869 and Lady Day 1870", "3–10 February 1871", "the night of Friday 3 February 1871",
        "11 February 1731/2", "25 October 1917 (Julian)", "44 BC", "winter 1870/71", "1856 or later", "Candlemas 1715/16",
        "25 October/7 November 1917", "before 1856", "late February 1871", "3/2/1871",
    )
)  # fmt: skip
PASTED = (
    b"Name\tAmplitude (m)\tPhase (deg)\tSpeed\nM2\t1.063\t10.8\t28.984\nS2\t0.34\t60.1\t30.0\n",
    b"1 M2 2.914 325.1 28.984\n2 S2 0,945 7,5 30.0\n# words\nK1; 0.11; 190", b"M2; 1.063; 10.8\r\nN2,0.2,1.0\n",
)  # fmt: skip
WORDS = (b'the wet "pilot boat" AND oil-skin', b"l'eau NEAR(x) * : ^ {a} -b", "“lamp” at ferry’s stage".encode())
SHORT = (
    b"xywh=100,100,300,200", b"xywh=percent:10,25,7,40.5", b"#8a6f4d", b"abc", b"10YR 5/6", b"N5", b"2027-03-01", b"17:20:30",
    b"2027-03-01T17:20:30+01:00", b"25F72 molluscs", b"25F23(LION)(+46)", b"46C1315:25F72", b"0.2,0.1,0.3,0.3",
    b"http://creativecommons.org/licenses/by/4.0/", b"https://example.org:8080/a/b?c=d#e", b"Europe/London",
    b"<p>A cart<br>at the ford</p>", b"file:///a/b.jpg", b"No known copyright",
)  # fmt: skip
SVGS = (
    b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="50mm" viewBox="0 0 100 50">'
    b'<text x="1" y="2" font-size="3">The ford</text><path d="M0 0L1 1"/></svg>',
)


@cache
def signatures() -> tuple[bytes, ...]:
    from refarchive.looks.signatures import signature

    return (signature(pixels(96, 128)).to_bytes(),)


HEADS = (
    json.dumps(
        {"format": 1, "identity": {"name": "tiny", "weights_sha256": "ab"}, "dimension": 3, "generation": 0}
    ).encode(),
)
KEYS = (b'"ref-000000000001#0"\n"ref-000000000001#1"\n"ref-\\u00e9#2"\n',)


@cache
def pairs() -> tuple[bytes, ...]:
    """Pairs of originals as they are kept, of this version."""
    from dataclasses import asdict

    from refarchive.jobs.references.signatures import _version
    from refarchive.looks.copies import KINDS, Relation

    region = (0.1, 0.1, 0.5, 0.5)
    one = Relation(KINDS[0], "The first is the second, mirrored.", 3, True, transform=((1.0, 0.0, 0.1), (0.0, 1.0, 0.1)),
                   scale=1.5, turn_deg=2.0, region_in_first=region, region_in_second=region)  # fmt: skip
    told = [{"one": "ab" * 32, "other": "cd" * 32, "relation": asdict(one)}]
    return (json.dumps({"version": _version(), "looked": ["ab" * 32], "pairs": told * 2}).encode(),)


class Trap:
    """Unpickled, it would write a file: no reader of ours may unpickle it."""

    def __init__(self, mark: str) -> None:
        self.mark = mark

    def __reduce__(self) -> tuple[Any, ...]:
        return (open, (self.mark, "w"))


def trap(mark: Path) -> bytes:
    """A pickle that writes a file at `mark` when it is loaded."""
    return pickle.dumps(Trap(str(mark)))


@cache
def lists() -> bytes:
    """Lists over thirty rows of eight numbers, as they are kept."""
    import numpy as np

    from refarchive.search.lists import made

    rows = np.random.default_rng(1).normal(size=(30, 8)).astype(np.float32)
    return made(rows / np.linalg.norm(rows, axis=1, keepdims=True), "stamp").to_bytes()
