"""Ctrl-C on the command line: a sentence and exit status 130, what was done is kept, and the same command goes on."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import refarchive
from refarchive.archive import Archive
from refarchive.archive.wall import WallDesk
from refarchive.cli import main
from tests.faults import quick

ROOT = Path(__file__).parents[2]
COMMAND = """
import signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)  # a run in the background is started with it ignored
from tests.faults import quick
quick.install()
from refarchive.cli import main
main()
"""


def started(*words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", COMMAND, *words], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip


@pytest.fixture
def place(tmp_path: Path) -> Path:
    refarchive.create(tmp_path / "archive", "quick").close()
    quick.scans(tmp_path / "scans", 300)
    return tmp_path


def test_gathering_that_is_interrupted_keeps_what_was_done_and_goes_on(place: Path) -> None:
    work = started("gather", str(place / "archive"), str(place / "scans"))
    with refarchive.open(place / "archive") as archive:
        while len(archive) < 16:  # one batch is stored
            assert work.poll() is None
            time.sleep(0.02)
    work.send_signal(signal.SIGINT)
    _, told = work.communicate(timeout=60)
    assert work.returncode == 130
    assert "Stopped." in told
    assert "Traceback" not in told
    with refarchive.open(place / "archive") as archive:
        kept = len(archive)
    assert 16 <= kept < 303
    again = started("gather", str(place / "archive"), str(place / "scans"), "--json")
    answer, told = again.communicate(timeout=120)
    assert again.returncode == 0, told
    report = json.loads(answer)
    assert (report["added"], report["unchanged"]) == (303 - kept, kept)
    with refarchive.open(place / "archive") as archive:
        assert len(archive) == 303
        assert archive.verify().problems == []


@pytest.mark.parametrize(
    ("kind", "method", "words", "kept"),
    [
        (Archive, "gather", ["gather", "ARCHIVE", "scans"], "give the same command again to go on"),
        (Archive, "verify", ["verify", "ARCHIVE"], "goes on after the originals read so far"),
        (Archive, "trust", ["trust", "ARCHIVE"], "the same command begins it anew"),
        (Archive, "reencode", ["reencode", "ARCHIVE", "--encoder", "quick"], "the old ones in use"),
        (Archive, "dossier", ["dossier", "ARCHIVE", "ford"], "Nothing half-written is left"),
        (Archive, "check", ["check", "ARCHIVE", "ford", "x.jpg"], "no check is"),
        (WallDesk, "print_sizes", ["prints", "ARCHIVE", "ford"], "none is kept as printed"),
    ],
)
def test_each_command_says_what_is_kept_where_it_is_stopped(
    kind: type, method: str, words: list[str], kept: str, place: Path,
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(kind, method, stopped)
    monkeypatch.setattr(
        sys, "argv", ["refarchive", *(str(place / "archive") if word == "ARCHIVE" else word for word in words)]
    )
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 130
    told = capsys.readouterr().err
    assert told.lstrip().startswith("Stopped.\n")
    assert kept in told
