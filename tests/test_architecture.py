"""Who may import whom, and that importing the package loads nothing heavy."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import refarchive

ROOT = Path(refarchive.__file__).parent

# A module or room, and what of ours it may import. The longest matching name on the left decides; `errors`,
# `leftovers` and the package's own version are open to all. A room may always import from itself.
MAY_IMPORT: dict[str, tuple[str, ...]] = {
    "__init__": ("archive",),
    "__main__": ("cli",),
    "errors": (),
    "leftovers": (),
    "cli": ("archive", "demo"),
    "demo": ("archive",),
    "archive": (
        "records",
        "sources",
        "encoders",
        "search",
        "looks",
        "scenes",
        "frames",
        "paper",
        "jobs",
        "subjects",
        "publish",
    ),
    "panels": ("archive", "records.model"),
    "jobs": (
        "records",
        "sources",
        "encoders",
        "search",
        "looks",
        "scenes",
        "frames",
        "paper",
        "subjects",
        "publish",
        "site",
        "lighting",
    ),
    "publish": ("scenes", "frames", "records", "sources.sheet"),
    "paper": ("scenes", "frames", "records", "looks", "site", "lighting"),
    "paper.html": ("paper.shown",),
    "paper.pdf": ("paper.shown",),
    "paper.shown": (),
    "frames": ("scenes", "records", "looks", "search.trust", "encoders.base"),
    "frames.strengths": (),
    "frames.choose": ("frames.strengths",),
    "frames.consistency": ("frames.strengths",),
    "frames.drift": ("frames.choose", "frames.strengths"),
    "frames.pairing": ("frames.choose", "frames.strengths"),
    "scenes": ("records",),
    "search": ("records", "encoders.base"),
    "search.fusion": (),
    "sources": (
        "records.bounded",
        "records.model",
        "records.dates",
        "records.files",
        "records.firsts",
        "records.fragments",
        "records.terms",
    ),
    "encoders": (),
    "looks": (),
    "lighting": (),
    "site": (),
    "records": ("subjects",),
    "subjects": (),
}

HEAVY = (
    "torch numpy pandas PIL sqlalchemy alembic faiss ipywidgets typst jinja2 colour skimage sklearn timm open_clip "
    "sentence_transformers transformers edtf click tqdm matplotlib pvlib skyfield iconclass anywidget"
).split()


def modules() -> list[str]:
    return sorted(".".join(p.relative_to(ROOT).with_suffix("").parts) for p in ROOT.rglob("*.py"))


def imported(module: str) -> set[str]:
    """Names of ours that a module imports, anywhere in it, relative to the package."""
    path = ROOT / (module.replace(".", "/") + ".py")
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module} uses a relative import"
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return {name.removeprefix("refarchive.") for name in found if name.startswith("refarchive.")}


def may(module: str, other: str) -> bool:
    if other.split(".")[0] in ("errors", "leftovers", "__version__"):
        return True
    rule = max((r for r in MAY_IMPORT if module == r or module.startswith(r + ".")), key=len)
    room = module.split(".")[0]
    allowed = MAY_IMPORT[rule] if rule != room else (*MAY_IMPORT[rule], room)
    return any(other == name or other.startswith(name + ".") for name in allowed)


@pytest.mark.parametrize("module", modules())
def test_imports_only_what_its_room_may(module: str) -> None:
    wrong = sorted(other for other in imported(module) if not may(module, other))
    assert not wrong, f"{module} may not import {', '.join(wrong)}"


def test_the_rule_catches_a_climb() -> None:
    assert not may("looks.colour", "records.model")
    assert not may("cli", "records.store.Store")
    assert not may("paper.html", "paper.pages")
    assert may("paper.pages", "scenes.plan.FACTS")


def test_every_module_belongs_to_a_rule() -> None:
    rooms = {module.split(".")[0] for module in modules()}
    assert rooms <= {rule.split(".")[0] for rule in MAY_IMPORT}


def test_modules_stay_readable() -> None:
    long = {
        m: n for m in modules() if (n := len((ROOT / (m.replace(".", "/") + ".py")).read_text().splitlines())) > 650
    }
    assert not long


def test_import_loads_nothing_heavy() -> None:
    code = "import sys, refarchive; print(*sorted(m.partition('.')[0] for m in sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert not set(HEAVY) & set(loaded)


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys, contextlib, io\nsys.argv = ['refarchive', 'find', '--help']\nfrom refarchive.cli import main\n"
        "with contextlib.suppress(SystemExit), contextlib.redirect_stdout(io.StringIO()): main()\n"
        "print(*sorted(m.partition('.')[0] for m in sys.modules))"
    )
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert not (set(HEAVY) - {"click"}) & set(loaded)


@pytest.mark.parametrize("name", ["model", "ids"])
def test_records_without_storage_touch_no_library(name: str) -> None:
    tree = ast.parse((ROOT / "records" / f"{name}.py").read_text())
    names = {n.module.partition(".")[0] for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and n.module}
    assert not names & set(HEAVY)
