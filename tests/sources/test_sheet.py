"""Sheets of provenance: read literally, refused row by row, never followed out of their folder."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refarchive.errors import SheetRefused
from refarchive.records.model import Reference, Witness
from refarchive.sources import sheet as sheet_module
from refarchive.sources.sheet import COLUMN_NAMES, COLUMNS, Sheet, apply, csv_cell, read_sheet


def read(folder: Path, text: str | bytes, name: str = "sheet.csv") -> Sheet:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return read_sheet(path)


def problems(sheet: Sheet) -> list[str]:
    return [problem.problem for problem in sheet.problems]


@pytest.fixture
def beside(tmp_path: Path) -> Path:
    folder = tmp_path / "refs"
    (folder / "sub").mkdir(parents=True)
    for name in ("a.jpg", "b.jpg", "sub/c.jpg"):
        (folder / name).write_bytes(b"1")
    (tmp_path / "secret.jpg").write_bytes(b"1")
    return folder


def test_every_column_is_documented_in_one_sentence() -> None:
    assert COLUMN_NAMES == (
        "file", "title", "creator", "date", "place", "source", "rights", "description", "medium", "dimensions",
        "collection", "accession", "credit", "basis", "basis_evidence", "witness", "subjects", "identifier",
        "date_text", "depicts", "depicts_text", "digitised", "details", "origins", "source_name", "reference", "kind",
    )  # fmt: skip
    for column in COLUMNS:
        assert column.meaning.endswith(".")
        assert ". " not in column.meaning.replace("c. ", "")


def test_a_whole_row_becomes_a_reference(beside: Path) -> None:
    values = {
        "file": "a.jpg", "title": "Cart at the ford", "creator": "A. Nobody", "date": "c. 1870",
        "place": "Merrow Sands", "source": "invented", "rights": "CC0", "description": "A cart, loaded",
        "medium": "wood engraving",
        "dimensions": "12 × 18 cm", "collection": "none", "accession": "007", "credit": "nobody",
        "basis": "a permission", "basis_evidence": "a letter",
        "witness": "Second-hand image", "subjects": "cart; ford;cart ;", "identifier": "m-1", "kind": "image",
    }  # fmt: skip
    out = io.StringIO()
    writer = csv.DictWriter(out, list(values))
    writer.writeheader()
    writer.writerow(values)
    (row,) = read(beside, out.getvalue()).rows
    assert (row.line, row.file, row.path, row.refused, row.problems) == (2, "a.jpg", beside / "a.jpg", False, ())
    before = Reference(id="r1", kind="image", title="a", source_name="a.jpg")
    after = apply(before, row)
    assert after.when is not None
    assert (after.when.edtf, after.when.text) == ("1870~", "c. 1870")
    assert after.witness is Witness.SECOND_HAND
    assert after.subjects == ("cart", "ford")
    assert (after.id, after.kind, after.accession, after.dimensions) == ("r1", "image", "007", "12 × 18 cm")
    assert after.missing == ()


def test_empty_cells_change_nothing(beside: Path) -> None:
    (row,) = read(beside, "file,title,creator,witness,subjects,date\na.jpg,,,,,\n").rows
    before = Reference(id="r", kind="image", title="t", source_name="a.jpg", creator="c", subjects=("s",))
    assert apply(before, row) == before


def test_a_file_decides_its_kind_and_an_object_record_takes_it(beside: Path) -> None:
    with_file, without = read(beside, "file,title,kind\na.jpg,A,object\n,B,Object\n").rows
    assert apply(Reference(id="r", kind="image", title="", source_name="a.jpg"), with_file).kind == "image"
    assert apply(Reference(id="r", kind="text", title="", source_name=""), without).kind == "object"


@pytest.mark.parametrize(
    ("header", "column"),
    [
        ("dc:title", "title"), ("DC:Title", "title"), ("dcterms:title", "title"), ("dc.title", "title"),
        ("dc:creator", "creator"), ("dc:date", "date"), ("dcterms:created", "date"), ("dc:source", "source"),
        ("dc:rights", "rights"), ("dc:description", "description"), ("dc:subject", "subjects"),
        ("dc:identifier", "identifier"), ("dc:format", "medium"), ("dcterms:spatial", "place"),
        ("dc:coverage", "place"), (" Title ", "title"), ("CREATOR", "creator"),
    ],
)  # fmt: skip
def test_dublin_core_names_in_any_case(tmp_path: Path, header: str, column: str) -> None:
    (row,) = read(tmp_path, f"accession,identifier,{header}\n1,x,1871\n").rows
    assert row.fields[column] == ("x" if column == "identifier" else "1871")


def test_two_columns_of_one_meaning_are_told_and_the_day_of_making_goes_first(tmp_path: Path) -> None:
    sheet = read(tmp_path, "title,dc:date,dcterms:created\nA,1950,1871\nB,,1872\nC,1873,1873\n")
    assert [row.fields["date"] for row in sheet.rows] == ["1871", "1872", "1873"]
    assert problems(sheet) == ["Line 2 gives 2 values for date; the first one stands."]


def test_unknown_columns_are_told(tmp_path: Path) -> None:
    sheet = read(tmp_path, "title,Colour,,,\u202eevil\nA,red,stray,,\n")
    assert sheet.notices == (
        "The column “Colour” of sheet.csv is not known and was left out.",
        "Column 3 of sheet.csv has no name and was left out.",
        "The column “[U+202E]evil” of sheet.csv is not known and was left out.",
    )


def test_cells_stay_text_to_the_letter(tmp_path: Path) -> None:
    cells = [
        "=1+1",
        "+44",
        "-5",
        "@SUM(A1)",
        "007",
        "NA",
        "nan",
        "null",
        "TRUE",
        "1e5",
        "#N/A",
        "<script>",
        "1,000",
        "“ſ£—é”",
    ]
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["identifier", "title"])
    writer.writerows([[f"i{n}", cell] for n, cell in enumerate(cells)])
    sheet = read(tmp_path, out.getvalue())
    assert [row.fields["title"] for row in sheet.rows] == cells
    assert problems(sheet) == []


def test_files_out_of_the_folder_are_refused_row_by_row(beside: Path) -> None:
    (beside / "link.jpg").symlink_to(beside.parent / "secret.jpg")
    (beside / "dangling.jpg").symlink_to("/nowhere/at/all.jpg")
    (beside / "up").symlink_to("..")
    cells = [
        "../secret.jpg",
        "sub/../../secret.jpg",
        "sub/../a.jpg",
        "/etc/passwd",
        "C:\\secret.jpg",
        "\\\\host\\x.jpg",
    ]
    cells += ["..\\secret.jpg", "link.jpg", "dangling.jpg", "up/secret.jpg", "C:secret.jpg"]
    sheet = read(beside, "file,title\n" + "".join(f"{cell},T\n" for cell in cells) + "b.jpg,kept\n")
    assert [row.refused for row in sheet.rows] == [True] * len(cells) + [False]
    assert problems(sheet) == [
        f"Line {n}: {cell} leads out of the sheet's folder." for n, cell in enumerate(cells, start=2)
    ]
    assert all(row.path is None for row in sheet.rows if row.refused)


def test_missing_files_folders_and_impossible_names_are_refused(beside: Path) -> None:
    (beside / "loop.jpg").symlink_to("loop.jpg")
    sheet = read(beside, f'file\nnothing.jpg\nsub\n.\n{"x" * 5000}\n"two\nlines.jpg"\nloop.jpg\na.jpg\n')
    assert [row.refused for row in sheet.rows] == [True] * 6 + [False]
    assert problems(sheet)[:3] == [
        "Line 2: there is no file nothing.jpg beside the sheet.",
        "Line 3: sub is not a file.",
        "Line 4: . is not a file.",
    ]
    assert problems(sheet)[4] == "Line 6: there is no file two[U+000A]lines.jpg beside the sheet."
    assert all(len(problem) < 400 for problem in problems(sheet))


def test_file_names_are_found_however_they_are_spelt(beside: Path) -> None:
    (beside / "cafe\u0301.jpg").write_bytes(b"1")  # decomposed, as some systems store it
    (beside / "li\nne \u202e'\".jpg").write_bytes(b"1")
    sheet = read(beside, 'file\n./a.jpg\nsub\\c.jpg\ncaf\u00e9.jpg\n"li\nne \u202e\'"".jpg"\n')
    assert problems(sheet) == []
    assert [row.file for row in sheet.rows] == ["a.jpg", "sub/c.jpg", "cafe\u0301.jpg", "li\nne \u202e'\".jpg"]


def test_duplicate_rows_are_refused_and_the_first_stands(beside: Path) -> None:
    (beside / "same.jpg").symlink_to("a.jpg")
    sheet = read(
        beside,
        "file,title,creator,date,source,identifier\n"
        "a.jpg,one,,,,\n./a.jpg,two,,,,\nsame.jpg,three,,,,\n"
        ",Shawl,X,1871,here,\n,Shawl,X,1871,here,\n,Shawl,X,1872,here,\n"
        ",Lamp,,,,i1\n,Other lamp,,,,i1\n",
    )
    assert [row.refused for row in sheet.rows] == [False, True, True, False, True, False, False, True]
    assert problems(sheet) == [
        "Line 3 describes the same file as line 2, which stands.",
        "Line 4 describes the same file as line 2, which stands.",
        "Line 6 describes the same object as line 5, which stands.",
        "Line 9 describes the same object as line 8, which stands.",
    ]


def test_an_object_needs_a_name(tmp_path: Path) -> None:
    sheet = read(tmp_path, "title,identifier,place\n,,Merrow\n,i1,\nA,,\n")
    assert [row.refused for row in sheet.rows] == [True, False, False]
    assert problems(sheet) == ["Line 2 names no file, no identifier and no title."]


def test_bad_cells_are_left_out_and_told_and_the_row_goes_on(beside: Path) -> None:
    sheet = read(
        beside,
        "file,title,date,witness,kind\na.jpg,A,11/12/1783,hearsay,film\n,B,1783-02-29,PHOTOGRAPH,image\n"
        ",C,1783/1782,hand made image from life,\n",
    )
    assert [row.refused for row in sheet.rows] == [False, False, False]
    assert sheet.rows[0].fields == {"title": "A"}
    assert sheet.rows[1].fields == {"title": "B", "witness": "photograph from life"}
    assert sheet.rows[2].fields == {"title": "C", "witness": "hand-made image from life"}
    told = problems(sheet)
    assert told[0].startswith("Line 2: the date “11/12/1783” cannot be read: it can mean 11 December or 12 November")
    assert told[1] == "Line 2: “hearsay” is no kind of witness."
    assert told[2] == "Line 2: “film” is no kind it can have."
    assert told[3] == "Line 3: the date “1783-02-29” cannot be read: there is no such day."
    assert told[4] == "Line 3: “image” is no kind it can have."
    assert told[5] == "Line 4: the date “1783/1782” cannot be read: it ends before it begins."
    for problem in sheet.problems:
        assert problem.source.startswith("sheet.csv, line ")
        assert problem.next_step.endswith(".")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_what_spreadsheets_write(tmp_path: Path, encoding: str, separator: str, ending: str) -> None:
    rows = [["title", "place"], ["Zoë’s cart", "Merrow"], ["", ""], ["£5", ""]]
    sheet = read(tmp_path, ending.join(separator.join(row) for row in rows).encode(encoding))
    assert [(row.line, row.fields) for row in sheet.rows] == [
        (2, {"title": "Zoë’s cart", "place": "Merrow"}),
        (4, {"title": "£5"}),
    ]
    assert len(sheet.notices) == (1 if encoding == "cp1252" else 0)


def test_short_rows_are_filled_up(tmp_path: Path) -> None:
    sheet = read(tmp_path, "title,place,source\nA\nB,Merrow\n")
    assert [row.fields for row in sheet.rows] == [{"title": "A"}, {"title": "B", "place": "Merrow"}]


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "is empty"),
        (b"\n\n", "is empty"),
        (b"a,b\n1,2\n", "names no column that is known"),
        (b"title\n1,2\n", "line 2 has 2 cells where the first line has 1"),
        (b'title\nA\n"never closed\n', "a quotation mark opened in line 3"),
        (b"title\nA\0B\n", "NUL"),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(20)), "not text"),
        (b"x" * 10_000_000, "first line of sheet.csv is too long"),
        (b"title," * 300 + b"\n", "more than 200 columns"),
        (b"title\n" + b"," * 10_000_000, "line 2 has 10000001 cells"),
        (b"title\n" + b"a\n" * 200_001, "more than 200,000 rows"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_is_no_sheet_is_refused_whole(tmp_path: Path, data: bytes, why: str) -> None:
    with pytest.raises(SheetRefused, match=why) as caught:
        read(tmp_path, data)
    assert caught.value.next_step
    assert len(caught.value.problem) < 300


def test_ten_megabytes_in_one_cell_cost_one_row(tmp_path: Path) -> None:
    sheet = read(tmp_path, b"title\nA\n" + b"x" * 10_000_000 + b"\nB\n")
    assert [row.refused for row in sheet.rows] == [False, True, False]
    assert problems(sheet) == ["Line 3 has more than 100,000 characters in its title."]
    assert sheet.rows[1].fields == {}


def test_files_that_cannot_be_read_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for path in (tmp_path, tmp_path / "nothing.csv"):
        with pytest.raises(SheetRefused):
            read_sheet(path)
    monkeypatch.setattr(sheet_module, "LARGEST_SHEET", 1_000_000)
    with pytest.raises(SheetRefused, match="larger than 1 MB"):
        read(tmp_path, b"title\n" + b"a\n" * 500_000)


_CELL = st.text(
    st.characters(exclude_characters="\0", exclude_categories=["Cs", "Cc"]) | st.sampled_from('\n\r,";'), max_size=12
)


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(_CELL, _CELL), min_size=1, max_size=6))
def test_cells_and_lines_agree_with_the_standard_library(tmp_path: Path, cells: list[tuple[str, str]]) -> None:
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\n")
    writer.writerow(["identifier", "title"])
    writer.writerows([(f"i{n} {one}", two) for n, (one, two) in enumerate(cells)])
    sheet = read(tmp_path, out.getvalue())
    reader = csv.reader(io.StringIO(out.getvalue(), newline=""))
    expected = []
    before = 0
    for number, row in enumerate(reader):
        if number:
            fields = {"identifier": row[0].strip(), "title": row[1].strip()}
            expected.append((before + 1, {name: value for name, value in fields.items() if value}))
        before = reader.line_num
    assert [(row.line, row.fields) for row in sheet.rows] == expected


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(
    st.one_of(
        st.binary(max_size=200), st.text('title,;\n"\r a=', max_size=60).map(lambda t: f"title,date\n{t}".encode())
    )
)
def test_any_bytes_are_a_sheet_or_refused(tmp_path: Path, data: bytes) -> None:
    try:
        sheet = read(tmp_path, data)
    except SheetRefused:
        return
    for row in sheet.rows:
        assert row.refused or row.fields
        assert row.line >= 2


@pytest.mark.parametrize(
    "value", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1+1", "\n=1", "＝1", "-5 °C", "'=1"]
)
def test_written_cells_are_no_formulas(value: str) -> None:
    assert csv_cell(value) == "'" + value


@pytest.mark.parametrize("value", ["", "cart", "1+1", "a=b", "'tis", "5", "(-1)"])
def test_other_cells_are_written_as_they_are(value: str) -> None:
    assert csv_cell(value) == value
