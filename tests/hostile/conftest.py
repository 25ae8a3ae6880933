"""Some targets work with light encoders, which are gone again when the module ends."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from refarchive.encoders import sentences


@pytest.fixture(autouse=True, scope="module")
def light() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sentences, "shared", sentences.shared)  # put back at the end
        yield
