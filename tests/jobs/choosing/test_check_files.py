"""A check of whole files: one picture in many forms measures alike, and the oddest pictures are checked or refused."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa
import tifffile
from PIL import Image, ImageCms
from skimage import data
from wide_profile import matrix_profile

from refarchive.archive import Archive
from refarchive.errors import RefArchiveError, SourceRefused
from refarchive.jobs.choosing.checking import Checked
from refarchive.looks import colour
from refarchive.records.files import GROUND

PLAN = """[scene]
title = "Cup"
event = "e"
story = "s"
[intent]
key = 40
contrast = 60
warmth_k = 4000
horizon = 0.4
blown_most = 0.01
blocked_most = 0.01
light_tilt_deg = 90
palette = [ { hex = "#8a6f4d", share = 0.6 }, { hex = "#2f3e4e", share = 0.4 } ]
"""
BALL = {"light": (0.3, 0.3, 0.4, 0.4)}


def photograph() -> np.ndarray:
    return data.coffee()[:400, :600]


def figures(checked: Checked) -> dict[str, float]:
    lines = {line.measure: line for line in checked.lines if line.against == "intent"}
    found = {name: float(lines[name].frame) for name in ("key", "contrast", "warmth", "blown out", "blocked up")}
    dark = next(words for _, (_, words) in checked.studied.studies.items())
    return found | {"palette": float(lines["palette"].difference or 0), "dark": float(dark.split()[1])}


WIDE = {"Adobe RGB (1998)": 2.19921875, "Display P3": 2.2, "ITU-R BT.2020": 2.4}


def wide(path: Path, name: str) -> None:
    """The same colours with other numbers, at 16 bits, under a profile that says so."""
    import colour as science

    linear = science.RGB_to_RGB(colour.linear(photograph()), "sRGB", name, "Bradford")
    numbers = np.rint(65535 * np.clip(linear, 0, 1) ** (1 / WIDE[name])).astype(np.uint16)
    assert np.abs(numbers / 257.0 - photograph()).max() > 5
    tifffile.imwrite(path, numbers, photometric="rgb", iccprofile=matrix_profile(name, WIDE[name]))


def turned(path: Path, orientation: int) -> None:
    """Stored turned, with a tag that turns it back."""
    back = {3: 2, 6: 1, 8: 3}[orientation]  # quarter turns anticlockwise that undo what a viewer will do
    exif = Image.Exif()
    exif[0x0112] = orientation
    Image.fromarray(np.rot90(photograph(), back)).save(path, exif=exif)


SAVED: dict[str, Callable[[Path], Any]] = {
    "png": lambda p: Image.fromarray(photograph()).save(p.with_suffix(".png")),
    "tiff of 16 bits": lambda p: tifffile.imwrite(
        p.with_suffix(".tif"), photograph().astype(np.uint16) * 257, photometric="rgb"
    ),
    "jpeg": lambda p: Image.fromarray(photograph()).save(p.with_suffix(".jpg"), quality=95, subsampling=0),
    "webp": lambda p: Image.fromarray(photograph()).save(p.with_suffix(".webp"), lossless=True),
    "opaque alpha": lambda p: Image.fromarray(np.dstack([photograph(), np.full((400, 600), 255, np.uint8)])).save(
        p.with_suffix(".png")
    ),
    "a broken profile": lambda p: Image.fromarray(photograph()).save(p.with_suffix(".png"), icc_profile=b"\0" * 200),
    "a profile cut short": lambda p: Image.fromarray(photograph()).save(
        p.with_suffix(".png"), icc_profile=ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()[:300]
    ),
    **{f"orientation {n}": (lambda p, n=n: turned(p.with_suffix(".png"), n)) for n in (3, 6, 8)},
    **{f"the primaries of {name}": (lambda p, name=name: wide(p.with_suffix(".tif"), name)) for name in WIDE},
}
# What may differ: levels of 8 bits, JPEG's rounding, colours of a wide profile at the edge of sRGB.
BOUNDS = {
    "key": 0.6,
    "contrast": 1.0,
    "warmth": 60.0,
    "blown out": 0.004,
    "blocked up": 0.01,
    "palette": 0.6,
    "dark": 2.0,
}


@pytest.fixture
def planned(archive: Archive) -> Archive:
    archive.plan(PLAN)
    return archive


@pytest.mark.parametrize("form", [form for form in SAVED if form != "png"])
def test_a_picture_measures_alike_in_every_form(planned: Archive, tmp_path: Path, form: str) -> None:
    for name, save in (("plain", SAVED["png"]), ("other", SAVED[form])):
        (tmp_path / name).mkdir()
        save(tmp_path / name / name)
    plain, other = (figures(planned.check("cup", next((tmp_path / name).iterdir()))) for name in ("plain", "other"))
    for name, bound in BOUNDS.items():
        assert other[name] == pytest.approx(plain[name], abs=bound), name


def test_ink_on_paper_and_grey_are_checked_too(planned: Archive, tmp_path: Path) -> None:
    ink = Image.fromarray(photograph()).convert("CMYK")
    ink.save(tmp_path / "ink.jpg", quality=95)
    ink.save(tmp_path / "ink.tif")
    jpeg, tiff = (figures(planned.check("cup", tmp_path / name)) for name in ("ink.jpg", "ink.tif"))
    assert tiff["key"] == pytest.approx(jpeg["key"], abs=0.6)
    grey = photograph().mean(axis=2)
    Image.fromarray(grey.astype(np.uint8)).save(tmp_path / "grey.png")
    tifffile.imwrite(tmp_path / "grey.tif", np.rint(grey * 257).astype(np.uint16))
    eight, sixteen = (figures(planned.check("cup", tmp_path / name)) for name in ("grey.png", "grey.tif"))
    assert sixteen["key"] == pytest.approx(eight["key"], abs=0.6)
    assert eight["warmth"] == pytest.approx(6504, abs=30)  # a grey is as warm as the white of sRGB


def test_what_shines_through_lies_on_mid_grey(planned: Archive, tmp_path: Path) -> None:
    clear = np.dstack([photograph(), np.zeros((400, 600), np.uint8)])
    Image.fromarray(clear).save(tmp_path / "clear.png")
    key = next(line for line in planned.check("cup", tmp_path / "clear.png").lines if line.measure == "key")
    grey = colour.srgb_to_lab(np.array(GROUND, np.uint8))
    assert key.frame == pytest.approx(float(grey[0]), abs=1e-3)


@pytest.mark.parametrize(
    ("shape", "value"),
    [((1, 1), 90), ((1, 900), 90), ((600, 1), 90), ((400, 800), None), ((90, 120), 0), ((90, 120), 255)],
)
@pytest.mark.parametrize("report", ["html", "pdf"])
def test_the_oddest_pictures_are_checked(
    planned: Archive, tmp_path: Path, shape: tuple[int, int], value: int | None, report: str
) -> None:
    noise = np.random.default_rng(0).integers(0, 256, (*shape, 3), dtype=np.uint8)
    Image.fromarray(noise if value is None else np.full((*shape, 3), value, np.uint8)).save(tmp_path / "odd.png")
    checked = planned.check("cup", tmp_path / "odd.png", regions=BALL, out=tmp_path / f"odd.{report}")
    assert checked.report is not None
    assert checked.report.stat().st_size > 2_000
    told = {line.measure: line for line in checked.lines}
    assert told["light"].verdict == told["horizon"].verdict == "cannot tell"
    if value in (0, 255):
        assert told["warmth"].verdict == "cannot tell"
        assert told["blocked up" if value == 0 else "blown out"].frame == 1.0


def counts(archive: Archive) -> dict[str, int]:
    engine = sa.create_engine(f"sqlite:///{archive.folder / 'archive.sqlite'}")
    with engine.connect() as connection:
        names = sa.inspect(connection).get_table_names()
        return {name: connection.execute(sa.text(f'SELECT count(*) FROM "{name}"')).scalar_one() for name in names}


@pytest.mark.parametrize(
    "region",
    [
        (0.5, 0.5, 0.6, 0.1),
        (0.2, 0.2, 0.0, 0.1),
        (-0.1, 0, 0.2, 0.2),
        (float("nan"), 0, 0.2, 0.2),
        (0, 0, float("inf"), 1),
    ],
)
def test_a_refusal_leaves_nothing_behind(planned: Archive, tmp_path: Path, region: tuple[float, ...]) -> None:
    Image.fromarray(photograph()).save(tmp_path / "cup.png")
    before, files = counts(planned), sorted(planned.folder.rglob("originals/*/*"))
    with pytest.raises(RefArchiveError):
        planned.check("cup", tmp_path / "cup.png", regions={"light": region}, out=tmp_path / "out.html")
    (tmp_path / "cut.png").write_bytes((tmp_path / "cup.png").read_bytes()[:4_000])
    with pytest.raises(SourceRefused):
        planned.check("cup", tmp_path / "cut.png", out=tmp_path / "out.html")
    assert counts(planned) == before
    assert sorted(planned.folder.rglob("originals/*/*")) == files
    assert not (tmp_path / "out.html").exists()
