"""Long work tells how far it is, can be stopped at every step with nothing half-written, and fetches nothing unasked.

What of it may fetch weights is listed here by name: a new kind of long work fails until it is looked at.
"""

from __future__ import annotations

import inspect
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from drawn import draw
from tiny_encoder import TinyEncoder

import refarchive
from refarchive.archive import Archive
from refarchive.encoders import base
from refarchive.errors import WeightsUnavailable

PLAN = """[scene]
title = "{title}"
slug = "{slug}"
series = "Water"
event = "A cart crosses"
story = "The pilot goes before."
date = "1869-10-14"
place = "Merrow Sands"
latitude = 54.06
longitude = -3.64
[[need]]
name = "Lantern"
department = "props"
[[need.evidence]]
reference = "r0.png"
relation = "shows"
[[need.swatch]]
reference = "r0.png"
region = [0.1, 0.1, 0.3, 0.3]
[site]
zone = "Europe/London"
[site.window]
opens = "2027-10-04"
closes = "2027-10-06"
sun_least_deg = 8
sun_most_deg = 28
"""
GROUND = {"rights": "CC BY 4.0", "basis": "its licence", "evidence": "the keeper's page", "credit": "A keeper"}
Tell = Callable[[int, int, str], None]
Work = Callable[[Archive, Path, Tell], Any]

WORK: dict[str, Work] = {
    "gather": lambda a, out, tell: a.gather(out.parent / "more", progress=tell),
    "reencode": lambda a, out, tell: a.reencode("watched:again", progress=tell),
    "trust": lambda a, out, tell: a.trust(progress=tell),
    "verify": lambda a, out, tell: a.verify(progress=tell),
    "dossier": lambda a, out, tell: a.dossier("ford", out=out, progress=tell),
    "check": lambda a, out, tell: a.check(
        "ford", a.frame_work.original("ford", "ford-0.png"), out=out / "check.html", progress=tell
    ),
    "frame_work.several": lambda a, out, tell: a.frame_work.several(
        "ford", [a.frame_work.original("ford", "ford-0.png")], progress=tell
    ),
    "after.take": lambda a, out, tell: a.after.take("ford", out.parent / "more", progress=tell),
    "after.measure": lambda a, out, tell: a.after.measure("ford", progress=tell),
    "after.print_frames": lambda a, out, tell: a.after.print_frames("ford", out=out, progress=tell),
    "after.print_index": lambda a, out, tell: a.after.print_index("ford", out=out, progress=tell),
    "series.document": lambda a, out, tell: a.series.document(progress=tell),
    "series.sit": lambda a, out, tell: a.series.sit("ford", "ford-1.png", progress=tell),
    "series.propose": lambda a, out, tell: a.series.propose("Water", "by key", progress=tell),
    "series.figures": lambda a, out, tell: a.series.figures(progress=tell),
    "series.print_page": lambda a, out, tell: a.series.print_page(
        candidate=("ford", "ford-1.png"), out=out, progress=tell
    ),
    "publishing.print_statement": lambda a, out, tell: a.publishing.print_statement(
        "ford", "ford-0.png", out=out, progress=tell
    ),
    "publishing.print_pages": lambda a, out, tell: a.publishing.print_pages(
        "ford", "ford-0.png", out=out, progress=tell
    ),
    "publishing.write": lambda a, out, tell: a.publishing.write(
        "ford", "ford-0.png", final=out.parent / "final.jpg", out=out, progress=tell
    ),
    "publishing.write_series": lambda a, out, tell: a.publishing.write_series("Water", out / "iiif", progress=tell),
    "onsite.site": lambda a, out, tell: a.onsite.site("ford", progress=tell),
    "onsite.windows": lambda a, out, tell: a.onsite.windows("ford", progress=tell),
    "evidence.propose_families": lambda a, out, tell: a.evidence.propose_families(progress=tell),
    "exchange.write": lambda a, out, tell: a.exchange.write(out / "left", progress=tell),
    "exchange.publish_references": lambda a, out, tell: a.exchange.publish_references(
        "ford", out / "press", progress=tell
    ),
}  # fmt: skip
MAY_FETCH = ("gather", "reencode")  # of an archive whose encoder a person named
PAPER = (
    "dossier", "after.print_frames", "after.print_index", "series.print_page", "publishing.print_statement",
    "publishing.print_pages", "publishing.write", "publishing.write_series", "exchange.write",
    "exchange.publish_references",
)  # fmt: skip


class Halted(Exception):
    """Stopped by the person."""


LOADED: list[bool] = []  # for each time that the encoder was loaded, whether it was given leave to fetch


def _loaded(name: str, progress: base.Progress | None) -> TinyEncoder:
    LOADED.append(progress is not None)
    return TinyEncoder(name)


base.register("watched", _loaded)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with an archive: two scenes of a series, with frames decided for, and references."""
    place = tmp_path_factory.mktemp("made")
    for number in range(3):
        draw(place / "scans" / f"r{number}.png", number)
    with refarchive.create(place / "archive", "watched", who="tester") as archive:
        archive.gather(place / "scans")
        archive.exchange.set_rights([r.id for r in archive.references()], **GROUND)
        for number, slug in enumerate(("ford", "stage")):
            archive.plan(PLAN.format(title=f"At the {slug}", slug=slug))
            for frame in range(2):
                draw(place / slug / f"{slug}-{frame}.png", 10 * (number + 1) + frame)
            archive.after.take(slug, place / slug)
            archive.after.decide(slug, f"{slug}-0.png", "It is this one.")
    return place


@pytest.fixture
def ready(made: Path, tmp_path: Path) -> Iterator[Archive]:
    """A copy of it, opened anew, so that no encoder is loaded."""
    shutil.copytree(made / "archive", tmp_path / "archive")
    draw(tmp_path / "final.jpg", 90)
    draw(tmp_path / "more" / "m.png", 50)
    LOADED.clear()
    with refarchive.open(tmp_path / "archive", who="tester") as opened:
        yield opened


def told_by(archive: Archive) -> set[str]:
    """Names of what takes `progress`, on the archive and on its desks."""
    desks = {"": type(archive)} | {
        f"{name}.": type(getattr(archive, name))
        for name, one in inspect.getmembers(type(archive), lambda one: isinstance(one, property))
        if type(getattr(archive, name)).__name__.endswith("Desk")
    }
    return {
        f"{desk}{name}"
        for desk, kind in desks.items()
        for name, one in inspect.getmembers(kind, inspect.isfunction)
        if not name.startswith("_") and "progress" in inspect.signature(one).parameters
    }


def test_all_long_work_is_looked_at_here(ready: Archive) -> None:
    assert told_by(ready) == set(WORK)


@pytest.mark.parametrize("name", WORK)
def test_it_tells_how_far_it_is_and_fetches_nothing_unasked(name: str, ready: Archive, tmp_path: Path) -> None:
    told: list[tuple[int, int, str]] = []
    if name == "publishing.write_series":
        _with_jpegs(ready, tmp_path)
    WORK[name](ready, tmp_path / "out", lambda *step: told.append(step))
    assert told
    assert all(0 <= done <= of or of == 0 for done, of, _ in told)
    assert any(of for _, of, _ in told)
    assert LOADED in ([], [name in MAY_FETCH])
    assert ready._kit.progress is None
    assert not ready._kit.may_fetch


def _with_jpegs(archive: Archive, tmp_path: Path) -> None:
    """Finished pictures that metadata can be put into."""
    for number, slug in enumerate(("ford", "stage")):
        draw(tmp_path / f"{slug}-done.jpg", 70 + number)
        archive.after.take(slug, tmp_path / f"{slug}-done.jpg")
        archive.after.decide(slug, f"{slug}-done.jpg", "This one after all.")


def stopping_at(step: int) -> Tell:
    """Raises at the step of that number, from 1."""
    count = 0

    def tell(done: int, of: int, words: str) -> None:
        nonlocal count
        count += 1
        if count == step:
            raise Halted

    return tell


@pytest.mark.parametrize("name", PAPER)
def test_stopped_at_any_step_it_leaves_no_file(name: str, ready: Archive, tmp_path: Path) -> None:
    out = tmp_path / "out"
    if name == "publishing.write_series":
        _with_jpegs(ready, tmp_path)
    before = len(ready.history())
    for step in range(1, 200):
        try:
            WORK[name](ready, out, stopping_at(step))
        except Halted:
            assert [path for path in out.rglob("*") if path.is_file()] == [], step
            assert len(ready.history()) == before, step
            assert ready.after.prints_told("ford") == []
        else:
            break
    assert step > 1
    assert [path for path in out.rglob("*") if path.is_file()]


def test_a_check_that_is_stopped_keeps_the_frame_and_no_check(ready: Archive, tmp_path: Path) -> None:
    draw(tmp_path / "new.png", 80)
    for step in range(1, 200):
        try:
            ready.check("ford", tmp_path / "new.png", out=tmp_path / "check.html", progress=stopping_at(step))
        except Halted:
            assert ready.frame_work.earlier("ford", "new.png") == []
            assert not (tmp_path / "check.html").exists()
        else:
            break
    assert step > 4
    assert len(ready.frame_work.earlier("ford", "new.png")) == 1


def test_work_in_one_thread_is_not_told_to_the_listener_of_another(ready: Archive) -> None:
    from threading import Thread

    heard: list[object] = []

    def beside(done: int, of: int, words: str) -> None:
        other = Thread(target=lambda: heard.append(ready._kit.progress))
        other.start()
        other.join()

    ready.verify(progress=beside)
    assert set(heard) == {None}


def test_weights_that_are_not_here_are_fetched_by_none_but_those_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from refarchive.encoders import openclip

    fetched: list[str] = []

    def fetch(name: str, entry: object, progress: object) -> Path:
        fetched.append(name)
        raise WeightsUnavailable("There is no network.", "")

    monkeypatch.setattr(openclip, "_fetch", fetch)
    monkeypatch.setattr(openclip, "_on_disk", lambda entry: None)
    draw(tmp_path / "scans" / "r.png", 1)
    with refarchive.create(tmp_path / "archive", "openclip:ViT-B-32:laion2b_s34b_b79k") as archive:
        for work in (archive.trust, archive.verify):
            archive.gather()
            with pytest.raises(WeightsUnavailable, match="not asked for"):
                archive._kit.encoder  # noqa: B018
            try:
                work(progress=lambda *_: None)
            except WeightsUnavailable as error:
                assert "not asked for" in error.problem
            assert fetched == []
        with pytest.raises(WeightsUnavailable, match="no network"):
            archive.gather(tmp_path / "scans", progress=lambda *_: None)
    assert fetched == ["openclip:ViT-B-32:laion2b_s34b_b79k"]
