"""Draw the sample pictures and frames of Merrow Sands, all invented, the same every time, and write their tables.

    python sample_refs/draw.py [--into FOLDER] [NAME ...]

Without names everything is made, beside this file. NAME is a file name from the lists below, or of a frame of a shoot.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image, ImageCms

HERE = Path(__file__).resolve().parent
if str(HERE) not in sys.path:
    sys.path.insert(0, str(HERE))

from drawing import cabinet, plates, shoots, shore, sitters, sittings, staged  # noqa: E402
from drawing.canvas import Array  # noqa: E402

PICTURES: dict[str, Callable[[], Array]] = {
    "dawn-gatherers.jpg": shore.dawn_gatherers,
    "gatherers-engraving.jpg": shore.gatherers_engraving,
    "gatherers-engraving-crop.jpg": lambda: shore.engraving_crop(shore.gatherers_engraving()),
    "gatherer-portrait.jpg": sitters.gatherer_portrait,
    "gatherer-portrait-mirrored.jpg": sitters.gatherer_mirrored,
    "gatherer-portrait-coloured.jpg": sitters.gatherer_coloured,
    "kerchief-study.jpg": cabinet.kerchief_study,
    "petticoat-cloth.png": cabinet.petticoat_cloth,
    "shawl-object.jpg": cabinet.shawl_object,
    "clogs-object.jpg": cabinet.clogs_object,
    "fashion-plate.jpg": plates.fashion_plate,
    "storm-lantern-object.jpg": cabinet.storm_lantern_object,
    "candle-lantern.jpg": cabinet.candle_lantern,
    "basket-and-riddle.jpg": cabinet.basket_and_riddle,
    "jumbo-board.jpg": cabinet.jumbo_board,
    "sand-pilot.jpg": sitters.sand_pilot,
    "brobs-on-the-route.jpg": shore.brobs,
    "cart-at-the-ford.tif": shore.cart_at_the_ford,
    "cart-wheel-detail.jpg": cabinet.cart_wheel,
    "carrier-portrait.jpg": sitters.carrier,
    "ferry-stage.jpg": shore.ferry_stage,
    "ferry-lamp-sketch.jpg": cabinet.ferry_lamp,
    "village-low-tide.jpg": shore.village,
    "map-of-the-crossing.jpg": plates.chart,
}
FRAMES: dict[str, Callable[[], Array]] = {
    "first-light-01.jpg": staged.first_light,
    "first-light-02.jpg": lambda: staged.first_light(gain=7.5, seed=102),
    "first-light-03.jpg": lambda: staged.first_light(warm=True, seed=103),
    "first-light-04.jpg": lambda: staged.first_light(lantern=False, seed=104),
    "first-light-ball.jpg": lambda: staged.first_light(seed=105, ball_from=(staged.LIGHT_TILT_DEG,)),
    "first-light-fooled.jpg": lambda: staged.first_light(seed=106, ball_from=(0.0, 180.0)),
    "pilots-crossing-01.jpg": staged.pilots_crossing,
}
TABLES: dict[str, Callable[[], str]] = {
    "frames/shoot/known.csv": shoots.known,
    "sittings.csv": sittings.sittings,
    "viewers.csv": sittings.viewers,
    "walls.csv": sittings.walls,
}
ENGRAVED = frozenset(
    (
        "gatherers-engraving.jpg",
        "gatherers-engraving-crop.jpg",
        "basket-and-riddle.jpg",
        "cart-wheel-detail.jpg",
        "ferry-stage.jpg",
        "fashion-plate.jpg",
        "map-of-the-crossing.jpg",
    )
)
ORIENTATION = 0x0112
TURNED = 6  # stored a quarter turn anticlockwise; a viewer turns it clockwise
DEEP_SIZE = (1200, 825)


def save(pixels: Array, path: Path) -> None:
    """Write a picture in the form its name asks for."""
    pixels = np.clip(pixels, 0, 255)
    if path.suffix == ".tif":
        _save_deep(pixels, path)
        return
    image = Image.fromarray(np.round(pixels).astype(np.uint8))
    if path.suffix == ".png":
        image.save(path, optimize=True)
        return
    how: dict[str, object] = {"quality": 78 if path.name in ENGRAVED else 86, "optimize": True, "subsampling": 2}
    if path.name == "carrier-portrait.jpg":
        exif = Image.Exif()
        exif[ORIENTATION] = TURNED
        image = image.transpose(Image.Transpose.ROTATE_90)
        how["exif"] = exif
    if path.name == "village-low-tide.jpg":
        how["icc_profile"] = _profile()
    image.save(path, **how)  # type: ignore[arg-type]


def expose(take: shoots.Take, path: Path) -> None:
    """Write a frame of a shoot as a camera would: sRGB, with the moment and the exposure in its EXIF."""
    image = Image.fromarray(np.round(shoots.expose(take)).astype(np.uint8))
    image.save(path, quality=88, optimize=True, subsampling=0, icc_profile=_profile(), exif=shoots.exif(take))


def _profile() -> bytes:
    """An sRGB profile without the hour of its making, so that the file is the same every time."""
    data = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    data[24:36] = np.array([1900, 1, 1, 0, 0, 0], ">u2").tobytes()
    return bytes(data)


def _save_deep(pixels: Array, path: Path) -> None:
    """A 16-bit RGB TIFF, compressed."""
    import tifffile

    bands = [np.asarray(Image.fromarray(pixels[..., k]).resize(DEEP_SIZE, Image.Resampling.LANCZOS)) for k in range(3)]
    deep = np.round(np.clip(np.stack(bands, -1), 0, 255) * 257 / 64) * 64
    tifffile.imwrite(
        path,
        np.clip(deep, 0, 65535).astype(np.uint16),
        photometric="rgb",
        compression="zlib",
        predictor=True,
        metadata=None,
        software=False,
    )


def draw(names: list[str], into: Path) -> None:
    """Draw the named pictures and frames under `into`."""
    for folder, works in (("pictures", PICTURES), ("frames", FRAMES)):
        (into / folder).mkdir(parents=True, exist_ok=True)
        for name, work in works.items():
            if not names or name in names:
                save(work(), into / folder / name)
                print(folder, name, flush=True)
    for name, take in shoots.SHOOT.items():
        if not names or name in names:
            folder = f"frames/shoot/{take.scene}"
            (into / folder).mkdir(parents=True, exist_ok=True)
            expose(take, into / folder / name)
            print(folder, name, flush=True)
    for path, written in TABLES.items():
        if not names or path.rpartition("/")[2] in names:
            (into / path).parent.mkdir(parents=True, exist_ok=True)
            (into / path).write_text(written(), encoding="utf-8", newline="\n")
            print(path, flush=True)


def main() -> None:
    """Read the command line and draw."""
    parser = argparse.ArgumentParser(description="Draw the sample pictures and frames.")
    parser.add_argument("names", nargs="*", metavar="NAME")
    parser.add_argument("--into", type=Path, default=HERE)
    given = parser.parse_args()
    tables = {path.rpartition("/")[2] for path in TABLES}
    unknown = [name for name in given.names if name not in {*PICTURES, *FRAMES, *shoots.SHOOT, *tables}]
    if unknown:
        parser.error(f"no picture or frame is called {', '.join(unknown)}")
    draw(given.names, given.into)


if __name__ == "__main__":
    main()
