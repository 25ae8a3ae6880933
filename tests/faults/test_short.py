"""The short form of `kills` and `flips`: each kind once or twice. The long form is a command with counts."""

from __future__ import annotations

from pathlib import Path

import pytest

from refarchive.encoders import sentences
from tests.faults import flips, kills, quick


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
