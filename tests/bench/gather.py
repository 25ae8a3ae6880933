"""Gathering: against a bare loop over the same pictures with the same encoder, and a folder that is gathered again.

The bare loop opens each JPEG at reduced size, cuts the whole and the five tiles, and encodes them; it keeps nothing. A
gathering keeps the original and a preview, reads metadata, takes a palette, and brings records and vectors to disk, so
the ratio is what all of that costs beside decoding and encoding. The pictures are photographs' worth of detail: clouds
of noise at several scales.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from PIL import Image
from table import Row

import refarchive
from refarchive.encoders import base
from refarchive.search.vectors import boxes

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from drawn import draw
from tiny_encoder import TinyEncoder

PICTURES, SMALL = 64, 10_000
SIZE = (3600, 2400)
SHOWN = 1600  # long side at which both sides decode
BATCH = 16
ROUNDS = 2
KEPT = 0.85  # least share of the bare loop's pictures a second


def rows(*sizes: int) -> Iterator[Row]:
    """`sizes`: pictures with the encoder that ships, and small pictures with a light one."""
    many, small = (*sizes, *(PICTURES, SMALL)[len(sizes) :])[:2]
    with tempfile.TemporaryDirectory(prefix="bench-gather-") as name:
        place = Path(name)
        yield from _against_bare(place, many)
        yield from _again(place, small)


def _against_bare(place: Path, many: int) -> Iterator[Row]:
    scans = place / "scans"
    scans.mkdir()
    for number in range(many + BATCH):
        _photograph(scans / f"{number:04d}.jpg", number)
    apart = place / "apart"
    apart.mkdir()
    for path in sorted(scans.iterdir())[many:]:
        path.rename(apart / path.name)
    encoder = _shipped()
    with refarchive.create(place / "warm", "built-in") as archive:
        archive.gather(apart)  # what is loaded at first use is loaded here, for both sides
    bare(sorted(apart.iterdir()), encoder)
    own = []
    without = []
    for round_ in range(ROUNDS):
        without.append(_timed(lambda: bare(sorted(scans.iterdir()), encoder)))
        with refarchive.create(place / f"archive-{round_}", "built-in") as archive:
            archive._kit.encoder  # noqa: B018 (loaded, as the bare loop's is)
            own.append(_timed(lambda held=archive: held.gather(scans)))
            assert len(archive) == many
    size = f"{many} JPEGs of {SIZE[0]} × {SIZE[1]}"
    against = "Pillow draft, six crops, same encoder, nothing kept"
    (ours, used), (bare_s, bare_used) = (tuple(map(min, zip(*times, strict=True))) for times in (own, without))
    yield Row(
        what=f"gather with built-in ({many / ours:.1f} pictures a second; bare {many / bare_s:.1f})",
        size=size,
        ours=ours,
        bare=bare_s,
        goal=f"at most {1 / KEPT:.2f} times ({KEPT} of its rate)",
        against=against,
    )
    yield Row("the same, time of all cores together", size, used, bare_used, against=against)


def _again(place: Path, small: int) -> Iterator[Row]:
    scans = place / "small"
    for number in range(small):
        draw(scans / f"{number // 100:03d}/{number:05d}.jpg", number)
    base.register("light", lambda name, progress: TinyEncoder(name))
    with refarchive.create(place / "light", "light") as archive:
        first, used = _timed(lambda: archive.gather(scans))
        assert len(archive) == small
        again = []
        for _ in range(ROUNDS):
            again.append(_timed(lambda: archive.gather(scans)))
        assert archive.gather(scans).unchanged == small
    ours, ours_used = map(min, zip(*again, strict=True))
    size = f"{small:,} JPEGs of 160 × 120, light encoder"
    yield Row(
        what=f"the same folder again, nothing changed (first time {small / first:.0f} pictures a second)",
        size=size,
        ours=ours,
        bare=first,
        goal="at most 0.02 times",
        against="the first time",
    )
    yield Row("the same, time of all cores together", size, ours_used, used, against="the first time")


def _timed(work: Callable[[], object]) -> tuple[float, float]:
    """Seconds by the clock, and seconds of processor time on all cores together."""
    start, used = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - start, time.process_time() - used


def bare(paths: list[Path], encoder: base.Encoder) -> None:
    """Decode at reduced size, cut, encode; nothing is kept."""
    for start in range(0, len(paths), BATCH):
        crops = []
        for path in paths[start : start + BATCH]:
            with Image.open(path) as picture:
                picture.draft("RGB", (SHOWN, SHOWN * SIZE[1] // SIZE[0]))
                picture.thumbnail((SHOWN, SHOWN), reducing_gap=3.0)
                crops += [picture.crop(box) for box in boxes(picture.size)]
        encoder.encode_pictures(crops)


def _shipped() -> base.Encoder:
    import refarchive.encoders  # noqa: F401 (registers those that ship)

    return base.load("built-in")


def _photograph(path: Path, seed: int) -> None:
    """Noise at four scales: about as hard to decode and as large on disk as a photograph of its size."""
    random = np.random.default_rng(seed)
    width, height = SIZE
    total = np.zeros((height // 2, width // 2, 3), np.float32)
    for scale, weight in ((300, 90), (60, 50), (12, 25), (2, 12)):
        part = random.uniform(-1, 1, (height // scale + 1, width // scale + 1, 3)).astype(np.float32)
        for channel in range(3):
            layer = Image.fromarray(part[:, :, channel]).resize((width // 2, height // 2), Image.Resampling.BICUBIC)
            total[:, :, channel] += weight * np.asarray(layer)
    picture = Image.fromarray(np.clip(total + 120, 0, 255).astype(np.uint8)).resize(SIZE, Image.Resampling.BICUBIC)
    picture.save(path, quality=90)
