"""Scene-linear light from camera raw files and linear TIFFs: what stops can be told from.

Raw files through LibRaw, with the camera's own white balance and no curve; TIFFs of floating-point numbers, or with a
profile whose curves are straight lines, as they are. An ordinary TIFF or JPEG is refused: its tone curve is unknown.
"""

from __future__ import annotations

import io
import logging
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refarchive.errors import SourceRefused
from refarchive.records import files
from refarchive.sources.folder import shown_name

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

RAW_SUFFIXES = frozenset(
    (
        ".dng .nef .nrw .cr2 .cr3 .crw .arw .sr2 .raf .orf .rw2 .pef .srw .3fr .fff .iiq .mos .mef .mrw .x3f .erf "
        ".raw"  # as an archive keeps any of them
    ).split()
)
TIFF_SUFFIXES = frozenset({".tif", ".tiff"})
LARGEST = 500_000_000  # bytes
MOST_PIXELS = 200_000_000
MOST_WHOLE = 40_000_000  # pixels of a raw file that are developed at its full size
MOST_SAMPLES = 800_000_000  # bytes of a TIFF's decoded samples


def open_linear(path: Path, longest: int = 1600) -> NDArray[np.float64]:
    """Light of a file, (H, W, 3), linear sRGB primaries, 1 where the file clips; its longer side at most `longest`.

    Reduced by area averages, which in linear light is what a smaller sensor would have seen.

    Raises
    ------
    SourceRefused
        for a file that is no raw file and no linear TIFF, is damaged, or is too large.
    """
    name = shown_name(path.name)
    if not path.is_file():
        raise SourceRefused(f"There is no file {name}.", "Name the raw file or linear TIFF of this frame.")
    if path.stat().st_size > LARGEST:
        raise SourceRefused(f"{name} is too large to be read at once.", "Export a smaller linear TIFF.")
    suffix = path.suffix.lower()
    if suffix in RAW_SUFFIXES:
        light = _raw(path, name)
    elif suffix in TIFF_SUFFIXES:
        light = _tiff(path, name)
    else:
        raise SourceRefused(f"{name} is no raw file and no TIFF.", "Give the camera's raw file, or a linear TIFF.")
    return _reduced(light, longest)


def _raw(path: Path, name: str) -> Any:
    import numpy as np
    import rawpy

    try:
        with rawpy.imread(str(path)) as raw:
            sizes = raw.sizes
            if sizes.raw_width * sizes.raw_height > MOST_PIXELS:
                raise SourceRefused(f"{name} has too many pixels to be read at once.", "Export a smaller linear TIFF.")
            developed = raw.postprocess(
                gamma=(1, 1),
                no_auto_bright=True,
                adjust_maximum_thr=0.0,  # or LibRaw takes a brightest value above three quarters for white
                output_bps=16,
                use_camera_wb=True,
                output_color=rawpy.ColorSpace.sRGB,
                highlight_mode=rawpy.HighlightMode.Clip,
                half_size=min(sizes.width, sizes.height) > 3000 or sizes.width * sizes.height > MOST_WHOLE,
            )
    except (rawpy.LibRawError, MemoryError) as error:
        reason = raw_reason(error)
        raise SourceRefused(f"{name} cannot be read as a raw file: {reason}.", "Copy it from the card again.") from None
    return np.asarray(developed, dtype=np.float64) / 65535.0


def raw_reason(error: Exception) -> str:
    """Why LibRaw refused a file, in its own words, which come as bytes."""
    words = error.args[0] if error.args else ""
    return shown_name(words.decode("utf-8", "replace") if isinstance(words, bytes) else str(words), 100)


def _tiff(path: Path, name: str) -> Any:
    import numpy as np
    import tifffile

    logging.getLogger("tifffile").addHandler(logging.NullHandler())  # or damage is told on standard error as well
    try:
        with tifffile.TiffFile(path) as file:
            page: Any = file.pages[0]
            files.refuse_tiff(path, page, MOST_PIXELS, MOST_SAMPLES)
            tag = page.tags.get(34675)
            profile = bytes(tag.value) if tag is not None else b""
            data = np.asarray(page.asarray())
    except SourceRefused:
        raise
    except Exception:  # that reader hands on errors of many kinds for broken files
        raise SourceRefused(f"{name} is damaged or of a kind that is not read.", "Export it again.") from None
    if data.ndim == 2:
        data = np.repeat(data[..., None], 3, axis=2)
    if data.ndim != 3 or data.shape[2] < 3:
        raise SourceRefused(f"{name} is no picture in red, green and blue.", "Export it as RGB.")
    data = data[..., :3]
    if np.issubdtype(data.dtype, np.floating):
        if not np.isfinite(data).all():
            raise SourceRefused(f"{name} holds values that are no numbers.", "Export it again.")
        return np.clip(data.astype(np.float64), 0.0, None)
    if not np.issubdtype(data.dtype, np.unsignedinteger) or not _is_straight(profile):
        raise SourceRefused(
            f"{name} does not say that it is linear: it has neither floating-point numbers nor a linear profile.",
            "Export it with a linear profile, or give the raw file.",
        )
    return data.astype(np.float64) / float(np.iinfo(data.dtype).max)


def _is_straight(profile: bytes) -> bool:
    """Whether a profile's tone curves are straight lines, tried on a ramp through the profile itself."""
    if not profile:
        return False
    import numpy as np
    from PIL import Image, ImageCms

    try:
        own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        linear = own.profile.red_primary  # a matrix profile has primaries; a table has none
        if linear is None:
            return False
        ramp = np.repeat(np.arange(256, dtype=np.uint8)[None, :, None], 3, axis=2)
        lab = ImageCms.createProfile("LAB")
        turned = ImageCms.buildTransform(own, lab, "RGB", "LAB", renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC)
        lightness = np.asarray(ImageCms.applyTransform(Image.fromarray(ramp), turned))[0, :, 0] / 255.0 * 100.0
    except (ImageCms.PyCMSError, OSError, AttributeError, ValueError):
        return False
    steps = np.arange(256) / 255.0
    straight = np.where(steps > 216 / 24389, 116 * np.cbrt(steps) - 16, steps * 24389 / 27)
    return bool(np.abs(lightness - straight).max() < 5.0)  # eight bits are coarse in the darks; sRGB is off by up to 26


def _reduced(light: Any, longest: int) -> NDArray[np.float64]:
    import cv2
    import numpy as np

    scale = longest / max(light.shape[:2])
    if scale >= 1.0:
        return np.asarray(light, dtype=np.float64)
    size = (max(1, round(light.shape[1] * scale)), max(1, round(light.shape[0] * scale)))
    return np.asarray(cv2.resize(light, size, interpolation=cv2.INTER_AREA), dtype=np.float64)
