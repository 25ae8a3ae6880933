"""After the shoot on the command line: each command does its part, as words and as one JSON document."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from drawn import draw

from refarchive.archive import Archive
from refarchive.cli import cli

PLAN = '[scene]\ntitle = "The {0}"\nslug = "{0}"\nseries = "Water"\nevent = "e"\nstory = "s"\ndate = "1869"\n'


@pytest.fixture
def place(archive: Archive, tmp_path: Path) -> Path:
    for number, slug in enumerate(("ford", "stage")):
        archive.plan(PLAN.format(slug))
        for frame in range(2):
            draw(tmp_path / slug / f"{slug}-{frame}.jpg", 5 * number + frame)
    archive.close()
    return tmp_path


def told(place: Path, *command: str) -> Any:
    """What a command answers as JSON; its words are asked for too and must say something."""
    name, *rest = command
    done = CliRunner().invoke(cli, [name, str(place / "archive"), *rest, "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def said(place: Path, *command: str) -> str:
    name, *rest = command
    done = CliRunner().invoke(cli, [name, str(place / "archive"), *rest])
    assert done.exit_code == 0, done.output
    return done.stdout


def test_a_shoot_becomes_a_decision_a_series_and_files(place: Path) -> None:
    for slug in ("ford", "stage"):
        taken = told(place, "shoot", slug, str(place / slug))
        assert len(taken["added"]) == 2
        assert sum(len(group["frames"]) for group in taken["groups"]) == 2
    assert "2 there already" in said(place, "shoot", "ford", str(place / "ford"))

    sizes = told(place, "prints", "ford", "ford-0.jpg", "--on-sheet", "4")
    assert sizes["pdf"] is None
    made = told(place, "prints", "ford", "--on-sheet", "2", "--paper", "matt", "--out", str(place / "out"))
    assert Path(made["pdf"]).read_bytes().startswith(b"%PDF")

    sheet = place / "sittings.csv"
    head = "day,time_utc,sitting,criterion,viewer,left,right,says,reason,repeats\n"
    rows = [f"2026-01-0{n},18:00,{n},story,,ford-0.jpg,ford-1.jpg,right,her hand,\n" for n in range(1, 9)]
    sheet.write_text(head + "".join(rows), "utf-8")
    wall = told(place, "wall", "ford", "--sittings", str(sheet), "--out", str(place / "out"))
    assert wall["judgements_added"] == 8
    assert wall["standing"]["story"]["counted"]
    assert all(Path(page).is_file() for page in wall["pages"])
    assert "her hand" not in said(place, "wall", "ford", "--by", "light")

    for slug in ("ford", "stage"):
        told(place, "decide", slug, f"{slug}-1.jpg", "It is this one.", "--not", f"{slug}-0.jpg=nobody moves")
    assert "not ford-0.jpg: nobody moves" in said(place, "wall", "ford")

    series = told(place, "series", "--propose", "smooth", "--by", "key", "--try", "ford", "ford-0.jpg")
    assert [one["scene"] for one in series["pictures"]] == ["ford", "stage"]
    assert series["proposed"]["words"]
    assert len(series["try"]["seats"]) == 2
    written = told(place, "series", "--out", str(place / "series"), "--manifest", "https://example.org/w/")["written"]
    assert [Path(one).name for one in written] == ["water-series.pdf", "manifest.json"]

    assert "Drafted: " in said(place, "publish", "ford")
    out = told(place, "publish", "ford", "--out", str(place / "final"))
    assert [Path(one).name for one in out["written"]] == ["ford-1-public.jpg", "ford-1-words.pdf"]


@pytest.mark.parametrize(
    ("command", "status"),
    [
        (["shoot", "nowhere", "card"], 1),
        (["shoot", "ford"], 2),
        (["prints", "ford"], 1),
        (["prints", "ford", "--on-sheet", "3"], 2),
        (["wall", "ford", "--by", "beauty"], 2),
        (["decide", "ford", "none.jpg", "x"], 1),
        (["decide", "ford", "none.jpg", "x", "--not", "what"], 2),
        (["series", "x"], 1),
        (["publish", "ford"], 2),
    ],
)
def test_what_cannot_be_done_ends_with_a_sentence(place: Path, command: list[str], status: int, capfd) -> None:
    import subprocess
    import sys

    name, *rest = command
    line = [sys.executable, "-m", "refarchive", name, str(place / "archive"), *rest]
    done = subprocess.run(line, capture_output=True, text=True, check=False)
    assert done.returncode == status, done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
    assert done.stderr.strip()
