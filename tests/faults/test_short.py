"""The short form of `kills`, `flips` and `packs`: a few of each kind. The long form is a command with counts."""

from __future__ import annotations

import tarfile
from contextlib import suppress
from pathlib import Path

import pytest

from refarchive.encoders import sentences
from refarchive.records import pack
from tests.faults import flips, kills, packs, quick


@pytest.fixture(autouse=True)
def light(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sentences, "shared", sentences.shared)  # put back when the test ends
    quick.install()


@pytest.mark.parametrize("kind", kills.KINDS, ids=lambda kind: kind.name)
def test_killed_work_loses_nothing_that_was_told(kind: kills.Kind, tmp_path: Path) -> None:
    count = 2 if kind.name == "gather" else 1  # every second one at a moment, the others at a step
    outcomes, wrong = kills.kill(kind, count, 7, tmp_path / "place")
    assert wrong == []
    assert outcomes["held"] == count


def test_a_flipped_bit_is_found_in_every_kind_of_file() -> None:
    outcomes = list(flips.flips(1, 7, telling=True))
    assert {kind for kind, _ in outcomes} >= {"originals/XX/DIGEST.jpg", "previews/XX/DIGEST.jpg", "archive.sqlite"}
    assert [(kind, outcome) for kind, outcome in outcomes if outcome.startswith("missed")] == []


def test_bad_packs_are_refused_with_nothing_written(tmp_path: Path) -> None:
    outcomes, wrong = packs.cases(300, 7, 0, tmp_path)
    assert wrong == []
    assert outcomes["refused"] > 250


def test_an_unpacker_that_checks_nothing_is_found_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def careless(file: Path, folder: Path) -> None:
        folder.mkdir()
        with suppress(tarfile.TarError, OSError, ValueError), tarfile.open(file) as tar:
            for member in tar:
                tar.extract(member, folder, filter="data")

    monkeypatch.setattr(packs, "unpack", careless)
    monkeypatch.setattr(packs, "look_into", lambda file: pack.Contents({}, (), ""))
    _, wrong = packs.cases(40, 7, 0, tmp_path)
    assert sum("opened though it is not what was packed" in one for one in wrong) > 30
