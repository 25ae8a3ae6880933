"""From a scene's plan to its dossier and a check, through the command line, with hostile words in a caption."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest
from drawn import draw

from refarchive import cli
from refarchive.archive import Archive

PLAN = """\
[scene]
title = "Lamp at the stage"
slug = "lamp"
story = "They wait by one lamp."
date = "1872"
key_reference = "a.jpg"
[intent]
key = 50
palette = [ {hex = "#808080", share = 1.0} ]
[[need]]
slug = "lamp-tin"
name = "Tin lamp"
department = "props"
[[need.evidence]]
reference = "a.jpg"
relation = "shows"
region = [0.1, 0.1, 0.5, 0.5]
[[need.evidence]]
reference = "letter.txt"
relation = "describes"
quote = "A lamp hung at the stage"
[[need.swatch]]
reference = "a.jpg"
region = [0.1, 0.1, 0.5, 0.5]
[[need]]
name = "Shawl"
department = "wardrobe"
"""


@pytest.fixture
def planned(archive: Archive, folder: Path) -> Archive:
    archive.gather(folder)
    archive.describe("a.jpg", title="<script>alert(1)</script> £5 — é ſ", date="1871~", witness="surviving object")
    (folder / "plan.toml").write_text(PLAN, encoding="utf-8")
    return archive


def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: object) -> tuple[int, str, str]:
    monkeypatch.setattr("sys.argv", ["refarchive", *map(str, words)])
    with pytest.raises(SystemExit) as stopped:
        cli.main()
    out, err = capsys.readouterr()
    return int(stopped.value.code or 0), out, err


def test_plan_print_and_check(
    planned: Archive, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    place = planned.folder
    code, out, _ = run(capsys, monkeypatch, "scene", place, folder / "plan.toml", "--json")
    assert (code, json.loads(out)["without_evidence"]) == (0, 1)
    code, out, _ = run(capsys, monkeypatch, "dossier", place, "lamp", "--out", tmp_path / "print", "--json")
    made = json.loads(out)
    assert code == 0
    assert made["pages"] >= 2
    text = subprocess.run(["pdftotext", made["pdf"], "-"], capture_output=True, text=True, check=True).stdout
    assert "<script>alert(1)</script> £5 — é ſ" in " ".join(text.split())
    page = Path(made["html"]).read_text(encoding="utf-8")
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    frame = draw(tmp_path / "frame.jpg", 3, (300, 200))
    report = tmp_path / "check.html"
    code, out, _ = run(
        capsys, monkeypatch, "check", place, "lamp", frame, "--need", "lamp-tin=present", "--departure",
        "palette=fog", "--out", report, "--json",
    )  # fmt: skip
    assert code == 0
    lines = json.loads(out)["lines"]
    verdicts = {(line["measure"], line["label"]): line["verdict"] for line in lines if line["against"] == "intent"}
    assert verdicts["need", "Tin lamp"] == "within"
    assert verdicts["need", "Shawl"] == "cannot tell"
    assert {v for (m, _), v in verdicts.items() if m == "palette"} == {"departure intended"}
    assert "<script" not in report.read_text(encoding="utf-8")


def test_find_says_why(
    planned: Archive, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    sheet = tmp_path / "found.html"
    code, out, _ = run(
        capsys, monkeypatch, "find", planned.folder, "lamp at the stage", "--top", 3, "--out", sheet, "--json"
    )
    document = json.loads(out)
    assert code == 0
    first = document["hits"][0]
    assert first["source_name"] == "letter.txt"
    assert "words in a passage" in {b["source"] for b in first["because"]}
    assert "A lamp hung at the stage" in sheet.read_text(encoding="utf-8")
    code, out, _ = run(capsys, monkeypatch, "find", planned.folder, "--when", "1871", "--json")
    assert [hit["reference"] for hit in json.loads(out)["hits"]] == [planned.reference("a.jpg").id]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["list", "nowhere"], 1, "nowhere"),
        (["find", "{archive}", "--colour", "reddish"], 1, "not a colour"),
        (["find", "{archive}", "--when", "11/12/1871"], 1, "11/12/1871"),
        (["find", "{archive}", "--region", "0,0,1,1"], 2, "--like"),
        (["dossier", "{archive}", "none"], 1, "no scene"),
        (["gather", "{archive}"], 2, "at least one"),
        (["wash"], 2, "wash"),
    ],
)
def test_problems_are_sentences(
    planned: Archive,
    words: list[str],
    code: int,
    said: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    got, out, err = run(capsys, monkeypatch, *[w.format(archive=planned.folder) for w in words])
    assert (got, out) == (code, "")
    assert said in err
    assert "Traceback" not in err
