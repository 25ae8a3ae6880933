"""Tables of first dates: the shipped one is whole, a person's own is refused row by row and never loses the rest."""

from __future__ import annotations

import csv
import io
import re
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import refarchive
from refarchive.errors import SheetRefused
from refarchive.records.dates import julian_day
from refarchive.sources import firsts
from refarchive.sources.firsts import COLUMNS, Firsts, combined, firsts_for, parse_firsts, read_firsts, shipped_firsts

HEAD = "thing,also,invented,on_sale,common,region,source,weak,note\n"


def read(rows: str, head: str = HEAD) -> Firsts:
    return parse_firsts(head + rows, "not_before.csv")


def only_problem(rows: str, head: str = HEAD) -> str:
    table = read(rows, head)
    (problem,) = table.problems
    assert problem.next_step.endswith(".")
    return problem.problem


def test_the_shipped_table_has_no_problem_and_every_row_a_source() -> None:
    table = shipped_firsts()
    assert (table.problems, table.notices) == ((), ())
    assert len(table.rows) == 59
    assert all(row.source for row in table.rows)
    assert {row.thing for row in table.rows if row.weak} == {
        "loop-and-post busk", "rubber boots", "overlocked seams", "nylon", "hook-and-loop fastener", "street gas",
        "safety match", "gas mantle", "Portland cement", "adhesive postage stamp", "telephone", "petrol outboard",
    }  # fmt: skip


def test_the_shipped_dates_are_written_as_edtf() -> None:
    for row in shipped_firsts().rows:
        for when in (row.invented, row.on_sale, row.common):
            assert when is None or when.edtf == when.text, row.thing


def test_no_name_means_two_things_in_the_shipped_table() -> None:
    names = [name.casefold() for row in shipped_firsts().rows for name in (row.thing, *row.also)]
    assert sorted(names) == sorted(set(names))


# Years that a second publication gives, looked up by hand; the row's note names it. Tolerance: the year as printed.
SECOND_SOURCES = {
    "machine bobbin net": (1808, 1809),  # Heathcote, in a biographical history of technology
    "rubberised waterproof cloth": (1823, 1823),  # an early manual of rubber proofing, archive.org
    "metal corset eyelets": (1828, 1828),  # abstract at taylorfrancis.com, 10.4324/9781315167510-4
    "steel front busk": (1829, 1829),  # the same
    "coiled safety pin": (1849, 1849),  # the patent's drawing, at dartmoorlife.blogspot.com
    "cage crinoline": (1856, 1856),  # McCord Museum; napoleon.org
    "aniline purple": (1856, 1856),  # colour-ed.org, activity 12
    "riveted work trousers": (1873, 1873),  # US National Archives, identifiers 5928292 and 295938
    "press stud": (1885, 1885),  # daidalos.blog; austbuttonhistory.com
    "phenolic plastic": (1907, 1907),  # Plastics News, 6 August 2007
    "zip": (1893, 1913),  # Smithsonian Libraries blog, May 2010
    "polyester fibre": (1941, 1941),  # lancashire.gov.uk, 50 objects
    "paraffin lamp": (1853, 1853),  # viewchange.org; artoluys.de
    "corrugated iron": (1829, 1829),  # artefacts.co.za; World Archaeology
    "pillar box": (1852, 1852),  # jerripedia.com
    "pneumatic bicycle tyre": (1888, 1888),  # a booklet of 1992, at onlinebicyclemuseum.com
    "stainless steel": (1913, 1913),  # eurosteel2020.com
    "load-line mark": (1876, 1876),  # New International Encyclopaedia, gluedideas.com
    "wire rope": (1831, 1834),  # liquisearch.com
    "electric hand torch": (1899, 1899),  # theclassroom.com
}


@pytest.mark.parametrize("thing", SECOND_SOURCES)
def test_a_second_publication_agrees_with_the_row_and_is_named_in_it(thing: str) -> None:
    (row,) = (row for row in shipped_firsts().rows if row.thing == thing)
    assert row.invented is not None
    assert row.invented.earliest is not None
    first, last = SECOND_SOURCES[thing]
    assert julian_day(first, 1, 1) <= row.invented.earliest <= julian_day(first, 12, 31)
    assert row.invented.latest is not None
    assert julian_day(last, 1, 1) <= row.invented.latest <= julian_day(last, 12, 31)
    assert "Second source: " in row.note


# Lives of inventors as WordNet 3.0 (Princeton, 2006; Debian's wordnet-base, data.noun) has them, each with the thing in
# its gloss. A coarse bound, but it is what showed that nylon's first date, then 1938, was not that of its invention.
LIVES = {
    "telephone": (1847, 1922),  # Bell, Alexander Bell
    "lockstitch sewing machine": (1819, 1867),  # Howe, Elias Howe
    "filament bulb": (1847, 1931),  # Edison
    "nylon": (1896, 1937),  # Carothers
}


@pytest.mark.parametrize("thing", LIVES)
def test_an_invention_begins_in_the_life_of_its_inventor(thing: str) -> None:
    (row,) = (row for row in shipped_firsts().rows if row.thing == thing)
    born, died = LIVES[thing]
    assert row.invented is not None
    assert julian_day(born, 1, 1) < (row.invented.earliest or 0) <= julian_day(died, 12, 31)


def test_the_table_travels_with_the_package() -> None:
    assert files("refarchive").joinpath("data", "not_before.csv").is_file()
    project = Path(refarchive.__file__).parent.parent / "pyproject.toml"
    settings = tomllib.loads(project.read_text("utf-8"))["tool"]["setuptools"]
    assert "refarchive.data" in settings["packages"]
    assert settings["package-data"]["refarchive.data"] == ["*.csv"]


def test_a_whole_row_is_read() -> None:
    table = read("Tin kettle, kettle ; tea kettle,1810~,c. 1815,182X,England,A book,YES,A note\n")
    (row,) = table.rows
    assert (row.thing, row.also, row.region, row.source) == (
        "Tin kettle",
        ("kettle", "tea kettle"),
        "England",
        "A book",
    )
    assert (row.weak, row.note, row.table, row.line) == (True, "A note", "not_before.csv", 2)
    assert row.on_sale is not None
    assert row.on_sale.edtf == "1815~"


def test_formulas_stay_text() -> None:
    (row,) = read('"=HYPERLINK(""http://x"")",,1810,,,+1,@SUM(A1),,-2\n').rows
    assert (row.thing, row.region, row.source, row.note) == ('=HYPERLINK("http://x")', "+1", "@SUM(A1)", "-2")


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (",,1810,,,,A,,", "names no thing"),
        ("xy,,1810,,,,A,,", "too short to look for"),
        ("kettle,x,1810,,,,A,,", "“x” as other name"),
        ("kettle,,,,,,A,,", "gives no date"),
        ("kettle,,1810,,,,,,", "names no source"),
        ("kettle,,1810,,,,A,perhaps,", "“perhaps” for weak"),
        ("kettle,,1783-02-29,,,,A,,", "there is no such day"),
        ("kettle,,1783-04-31,,,,A,,", "there is no such day"),
        ("kettle,,0000-00,,,,A,,", "cannot be"),
        ("kettle,,1860/1850,,,,A,,", "ends before it begins"),
        ("kettle,,circa,,,,A,,", "cannot be read"),
        ("kettle,,../1856,,,,A,,", "whose beginning is open"),
        ("kettle,,9999,,,,A,,", "has not come yet"),
        ("kettle,,1850,1840,,,A,,", "has it on sale before it was invented"),
        ("kettle,,1850,,1840,,A,,", "has it common before it was invented"),
        ("kettle,,1810,,,,A,,,too,many", "has 11 cells where the first line has 9"),
        ('ket"tle" "x,,1810,,,,"A"b,,', "quotation marks that do not add up"),
        ("kettle\x07,,1810,,,,A,,", "cannot be shown"),
        ("kettle,,1810,,,,A,," + "n" * 2001, "2,001 characters in its note"),
        ("kettle," + ";".join(f"pot {n}abc" for n in range(31)) + ",1810,,,,A,,", "31 other names"),
    ],
)
def test_nonsense_is_refused_with_its_line_and_the_rest_stands(row: str, said: str) -> None:
    good = "lamp glass,,1840,,,,A book,,\n"
    table = read(f"{good}{row}\ntrivet,,1700,,,,A book,,\n")
    assert [r.thing for r in table.rows] == ["lamp glass", "trivet"]
    (problem,) = table.problems
    assert problem.problem.startswith("Line 3 ")
    assert said in problem.problem
    assert problem.source == "not_before.csv, line 3"
    assert problem.next_step


def test_a_quotation_mark_never_closed_leaves_what_stands_above() -> None:
    table = read('lamp glass,,1840,,,,A,,\nkettle,,1810,,,,"A,,\ntrivet,,1700,,,,A,,\n')
    assert [row.thing for row in table.rows] == ["lamp glass"]
    assert table.problems[0].problem == "Line 3 opens a quotation mark that is never closed."


def test_lines_are_counted_through_cells_with_line_breaks_and_empty_lines() -> None:
    table = read('lamp glass,,1840,,,,A,,"two\nlines"\n\nkettle,,,,,,A,,\n')
    assert table.problems[0].problem.startswith("Line 5 ")


def test_the_same_thing_twice_is_refused_once() -> None:
    assert "same thing as line 2" in only_problem("Lamp-glass,,1840,,,,A,,\nlamp glass,,1841,,,,A,,\n")


@pytest.mark.parametrize(
    ("head", "said"),
    [
        ("", "a column for thing and source"),
        ("thing,invented\n", "a column for source"),
        ("thing,source\n", "any date"),
        ("thing,thing,source,invented\n", "two columns named thing"),
    ],
)
def test_a_table_without_its_columns_is_refused(head: str, said: str) -> None:
    with pytest.raises(SheetRefused, match=said):
        parse_firsts(head, "not_before.csv")


def test_what_is_no_text_or_too_large_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "not_before.csv"
    path.write_bytes(b"\x00\x01\x02")
    with pytest.raises(SheetRefused, match=r"not_before\.csv"):
        read_firsts(path)
    path.write_text(HEAD + "kettle,,1810,,,,A,,\n" * 9, "utf-8")
    monkeypatch.setattr(firsts, "LARGEST_TABLE", 50)
    with pytest.raises(SheetRefused, match="larger than"):
        read_firsts(path)


def test_too_many_rows_are_left_out_and_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(firsts, "MOST_ROWS", 2)
    table = read("".join(f"kettle {n},,1810,,,,A,,\n" for n in range(4)))
    assert len(table.rows) == 2
    assert table.notices == ("not_before.csv has more than 2 rows; those from line 4 on were left out.",)


def test_semicolons_windows_letters_and_unknown_columns_are_read(tmp_path: Path) -> None:
    path = tmp_path / "not_before.csv"
    path.write_bytes("Thing;Source;On sale;Colour\r\nCafetière;A book;1850;red\r\n".encode("cp1252"))
    table = read_firsts(path)
    assert [row.thing for row in table.rows] == ["Cafetière"]
    assert any("“Colour”" in notice for notice in table.notices)
    assert any("Windows-1252" in notice for notice in table.notices)


def test_an_own_row_stands_in_place_of_its_namesake(tmp_path: Path) -> None:
    assert firsts_for(tmp_path) == shipped_firsts()
    (tmp_path / "not_before.csv").write_text(
        HEAD + "Paraffin-lamp,,1851,,,,My book,,\nsledge lamp,,1860,,,,My book,,\n,,,,,,,,x\n", "utf-8"
    )
    table = firsts_for(tmp_path)
    assert len(table.rows) == len(shipped_firsts().rows) + 1
    (lamp,) = (row for row in table.rows if "araffin" in row.thing)
    assert lamp.source == "My book"
    assert table.notices == ("Your own row for paraffin lamp stands in place of the one that comes with refarchive.",)
    assert [p.problem for p in table.problems] == ["Line 4 names no thing."]


def test_an_own_table_is_not_followed_out_of_the_folder(tmp_path: Path) -> None:
    outside = tmp_path / "elsewhere.csv"
    outside.write_text(HEAD, "utf-8")
    folder = tmp_path / "archive"
    folder.mkdir()
    (folder / "not_before.csv").symlink_to(outside)
    with pytest.raises(SheetRefused, match="leads out"):
        firsts_for(folder)


@given(st.lists(st.lists(st.text(max_size=20), min_size=9, max_size=9), max_size=5))
def test_any_text_is_read_or_refused_and_every_row_accounted_for(rows: list[list[str]]) -> None:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n", quoting=csv.QUOTE_ALL)
    writer.writerow(COLUMNS)
    writer.writerows(rows)
    table = parse_firsts(out.getvalue(), "t.csv")
    filled = [row for row in rows if any(re.sub(r"\s", "", cell) for cell in row)]
    assert len(table.rows) + len(table.problems) == len(filled)


def test_combining_keeps_both_tables_problems() -> None:
    bad = read(",,1810,,,,A,,\n")
    assert combined(bad, bad).problems == bad.problems * 2
