"""What reaches a terminal: no text from outside moves the cursor, turns a line, or breaks off in the middle."""

from __future__ import annotations

import json
import sys
import time
import unicodedata
from collections.abc import Iterator

import pytest
from drawn import draw

import refarchive
from refarchive import cli
from refarchive.archive import Archive

STEERING = "\x1b[31m\x1b]0;title\x07 \x9b2J \u202egnp \u2066x \u2028 \x7f\r"
# Windows' own terminal and xterm read C1 controls as sequences too (ECMA-48, 5.3).
UNSHOWN = ("Cc", "Cf", "Cs", "Zl", "Zp")


def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: object) -> tuple[int, str]:
    monkeypatch.setattr("sys.argv", ["refarchive", *map(str, words)])
    with pytest.raises(SystemExit) as stopped:
        cli.main()
    out, err = capsys.readouterr()
    for line in (out + err).split("\n"):
        assert [c for c in line if unicodedata.category(c) in UNSHOWN] == []
    return int(stopped.value.code or 0), out + err


@pytest.fixture(scope="module")
def steered(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    place = tmp_path_factory.mktemp("steered")
    with refarchive.create(place / "archive", "tiny", who="tester") as archive:
        archive.gather(draw(place / "a.jpg", 1))
        archive.describe("a.jpg", title=STEERING, creator=STEERING, date="1871")
        archive.plan(f'# \u202e \x9b2J\n[scene]\ntitle = {json.dumps(STEERING)}\nslug = "ford"\n')
        yield archive


@pytest.mark.parametrize("words", [("list",), ("find", "x"), ("scenes",), ("debts",), ("gather", f"no{STEERING}.jpg")])
def test_lines_and_json_hold_nothing_that_steers(
    steered: Archive, words: tuple[str, ...], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    command, *rest = words
    code, said = run(capsys, monkeypatch, command, steered.folder, *rest)
    again, document = run(capsys, monkeypatch, command, steered.folder, *rest, "--json")
    assert code == again
    if command != "gather":
        assert "[U+001B]" in said
        assert STEERING.strip() in [one.strip() for one in leaves(json.loads(document))]


def leaves(value: object) -> list[str]:
    if isinstance(value, dict):
        return [one for inner in value.values() for one in leaves(inner)]
    if isinstance(value, list):
        return [one for inner in value for one in leaves(inner)]
    return [value] if isinstance(value, str) else []


def test_wrong_usage_is_told_without_what_steers(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for words in ((f"--{STEERING}",), (STEERING,), ("find", "x", "--kind", STEERING)):
        code, said = run(capsys, monkeypatch, *words)
        assert code == 2
        assert "[U+001B]" in said or "\\x1b" in said  # as we, or as click writes it


def test_json_keeps_half_a_character_of_a_name_as_its_escape(capsys: pytest.CaptureFixture[str]) -> None:
    """A byte that is no UTF-8 comes from the shell as half a pair, which standard output cannot take."""
    from refarchive.cli.answering import answer

    answer(True, {"archive": "a\udcff"}, lambda: iter(()))
    out = capsys.readouterr().out
    assert json.loads(out.encode("utf-8").decode()) == {"archive": "a\udcff"}


def test_a_plan_shown_on_a_terminal_does_not_steer_it_and_is_exact_in_a_file(
    steered: Archive, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patched:
        patched.setattr(sys.stdout, "isatty", lambda: True)
        _, said = run(capsys, patched, "scenes", steered.folder, "--show", "ford")
    assert "[U+202E]" in said
    monkeypatch.setattr("sys.argv", ["refarchive", "scenes", str(steered.folder), "--show", "ford"])
    with pytest.raises(SystemExit):
        cli.main()
    assert capsys.readouterr().out == steered.plan_text("ford")


def test_a_bar_of_progress_shows_names_without_what_steers(
    archive: Archive, capsys: pytest.CaptureFixture[str]
) -> None:
    with archive._progress(True, "gathering") as kit:
        assert kit.progress is not None
        kit.progress(1, 3, STEERING)
        time.sleep(0.6)  # a bar shows itself only then
        kit.progress(2, 3, STEERING)
    said = capsys.readouterr().err
    assert "[U+202E]gnp" in said
    assert not set("\x9b\x07\u202e\u2066") & set(said)
