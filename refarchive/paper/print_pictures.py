"""Pictures made ready for a place of known size on paper: as little done to them as can be, and what was done told.

A JPEG or PNG file goes onto the sheet byte for byte where it is small enough; else it is made anew, at most so many
pixels per inch (Lanczos), which the sentence says. A picture without a colour profile is taken as sRGB.

Colour profiles (ICC.1). What sets the sheets keeps some versions of a profile and silently puts sRGB in place of others
(Typst 0.14 and 0.15 look at the second figure of the version alone: 2.1 and 4.2 stay, 2.4 and 4.4 go). So each profile
is tried first. One that would be lost is given with an older version number, where LittleCMS finds that it means the
same colours; else the pixels are converted into sRGB (relative colorimetric, with black point compensation).
"""

from __future__ import annotations

import io
import re
import zlib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from refarchive import leftovers
from refarchive.errors import CannotPrint
from refarchive.paper.blocks import clean
from refarchive.paper.print_sizes import MM_PER_INCH
from refarchive.records import files

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_PPI: Final = 360.0  # of a picture that is made anew; common practice, no source
AS_IT_IS_BYTES: Final = 16_000_000  # of a file that goes onto a sheet unchanged
MOST_BYTES: Final = 400_000_000
MOST_PIXELS: Final = 120_000_000
_MOST_SIDE: Final = 30_000
_MOST_PROFILE: Final = 4_000_000  # bytes
_QUALITY: Final = 95
_KINDS: Final = {"JPEG": "jpg", "MPO": "jpg", "PNG": "png"}  # MPO: a JPEG file with a further picture behind it
_GREYS: Final = ("1", "L", "LA", "I", "I;16", "I;16B", "I;16L", "F")
_EXIF: Final = 0x8769
_ADOBE_RGB: Final = "R03"  # Exif 2.3, interoperability index of an Adobe RGB file, which carries no profile


@dataclass(frozen=True)
class Ready:
    """A picture as it goes onto the sheet: its file, and its profile where the file does not carry the one to use."""

    data: bytes
    suffix: str
    profile: bytes | None
    width_px: int  # of the picture given, upright
    height_px: int
    unchanged: bool  # whether the file is byte for byte the one given
    said: str


def ready(
    name: str,
    data: bytes,
    width_mm: float,
    height_mm: float,
    *,
    most_ppi: float = MOST_PPI,
    as_it_is_bytes: int = AS_IT_IS_BYTES,
) -> Ready:
    """Make a picture ready for a place of a size.

    Raises
    ------
    CannotPrint
        where it is no JPEG, PNG or TIFF that can be read, too large, or of colours that nothing describes (CMYK without
        a profile).
    """
    from PIL import Image

    problem = CannotPrint(
        f"The picture {clean(name, 80)!r} cannot be read as JPEG, PNG or TIFF, or is too large.", "Export it again."
    )
    if not 0 < len(data) <= MOST_BYTES:
        raise problem
    with files._quiet():  # of damaged files, and of size: the limits here are ours
        try:
            picture = Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "TIFF"))
            fits = picture.width * picture.height <= MOST_PIXELS and max(picture.size) <= _MOST_SIDE
            if fits:
                picture.load()
                picture.getexif().get_ifd(_EXIF)
        except Exception:  # a damaged file fails in Pillow in a dozen ways
            raise problem from None
        if not fits:
            raise problem
        try:
            return _made(name, data, picture, (width_mm, height_mm), most_ppi, as_it_is_bytes)
        except CannotPrint:
            raise
        except (OSError, ValueError):
            raise problem from None


def _made(
    name: str, data: bytes, picture: Image, place: tuple[float, float], most_ppi: float, most_bytes: int
) -> Ready:
    from PIL import Image, ImageOps

    given = picture.info.get("icc_profile")
    turned = picture.getexif().get(0x0112, 1) in (5, 6, 7, 8)
    size = picture.size[::-1] if turned else picture.size
    ppi = min(size[0] / place[0], size[1] / place[1]) * MM_PER_INCH
    usable = given if isinstance(given, bytes) and _means(given, _space(picture.mode)) else None
    named, told = _named(usable, picture.mode in _GREYS)
    words = told or [_said_of(given, usable, picture)]
    suffix = _KINDS.get(picture.format or "")
    plain = picture.mode in ("RGB", "L") and "transparency" not in picture.info and _eight_bits(picture.format, data)
    # With a profile that is broken or would be lost, the file may not travel as it is.
    if suffix and plain and len(data) <= most_bytes and (given is None or named is not None):
        said = f"The file as it is, {size[0]} × {size[1]} pixels."
        return Ready(data, suffix, None if named == given else named, *size, True, " ".join([said, *words]))

    upright = ImageOps.exif_transpose(picture)
    if usable is not None and named is None:
        upright, words = _into_srgb(upright, usable), [f"Converted from {_title(usable)} into sRGB."]
    elif picture.mode in ("CMYK", "LAB"):
        raise CannotPrint(
            f"The picture {clean(name, 80)!r} is in {picture.mode}, and no profile says what its figures mean.",
            "Export it as sRGB.",
        )
    upright = _flat(upright)
    if ppi > most_ppi:
        wide, tall = (max(1, round(mm / MM_PER_INCH * most_ppi)) for mm in place)
        upright = upright.resize((wide, tall), Image.Resampling.LANCZOS, reducing_gap=3.0)
        said = f"Made smaller, from {ppi:.0f} to {most_ppi:.0f} pixels per inch (Lanczos)."
    else:
        said = f"Written anew with all its {size[0]} × {size[1]} pixels."
    out = io.BytesIO()
    if suffix == "jpg":
        upright.save(out, "JPEG", quality=_QUALITY, subsampling=0, icc_profile=named)
    else:
        upright.save(out, "PNG", compress_level=4, icc_profile=named)
    return Ready(out.getvalue(), suffix or "png", None, *size, False, " ".join([said, *words]))


def _eight_bits(kind: str | None, data: bytes) -> bool:
    """Whether a file holds 8 bits a channel: in a PNG, the 25th byte says it (ISO/IEC 15948, IHDR)."""
    return kind in ("JPEG", "MPO") or (kind == "PNG" and len(data) > 24 and data[24] == 8)


def _flat(picture: Image) -> Image:
    """In 8 bits of grey or RGB, what is transparent over white paper."""
    from PIL import Image

    if picture.mode.startswith("I"):
        return picture.convert("I").point(lambda v: v / 257.0).convert("L")
    if "transparency" in picture.info or picture.mode in ("LA", "PA", "RGBA"):
        seen = picture.convert("LA" if picture.mode in ("L", "LA") else "RGBA")
        paper = Image.new("L" if seen.mode == "LA" else "RGB", seen.size, "white")
        paper.paste(seen.convert(paper.mode), mask=seen.getchannel("A"))
        return paper
    return picture.convert("L" if picture.mode in _GREYS else "RGB")


# --- profiles -------------------------------------------------------------------------------------------------------


def _space(mode: str) -> str:
    """The colour space that a profile of such pixels must have, as its file writes it."""
    return "CMYK" if mode == "CMYK" else "Lab " if mode == "LAB" else "GRAY" if mode in _GREYS else "RGB "


def _opened(profile: bytes) -> Any:
    from PIL import ImageCms

    try:
        return ImageCms.ImageCmsProfile(io.BytesIO(profile))
    except (OSError, ImageCms.PyCMSError):
        return None


@lru_cache(maxsize=32)
def _means(profile: bytes, space: str) -> bool:
    """Whether a profile can be read, and is of the colour space of the pixels."""
    found = _opened(profile) if 128 < len(profile) <= _MOST_PROFILE else None
    return found is not None and f"{found.profile.xcolor_space:4}" == space


def _title(profile: bytes) -> str:
    found = _opened(profile)
    title = clean((found.profile.profile_description or "") if found else "", 60)
    return f"“{title}”" if title else "its profile"


def _said_of(given: object, usable: bytes | None, picture: Image) -> str:
    if usable is not None:
        return f"Colours as its profile {_title(usable)} says."
    if given is not None:
        return "Its colour profile cannot be used: taken as sRGB."
    exif = picture.getexif()
    if 0xA005 in exif.get_ifd(_EXIF) and exif.get_ifd(0xA005).get(1) == _ADOBE_RGB:
        return (
            "It says that it is Adobe RGB and carries no profile: taken as sRGB, its colours come out dull. Export it "
            "again with its profile."
        )
    return "Without a colour profile: taken as sRGB."


def _named(profile: bytes | None, grey: bool) -> tuple[bytes | None, list[str]]:
    """The bytes that stay in the sheet and mean the same colours, None where there are none; and a sentence on it."""
    if profile is None:
        return None, []
    if kept(profile, grey):
        return profile, []
    older = _older(profile)
    if kept(older, grey) and _same(profile, older, grey):
        return older, [f"Colours as its profile {_title(profile)} says, under an older version number."]
    return None, []


@lru_cache(maxsize=32)
def kept(profile: bytes, grey: bool = False) -> bool:
    """Whether what sets the sheets keeps a profile: it is asked, with a picture of one pixel."""
    import typst
    from PIL import Image

    with leftovers.temporary("pdf") as folder:
        root = Path(folder)
        Image.new("L" if grey else "RGB", (1, 1)).save(root / "probe.png")
        (root / "probe.icc").write_bytes(profile)
        (root / "probe.typ").write_text('#image("probe.png", icc: "probe.icc")', encoding="utf-8")
        try:
            pdf = typst.compile(str(root / "probe.typ"), root=str(root))
        except typst.TypstError:
            return False
    assert isinstance(pdf, bytes)
    for start in re.finditer(rb"stream\r?\n", pdf):
        try:
            if zlib.decompressobj().decompress(pdf[start.end() :], len(profile) + 1) == profile:
                return True
        except zlib.error:
            continue
    return False


def _older(profile: bytes) -> bytes:
    """The profile as of version 2.2 or 4.2, without the digest that no longer fits (ICC.1:2010, 7.2.4 and 7.2.18)."""
    return profile[:8] + bytes((profile[8], 0x20)) + profile[10:84] + bytes(16) + profile[100:]


@lru_cache(maxsize=32)
def _same(profile: bytes, other: bytes, grey: bool) -> bool:
    """Whether two profiles give the same Lab values for a lattice of colours, to the 8 bits in which they are told."""
    from PIL import Image, ImageCms

    one, two = _opened(profile), _opened(other)
    if one is None or two is None:
        return False
    mode = "L" if grey else "RGB"
    steps = bytes(range(0, 256, 17))
    pixels = steps if grey else bytes(v for r in steps for g in steps for b in steps for v in (r, g, b))
    lattice = Image.frombytes(mode, (len(steps), 1 if grey else len(steps) ** 2), pixels)
    lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
    try:
        told = [
            ImageCms.applyTransform(lattice, ImageCms.buildTransform(p, lab, mode, "LAB", renderingIntent=intent))
            for p in (one, two)
            for intent in (ImageCms.Intent.PERCEPTUAL, ImageCms.Intent.RELATIVE_COLORIMETRIC)
        ]
    except (OSError, ImageCms.PyCMSError):
        return False
    return [lab.tobytes() for lab in told[:2] if lab] == [lab.tobytes() for lab in told[2:] if lab]


def _into_srgb(picture: Image, profile: bytes) -> Image:
    from PIL import ImageCms

    found = _opened(profile)
    flat = picture if picture.mode in ("CMYK", "LAB") else _flat(picture)
    try:
        made = ImageCms.profileToProfile(
            flat,
            found,
            ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")),
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
            outputMode="RGB",
            flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
        )
    except ImageCms.PyCMSError as error:
        raise ValueError(str(error)) from None
    assert made is not None
    return made
