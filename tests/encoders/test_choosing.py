"""Which encoder a new archive takes, the registry, and what importing it loads."""

from __future__ import annotations

import subprocess
import sys

import pytest

from refarchive.encoders import base, choose, load, register, registered, weights_here
from refarchive.errors import UnknownEncoder


@pytest.fixture(autouse=True)
def no_setting(monkeypatch):
    monkeypatch.delenv("REFARCHIVE_ENCODER", raising=False)


def test_importing_loads_nothing_heavy():
    program = (
        "import sys, refarchive.encoders as e, refarchive.search.finding; e.choose();"
        "heavy = ('torch', 'faiss', 'numpy', 'PIL', 'timm', 'open_clip', 'transformers');"
        "print([m for m in heavy if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


def test_without_a_setting_the_built_in_is_taken_and_why_is_said():
    name, why = choose()
    assert name == "built-in"
    assert "needs no download" in why
    assert choose("built-in") == ("built-in", "Encoder built-in, as asked for.")


def test_weights_named_and_here_are_taken(monkeypatch, tmp_path):
    checkpoint = tmp_path / "mine.pt"
    checkpoint.write_bytes(b"x")
    named = f"openclip:ViT-B-32:{checkpoint}"
    monkeypatch.setenv("REFARCHIVE_ENCODER", named)
    name, why = choose()
    assert name == named
    assert "on this machine" in why
    checkpoint.unlink()
    name, why = choose()
    assert name == "built-in"
    assert named in why
    assert "not on this machine" in why


def test_the_setting_may_name_the_built_in(monkeypatch):
    monkeypatch.setenv("REFARCHIVE_ENCODER", " built-in ")
    assert choose() == ("built-in", "Encoder built-in, as REFARCHIVE_ENCODER names it.")


def test_names_of_nothing_are_refused(monkeypatch):
    for asked in (choose, load, weights_here):
        with pytest.raises(UnknownEncoder, match="Available: built-in, openclip"):
            asked("unheard-of:x")
    monkeypatch.setenv("REFARCHIVE_ENCODER", "unheard-of")
    with pytest.raises(UnknownEncoder):
        choose()


def test_outsiders_come_in_by_the_same_door(monkeypatch):
    monkeypatch.setattr(base, "_makers", dict(base._makers))
    register("theirs", lambda name, progress: (name, progress))
    assert registered()[:2] == ("built-in", "openclip")
    assert registered()[-1] == "theirs"
    assert load("theirs:a:b") == ("theirs:a:b", None)
    assert weights_here("theirs:a:b")
    assert choose("theirs:a:b")[0] == "theirs:a:b"
