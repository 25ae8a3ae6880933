# ruff: noqa: E501 (tables)
"""The short form of `fuzz.py`: some cases of every target, and what hypothesis finds; the long form is the command."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))
import mutations
import seeds
import targets
import workplace
from fuzz import outcome

HERE = Path(__file__).parent
SEED = 71
SLOW = {"pdf", "names", "panels", "checkpoint", "finished", "printed", "tiff", "heic", "raw"}
GOOD = {
    "plan": seeds.PLANS, "linear": seeds.linears, "pairs": seeds.pairs, "sheet": seeds.SHEETS[:1], "manifest": seeds.MANIFESTS,
    "linked": seeds.LINKED, "text": seeds.TEXTS, "jpeg": seeds.jpegs, "png": seeds.pngs, "webp": seeds.webps, "gif": seeds.gifs,
    "signature": seeds.signatures, "pack": lambda: (workplace.packed(workplace.files_of_a_pack()),), "pasted": seeds.PASTED[:1], "raw": seeds.raws, "finished": seeds.jpegs,
}  # fmt: skip


def tried(name: str, data: bytes, folder: Path) -> None:
    """Read a case; fail with the trace where it ends otherwise than read or refused in words."""
    problem, trace = outcome(targets.TARGETS[name], data, folder)
    assert not problem, f"{name}: {problem}\n{trace}"


@pytest.mark.parametrize("name", targets.TARGETS)
def test_some_cases_of_every_target(name: str, tmp_path: Path) -> None:
    for number in range(targets.TARGETS[name].short // (4 if name not in SLOW else 6)):
        tried(name, targets.the_case(name, SEED, number), tmp_path)


@pytest.mark.parametrize("name", GOOD)
def test_good_seeds_are_read_to_their_end(name: str, tmp_path: Path) -> None:
    """Of a seed that is refused no change of it reaches what lies behind."""
    good = GOOD[name]
    for data in good() if callable(good) else good:
        assert any(way.endswith("read") for way in targets.ways(targets.TARGETS[name], data, tmp_path)), data[:80]


def test_a_case_is_the_same_whenever_it_is_asked_for() -> None:
    for name in ("plan", "dates", "linear", "pack", "panels", "kept"):
        assert targets.the_case(name, 3, 5) == targets.the_case(name, 3, 5) != targets.the_case(name, 3, 6)


def test_the_command_runs_counts_and_watches() -> None:
    command = [sys.executable, str(HERE / "fuzz.py"), "--target", "kept", "--cases", "20"]
    told = subprocess.run(command, capture_output=True, text=True, timeout=300)
    assert told.returncode == 0, told.stdout + told.stderr
    assert told.stdout.startswith("kept: 20 cases, ")


# --- weights --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", ["bare", "in a zip"])
def test_a_poisoned_pickle_is_refused_and_not_executed(tmp_path: Path, form: str) -> None:
    mark = tmp_path / "trap-mark"
    trap = seeds.trap(mark)
    data = b"P" + (trap if form == "bare" else workplace.trapped(workplace.checkpoints()[0][1:], trap))
    assert not any(way.endswith("read") for way in targets.ways(targets.TARGETS["checkpoint"], data, tmp_path))
    assert not mark.exists()


def test_the_trap_would_go_off_where_pickles_are_executed(tmp_path: Path) -> None:
    import pickle

    pickle.loads(seeds.trap(tmp_path / "trap-mark")).close()
    assert (tmp_path / "trap-mark").exists()


def test_good_weights_of_every_form_are_read(tmp_path: Path) -> None:
    for data in workplace.checkpoints():
        assert targets.ways(targets.TARGETS["checkpoint"], data, tmp_path) == {"0 read"}


# --- hypothesis -----------------------------------------------------------------------------------------------------

QUICKLY = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
TEXTS = st.text(max_size=200) | st.sampled_from(mutations.HOSTILE_TEXTS)


def read(name: str, data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        tried(name, data, Path(folder))


@pytest.mark.parametrize("name", ["dates", "pasted", "words", "short", "address"])
def test_any_text_is_read_or_refused(name: str) -> None:
    @QUICKLY
    @given(TEXTS)
    def any_text(text: str) -> None:
        read(name, text.encode("utf-8", "surrogatepass"))

    any_text()


@pytest.mark.parametrize("name", ["blocks", "vectors", "signature", "kept", "pack", "jpeg", "linear"])
def test_any_bytes_are_read_or_refused(name: str) -> None:
    @QUICKLY
    @given(st.binary(max_size=400))
    @example(b"")
    def any_bytes(data: bytes) -> None:
        read(name, data)

    any_bytes()


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | TEXTS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=4),
    max_leaves=20,
)


@QUICKLY
@given(st.dictionaries(st.sampled_from(("@context", "@graph", "type", "items", "id", "label", "dcterms:title")), _JSON))
def test_any_document_is_read_or_refused(document: object) -> None:
    import json

    read("manifest", json.dumps(document).encode("utf-8", "surrogatepass"))


@QUICKLY
@given(
    st.lists(
        st.tuples(st.sampled_from(("title", "slug", "date", "latitude", "palette", "need", "id")), _JSON), max_size=6
    )
)
def test_any_values_in_a_plan_are_read_or_refused(values: list[tuple[str, object]]) -> None:
    import tomlkit

    lines = []
    for name, value in dict(values).items():
        try:
            lines.append(tomlkit.dumps({name: value}))
        except Exception:  # TOML has no such value
            continue
    read("plan", ('[scene]\ntitle = "The ford"\n' + "".join(lines)).encode("utf-8", "surrogatepass"))
