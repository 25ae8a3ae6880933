"""Trust over an archive: right where the encoder is right, kept while nothing changes, measured anew when it does."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from drawn import draw
from PIL import Image

import refarchive
from refarchive.archive import Archive
from refarchive.cli import cli
from refarchive.encoders import base
from refarchive.jobs.references import trusting


class Knowing:
    """Knows ten colours by name and nothing else: captions that name the picture's colour are always right."""

    COLOURS = np.array([[(n * 67) % 256, (n * 151) % 256, (n * 29) % 256] for n in range(12)], np.float32)
    knows = True

    @property
    def identity(self) -> base.Identity:
        return base.Identity("knowing", "0" * 64, 12, 0, "mean colour")

    def _code(self, rgb: np.ndarray) -> np.ndarray:
        near = np.exp(-(np.linalg.norm(self.COLOURS - rgb, axis=1) ** 2) / 200) + 1e-6
        return (near / np.linalg.norm(near)).astype(np.float32)

    def encode_pictures(self, pictures: list[Image.Image]) -> base.PictureCodes:
        means = [self._code(np.asarray(p, np.float32).reshape(-1, 3).mean(axis=0)) for p in pictures]
        return base.PictureCodes(np.stack(means) if means else np.zeros((0, 12), np.float32), None)

    def word_space(self, meaning: np.ndarray) -> np.ndarray:
        return meaning

    def encode_words(self, texts: list[str]) -> np.ndarray:
        numbers = [int(t.split()[1].rstrip(".")) if self.knows else 0 for t in texts]
        return np.stack([self._code(self.COLOURS[n]) for n in numbers])


base.register("knowing", lambda name, progress: Knowing())
base.register("ignorant", lambda name, progress: type("Ignorant", (Knowing,), {"knows": False})())


def coloured(tmp_path: Path, encoder: str) -> Archive:
    folder = tmp_path / "in"
    folder.mkdir(exist_ok=True)
    rows = ["file,title,description"]
    for n, rgb in enumerate(Knowing.COLOURS):
        Image.new("RGB", (60, 40), tuple(int(v) for v in rgb)).save(folder / f"{n}.png")
        rows.append(f"{n}.png,Colour {n},Nothing but it")
    (folder / "sheet.csv").write_text("\n".join(rows), "utf-8")
    archive = refarchive.create(tmp_path / encoder, encoder)
    archive.gather(sheet=folder / "sheet.csv")
    return archive


def test_an_encoder_that_knows_is_always_right(tmp_path: Path) -> None:
    with coloured(tmp_path, "knowing") as archive:
        found = archive.trust()
        assert found.caption_first is not None
        assert found.detail_finds_whole is not None
        assert (found.caption_first.share, found.detail_finds_whole.share) == (1.0, 1.0)
        assert found.caption_first.chance == pytest.approx(1 / 12)


def test_one_that_knows_nothing_earns_nothing(tmp_path: Path) -> None:
    with coloured(tmp_path, "ignorant") as archive:
        found = archive.trust()
        assert found.caption_first is not None
        assert found.caption_first.share == 0.0  # all captions alike: ties count against


def test_equal_captions_and_families_count_as_right(tmp_path: Path) -> None:
    with coloured(tmp_path, "ignorant") as archive:
        for n in range(12):
            archive.describe(f"{n}.png", title="Colour 3", description="the same")
        found = archive.trust()
        assert found.caption_first is not None
        assert (found.caption_first.share, found.caption_first.chance) == (1.0, 1.0)


def test_kept_until_something_changes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with coloured(tmp_path, "knowing") as archive:
        first = archive.trust()
        measured: list[int] = []
        monkeypatch.setattr(trusting, "_measure", lambda kit, r: measured.append(len(r)) or first)
        assert archive.trust() == first
        assert measured == []
        archive.describe("0.png", title="Colour 1")
        archive.trust()
        assert measured == [12]
        archive.evidence.confirm_family({"0.png": "original", "1.png": "copy"})
        archive.trust()
        assert measured == [12, 12]
        draw(tmp_path / "more" / "x.png", 5)
        archive.gather(tmp_path / "more")
        archive.trust()
        assert measured == [12, 12, 13]


def test_the_command_says_it_in_words_and_as_json(tmp_path: Path) -> None:
    with coloured(tmp_path, "knowing") as archive:
        folder = str(archive.folder)
    told = CliRunner().invoke(cli, ["trust", folder])
    assert "comes first for 100 %" in told.stdout
    data = json.loads(CliRunner().invoke(cli, ["trust", folder, "--json"]).stdout)
    assert data["caption_first"]["of"] == 12
    assert data["encoder"] == "knowing"


def test_a_part_at_a_time_gives_what_all_at_once_gives(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with coloured(tmp_path, "knowing") as archive:
        whole = trusting._measure(archive._kit, archive.references())
        monkeypatch.setattr(trusting, "ROWS", 5)
        monkeypatch.setattr(trusting, "SENTENCES", 5)
        assert trusting._measure(archive._kit, archive.references()) == whole


def test_the_best_of_each_owner_is_found_wherever_its_rows_lie() -> None:
    rng = np.random.default_rng(3)
    owners = rng.integers(0, 40, 300)
    owners[owners == 7] = 8  # 7 owns nothing
    scores = rng.standard_normal((9, 300)).astype(np.float32)
    found = trusting._best_of_each(owners, 40)(scores)
    for one in range(40):
        own = scores[:, owners == one]
        assert np.array_equal(found[:, one], own.max(axis=1, initial=-np.inf))
    assert np.isneginf(found[:, 7]).all()
