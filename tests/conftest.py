"""What tests share: pictures, and a small encoder that comes in through the registry as an outsider's would."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

if "PYTEST_XDIST_WORKER" in os.environ:
    os.environ.setdefault("OMP_NUM_THREADS", "1")  # workers side by side: each one's threads would wait for the others'

import numpy as np
import pytest
from drawn import draw
from hypothesis import settings
from PIL import Image
from postgres_server import Server
from xdist.scheduler import LoadFileScheduling

import refarchive
from refarchive.archive import Archive
from refarchive.encoders import base
from refarchive.records.shared import Shared, write
from refarchive.records.store import Store

settings.register_profile("untimed", deadline=None)  # a busy machine is no mistake of the code
settings.load_profile("untimed")

# Minutes each, on one worker.
LONGEST_FIRST = ("test_in_jupyterlab.py", "test_demo.py", "notebooks", "test_copies.py", "test_world.py")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files that take longest come first, so that no worker is left alone with one at the end."""
    places = {name: place for place, name in enumerate(LONGEST_FIRST)}
    items.sort(key=lambda item: places.get(item.path.name, places.get(item.path.parent.name, len(places))))


class OneFileAWorker(LoadFileScheduling):
    """All tests of a file go to one worker, and all notebooks to one, since they share the archive beside them."""

    def _split_scope(self, nodeid: str) -> str:
        place = super()._split_scope(nodeid)
        return "notebooks" if place.endswith(".ipynb") else place


def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> LoadFileScheduling:
    """How the tests are handed out, whatever --dist says."""
    return OneFileAWorker(config, log)


class TinyEncoder:
    """Mean colours of a 4 × 4 grid, and words by digest: quick, deterministic, and one space for both."""

    def __init__(self, name: str, size: int = 48) -> None:
        self._name, self._size = name, size

    @property
    def identity(self) -> base.Identity:
        digest = hashlib.sha256(self._name.encode()).hexdigest()
        return base.Identity(self._name, digest, self._size, 0, "4 × 4 mean colours")

    def encode_pictures(self, pictures: Sequence[Image.Image]) -> base.PictureCodes:
        rows = [np.asarray(p.resize((4, 4), Image.Resampling.BOX), np.float32).reshape(-1) - 127 for p in pictures]
        stacked = np.stack(rows)[:, : self._size] + 1e-3 if rows else np.zeros((0, self._size), np.float32)
        return base.PictureCodes((stacked / np.linalg.norm(stacked, axis=1, keepdims=True)).astype(np.float32), None)

    def word_space(self, meaning: np.ndarray) -> np.ndarray:
        return meaning

    def encode_words(self, texts: Sequence[str]) -> np.ndarray:
        rows = [np.frombuffer(hashlib.sha512(t.encode()).digest()[: self._size], np.uint8) for t in texts]
        centred = np.stack(rows).astype(np.float32) - 127
        return centred / np.linalg.norm(centred, axis=1, keepdims=True)


base.register("tiny", lambda name, progress: TinyEncoder(name))


@pytest.fixture(scope="session")
def postgres() -> Iterator[Server]:
    """A PostgreSQL server, started once, with a database `made` that holds an empty archive, to be copied."""
    from refarchive.records.postgres import make

    server = Server()
    try:
        server.ask("CREATE DATABASE made")
        make(server.address("made")).dispose()
        yield server
    finally:
        server.close()


@pytest.fixture(params=["sqlite", "postgresql"])
def new_store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[..., Store]]:
    """Makes empty stores, each in a folder: once with SQLite behind them, once with PostgreSQL."""
    if request.param == "sqlite":
        yield lambda folder=tmp_path, who="tester": Store.create(folder, who)
        return
    server: Server = request.getfixturevalue("postgres")
    made: list[str] = []

    def make(folder: Path = tmp_path, who: str = "tester") -> Store:
        made.append(server.database("made"))
        write(folder, Shared(made[-1]))
        return Store.open(folder, who)

    yield make
    for address in made:
        server.drop(address)


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    """An empty archive with the quick encoder."""
    with refarchive.create(tmp_path / "archive", "tiny", who="tester") as made:
        yield made


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with pictures and texts."""
    place = tmp_path / "scans"
    for number, name in enumerate(["a.jpg", "b.png", "deep/c.tif", "deep/d.webp", "e.gif"]):
        draw(place / name, number)
    (place / "letter.txt").write_text("The pilot went before with his staff.\n\nA lamp hung at the stage.\n", "utf-8")
    (place / "diary.md").write_text("# Diary\n\nFog at four; the carrier waited at the ford — £2 lost.\n", "utf-8")
    return place
