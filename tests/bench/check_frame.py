"""How long a check takes beside the bare library calls that do the same arithmetic; run by hand, never by the tests.

python tests/bench check_frame

One drawn frame of 24 megapixels against twelve references, all measures but likeness (whose time is the encoder's). The
bare side decodes the same files with Pillow, reduces them with the same filter to the same sizes, calls scikit-learn,
POT, colour and NumPy for what each measure is made of, with nothing of ours around it.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from functools import partial
from itertools import combinations
from pathlib import Path

import numpy as np
from PIL import Image
from table import Row, best, memory_mb

from refarchive.frames.check import ReferenceLook, check_frame
from refarchive.frames.studied import study_frame
from refarchive.looks import colour
from refarchive.records.files import open_picture
from refarchive.records.model import Intent, PaletteColour, Reference

SIDE, REFERENCES, ROUNDS = 1600, 12, 3
INTENT = Intent(
    palette=(PaletteColour("#1c2530", 0.6), PaletteColour("#6f7f8c", 0.4)), key=45.0, key_tolerance=60.0,
    contrast=50.0, contrast_tolerance=60.0, palette_tolerance=90.0,
)  # fmt: skip


def drawn(size: tuple[int, int], seed: int) -> Image.Image:
    """Soft fields of colour with grain."""
    random = np.random.default_rng(seed)
    small = random.integers(0, 256, (12, 18, 3), dtype=np.uint8)
    soft = np.asarray(Image.fromarray(small).resize(size, Image.Resampling.BICUBIC), np.int16)
    return Image.fromarray(np.clip(soft + random.integers(-9, 10, soft.shape), 0, 255).astype(np.uint8))


def ours(frame: Path, references: list[Path]) -> None:
    """The check as the archive makes it, decoding included."""
    looks = [
        ReferenceLook(
            Reference(f"r{n}", "image", f"R{n}", path.name), np.asarray(open_picture(path, longest=SIDE)), None, []
        )
        for n, path in enumerate(references)
    ]
    picture = np.asarray(open_picture(frame, longest=SIDE))
    check_frame(frame_picture=picture, intent=INTENT, needs=(), notes=(), references=looks)
    study_frame(picture)


def bare(frame: Path, references: list[Path]) -> None:
    """The same arithmetic by library calls."""
    import ot
    from sklearn.cluster import KMeans

    palettes, values = [], []
    for path in (frame, *references):
        with Image.open(path) as image:
            image.draft(None, (SIDE, SIDE))
            image.thumbnail((SIDE, SIDE), Image.Resampling.LANCZOS, reducing_gap=3.0)
            pixels = np.asarray(image.convert("RGB"))
        light = colour.linear(pixels)
        for pixels_kept, into in ((colour.PALETTE_PIXELS, palettes), (65_536, values)):
            rows = max(1, round(light.shape[0] * (pixels_kept / (light.shape[0] * light.shape[1])) ** 0.5))
            columns = max(1, pixels_kept // rows)
            planes = [
                np.asarray(
                    Image.fromarray(light[..., k].astype(np.float32)).resize((columns, rows), Image.Resampling.BOX)
                )
                for k in range(3)
            ]
            small = np.stack(planes, axis=-1).astype(np.float64)
            if into is palettes:
                lab = colour.linear_to_lab(small.reshape(-1, 3))
                found = KMeans(8, n_init=4, random_state=0, algorithm="lloyd").fit(lab)
                into.append((found.cluster_centers_, np.bincount(found.labels_, minlength=8) / len(lab)))
            else:
                into.append(np.sort(small.reshape(-1, 3) @ colour.LUMINANCE))
            if into is values and path is not frame:  # the chroma that tells monochrome pictures
                np.percentile(np.hypot(*lab.T[1:]), 95.0)
        if path is frame:
            studied(pixels, small)
    pairs = [(0, n) for n in range(1, len(palettes))] + list(combinations(range(1, len(palettes)), 2))
    for one, other in pairs:
        ground = colour.delta_e_2000(palettes[one][0][:, None], palettes[other][0][None])
        ot.emd2(palettes[one][1], palettes[other][1], np.ascontiguousarray(ground))
        size = min(len(values[one]), len(values[other]))
        np.abs(values[one][:size] - values[other][:size]).mean()


def studied(pixels: np.ndarray, light: np.ndarray) -> None:
    """The library calls that studies of one frame are made of: blurred bands, masses, edges, clipped areas."""
    import cv2

    for levels in (3, 5):
        blurred = cv2.GaussianBlur(light @ colour.LUMINANCE, (0, 0), 3.0)
        bands = np.digitize(np.cbrt(blurred) * 116 - 16, np.arange(1, levels) * 100 / levels)
        for level in range(levels):
            cv2.connectedComponentsWithStats((bands == level).astype(np.uint8), connectivity=4)
    grey = cv2.resize(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), (640, 427), interpolation=cv2.INTER_AREA)
    for _ in range(2):  # dominant directions, vanishing points
        cv2.createLineSegmentDetector().detect(grey)
    for clipped in ((pixels >= 254).all(axis=-1), (pixels <= 1).all(axis=-1)):
        cv2.connectedComponentsWithStats(clipped.astype(np.uint8), connectivity=8)


def rows(*megapixels: int) -> Iterator[Row]:
    """Both times for a frame of so many megapixels (24 unless said otherwise), and the memory that the check takes."""
    for size in megapixels or (24,):
        wide = round((size * 1.5e6) ** 0.5)
        with tempfile.TemporaryDirectory() as folder:
            frame = Path(folder) / "frame.jpg"
            drawn((wide, round(wide / 1.5)), 0).save(frame, quality=90)
            references = []
            for n in range(REFERENCES):
                references.append(Path(folder) / f"{n}.jpg")
                drawn((1800, 1300), n + 1).save(references[-1], quality=88)
            drawn((300, 200), 0).save(Path(folder) / "small.png")
            ours(Path(folder) / "small.png", [Path(folder) / "small.png"] * 3)  # libraries loaded
            Path("/proc/self/clear_refs").write_text("5")  # the peak starts anew; Linux only
            before = memory_mb()
            ours(frame, references)
            more = memory_mb("VmHWM") - before
            bare(frame, references)
            own, other = (best(partial(work, frame, references), ROUNDS) for work in (ours, bare))
        told = f"{size} megapixels, {REFERENCES} references"
        yield Row("check of a frame", told, own, other, "at most 1.5 times", against="Pillow, scikit-learn, POT, NumPy")
        yield Row("check of a frame: more memory at its peak", told, more, unit="MB")
