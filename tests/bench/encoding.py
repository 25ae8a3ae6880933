"""How many pictures a second OpenCLIP's shapes encode, beside the bare model and beside what a machine can decode.

python tests/bench/encoding.py [--device cuda] [--models ViT-B-32,ViT-L-14] [--pictures N] [--seconds S]

Weights are random (speed does not depend on them) and come in through `refarchive.encoders.openclip.load` as a
checkpoint does. A picture counts with its whole and five tiles: six go through the model. Every rate is the best of
some rounds in the same run:

- bare: the model alone, in the precision and batch named, on pixels that lie on the device already;
- ours: `encode_parts` on pictures that lie decoded in memory, which makes their parts ready and brings them over;
- decoding: JPEG files of 12 megapixels through `open_picture`, in as many threads as there are cores;
- ours, files: decoding ahead in threads and encoding the parts, as gathering does, without keeping anything.

The drift of a precision is told as the smallest cosine between its vectors and those in float32.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import tempfile
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import replace
from itertools import product
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import open_clip
import torch
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[2]))
from refarchive.encoders import openclip
from refarchive.encoders.base import encode_parts
from refarchive.encoders.contrastive import OpenCLIP, Running
from refarchive.records.files import PREVIEW_SIDE, open_picture
from refarchive.search.vectors import boxes

PRECISIONS = ("float32", "float16", "bfloat16")
BATCHES = (32, 96, 256, 512, 1024)
GROUP = 16  # pictures whose crops are encoded together, as gathering does
CROPS = 6


def rate(work: Callable[[], int], device: str, seconds: float) -> float:
    """How many a second, the best of the rounds that fit into `seconds`, after one that does not count."""
    work()
    best, end = 0.0, time.perf_counter() + seconds
    while True:
        settled(device)
        start = time.perf_counter()
        count = work()
        settled(device)
        best = max(best, count / (time.perf_counter() - start))
        if time.perf_counter() >= end:
            return best


def settled(device: str) -> None:
    """Wait for the card."""
    if device == "cuda":
        torch.cuda.synchronize()


def drawn(folder: Path, count: int) -> list[Path]:
    """JPEG files of 4000 × 3000 pixels whose detail falls off as a photograph's does (amplitude as 1 / frequency)."""
    rng = np.random.default_rng(7)
    files = []
    fy, fx = np.fft.fftfreq(3000)[:, None], np.fft.rfftfreq(4000)[None, :]
    fall = 1 / np.maximum(np.hypot(fy, fx), 1 / 4000)
    for number in range(count):
        planes = []
        for _ in range(3):
            noise = rng.standard_normal((3000, 2001)) + 1j * rng.standard_normal((3000, 2001))
            plane = np.fft.irfft2(noise * fall, s=(3000, 4000))
            planes.append(127 + 50 * plane / plane.std())
        path = folder / f"{number}.jpg"
        Image.fromarray(np.clip(np.stack(planes, 2), 0, 255).astype(np.uint8)).save(path, quality=90)
        files.append(path)
    return files


def loaded(model: str, folder: Path) -> OpenCLIP:
    """The encoder with random weights, as it is loaded from a checkpoint file."""
    path = folder / f"{model}.pt"
    torch.manual_seed(1)
    torch.save(open_clip.create_model(model).state_dict(), path)
    return openclip.load(f"openclip:{model}:{path}")


def bare(encoder: OpenCLIP, precision: str, batch: int, seconds: float) -> float:
    """Crops a second of the model alone, on pixels that lie on the device."""
    model, side = encoder._model, encoder._model.visual.image_size
    side = side if isinstance(side, int) else side[0]
    pixels = torch.randn(batch, 3, side, side, device=encoder.device)
    encoder.running = replace(encoder.running, precision=precision)

    def work() -> int:
        with torch.inference_mode(), encoder._shorter():
            model.encode_image(pixels, normalize=True)
        return batch

    return rate(work, encoder.device, seconds)


def decoded_ahead(files: Sequence[Path], threads: int) -> Iterator[Image.Image]:
    """Pictures in order, decoded in threads that run ahead."""
    with ThreadPoolExecutor(threads) as pool:
        waiting = deque(pool.submit(open_picture, path, PREVIEW_SIDE) for path in files[: 4 * threads])
        rest = iter(files[4 * threads :])
        while waiting:
            yield waiting.popleft().result()
            if (path := next(rest, None)) is not None:
                waiting.append(pool.submit(open_picture, path, PREVIEW_SIDE))


def opened(path: Path) -> int:
    """One picture decoded, and counted."""
    open_picture(path, PREVIEW_SIDE)
    return 1


def whole(encoder: OpenCLIP, files: Sequence[Path], threads: int) -> int:
    """Decode, cut and encode; how many pictures."""
    group: list[Image.Image] = []
    for picture in decoded_ahead(files, threads):
        group.append(picture)
        if len(group) == GROUP:
            encode_parts(encoder, group, [boxes(one.size) for one in group])
            group = []
    if group:
        encode_parts(encoder, group, [boxes(one.size) for one in group])
    return len(files)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--models", default="ViT-B-32,ViT-L-14")
    asked.add_argument("--pictures", type=int, default=256, help="files decoded in one round")
    asked.add_argument("--seconds", type=float, default=3.0, help="at least so long for each rate")
    asked.add_argument("--batches", default=",".join(map(str, BATCHES)))
    asked.add_argument("--precisions", default=",".join(PRECISIONS))
    asked.add_argument("--resizing", default="pillow,card")
    asked.add_argument("--threads", default="4,8,16", help="making pictures ready")
    asked.add_argument("--decoding", default="4,8,16", help="threads that decode ahead")
    wanted = asked.parse_args()
    cores = len(os.sched_getaffinity(0))
    card = torch.cuda.get_device_name() if torch.cuda.is_available() else platform.processor() or platform.machine()
    print(f"{card}, {cores} cores, torch {torch.__version__}, open_clip {open_clip.__version__}", flush=True)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        own = drawn(folder, 16)
        files = [own[n % len(own)] for n in range(wanted.pictures)]

        def decoding() -> int:
            return sum(1 for _ in decoded_ahead(files, cores))

        limit = rate(decoding, "cpu", wanted.seconds)
        print(f"decoding, {cores} threads: {limit:.1f} pictures a second", flush=True)
        with ProcessPoolExecutor(cores, mp_context=get_context("spawn")) as pool:
            beside = rate(lambda: sum(pool.map(opened, files, chunksize=4)), "cpu", wanted.seconds)
        print(f"decoding, {cores} processes that hand nothing back: {beside:.1f} pictures a second", flush=True)
        pictures = [open_picture(path, PREVIEW_SIDE) for path in own]
        for model in wanted.models.split(","):
            measured(model, folder, wanted, pictures, files, limit)


def measured(
    model: str, folder: Path, wanted: argparse.Namespace, pictures: list[Image.Image], files: list[Path], limit: float
) -> None:
    """Print all rates of one model."""
    encoder = loaded(model, folder)
    chosen = encoder.running
    print(f"\n{model}, random weights, chosen: {chosen}")
    encoder.running = Running(32, "float32", chosen.threads, "pillow")
    parts = [boxes(picture.size) for picture in pictures]
    exact = encoder.encode_parts(pictures, parts).likeness
    for precision in wanted.precisions.split(","):
        encoder.running = Running(32, precision, chosen.threads, "pillow")
        drift = float((encoder.encode_parts(pictures, parts).likeness * exact).sum(1).min())
        for batch in map(int, wanted.batches.split(",")):
            alone = bare(encoder, precision, batch, wanted.seconds / 3)
            print(f"{precision:9} batch {batch:5}: bare {alone:6.0f} crops/s, cosine {drift:.6f}", end="", flush=True)
            for resizing, threads in product(wanted.resizing.split(","), map(int, wanted.threads.split(","))):
                encoder.running = Running(batch, precision, threads, resizing)
                agreed = float((encoder.encode_parts(pictures, parts).likeness * exact).sum(1).min())
                ours = rate(
                    lambda: len(encoder.encode_parts(pictures, parts).likeness), encoder.device, wanted.seconds / 3
                )
                print(f"; {resizing}, {threads} threads {ours:.0f} (cosine {agreed:.6f})", end="", flush=True)
            print()
    best = bare(encoder, chosen.precision, chosen.batch, wanted.seconds) / CROPS
    encoder.running = chosen
    for threads in map(int, wanted.decoding.split(",")):
        found = rate(lambda: whole(encoder, files, threads), encoder.device, wanted.seconds)  # noqa: B023
        print(
            f"from files, {threads} decoding threads: {found:.1f} pictures/s; {found / limit:.2f} of decoding "
            f"({limit:.1f}), {found / best:.2f} of the bare model ({best:.1f})",
            flush=True,
        )


if __name__ == "__main__":
    main()
