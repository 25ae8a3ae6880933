"""Files of an archive: originals by SHA-256, previews, and the one way a picture file is opened.

Untrusted names never reach the disk: an original is stored under its digest, with a suffix that follows from its
content. A picture is bounded by its header before anything is decoded.
"""

from __future__ import annotations

import hashlib
import io
import os
import re
import stat
import tempfile
import time
import warnings
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refarchive.errors import ArchiveDamaged, SourceRefused

if TYPE_CHECKING:
    from PIL.Image import Image

MAX_PIXELS = 200_000_000
MAX_SIDE = 50_000
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
}
_PIL_FORMATS = ("JPEG", "MPO", "PNG", "TIFF", "WEBP", "GIF", "HEIF")
_CHUNK = 1 << 20


def sniff(path: Path) -> str:
    """Media type of a picture by its first bytes, "" where it is none of the kinds gathered."""
    with open(path, "rb") as file:
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


@dataclass(frozen=True)
class _Opened:
    image: Any  # PIL.Image.Image, lazily decoded
    media_type: str
    orientation: int


def _open(path: Path) -> _Opened:
    """Open a picture far enough to know its size, and refuse what is out of bounds."""
    from PIL import Image, ImageFile

    try:
        if path.stat().st_size == 0:
            raise SourceRefused(f"{_name(path)} is empty.", "Copy the file again from where it came.")
        media_type = sniff(path)
    except OSError as error:
        raise SourceRefused(f"{_name(path)} cannot be read: {error.strerror}.", "Check the file's permissions.") from None
    if not media_type:
        raise SourceRefused(
            f"{_name(path)} is not a picture of a kind that can be read.",
            "Convert it to JPEG, PNG, TIFF, WebP, GIF or HEIC.",
        )
    if media_type == "image/heic":
        try:
            import pillow_heif
        except ImportError:  # the wheel does not exist for every machine
            raise SourceRefused(
                f"{_name(path)} is a HEIC picture, which this installation cannot read.",
                "Install pillow-heif, or convert the picture to JPEG.",
            ) from None
        pillow_heif.register_heif_opener()
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            image = Image.open(path, formats=_PIL_FORMATS)
            orientation = image.getexif().get(0x0112, 1)
    except Image.DecompressionBombError:
        raise SourceRefused(
            f"{_name(path)} says it has far more than {MAX_PIXELS // 1_000_000} megapixels.", "Reduce it and gather it again."
        ) from None
    except Exception as error:
        if media_type == "image/tiff":
            return _open_tiff(path)
        raise SourceRefused(
            f"{_name(path)} cannot be read as a picture ({_reason(error)}).", "Open and save it again, or copy it again."
        ) from None
    _bound(path, *image.size)
    return _Opened(image, media_type, orientation if orientation in range(1, 9) else 1)


def _open_tiff(path: Path) -> _Opened:
    """TIFF kinds that Pillow does not read (16 bits in three channels) through tifffile."""
    import numpy as np
    import tifffile
    from PIL import Image

    try:
        with tifffile.TiffFile(path) as tiff:
            page: Any = tiff.pages[0]
            _bound(path, int(page.imagewidth), int(page.imagelength))
            tag = page.tags.get(274)
            profile = page.tags.get(34675)
            pixels = np.asarray(page.asarray())
            orientation = int(tag.value) if tag else 1
    except SourceRefused:
        raise
    except Exception as error:
        raise SourceRefused(
            f"{_name(path)} cannot be read as a TIFF picture ({_reason(error)}).", "Save it again as 8- or 16-bit RGB."
        ) from None
    if pixels.ndim == 3 and pixels.shape[0] in (3, 4) and pixels.shape[2] not in (3, 4):
        pixels = np.moveaxis(pixels, 0, 2)  # planes stored one after another
    if pixels.ndim not in (2, 3) or (pixels.ndim == 3 and pixels.shape[2] not in (3, 4)):
        raise SourceRefused(f"{_name(path)} is a TIFF of an unusual kind.", "Save it again as 8- or 16-bit RGB.")
    image = Image.fromarray(_to_8_bit(pixels))
    if profile is not None:
        image.info["icc_profile"] = bytes(profile.value)
    return _Opened(image, "image/tiff", orientation if orientation in range(1, 9) else 1)


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
            f"{_name(path)} says it is {width:,} × {height:,} pixels; the limit is {MAX_PIXELS // 1_000_000} megapixels "
            f"and {MAX_SIDE:,} on a side.",
            "Reduce it and gather it again.",
        )


def _reason(error: Exception) -> str:
    text = " ".join(str(error).split())
    return re.sub(r"['\"]?/\S*", "the file", text)[:120] or type(error).__name__


def picture_size(path: Path) -> tuple[int, int, str]:
    """Upright width and height in pixels, and the media type, from the header alone.

    Raises SourceRefused as `open_picture` does, damage behind the header aside.
    """
    opened = _open(path)
    width, height = opened.image.size
    opened.image.close()
    return (height, width, opened.media_type) if opened.orientation >= 5 else (width, height, opened.media_type)


def open_picture(path: Path, longest: int | None = None) -> Image:
    """The picture as upright 8-bit sRGB (PIL mode RGB), its long side at most `longest` pixels where given.

    EXIF orientation and an embedded ICC profile are honoured (relative colorimetric, black point compensated); a
    picture without a usable profile is taken for sRGB. Of an animation the first frame is taken. 16 bits become 8 by
    v / 257. Transparency is laid on mid-grey.

    Raises
    ------
    SourceRefused
        for an empty, truncated, foreign or oversized file.
    """
    opened = _open(path)
    image = opened.image
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            if longest and image.format == "JPEG":
                image.draft(None, (longest, longest))
            image.load()
            profile = image.info.get("icc_profile")
            if longest and max(image.size) > longest and image.mode in ("RGB", "L", "CMYK"):
                image.thumbnail((longest, longest), resample=1, reducing_gap=3.0)
            upright = _turn(_to_srgb(image, profile), opened.orientation)
            if longest:
                upright.thumbnail((longest, longest), resample=1, reducing_gap=3.0)
    except SourceRefused:
        raise
    except MemoryError:
        raise SourceRefused(f"{_name(path)} needs more memory than there is.", "Reduce it and gather it again.") from None
    except Exception as error:
        raise SourceRefused(
            f"{_name(path)} is damaged or cut short ({_reason(error)}).", "Copy the file again from where it came."
        ) from None
    finally:
        with suppress(Exception):
            image.close()
    return upright


def _turn(image: Image, orientation: int) -> Image:
    from PIL.Image import Transpose

    turns = {2: 0, 3: 3, 4: 1, 5: 5, 6: 4, 7: 6, 8: 2}
    return image.transpose(Transpose(turns[orientation])) if orientation in turns else image


def _to_srgb(image: Image, profile: bytes | None) -> Image:
    from PIL import Image as images
    from PIL import ImageCms

    if image.mode.startswith("I") or image.mode == "F":
        import numpy as np

        pixels = np.asarray(image)
        if image.mode == "I" and pixels.max(initial=0) <= 65535:
            pixels = pixels.astype(np.uint16)
        image = images.fromarray(_to_8_bit(pixels))
    if image.mode in ("P", "PA", "LA", "RGBa", "La") or "transparency" in image.info:
        image = image.convert("RGBA" if image.mode != "P" or "transparency" in image.info else "RGB")
    alpha = image.getchannel("A") if image.mode == "RGBA" else None
    if alpha is not None:
        image = image.convert("RGB")
    if image.mode not in ("RGB", "L", "CMYK", "LAB"):
        image = image.convert("L" if image.mode == "1" else "RGB")
    if profile and len(profile) <= 16 * _CHUNK:
        try:
            image = _through_profile(image, profile)
        except (ImageCms.PyCMSError, OSError, ValueError):
            pass  # a broken or foreign profile: sRGB is assumed, as for a picture without one
    if image.mode == "LAB":
        made = ImageCms.profileToProfile(image, ImageCms.createProfile("LAB"), _srgb(), outputMode="RGB")
        assert made is not None
        image = made
    image = image.convert("RGB")
    if alpha is not None:
        ground = images.new("RGB", image.size, GROUND)
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

        Raises SourceRefused where the source cannot be read.
        """
        folder = self.root / "originals"
        folder.mkdir(exist_ok=True)
        digest = hashlib.sha256()
        size = 0
        handle, name = tempfile.mkstemp(prefix=".taking-", dir=folder)
        try:
            with os.fdopen(handle, "wb") as target:
                try:
                    with open(source, "rb") as file:
                        while chunk := file.read(_CHUNK):
                            digest.update(chunk)
                            size += len(chunk)
                            target.write(chunk)
                except OSError as error:
                    raise SourceRefused(
                        f"{_name(source)} cannot be read: {error.strerror}.", "Check the file and its permissions."
                    ) from None
                target.flush()
                os.fsync(target.fileno())
            kept = Kept(digest.hexdigest(), SUFFIXES[media_type], size)
            goal = self.original(kept.sha256, kept.suffix)
            if not goal.exists():
                goal.parent.mkdir(exist_ok=True)
                os.chmod(name, stat.S_IRUSR | stat.S_IRGRP | stat.S_IROTH)
                os.replace(name, goal)
            return kept
        finally:
            with suppress(FileNotFoundError):
                os.unlink(name)

    def write_preview(self, sha256: str, image: Image) -> Path:
        """Write the preview of an upright sRGB picture: JPEG, long side at most `PREVIEW_SIDE`, complete or not at all."""
        goal = self.preview(sha256)
        goal.parent.mkdir(parents=True, exist_ok=True)
        small = image
        if max(image.size) > PREVIEW_SIDE:
            small = image.copy()
            small.thumbnail((PREVIEW_SIDE, PREVIEW_SIDE), resample=1, reducing_gap=3.0)
        handle, name = tempfile.mkstemp(prefix=".making-", dir=goal.parent)
        try:
            with os.fdopen(handle, "wb") as target:
                small.save(target, "JPEG", quality=88, optimize=True)
            os.replace(name, goal)
        finally:
            with suppress(FileNotFoundError):
                os.unlink(name)
        return goal

    def sweep(self, older_than_s: float = 3600.0) -> int:
        """Remove what a killed run left half-made; returns how many files."""
        limit = time.time() - older_than_s
        swept = 0
        for pattern in ("originals/.taking-*", "previews/*/.making-*"):
            for path in self.root.glob(pattern):
                with suppress(FileNotFoundError):
                    if path.stat().st_mtime < limit:
                        path.unlink()
                        swept += 1
        return swept


def hash_of(path: Path) -> str:
    """SHA-256 of a file, as hex. Raises SourceRefused where it cannot be read."""
    digest = hashlib.sha256()
    try:
        with open(path, "rb") as file:
            while chunk := file.read(_CHUNK):
                digest.update(chunk)
    except OSError as error:
        raise SourceRefused(f"{_name(path)} cannot be read: {error.strerror}.", "Check its permissions.") from None
    return digest.hexdigest()
