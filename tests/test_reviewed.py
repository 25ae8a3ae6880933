"""No dependency comes in without a line of review, and what is installed is held against what was reviewed."""

from __future__ import annotations

import re
import runpy
import tomllib
from importlib.metadata import PathDistribution
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
AUDIT = runpy.run_path(str(ROOT / ".ci" / "audit.py"))


def test_every_dependency_is_reviewed_and_nothing_else_is() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    declared = [*project["dependencies"], *(one for more in project["optional-dependencies"].values() for one in more)]
    rows = re.findall(
        r"^\| ([a-z0-9-]+) \| ([0-9]\S*) \|", (ROOT / ".ci" / "reviewed.md").read_text("utf-8"), re.MULTILINE
    )
    assert {name for name, _ in rows} == {canonicalize_name(Requirement(one).name) for one in declared}
    pinned = dict(
        re.findall(r"^(\S+)==(\S+) sha256:[0-9a-f]{64}$", (ROOT / ".ci" / "reviewed.txt").read_text(), re.MULTILINE)
    )
    assert [name for name, version in rows if pinned.get(name) != version] == []


def test_what_differs_is_named() -> None:
    reviewed = ["a==1 sha256:x", "b==1 sha256:x", "c==1 sha256:x", "d==1 sha256:x"]
    installed = ["a==1 sha256:x", "b==2 sha256:y", "c==1 sha256:y", "e==1 sha256:x"]
    assert AUDIT["drift"](reviewed, installed) == [
        "e 1 was never reviewed.",
        "d 1 is not installed.",
        "b is 2; 1 was reviewed.",
        "c 1 holds other files than those reviewed.",
    ]
    assert AUDIT["drift"](installed, installed) == []


def made(folder: Path, record: str) -> str:
    folder.mkdir()
    (folder / "METADATA").write_text("Metadata-Version: 2.1\nName: a\nVersion: 1\n")
    (folder / "RECORD").write_text(record)
    digest: str = AUDIT["digest"](PathDistribution(folder))
    return digest


@pytest.mark.parametrize(
    ("more", "same"),
    [("../../../bin/a,sha256=z,9\n", True), ("a-1.dist-info/INSTALLER,sha256=z,4\n", True),
     ("a/__pycache__/b.pyc,,\n", True), ("a/c.py,sha256=z,9\n", False)],
)  # fmt: skip
def test_a_digest_is_of_what_the_wheel_brought(more: str, same: bool, tmp_path: Path) -> None:
    record = "a/b.py,sha256=x,12\n"
    first = made(tmp_path / "a-1.dist-info", record)
    assert (made(tmp_path / "b-1.dist-info", record + more) == first) is same
    assert made(tmp_path / "c-1.dist-info", record.replace("=x", "=y")) != first


def test_what_is_needed_is_followed_to_its_end() -> None:
    found = AUDIT["needed"](["jinja2>=3"])
    assert set(found) == {"jinja2", "markupsafe"}
