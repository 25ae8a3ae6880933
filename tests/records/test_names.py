"""Names of files: whatever something is called, a disk takes it, and it stays in its folder."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path, PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.records.names import file_name

sys.path.insert(0, str(Path(__file__).parents[1] / "hostile"))
from mutations import HOSTILE_TEXTS

RESERVED = "CON prn Aux nul COM1 lpt9 com¹".split()
NAMES = (*HOSTILE_TEXTS, *RESERVED, *(f"{one}.tar.gz" for one in RESERVED), "漢" * 100, ".x", " .")


def check(made: str, folder: Path) -> None:
    assert 1 <= len(made.encode("utf-8")) <= 200
    assert made not in (".", "..")
    assert not made.startswith(".")  # nobody would see it
    assert made == made.rstrip(" .")
    assert not set('<>:"/\\|?*') & set(made)  # what Windows does not take
    assert made.isprintable()
    assert PureWindowsPath(made).name == made  # no drive, no folder
    assert made.split(".")[0].lower() not in {one.lower() for one in RESERVED}
    (folder / made).write_bytes(b"x")
    assert [one.name for one in folder.iterdir()] == [made]
    (folder / made).unlink()


@pytest.mark.parametrize(
    "text", [*HOSTILE_TEXTS, *RESERVED, *(f"{one}.tar.gz" for one in RESERVED), "漢" * 100, ".x", " ."]
)
@pytest.mark.parametrize("ending", ["", ".jpg"])
def test_whatever_it_is_called_a_disk_takes_it(text: str, ending: str, tmp_path: Path) -> None:
    made = file_name(text + ending)
    check(made, tmp_path)
    if made != "jpg":
        assert made.endswith(ending)


@given(st.text(st.characters(), max_size=300))
def test_any_text(text: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        check(file_name(text), Path(folder))


def test_letters_of_all_scripts_stay() -> None:
    for name in ("Переправа.jpg", "渡し場 2.tif", "नदी.png", "e\u0301te\u0301 (1).jpg"):
        assert file_name(name) == name
