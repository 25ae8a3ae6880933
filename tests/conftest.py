"""What tests share: pictures, and a small encoder that comes in through the registry as an outsider's would."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

if "PYTEST_XDIST_WORKER" in os.environ:
    os.environ.setdefault("OMP_NUM_THREADS", "1")  # workers side by side: each one's threads would wait for the others'

import pytest
from drawn import draw
from hypothesis import settings
from postgres_server import Server
from tiny_encoder import TinyEncoder
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
