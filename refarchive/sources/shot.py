"""A frame as the camera wrote it: JPEG, TIFF and other pictures, or a raw file with the preview inside it.

`read_shot` tells size, kind, the camera's clock and how it was exposed; `shot_picture` gives the picture, upright and
in sRGB. Pictures go through `records.files`. A raw file is one that LibRaw opens; its name only decides whether that is
worth trying. Nothing here tells who or what the camera is: its model and numbers are never read.

A preview is what the camera made of the raw file at the time, with its own tone curve and colours, and often smaller;
without one the raw file is developed at half its size with the camera's white balance.

Sources: EXIF 3.0 (CIPA DC-008-2023) for the tags and their meaning; TIFF 6.0. Limits are ours.
"""

from __future__ import annotations

import math
import mmap
import re
import stat
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refarchive import leftovers
from refarchive.errors import SourceRefused
from refarchive.records import files
from refarchive.sources.folder import shown_name
from refarchive.sources.linear import LARGEST, RAW_SUFFIXES, raw_reason

if TYPE_CHECKING:
    from PIL.Image import Image

RAW_TYPE = "image/x-dcraw"  # what the freedesktop shared MIME-info calls any raw file
SHOT_SUFFIXES = files.PICTURE_SUFFIXES | RAW_SUFFIXES
LARGEST_PREVIEW = 64_000_000  # bytes, of the JPEG inside it

_EXIF_IFD = 0x8769
_TAKEN, _PART, _OFFSET = 0x9003, 0x9291, 0x9011  # DateTimeOriginal, SubSecTimeOriginal, OffsetTimeOriginal
# Tag, and what a camera could have meant: a value outside is nonsense and not told.
_EXPOSURE_TIME, _F_NUMBER, _FOCAL_LENGTH = (0x829A, 1e-7, 1e6), (0x829D, 0.1, 1000.0), (0x920A, 0.1, 100_000.0)
_SENSITIVITY, _RECOMMENDED = (0x8827, 1.0, 1e8), (0x8832, 1.0, 1e8)
_SENSITIVITY_FULL = 65535.0  # "at least": the 16-bit tag is full, and RecommendedExposureIndex has the number
_TURNS = {3: 3, 5: 8, 6: 6}  # LibRaw's flip as an EXIF orientation


@dataclass(frozen=True)
class Shot:
    """What a frame's file says.

    width, height: pixels, upright; of a raw file those of the whole picture, not of its preview. media_type: `RAW_TYPE`
    for any raw file. suffix: with its dot, after the content. taken: the camera's clock, ISO 8601, with fractions of a
    second and the offset from UTC where written; a clock without an offset is local to wherever it was set. "" where
    the file does not say. exposure_s, f_number, iso, focal_mm: None where not told.
    """

    width: int
    height: int
    media_type: str
    suffix: str
    taken: str = ""
    exposure_s: float | None = None
    f_number: float | None = None
    iso: float | None = None
    focal_mm: float | None = None

    @property
    def raw(self) -> bool:
        """Whether it is a raw file."""
        return self.media_type == RAW_TYPE

    @property
    def clock_s(self) -> float | None:
        """The camera's clock in seconds, for pauses between frames of one camera; None where `taken` is "".

        The offset is left aside: one camera's clock runs on, whatever offset it writes.
        """
        if not self.taken:
            return None
        clock = re.sub(r"[+-]\d\d:\d\d$", "", self.taken)
        whole, _, part = clock.partition(".")
        return (datetime.fromisoformat(whole) - datetime(1970, 1, 1)).total_seconds() + float(f"0.{part or 0}")


def read_shot(path: Path) -> Shot:
    """What a frame's file says about itself; pixels are not decoded.

    Raises
    ------
    SourceRefused
        for what is no file, a link that leads out of its folder, an empty, damaged or oversized file, or another kind.
    """
    path = _admitted(path)
    if not _worth_trying_as_raw(path):
        width, height, media_type = files.picture_size(path)
        return Shot(width, height, media_type, files.SUFFIXES[media_type], **_said(_picture_exif(path, media_type)))
    with _raw(path) as raw:
        width, height = _upright(raw)
        facts = _said(_raw_exif(path))
        for name, value in _told_by_libraw(raw).items():
            facts.setdefault(name, value)
    return Shot(width, height, RAW_TYPE, path.suffix.lower(), **facts)


def shot_picture(path: Path, longest: int | None = None) -> Image:
    """The frame as upright 8-bit sRGB (PIL mode RGB), its long side at most `longest` pixels where given.

    Of a raw file the preview that the camera put into it, whatever its size; where there is none that can be read, the
    raw file developed at half its size.

    Raises
    ------
    SourceRefused
        as `read_shot`, and for damage behind the header.
    """
    path = _admitted(path)
    if not _worth_trying_as_raw(path):
        return files.open_picture(path, longest)
    with _raw(path) as raw:
        picture = _preview(raw, longest)
        return _developed(raw, path, longest) if picture is None else picture


def _admitted(path: Path) -> Path:
    """The path, where a file lies there that is neither empty nor a link out of its folder."""
    path = Path(path)
    name = shown_name(path.name)
    try:
        if path.is_symlink() and not path.resolve(strict=True).is_relative_to(path.parent.resolve()):
            raise SourceRefused(f"{name} is a link that leads out of its folder.", "Copy the file itself there.")
        state = path.stat()
    except FileNotFoundError:
        raise SourceRefused(f"There is no file {name}.", "Check the name.") from None
    except PermissionError:
        raise SourceRefused(f"{name} may not be read by this user.", "Change its permissions.") from None
    except (OSError, RuntimeError, ValueError):
        raise SourceRefused(f"{name} cannot be read.", "Check the name and the disk.") from None
    if not stat.S_ISREG(state.st_mode):
        raise SourceRefused(f"{name} is not a file.", "Name a picture or a raw file.")
    if state.st_size == 0:
        raise SourceRefused(f"{name} is empty.", "Copy it from the card again.")
    return path


def _worth_trying_as_raw(path: Path) -> bool:
    """Whether LibRaw should see it: named like a raw file, and not plainly a picture of another kind."""
    try:
        return path.suffix.lower() in RAW_SUFFIXES and files.sniff(path) in ("", "image/tiff")
    except OSError:
        raise SourceRefused(f"{shown_name(path.name)} cannot be read.", "Check the disk.") from None


@contextmanager
def _raw(path: Path) -> Iterator[Any]:
    """The raw file, opened and within bounds; nothing is unpacked yet."""
    import rawpy

    name = shown_name(path.name)
    if path.stat().st_size > LARGEST:
        raise SourceRefused(f"{name} is larger than {LARGEST // 1_000_000} MB.", "Export it as a TIFF or JPEG.")
    raw = rawpy.RawPy()
    try:
        raw.open_file(str(path))
        sizes = raw.sizes
        sides = sizes.raw_width, sizes.raw_height, sizes.width, sizes.height
        if (
            min(sides) < 1
            or max(sides) > files.MAX_SIDE
            or max(sides[0] * sides[1], sides[2] * sides[3]) > files.MAX_PIXELS
        ):
            raise SourceRefused(
                f"{name} says it is {sizes.raw_width:,} × {sizes.raw_height:,} pixels; the limit is"
                f" {files.MAX_PIXELS // 1_000_000} megapixels.",
                "Export a smaller TIFF or JPEG.",
            )
        yield raw
    except rawpy.LibRawError as error:  # of a file cut short any question may end so
        raise _not_raw(name, error) from None
    finally:
        raw.close()


def _not_raw(name: str, error: Exception) -> SourceRefused:
    return SourceRefused(f"{name} cannot be read as a raw file ({raw_reason(error)}).", "Copy it from the card again.")


def _upright(raw: Any) -> tuple[int, int]:
    sizes = raw.sizes
    return (sizes.height, sizes.width) if sizes.flip in (5, 6) else (sizes.width, sizes.height)


def _preview(raw: Any, longest: int | None) -> Image | None:
    """The picture inside a raw file, None where there is none that can be read."""
    import rawpy

    try:
        thumb = raw.extract_thumb()
    except (rawpy.LibRawError, MemoryError):
        return None
    if thumb.format == rawpy.ThumbFormat.BITMAP:
        return _bitmap(thumb.data, raw, longest)
    if thumb.format != rawpy.ThumbFormat.JPEG or len(thumb.data) > LARGEST_PREVIEW:
        return None
    # Pictures are bounded and opened in one place, which takes a file.
    with leftovers.temporary("preview") as folder:
        kept = Path(folder) / "preview.jpg"
        kept.write_bytes(thumb.data)
        try:
            picture = files.open_picture(kept, longest)
        except SourceRefused:
            return None
    # LibRaw gives a preview without EXIF the orientation of the raw file; a camera's own EXIF may lack one.
    return _turned(picture, raw)


def _bitmap(pixels: Any, raw: Any, longest: int | None) -> Image | None:
    import numpy as np
    from PIL import Image

    array = np.asarray(pixels)
    if array.ndim != 3 or array.shape[2] != 3 or array.dtype != np.uint8 or array.size == 0:
        return None
    return _within(_by_flip(Image.fromarray(array), raw.sizes.flip), longest)


def _turned(picture: Image, raw: Any) -> Image:
    """The preview, turned as the raw file is, where it still lies across it."""
    width, height = _upright(raw)
    across = (picture.width - picture.height) * (width - height) < 0
    return _by_flip(picture, raw.sizes.flip) if across else picture


def _by_flip(picture: Image, flip: int) -> Image:
    return files._turn(picture, _TURNS.get(flip, 1))


def _within(picture: Image, longest: int | None) -> Image:
    from PIL.Image import Resampling

    if longest and max(picture.size) > longest:
        picture.thumbnail((longest, longest), resample=Resampling.LANCZOS, reducing_gap=3.0)
    return picture


def _developed(raw: Any, path: Path, longest: int | None) -> Image:
    import rawpy
    from PIL import Image

    try:
        # LibRaw turns it upright itself. Its default curve is that of BT.709, not of sRGB, and its automatic
        # brightness and white level would make frames of one run differ that do not.
        pixels = raw.postprocess(
            half_size=True,
            use_camera_wb=True,
            output_color=rawpy.ColorSpace.sRGB,
            output_bps=8,
            gamma=(2.4, 12.92),
            no_auto_bright=True,
            adjust_maximum_thr=0.0,
        )
    except (rawpy.LibRawError, MemoryError) as error:
        raise _not_raw(shown_name(path.name), error) from None
    return _within(Image.fromarray(pixels), longest)


_Exif = Mapping[int, Any]  # what EXIF says of the exposure; what it says of the picture is not asked


def _picture_exif(path: Path, media_type: str) -> _Exif:
    """Tags of a picture's EXIF; none where it is broken, which is no reason to refuse a picture."""
    # Pillow hands on errors of many kinds for broken metadata.
    with suppress(Exception), files._quiet(), files._reader(path, media_type) as picture:
        return dict(picture.getexif().get_ifd(_EXIF_IFD))
    return {}


def _raw_exif(path: Path) -> _Exif:
    """Tags of a raw file that is built like a TIFF, as most are; none of others, or where they are broken."""
    from PIL import Image

    with (
        suppress(Exception),
        files._quiet(),
        open(path, "rb") as file,
        mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_COPY) as view,
    ):
        if view[:2] not in (b"II", b"MM"):
            return {}
        # Some makers write a mark of their own where TIFF has 42; what follows is TIFF all the same.
        view[2:4] = b"*\0" if view[:2] == b"II" else b"\0*"
        exif = Image.Exif()
        exif.load_from_fp(view)  # type: ignore[arg-type,unused-ignore]
        return dict(exif.get_ifd(_EXIF_IFD))
    return {}


def _said(exif: _Exif) -> dict[str, Any]:
    """The fields of a `Shot` that EXIF fills."""
    iso = _number(exif, *_SENSITIVITY)
    if iso == _SENSITIVITY_FULL or iso is None:
        iso = _number(exif, *_RECOMMENDED) or iso
    told = {
        "taken": _clock(exif.get(_TAKEN), exif.get(_PART), exif.get(_OFFSET)),
        "exposure_s": _number(exif, *_EXPOSURE_TIME),
        "f_number": _number(exif, *_F_NUMBER),
        "iso": iso,
        "focal_mm": _number(exif, *_FOCAL_LENGTH),
    }
    return {name: value for name, value in told.items() if value not in (None, "")}


def _told_by_libraw(raw: Any) -> dict[str, Any]:
    """The same fields as LibRaw found them in makers' own structures: whole seconds, and no offset."""
    other = getattr(raw, "other", None)  # older releases of rawpy do not hand it on
    if other is None:
        return {}
    told: dict[str, Any] = {}
    for name, value, (_, least, most) in (
        ("exposure_s", other.shutter_speed, _EXPOSURE_TIME),
        ("f_number", other.aperture, _F_NUMBER),
        ("iso", other.iso_speed, _SENSITIVITY),
        ("focal_mm", other.focal_length, _FOCAL_LENGTH),
    ):
        if math.isfinite(value) and least <= value <= most:
            told[name] = float(f"{value:.6g}")  # LibRaw keeps seven digits at most
    moment = other.timestamp
    if isinstance(moment, datetime) and moment.year > 1970:  # 0 stands for: not found
        told["taken"] = moment.replace(tzinfo=None).isoformat(timespec="seconds")
    return told


def _number(tags: Mapping[int, Any], tag: int, least: float, most: float) -> float | None:
    value = tags.get(tag)
    if isinstance(value, tuple) and value:
        value = value[0]
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return number if math.isfinite(number) and least <= number <= most else None


def _clock(moment: object, part: object, offset: object) -> str:
    """EXIF's "2026:03:01 14:05:06", "42" and "+01:00" as "2026-03-01T14:05:06.42+01:00"; "" for no moment."""
    found = re.fullmatch(r"(\d{4})[:-](\d\d)[:-](\d\d)[ T](\d\d):(\d\d):(\d\d)", _word(moment), re.ASCII)
    if found is None:
        return ""
    try:
        said = datetime(*(int(number) for number in found.groups())).isoformat()  # type: ignore[arg-type]
    except ValueError:
        return ""
    if re.fullmatch(r"\d{1,9}", fraction := _word(part), re.ASCII):
        said += f".{fraction}"
    if re.fullmatch(r"[+-](0\d|1[0-4]):[0-5]\d", zone := _word(offset), re.ASCII):
        said += zone
    return said


def _word(value: object) -> str:
    if isinstance(value, bytes):
        value = value[:64].decode("latin-1")
    return value[:64].strip(" \0") if isinstance(value, str) else ""
