"""The short form of killing and of flipping bits; the long forms are commands of their own, see `kills` and `flips`."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.faults import flips, kills

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
