"""The short form of `kills`, `flips` and `packs`: a few of each kind. The long form is a command with counts."""

from __future__ import annotations

import subprocess
import sys
import tarfile
from contextlib import suppress
from pathlib import Path

import pytest

from refarchive.records import pack
from tests.faults import flips, kills, packs

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("kind", [kind.name for kind in kills.KINDS])
def test_killed_work_loses_nothing_that_was_told(kind: str) -> None:
    """By the command, whose process has no threads yet: a fork would wait for ever for those that it does not get."""
    count = 2 if kind == "gather" else 1  # every second one at a moment, the others at a step
    command = [sys.executable, "-m", "tests.faults.kills", "--kills", str(count), "--seed", "7", "--kind", kind]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=600, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"{kind}: {{'held': {count}," in done.stdout


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
