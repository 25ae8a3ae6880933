"""Questions over an archive: both tables of first dates, through coverage, the command line and the dossier."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

from refarchive import cli
from refarchive.archive import Archive
from refarchive.errors import WeightsUnavailable
from refarchive.jobs.kit import Kit
from refarchive.jobs.planning import asking
from refarchive.scenes.anachronism import NO_DATE, NO_END, SILENCE
from refarchive.sources.firsts import shipped_firsts

PLAN = """\
[scene]
title = "Lamp in the window"
slug = "window"
story = "One lamp."
date = "1849"
[[need]]
slug = "lamp"
name = "Paraffin lamp"
department = "props"
[[need.evidence]]
reference = "letter.txt"
relation = "describes"
quote = "A lamp hung at the stage"
[[need]]
slug = "bodice"
name = "Bodice"
department = "wardrobe"
description = "Hems sewn by machine with two interlocking threads"
[[need.evidence]]
reference = "letter.txt"
relation = "contradicts"
[[need]]
slug = "mist"
name = "Ground mist"
department = "effects"
"""
HEAD = "thing,also,invented,on_sale,common,region,source,weak,note\n"


@pytest.fixture
def planned(archive: Archive, folder: Path) -> Archive:
    archive.gather(folder)
    archive.describe("letter.txt", title="A letter", date="1860")
    archive.plan(PLAN)
    return archive


def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: object) -> tuple[int, str]:
    monkeypatch.setattr("sys.argv", ["refarchive", *map(str, words)])
    with pytest.raises(SystemExit) as stopped:
        cli.main()
    return int(stopped.value.code or 0), capsys.readouterr().out


def test_coverage_holds_the_questions_with_their_rows(planned: Archive) -> None:
    document = planned.evidence.coverage("window")
    lamp, bodice, mist = document["needs"]
    (one,) = lamp["anachronisms"]
    assert one["question"].startswith("Paraffin lamp: not before 1853 (common 1860s); the scene is of 1849.")
    row = next(r for r in shipped_firsts().rows if r.thing == "paraffin lamp")
    assert one["row"] == {
        "invented": "1853", "on_sale": None, "common": "186X", "region": row.region, "source": row.source,
        "weak": False, "note": row.note, "table": row.table, "line": row.line,
    }  # fmt: skip
    assert (one["thing"], one["how"], one["where"], one["quoted"], one["standing"]) == (
        "paraffin lamp", "by name", "name", "Paraffin lamp", "before it was there",
    )  # fmt: skip
    (by_meaning,) = bodice["anachronisms"]  # by the sentence encoder that ships
    assert by_meaning["thing"] == "lockstitch sewing machine"
    assert by_meaning["how"].startswith("by meaning, similarity 0.")
    assert mist["anachronisms"] == []
    assert (document["silence"], document["notices"]) == (SILENCE, [])
    assert lamp["later_words"] == [
        "A letter is dated 1860, 10 years after the event of 1849; it is cited as what describes “Paraffin lamp”."
    ]
    assert (lamp["later_evidence"], bodice["later_evidence"]) == ([planned.reference("letter.txt").id], [])
    assert bodice["later_words"][0].endswith("it is cited as what contradicts “Bodice”.")
    json.dumps(document)


def test_the_command_prints_questions_and_that_silence_clears_nothing(
    planned: Archive, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    code, out = run(capsys, monkeypatch, "coverage", planned.folder, "window")
    assert code == 0
    assert "Question (by name, name): Paraffin lamp: not before 1853" in out
    assert "Source: Encyclopaedia Britannica." in out
    assert "Later: A letter is dated 1860" in out
    assert out.count(SILENCE) == 1
    code, out = run(capsys, monkeypatch, "coverage", planned.folder, "window", "--json")
    assert json.loads(out)["silence"] == SILENCE


def test_an_own_table_asks_beside_the_shipped_one_and_its_bad_rows_are_noticed(planned: Archive) -> None:
    (planned.folder / "not_before.csv").write_text(
        HEAD + "bodice,,1900,,,,My book,yes,\nkettle,,31 April 1850,,,,My book,,\n" + "mug,,,,,,,,\n" * 12, "utf-8"
    )
    document = planned.evidence.coverage("window")
    own = [q for q in document["needs"][1]["anachronisms"] if q["row"]["table"] == "not_before.csv"]
    assert [q["question"].endswith("Source (weak): My book.") for q in own] == [True]
    assert document["notices"][0].startswith("not_before.csv, line 3: Line 3 cannot be used:")
    assert document["notices"][-1] == "3 more rows of not_before.csv were left out."
    assert len(document["notices"]) == asking.MOST_NOTICES + 1


@pytest.mark.parametrize("nonsense", ["bytes", "columns", "folder", "loop", "empty", "outside"])
def test_a_wholly_unreadable_table_is_a_notice_and_never_stops_coverage(
    planned: Archive, tmp_path: Path, nonsense: str
) -> None:
    path = planned.folder / "not_before.csv"
    if nonsense == "folder":
        path.mkdir()
    elif nonsense == "loop":
        path.symlink_to(path)
    elif nonsense == "outside":
        (tmp_path / "elsewhere.csv").write_text(HEAD, "utf-8")
        path.symlink_to(tmp_path / "elsewhere.csv")
    else:
        path.write_bytes({"bytes": b"\x00\x01\x02\xff" * 99, "columns": b"what,ever\n1,2\n", "empty": b""}[nonsense])
    document = planned.evidence.coverage("window")
    assert [q["thing"] for q in document["needs"][0]["anachronisms"]] == ["paraffin lamp"]
    (notice,) = document["notices"]
    assert "not_before.csv" in notice
    listed = planned.evidence.first_dates()
    assert len(listed["rows"]) == len(shipped_firsts().rows)
    assert listed["problems"][0]["next_step"]


def test_without_sentence_weights_names_still_ask(planned: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    def none(_: object) -> None:
        raise WeightsUnavailable("The sentence weights are not installed.", "Install them.")

    monkeypatch.setattr(asking, "_encode", lambda kit: none)
    told = asking.asked(planned._kit, planned.scene("window"))
    assert [(q.need, q.how) for q in told.questions] == [("lamp", "by name")]
    assert told.notices == (
        "The sentence weights are not installed. First dates were looked for by name only. Install them.",
    )


@pytest.mark.parametrize(("date", "notice"), [("", NO_DATE), ('date = "1849/.."', NO_END)])
def test_a_scene_without_an_end_is_told_why_nothing_is_later(planned: Archive, date: str, notice: str) -> None:
    planned.plan(PLAN.replace('date = "1849"', date))
    told = asking.asked(planned._kit, planned.scene("window"))
    assert notice in told.notices
    assert told.later == ()
    assert "paraffin lamp" in {q.thing for q in told.questions}


def test_nothing_to_ask_loads_no_encoder(planned: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    def forbidden(_: Kit) -> None:
        raise AssertionError("loaded")

    monkeypatch.setattr(Kit, "sentences", property(forbidden))
    planned.plan(PLAN.replace("1849", "2020"))
    assert asking.asked(planned._kit, planned.scene("window")).questions == ()


def test_the_dossier_prints_questions_later_evidence_and_silence_once(planned: Archive, tmp_path: Path) -> None:
    (planned.folder / "not_before.csv").write_text("nonsense", "utf-8")
    made = planned.dossier("window", out=tmp_path / "print")
    printed = subprocess.run(["pdftotext", made.pdf, "-"], capture_output=True, text=True, check=True).stdout
    words = " ".join(printed.split())
    assert "What may not have been there yet" in words
    assert "Paraffin lamp: not before 1853 (common 1860s); the scene is of 1849. Is another thing meant?" in words
    assert "Source: Encyclopaedia Britannica." in words
    assert "is dated 1860, 10 years after the event of 1849; cited for: Bodice; Paraffin lamp." in words
    assert words.count(SILENCE) == 1
    assert "The first line of not_before.csv does not name a column" in words
    copy = planned.dossier("window", department="effects", out=tmp_path / "print")
    page = Path(copy.html).read_text("utf-8")
    assert "Paraffin lamp: not before" not in page
    assert page.count(SILENCE) == 1


def test_the_table_is_listed_and_searched(
    planned: Archive, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (planned.folder / "not_before.csv").write_text(HEAD + "sledge lamp,,1860,,,Moor,My book,yes,\n,,1,,,,,,\n", "utf-8")
    found = planned.evidence.first_dates("lamps")
    assert {"paraffin lamp", "Argand lamp", "sledge lamp"} <= {row["thing"] for row in found["rows"]}
    assert "zip" not in {row["thing"] for row in found["rows"]}
    assert [row["thing"] for row in planned.evidence.first_dates("KEROSENE lamp")["rows"]] == ["paraffin lamp"]
    code, out = run(capsys, monkeypatch, "firsts", planned.folder, "sledge")
    assert code == 0
    assert out.splitlines()[:2] == [
        "sledge lamp: not before 1860 (Moor). Source (weak): My book.", "   not_before.csv, line 2",
    ]  # fmt: skip
    assert "not_before.csv, line 3: Line 3 names no thing." in out
    code, out = run(capsys, monkeypatch, "firsts", planned.folder, "--json")
    assert len(json.loads(out)["rows"]) == len(shipped_firsts().rows) + 1
    code, out = run(capsys, monkeypatch, "firsts", planned.folder, "gramophone")
    assert out.startswith("No row mentions that. That says what the tables hold, not what there was.")
