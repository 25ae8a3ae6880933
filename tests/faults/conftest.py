"""Tests of faults work with light encoders, which are gone again when the test ends."""

from __future__ import annotations

import pytest

from refarchive.encoders import sentences
from tests.faults import quick


@pytest.fixture(autouse=True)
def light(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sentences, "shared", sentences.shared)  # put back when the test ends
    quick.install()
