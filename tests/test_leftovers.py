"""What killed programs leave is cleared, and nothing else: not a living program's, not a stranger's, however old."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from refarchive import leftovers

LONG_AGO = (1.0e9, 1.0e9)
KILLED = """
import sys
from pathlib import Path
from refarchive import leftovers
folder = leftovers.temporary("pdf")
(Path(folder.name) / "page.pdf").write_bytes(b"half")
print(folder.name, flush=True)
sys.stdin.read()
"""


@pytest.fixture
def temporary(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    return tmp_path


def killed(temporary: Path) -> Path:
    """A folder whose program was killed while it worked there."""
    program = subprocess.Popen(
        [sys.executable, "-c", KILLED], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        env={**os.environ, "TMPDIR": str(temporary)},
    )  # fmt: skip
    assert program.stdout is not None
    assert program.stdin is not None
    folder = Path(program.stdout.readline().strip())
    program.send_signal(signal.SIGKILL)
    program.wait()
    program.stdin.close()
    program.stdout.close()
    return folder


def test_a_killed_programs_folder_is_cleared_by_the_next(temporary: Path) -> None:
    left = killed(temporary)
    assert (left / "page.pdf").is_file()
    with leftovers.temporary("pdf") as folder:
        assert Path(folder).parent == temporary
        assert not left.exists()
        assert Path(folder).is_dir()
    assert list(temporary.iterdir()) == []


def test_what_lives_or_is_a_strangers_stays_however_old(temporary: Path) -> None:
    with leftovers.temporary("panel") as living:
        names = (
            ".refarchive_pdf-0123abcd-4194303-x",  # another machine's
            ".refarchive_pdf-notes", ".refarchive_", ".writing-1", ".writing-my-own-notes.txt", "refarchive-pdf-1",
        )  # fmt: skip
        for name in names:
            (temporary / name).mkdir()
        for path in temporary.iterdir():
            os.utime(path, LONG_AGO)
        for pattern in (".refarchive_*", ".writing-*"):
            assert leftovers.sweep(temporary.glob(pattern), leftovers.OURS_ALONE) == 0
        assert {path.name for path in temporary.iterdir()} == {*names, Path(living).name}


def test_a_link_is_not_followed(temporary: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    kept = tmp_path_factory.mktemp("kept")
    (kept / "picture.jpg").write_bytes(b"whole")
    left = killed(temporary)
    for path in left.iterdir():
        path.unlink()
    left.rmdir()
    left.symlink_to(kept)
    leftovers.sweep([left], leftovers.OURS_ALONE)
    assert (kept / "picture.jpg").read_bytes() == b"whole"
