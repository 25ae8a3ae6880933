"""A light encoder, small pictures and one scene, so that a run that is to be killed takes a moment and not a minute.

What is tested is how files and rows come to the disk, which does not depend on what a vector says.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image

import refarchive
from refarchive.archive import Archive
from refarchive.encoders import base, sentences
from refarchive.jobs.references import palettes

SCENE = """[scene]
title = "{title}"
slug = "ford"
event = "A cart crosses"
story = "The pilot goes before."
date = "1869"

[[need]]
name = "Lantern"
department = "props"
[[need.evidence]]
reference = "p0.jpg"
relation = "shows"
region = [0.1, 0.1, 0.3, 0.3]
note = "The ring."
"""


class Quick:
    """Mean colours of pictures, digests of words."""

    def __init__(self, name: str) -> None:
        self._name = name

    @property
    def identity(self) -> base.Identity:
        return base.Identity(self._name, hashlib.sha256(self._name.encode()).hexdigest(), 48, 0, "4 × 4 mean colours")

    def encode_pictures(self, pictures: Sequence[Image.Image]) -> base.PictureCodes:
        rows = [np.asarray(p.resize((4, 4), Image.Resampling.BOX), np.float32).reshape(-1) - 127.5 for p in pictures]
        stacked = np.stack(rows)
        return base.PictureCodes((stacked / np.linalg.norm(stacked, axis=1, keepdims=True)).astype(np.float32), None)

    def word_space(self, meaning: np.ndarray) -> np.ndarray:
        return meaning

    def encode_words(self, texts: Sequence[str]) -> np.ndarray:
        rows = [np.frombuffer(hashlib.sha512(t.encode()).digest()[:48], np.uint8) for t in texts]
        centred = np.stack(rows).astype(np.float32) - 127.5
        return (centred / np.linalg.norm(centred, axis=1, keepdims=True)).astype(np.float32)


class QuickSentences(Quick):
    """The same in place of the sentence encoder."""

    def __init__(self) -> None:
        super().__init__("quick-sentences")

    encode = Quick.encode_words


def install() -> None:
    """Register the encoder "quick", and put a light one in place of the sentence encoder, in this process."""
    if "quick" not in base.registered():
        base.register("quick", lambda name, progress: Quick(name))
    light = QuickSentences()
    sentences.shared = lambda: light  # type: ignore[assignment,return-value]


def light_palettes(pause_s: float = 0.0) -> None:
    """Put mean colours in place of palettes, which take most of the time of a small picture, in this process.

    With a pause each takes so long at least: a run of few pictures can then be met before it ends.
    """

    def row(picture: np.ndarray) -> np.ndarray:
        time.sleep(pause_s)
        small = Image.fromarray(picture).resize((4, 4), Image.Resampling.BOX)
        return np.resize(np.asarray(small, np.float32).reshape(-1), palettes.WIDTH)

    palettes.palette_row = row  # type: ignore[assignment]


def scans(folder: Path, pictures: int = 20) -> Path:
    """A folder with pictures and texts."""
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(pictures):
        blocks = np.random.default_rng(number).integers(0, 256, (6, 8, 3), dtype=np.uint8)
        Image.fromarray(blocks).resize((160, 120), Image.Resampling.NEAREST).save(folder / f"p{number}.jpg")
    for number in range(3):
        (folder / f"letter{number}.txt").write_text(
            f"The pilot went before, {number}.\n\nA lamp hung there.\n", "utf-8"
        )
    return folder


def made(folder: Path, sources: Path, *, scene: bool = False) -> Path:
    """An archive with everything at `sources`, closed."""
    with refarchive.create(folder, "quick", who="tester") as archive:
        archive.gather(sources)
        if scene:
            plan(archive)
    return folder


def plan(archive: Archive, title: str = "At the ford") -> None:
    """Keep the scene."""
    archive.plan(SCENE.format(title=title))
