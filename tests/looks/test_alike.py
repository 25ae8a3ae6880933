"""Hashes, structural similarity and percentiles against other libraries and the paper."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from refarchive.errors import CannotMeasure
from refarchive.looks import alike

AUTHORITIES = Path(__file__).parents[1] / "authorities"


def hashes() -> list[dict[str, str]]:
    lines = (AUTHORITIES / "picture_hashes.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def shipped(name: str) -> np.ndarray:
    from skimage import data

    picture = getattr(data, name)()
    return picture if picture.ndim == 3 else np.repeat(picture[:, :, None], 3, axis=2)


@pytest.mark.parametrize("row", hashes(), ids=lambda row: row["picture"])
def test_hashes_equal_those_of_another_library(row: dict[str, str]) -> None:
    picture = shipped(row["picture"])
    # Two bits of slack: another version of the resampler may move a cell across its threshold.
    assert alike.bits_apart(alike.difference_hash(picture), int(row["dhash"], 16)) <= 2
    assert alike.bits_apart(alike.frequency_hash(picture), int(row["phash"], 16)) <= 2
    assert alike.difference_hash(picture / 255.0) == alike.difference_hash(picture)


def test_copies_stay_near_and_other_pictures_far() -> None:
    # Bits apart for this picture by ImageHash 4.3.2, frequency and difference hash.
    picture = shipped("astronaut")
    image = Image.fromarray(picture)
    packed = io.BytesIO()
    image.save(packed, "JPEG", quality=30)
    changed = {
        "recompressed": (Image.open(packed).convert("RGB"), 0, 0),
        "half the size": (image.resize((256, 256)), 0, 0),
        "grey": (image.convert("L").convert("RGB"), 0, 0),
        "brighter": (np.clip(picture * 1.3, 0, 255).astype(np.uint8), 2, 2),
        "cropped by 10 %": (image.crop((51, 51, 461, 461)), 22, 23),
        "mirrored": (picture[:, ::-1], 32, 36),
        "inverted": (255 - picture, 62, 64),
    }
    frequency, difference = alike.frequency_hash(picture), alike.difference_hash(picture)
    for name, (other, frequency_bits, difference_bits) in changed.items():
        array = np.asarray(other)
        assert abs(alike.bits_apart(frequency, alike.frequency_hash(array)) - frequency_bits) <= 2, name
        assert abs(alike.bits_apart(difference, alike.difference_hash(array)) - difference_bits) <= 2, name
    others = [alike.bits_apart(frequency, alike.frequency_hash(shipped(n))) for n in ("coffee", "chelsea", "camera")]
    assert min(others) > alike.NEAR_COPY_BITS + 10


def test_ramp_and_flat_pictures() -> None:
    ramp = np.repeat(np.repeat(np.arange(256, dtype=np.uint8)[None], 64, axis=0)[:, :, None], 3, axis=2)
    assert alike.difference_hash(ramp) == 0xFFFFFFFFFFFFFFFF
    assert alike.difference_hash(ramp[:, ::-1]) == 0
    for shape in ((1, 1, 3), (40, 40, 3), (1, 5000, 3)):
        assert alike.difference_hash(np.full(shape, 90, np.uint8)) == 0
        assert alike.frequency_hash(np.full(shape, 90, np.uint8)) == 1 << 63  # the mean alone stands out


def test_bits_apart_counts_bits() -> None:
    assert alike.bits_apart(0b1011, 0b0001) == 2
    for bad in (-1, 1 << 64):
        with pytest.raises(CannotMeasure):
            alike.bits_apart(bad, 0)


def test_structural_similarity_of_constants_is_the_papers_first_term() -> None:
    # Wang et al. 2004: (2ab + C1) / (a² + b² + C1), C1 = (0.01 · 255)² = 6.5025; 100 and 120 → 0.9836109250.
    one, two = (np.full((30, 40, 3), level, np.uint8) for level in (100, 120))
    assert alike.structural_similarity(one, two) == pytest.approx(0.9836109250, abs=1e-9)
    assert alike.structural_similarity(one, one) == pytest.approx(1)


def test_structural_similarity_by_the_papers_formula_written_out() -> None:
    from scipy.ndimage import gaussian_filter

    picture = shipped("camera")[:200, :240]
    other = np.roll(picture, 1, axis=1)
    x, y = picture[..., 0].astype(float), other[..., 0].astype(float)

    def mean(values: np.ndarray) -> np.ndarray:
        return gaussian_filter(values, 1.5, truncate=3.5)

    c1, c2 = (0.01 * 255) ** 2, (0.03 * 255) ** 2
    mx, my = mean(x), mean(y)
    vx, vy, vxy = mean(x * x) - mx * mx, mean(y * y) - my * my, mean(x * y) - mx * my
    full = (2 * mx * my + c1) * (2 * vxy + c2) / ((mx**2 + my**2 + c1) * (vx + vy + c2))
    assert alike.structural_similarity(picture, other) == pytest.approx(full[5:-5, 5:-5].mean(), abs=1e-9)


def test_structural_similarity_refuses_unequal_and_tiny_pictures() -> None:
    with pytest.raises(CannotMeasure, match="differ in size"):
        alike.structural_similarity(np.zeros((20, 20, 3), np.uint8), np.zeros((20, 21, 3), np.uint8))
    with pytest.raises(CannotMeasure, match="smaller"):
        alike.structural_similarity(np.zeros((1, 20, 3), np.uint8), np.zeros((1, 20, 3), np.uint8))


def test_hashes_refuse_what_is_no_picture() -> None:
    for bad in (np.zeros((4, 4), np.uint8), np.full((4, 4, 3), 2.0)):
        with pytest.raises(CannotMeasure):
            alike.difference_hash(bad)
        with pytest.raises(CannotMeasure):
            alike.frequency_hash(bad)


@given(st.integers(0, 9), st.lists(st.integers(0, 9), min_size=1, max_size=40))
def test_percentile_counts_ties_half_as_scipy_does(value: int, population: list[int]) -> None:
    from scipy.stats import percentileofscore

    found = alike.percentile_within(value, population)
    assert found == pytest.approx(percentileofscore(population, value, kind="mean"))
    assert 0 <= found <= 100


def test_percentile_ends() -> None:
    assert alike.percentile_within(5, [1, 2, 3, 4, 5]) == pytest.approx(100 - 50 / 5)
    assert alike.percentile_within(1, [1, 1, 1]) == 50


@pytest.mark.parametrize(("value", "population"), [(1, []), (1, [np.nan]), (np.nan, [1]), (np.inf, [1])])
def test_percentile_refuses_what_has_no_order(value: Any, population: Any) -> None:
    with pytest.raises(CannotMeasure):
        alike.percentile_within(value, population)
