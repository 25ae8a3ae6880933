"""Files of an archive: originals by SHA-256, previews, and the one way a picture file is opened.

Untrusted names never reach the disk: an original is stored under its digest, with a suffix that follows from its
content. A picture is bounded by its header before anything is decoded.
"""

from __future__ import annotations

import hashlib
import io
import os
import re
import shutil
import stat
import tempfile
import threading
import warnings
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refarchive import leftovers
from refarchive.errors import ArchiveDamaged, ArchiveUnwritable, SourceRefused
from refarchive.records import preview_sums
from refarchive.records.bounded import open_regular, read_bounded

if TYPE_CHECKING:
    from PIL.Image import Image

MAX_PIXELS = 200_000_000
MAX_SIDE = 50_000
MAX_SAMPLES = 1_600_000_000  # bytes of a TIFF's decoded samples: the most pixels, four channels, 16 bits
# Decoded bytes that one of the file can stand for, by TIFF's numbers of compressions: none, LZW, Deflate (twice),
# PackBits. Deflate makes 1,032 of one at most, LZW some 1,400, PackBits 64. Of others only `MAX_SAMPLES` is held.
_MOST_PACKED = {1: 1, 5: 2_000, 8: 2_000, 32946: 2_000, 32773: 130}
PREVIEW_SIDE = 1600  # pixels, long side
GROUND = (128, 128, 128)  # transparent pictures are laid on a neutral mid-grey

SUFFIXES = {
    "image/jpeg": ".jpg",
    "image/png": ".png",
    "image/tiff": ".tif",
    "image/webp": ".webp",
    "image/gif": ".gif",
    "image/heic": ".heic",
    "text/plain": ".txt",
    "text/markdown": ".md",
    "application/pdf": ".pdf",
    "image/x-dcraw": ".raw",  # whatever LibRaw opens; its first bytes tell no more
}
# Endings that make a file worth opening as a picture; what it is follows from its content.
PICTURE_SUFFIXES = frozenset({".jpg", ".jpeg", ".jpe", ".png", ".tif", ".tiff", ".webp", ".gif", ".heic", ".heif"})
_CHUNK = 1 << 20


def sniff(path: Path) -> str:
    """Media type of a picture by its first bytes, "" where it is none of the kinds gathered."""
    with open_regular(path) as file:
        head = file.read(32)
    if head.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if head[:4] in (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+"):
        return "image/tiff"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "image/webp"
    if head[:6] in (b"GIF87a", b"GIF89a"):
        return "image/gif"
    if head[4:8] == b"ftyp" and head[8:12] in (b"heic", b"heix", b"heim", b"heis", b"mif1", b"msf1"):
        return "image/heic"
    return ""


def _name(path: Path) -> str:
    return repr(path.name)


class _Quiet:
    """Keeps the decoders' warnings in, for any number of threads at once.

    `warnings.catch_warnings` alone is not made for threads: filters put back in the wrong order stay changed.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._inside = 0
        self._caught = warnings.catch_warnings()

    @contextmanager
    def __call__(self) -> Iterator[None]:
        with self._lock:
            if self._inside == 0:
                self._caught = warnings.catch_warnings()
                self._caught.__enter__()
                warnings.simplefilter("ignore")
            self._inside += 1
        try:
            yield
        finally:
            with self._lock:
                self._inside -= 1
                if self._inside == 0:
                    self._caught.__exit__(None, None, None)


_quiet = _Quiet()


@dataclass(frozen=True)
class _Opened:
    image: Any  # PIL.Image.Image, decoded on load; None where only the header was asked for
    size: tuple[int, int]  # upright
    media_type: str
    orientation: int  # EXIF, still to be applied


def _reader(path: Path, media_type: str) -> Any:
    """The picture, opened by the one decoder for its kind: neither guessed nor bound by Pillow's own pixel limit."""
    if media_type == "image/jpeg":
        from PIL.JpegImagePlugin import JpegImageFile

        return JpegImageFile(str(path))
    if media_type == "image/png":
        from PIL.PngImagePlugin import PngImageFile

        return PngImageFile(str(path))
    if media_type == "image/tiff":
        from PIL.TiffImagePlugin import TiffImageFile

        return TiffImageFile(str(path))
    if media_type == "image/webp":
        from PIL.WebPImagePlugin import WebPImageFile

        return WebPImageFile(str(path))
    if media_type == "image/gif":
        from PIL.GifImagePlugin import GifImageFile

        return GifImageFile(str(path))
    try:
        from pillow_heif.as_plugin import HeifImageFile
    except ImportError:  # the wheel does not exist for every machine
        raise SourceRefused(
            f"{_name(path)} is a HEIC picture, which this installation cannot read.",
            "Install pillow-heif, or convert the picture to JPEG.",
        ) from None
    reader: Any = HeifImageFile  # it carries no types
    return reader(str(path))


def _open(path: Path, *, header_only: bool = False) -> _Opened:
    """Open a picture far enough to know its size, and refuse what is out of bounds."""
    from PIL import ImageFile

    try:
        state = path.stat()
        if not stat.S_ISREG(state.st_mode):
            raise SourceRefused(f"{_name(path)} is not a file.", "Name a picture file.")
        if state.st_size == 0:
            raise SourceRefused(f"{_name(path)} is empty.", "Copy the file again from where it came.")
        media_type = sniff(path)
    except OSError as error:
        raise _unreadable(path, error) from None
    if not media_type:
        raise SourceRefused(
            f"{_name(path)} is not a picture of a kind that can be read.",
            "Convert it to JPEG, PNG, TIFF, WebP, GIF or HEIC.",
        )
    ImageFile.LOAD_TRUNCATED_IMAGES = False  # another package in this process may have asked for half pictures
    try:
        with _quiet():
            image = _reader(path, media_type)
            orientation = 1
            if media_type == "image/tiff" and _garbled(image):
                image.close()
                return _open_tiff(path, header_only)
            if media_type != "image/tiff":  # Pillow turns TIFF itself, and says the upright size at once
                with suppress(Exception):  # damaged EXIF is no reason to refuse a picture
                    orientation = image.getexif().get(0x0112, 1)
    except SourceRefused:
        raise
    except Exception as error:
        if media_type == "image/tiff":
            return _open_tiff(path, header_only)
        raise SourceRefused(
            f"{_name(path)} cannot be read as a picture ({_reason(error)}).",
            "Open and save it again, or copy it again.",
        ) from None
    width, height = image.size
    try:
        _bound(path, width, height)
    except SourceRefused:
        image.close()
        raise
    orientation = orientation if orientation in range(1, 9) else 1
    return _Opened(image, (height, width) if orientation >= 5 else (width, height), media_type, orientation)


def _garbled(tiff: Any) -> bool:
    """Whether Pillow would take the bytes of this TIFF for something else: 16 bits, in one plane for each colour."""
    return bool(tiff.tag_v2.get(284) == 2 and max(tiff.tag_v2.get(258, (1,))) > 8)


def _open_tiff(path: Path, header_only: bool) -> _Opened:
    """TIFF kinds that Pillow does not read (16 bits in planes, floating point) through tifffile."""
    import logging

    import numpy as np
    import tifffile
    from PIL import Image

    logging.getLogger("tifffile").addHandler(logging.NullHandler())  # or damage is told on standard error as well
    pixels: Any = None
    try:
        with _quiet(), tifffile.TiffFile(path) as tiff:
            page: Any = tiff.pages[0]
            width, height = int(page.imagewidth), int(page.imagelength)
            _bound(path, width, height)
            refuse_tiff(path, page, MAX_PIXELS, MAX_SAMPLES)
            tag = page.tags.get(274)
            profile = page.tags.get(34675)
            orientation = int(tag.value) if tag else 1
            white_is_zero = int(page.photometric) == 0
            if not header_only:
                pixels = np.asarray(page.asarray())
    except SourceRefused:
        raise
    except Exception as error:
        raise SourceRefused(
            f"{_name(path)} cannot be read as a TIFF picture ({_reason(error)}).", "Save it again as 8- or 16-bit RGB."
        ) from None
    orientation = orientation if orientation in range(1, 9) else 1
    size = (height, width) if orientation >= 5 else (width, height)
    if header_only:
        return _Opened(None, size, "image/tiff", orientation)
    if pixels.ndim == 3 and pixels.shape[0] in (3, 4) and pixels.shape[2] not in (3, 4):
        pixels = np.moveaxis(pixels, 0, 2)  # planes stored one after another
    if pixels.ndim not in (2, 3) or (pixels.ndim == 3 and pixels.shape[2] not in (3, 4)):
        raise SourceRefused(f"{_name(path)} is a TIFF of an unusual kind.", "Save it again as 8- or 16-bit RGB.")
    image = Image.fromarray(255 - _to_8_bit(pixels) if white_is_zero else _to_8_bit(pixels))
    if profile is not None:
        image.info["icc_profile"] = bytes(profile.value)
    return _Opened(image, size, "image/tiff", orientation)


def refuse_tiff(path: Path, page: Any, most_pixels: int, most_bytes: int) -> None:
    """Refuse a page (`tifffile.TiffPage`) by what its head says, before room is made for what that promises.

    Raises SourceRefused for more pixels or bytes of samples than allowed, and for more samples than the file can hold;
    ValueError, to be put into a sentence, for kinds that are no picture.
    """
    if page.samplesperpixel > 4 or page.imagedepth != 1:
        raise ValueError(f"{page.samplesperpixel} channels, depth {page.imagedepth}")
    if page.dtype is None or page.dtype.kind not in "uif":
        raise ValueError(f"samples of the kind {page.dtype}")
    pixels = int(page.imagewidth) * int(page.imagelength)
    samples = pixels * int(page.samplesperpixel)
    if pixels > most_pixels or samples * page.dtype.itemsize > most_bytes:
        raise SourceRefused(
            f"{_name(path)} says it has {pixels:,} pixels, {samples * page.dtype.itemsize:,} bytes of samples; the "
            f"limit is {most_pixels:,} pixels and {most_bytes:,} bytes.",
            "Reduce it, or save it with 16 bits.",
        )
    packed = _MOST_PACKED.get(int(page.compression))
    if packed is not None and samples * int(page.bitspersample) > 8 * packed * path.stat().st_size:
        raise SourceRefused(
            f"{_name(path)} says it has {samples:,} samples, more than a file of its size can hold: it is cut short, "
            "or damaged.",
            "Copy the file again from where it came.",
        )


def _to_8_bit(pixels: Any) -> Any:
    import numpy as np

    if pixels.dtype == np.uint8:
        return pixels
    if pixels.dtype == np.uint16:
        return np.round(pixels.astype(np.float32) / 257).astype(np.uint8)
    if np.issubdtype(pixels.dtype, np.floating):
        return np.round(np.clip(np.nan_to_num(pixels), 0, 1) * 255).astype(np.uint8)
    span = float(np.iinfo(pixels.dtype).max)
    return np.round(np.clip(pixels.astype(np.float64) / span, 0, 1) * 255).astype(np.uint8)


def _bound(path: Path, width: int, height: int) -> None:
    if width < 1 or height < 1 or width > MAX_SIDE or height > MAX_SIDE or width * height > MAX_PIXELS:
        raise SourceRefused(
            f"{_name(path)} says it is {width:,} × {height:,} pixels; the limit is "
            f"{MAX_PIXELS // 1_000_000} megapixels and {MAX_SIDE:,} on a side.",
            "Reduce it and gather it again.",
        )


def _reason(error: Exception) -> str:
    text = " ".join(str(error).split())
    return re.sub(r"['\"]?/\S*", "the file", text)[:120] or type(error).__name__


def picture_size(path: Path) -> tuple[int, int, str]:
    """Upright width and height in pixels, and the media type, from the header alone.

    Raises SourceRefused as `open_picture` does, damage behind the header aside.
    """
    opened = _open(path, header_only=True)
    if opened.image is not None:
        opened.image.close()
    return (*opened.size, opened.media_type)


def open_picture(path: Path, longest: int | None = None) -> Image:
    """The picture as upright 8-bit sRGB (PIL mode RGB), its long side at most `longest` pixels where given.

    EXIF orientation and an embedded ICC profile are honoured (relative colorimetric, black point compensated); a
    picture without a usable profile is taken for sRGB. Of an animation the first frame is taken. 16-bit greys become
    8 bits by v / 257 rounded, 16-bit colours to within one level of it. Transparency is laid on mid-grey.

    Raises
    ------
    SourceRefused
        for an empty, truncated, foreign or oversized file.
    """
    from PIL.Image import Resampling

    opened = _open(path)
    image = opened.image
    try:
        with _quiet():
            if longest and image.format == "JPEG":
                # Pillow reduces while it decodes as long as both sides stay at least as long as asked for.
                image.draft(None, tuple(ceil(side * min(1, longest / max(image.size))) for side in image.size))
            white_is_zero = image.mode.startswith("I;16") and getattr(image, "tag_v2", {}).get(262) == 0
            image.load()
            profile = image.info.get("icc_profile")
            if white_is_zero:  # Pillow turns such pictures round at 8 bits only
                image = _inverted(image)
            if longest and max(image.size) > longest and image.mode in ("RGB", "L", "CMYK"):
                image.thumbnail((longest, longest), resample=Resampling.LANCZOS, reducing_gap=3.0)
            upright = _turn(_to_srgb(image, profile), opened.orientation)
            if longest:
                upright.thumbnail((longest, longest), resample=Resampling.LANCZOS, reducing_gap=3.0)
    except SourceRefused:
        raise
    except MemoryError:
        raise SourceRefused(
            f"{_name(path)} needs more memory than there is.", "Reduce it and gather it again."
        ) from None
    except Exception as error:
        raise SourceRefused(
            f"{_name(path)} is damaged or cut short ({_reason(error)}).", "Copy the file again from where it came."
        ) from None
    finally:
        with suppress(Exception):
            image.close()
    return upright


def _inverted(image: Image) -> Image:
    import numpy as np
    from PIL import Image as pil  # noqa: N813 (`Image` is the type here)

    return pil.fromarray(255 - _to_8_bit(np.asarray(image)))


def _turn(image: Image, orientation: int) -> Image:
    from PIL.Image import Transpose

    turns = {2: 0, 3: 3, 4: 1, 5: 5, 6: 4, 7: 6, 8: 2}
    return image.transpose(Transpose(turns[orientation])) if orientation in turns else image


def _to_srgb(image: Image, profile: bytes | None) -> Image:
    from PIL import Image as pil  # noqa: N813 (`Image` is the type here)
    from PIL import ImageCms

    if image.mode.startswith("I") or image.mode == "F":
        import numpy as np

        pixels = np.asarray(image)
        if image.mode == "I" and pixels.max(initial=0) <= 65535:
            pixels = pixels.clip(0).astype(np.uint16)
        image = pil.fromarray(_to_8_bit(pixels))
    if image.mode in ("P", "PA", "LA", "RGBa", "La") or "transparency" in image.info:
        image = image.convert("RGBA" if image.mode != "P" or "transparency" in image.info else "RGB")
    alpha = image.getchannel("A") if image.mode == "RGBA" else None
    if alpha is not None:
        image = image.convert("RGB")
    if image.mode not in ("RGB", "L", "CMYK", "LAB"):
        image = image.convert("L" if image.mode == "1" else "RGB")
    if profile and len(profile) <= 16 * _CHUNK:
        # A broken or foreign profile: sRGB is assumed, as for a picture without one.
        with suppress(ImageCms.PyCMSError, OSError, ValueError):
            image = _through_profile(image, profile)
    if image.mode == "LAB":
        made = ImageCms.profileToProfile(image, ImageCms.createProfile("LAB"), _srgb(), outputMode="RGB")
        assert made is not None
        image = made
    image = image.convert("RGB")
    if alpha is not None:
        ground = pil.new("RGB", image.size, GROUND)
        ground.paste(image, mask=alpha)
        image = ground
    return image


def _srgb() -> Any:
    from PIL import ImageCms

    return ImageCms.createProfile("sRGB")


def _through_profile(image: Image, profile: bytes) -> Image:
    from PIL import ImageCms

    source = ImageCms.getOpenProfile(io.BytesIO(profile))
    space = source.profile.xcolor_space.strip()
    if {"RGB": "RGB", "GRAY": "L", "CMYK": "CMYK", "LAB": "LAB"}.get(space.upper()) != image.mode:
        return image
    made = ImageCms.profileToProfile(
        image,
        source,
        _srgb(),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        outputMode="RGB",
        flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
    )
    assert made is not None
    return made


@dataclass(frozen=True)
class Kept:
    """An original as kept: its digest, suffix (with dot) and size in bytes."""

    sha256: str
    suffix: str
    size: int


class Files:
    """`originals/` and `previews/` of one archive folder."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def original(self, sha256: str, suffix: str) -> Path:
        """Path of an original; ArchiveDamaged where digest or suffix could not be ours."""
        if suffix not in SUFFIXES.values():
            raise ArchiveDamaged(f"A record names an original with the suffix {suffix!r}.", "Restore a backup.")
        return self._path("originals", sha256, suffix)

    def preview(self, sha256: str) -> Path:
        """Path of a preview, which may not exist yet."""
        return self._path("previews", sha256, ".jpg")

    def _path(self, folder: str, sha256: str, suffix: str) -> Path:
        if not re.fullmatch(r"[0-9a-f]{64}", sha256):
            raise ArchiveDamaged(f"A record names a file by {sha256[:80]!r}, no SHA-256.", "Restore a backup.")
        return self.root / folder / sha256[:2] / f"{sha256}{suffix}"

    def keep(self, source: Path, media_type: str) -> Kept:
        """Copy a file into `originals/`, complete or not at all; one that is there already is left alone.

        Raises SourceRefused where the source cannot be read, ArchiveUnwritable where the disk is full or shut.
        """
        if media_type not in SUFFIXES:
            raise SourceRefused(f"{_name(source)} is of a kind that is not gathered.", "Convert it first.")
        folder = self.root / "originals"
        name = ""
        try:
            folder.mkdir(exist_ok=True)  # in a folder that is there: a disk taken away is not begun anew in its place
            digest = hashlib.sha256()
            size = 0
            handle, name = tempfile.mkstemp(prefix=leftovers.prefix("taking"), dir=folder)
            with os.fdopen(handle, "wb") as target:
                for chunk in _chunks(source):
                    digest.update(chunk)
                    size += len(chunk)
                    target.write(chunk)
                target.flush()
                os.fsync(target.fileno())
            kept = Kept(digest.hexdigest(), SUFFIXES[media_type], size)
            goal = self.original(kept.sha256, kept.suffix)
            if not goal.exists():
                if not goal.parent.exists():
                    goal.parent.mkdir(exist_ok=True)
                    settle(folder)
                os.chmod(name, stat.S_IRUSR | stat.S_IRGRP | stat.S_IROTH)
                os.replace(name, goal)
            # Also where it was there: whoever put it may have been killed before this. The row that names an original
            # is committed after `keep` returns, and by then its bytes and both folders' entries are on the disk.
            settle(goal.parent)
            return kept
        except OSError as error:
            raise _unwritable(error) from None
        finally:
            if name:
                with suppress(OSError):  # what went wrong first is what is told
                    os.unlink(name)

    def put_back(self, copy: Path, sha256: str, suffix: str) -> None:
        """Put a sound copy in place of an original that is damaged or missing; what was damaged is kept beside it.

        Raises SourceRefused where the copy is not the original, ArchiveUnwritable.
        """
        goal = self.original(sha256, suffix)
        media_type = next(kind for kind, known in SUFFIXES.items() if known == suffix)
        aside = goal.with_name(f"{goal.name}.damaged")
        if hash_of(copy) != sha256:
            raise SourceRefused(f"{_name(copy)} is not the original looked for.", "Name another folder.")
        try:
            if goal.exists():
                os.replace(goal, aside)
            if self.keep(copy, media_type).sha256 == sha256:
                aside.unlink(missing_ok=True)
        except OSError as error:
            raise _unwritable(error) from None

    def write_preview(self, sha256: str, image: Image) -> Path:
        """Write the preview of an upright sRGB picture: JPEG, long side at most `PREVIEW_SIDE`, whole or not at all.

        Raises ArchiveUnwritable where the disk is full or shut.
        """
        from PIL.Image import Resampling

        goal = self.preview(sha256)
        small = image
        if max(image.size) > PREVIEW_SIDE:
            small = image.copy()
            small.thumbnail((PREVIEW_SIDE, PREVIEW_SIDE), resample=Resampling.LANCZOS, reducing_gap=3.0)

        def made() -> bytes:
            jpeg = io.BytesIO()
            small.save(jpeg, "JPEG", quality=88, optimize=True)
            return jpeg.getvalue()

        self._write_preview(goal, made)
        return goal

    def vouch_for_preview(self, sha256: str) -> None:
        """Give a preview that carries no checksum one, its picture untouched. Raises ArchiveUnwritable."""
        goal = self.preview(sha256)
        self._write_preview(goal, lambda: read_bounded(goal, preview_sums.LARGEST))

    def _write_preview(self, goal: Path, made: Callable[[], bytes]) -> None:
        name = ""
        try:
            (self.root / "previews").mkdir(exist_ok=True)
            goal.parent.mkdir(exist_ok=True)
            content = preview_sums.with_sum(made())
            handle, name = tempfile.mkstemp(prefix=leftovers.prefix("making"), dir=goal.parent)
            with os.fdopen(handle, "wb") as target:
                target.write(content)
            os.chmod(name, 0o644)  # mkstemp's own would shut out whoever shares the folder
            os.replace(name, goal)
        except OSError as error:
            raise _unwritable(error) from None
        finally:
            if name:
                with suppress(OSError):  # what went wrong first is what is told
                    os.unlink(name)

    @contextmanager
    def aside(self) -> Iterator[Path]:
        """A folder on the archive's disk for files on their way in, gone after the block; ArchiveUnwritable."""
        try:
            (self.root / "originals").mkdir(exist_ok=True)
            folder = Path(tempfile.mkdtemp(prefix=leftovers.prefix("taking"), dir=self.root / "originals"))
        except OSError as error:
            raise _unwritable(error) from None
        try:
            yield folder
        finally:
            shutil.rmtree(folder, ignore_errors=True)

    def sweep(self, older_than_s: float = leftovers.STALE_S) -> int:
        """Remove what a killed run left half-made; returns how many files and folders."""
        patterns = ("originals/.taking-*", "previews/*/.making-*", ".making-*")
        return leftovers.sweep((p for pattern in patterns for p in self.root.glob(pattern)), older_than_s)

    def strangers(self, known: Collection[tuple[str, str]]) -> list[Path]:
        """Files in `originals/` that no record names; `known` are digests with suffixes. They are left where they are.

        An original whose reference was taken out is among them, and so is one that a killed run kept without coming to
        record it.
        """
        wanted = {self.original(sha256, suffix) for sha256, suffix in known}
        there = (path for path in (self.root / "originals").rglob("*") if path.is_file())
        return sorted(path for path in there if path not in wanted and not path.name.startswith(".taking-"))


def hash_of(path: Path) -> str:
    """SHA-256 of a file, as hex. Raises SourceRefused where it cannot be read."""
    digest = hashlib.sha256()
    for chunk in _chunks(path):
        digest.update(chunk)
    return digest.hexdigest()


def _chunks(path: Path) -> Iterator[bytes]:
    """A source's bytes, piece by piece; whatever goes wrong in reading them is the source's fault, and said so."""
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise SourceRefused(f"{_name(path)} is not a file.", "Name a file.")
        with open_regular(path) as file:
            while chunk := file.read(_CHUNK):
                yield chunk
    except OSError as error:
        raise _unreadable(path, error) from None


def _unreadable(path: Path, error: OSError) -> SourceRefused:
    return SourceRefused(
        f"{_name(path)} cannot be read: {error.strerror}.", "Check that it is there, and its permissions."
    )


def _unwritable(error: OSError) -> ArchiveUnwritable:
    return ArchiveUnwritable(
        f"The archive's folder cannot be written: {error.strerror or error}.",
        "Make room on the disk, or check the folder's permissions.",
    )


def settle(folder: Path) -> None:
    """Put a rename on the disk, where the system can."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
