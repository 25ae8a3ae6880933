"""Work prints of many frames: one original in memory at a time, and what is missing named before anything is set."""

from __future__ import annotations

from pathlib import Path

import pytest
from drawn import draw

from refarchive.archive import Archive
from refarchive.errors import SourceRefused
from refarchive.jobs.choosing import printing

PLAN = '[scene]\ntitle = "The {slug}"\nslug = "{slug}"\nseries = "Water"\nevent = "e"\nstory = "s"\n'


@pytest.fixture
def shot(archive: Archive, tmp_path: Path) -> Archive:
    """Three scenes of a series, a frame of each decided for; the first with six frames."""
    for scene, slug in enumerate(("ford", "stage", "sands")):
        archive.plan(PLAN.format(slug=slug))
        for number in range(6 if slug == "ford" else 1):
            draw(tmp_path / slug / f"{slug}-{number}.jpg", 10 * scene + number)
        archive.after.take(slug, tmp_path / slug)
        archive.after.decide(slug, f"{slug}-0.jpg", "It is this one.")
    return archive


class Held(bytes):
    """Counts how many of its kind are held at once."""

    now = most = 0

    def __init__(self, content: bytes) -> None:
        Held.now += 1
        Held.most = max(Held.most, Held.now)

    def __del__(self) -> None:
        Held.now -= 1


def test_originals_are_read_one_at_a_time(shot: Archive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = printing._file
    monkeypatch.setattr(printing, "_file", lambda kit, frame: Held(real(kit, frame)))
    done = shot.after.print_frames("ford", out=tmp_path / "out")
    assert done.words.startswith("6 prints on 6 sheets")
    assert 1 <= Held.most <= 2  # the one that is let go when the next is read
    assert Held.now == 0


def test_all_files_that_are_missing_are_named_before_anything_is_set(shot: Archive, tmp_path: Path) -> None:
    for number in (1, 4):
        shot.frame_work.original("ford", f"ford-{number}.jpg").unlink()
    with pytest.raises(SourceRefused, match=r"files of 2 frames are missing: 'ford-1.jpg' .*, 'ford-4.jpg'"):
        shot.after.print_frames("ford", out=tmp_path / "out")
    assert not (tmp_path / "out").exists()
    assert shot.after.prints_told("ford") == []


def test_all_pictures_of_a_series_whose_files_are_missing_are_named_before_any_is_measured(
    shot: Archive, tmp_path: Path
) -> None:
    for slug in ("ford", "sands"):
        shot.frame_work.original(slug, f"{slug}-0.jpg").unlink()
    told: list[str] = []
    named = "'ford-0.jpg' of 'ford', 'sands-0.jpg' of 'sands'"
    for work in (
        lambda: shot.series.document(progress=lambda *step: told.append(step[2])),
        lambda: shot.series.figures(),
        lambda: shot.series.propose("Water", "by key"),
        lambda: shot.series.print_page(out=tmp_path / "out"),
        lambda: shot.publishing.write_series("Water", tmp_path / "out"),
    ):
        with pytest.raises(SourceRefused, match=named) as refused:
            work()
        assert "--repair --from FOLDER" in refused.value.next_step
    assert told == []
    assert not (tmp_path / "out").exists()
    with pytest.raises(SourceRefused, match=r"file of a frame is missing: 'sands-0\.jpg'"):
        shot.series.sit("ford", "ford-1.jpg")
