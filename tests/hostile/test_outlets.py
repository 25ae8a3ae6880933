# ruff: noqa: E501 (tables)
"""Every place that puts text into a format that could take it for something else, with what it must hold.

Hostile words go through the public functions, and another reader than the writer shows that they come out as words and
that nothing else is there. A place that is not in the table fails the first test; so does a line of it that is no
longer true, or whose test is gone.
"""

from __future__ import annotations

import csv
import html.parser
import io
import json
import re
import tomllib
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import outlets
import pandas
import pytest
from defusedxml import ElementTree
from drawn import draw
from PIL import Image
from pypdf import PdfReader

import refarchive
from refarchive.archive import Archive
from refarchive.paper import blocks, svg
from refarchive.paper.html import write_html
from refarchive.paper.pdf import write_pdf
from refarchive.paper.wall_drawing import Piece, wall_drawing
from refarchive.publish import iim, xmp
from refarchive.publish.photo_metadata import PROPERTIES, cleaned, photo_metadata
from refarchive.records.wall import Arrangement, Hung, Particulars
from refarchive.scenes.linking import with_entry, with_values

TESTS = Path(__file__).parents[1]
HERE = "hostile/test_outlets.py"

# What an outlet of a kind must hold, for each kind that `outlets` finds.
HOLDS = {
    "markup": "every text is escaped, in elements and in attributes; XML is built as a tree",
    "template": "autoescape is on, every attribute is in quotes, nothing is marked as safe",
    "csv": "every cell goes through csv_cell: no spreadsheet takes it for a formula, and it reads back as it was",
    "typst": "text comes as JSON; nothing in the templates sets a text as code or markup, or reads a file named by one",
    "toml": "written by a library, and reads back as it was",
    "figure": "every name goes through in_a_figure: no formula, no control, nothing left out of a legend",
    "file name": "letters and digits, or file_name: it stays in its folder, and every system takes it",
    "address": "percent-encoded",
    "terminal": "visible_text or as_json_text: nothing steers the terminal",
    "words, unseen": "none but in `refill`, which makes hidden marks visible as `h` does",
    "log": "no text from outside but in the trace of an error nobody foresaw",
    "by hand": "said beside it",
}
NAMES = f"{HERE}::test_short_names_are_plain_letters"
OURS = "no word from outside in it: digests, numbers and constants"
FOLDERS = f"{HERE}::test_what_is_written_has_names_that_every_system_takes"
PAGES = f"{HERE}::test_pages_in_html_have_the_same_tree_whatever_is_said"
PDF = f"{HERE}::test_pages_in_pdf_show_the_words_and_hold_nothing_that_acts"
SHEETS = f"{HERE}::test_sheets_in_csv_hold_no_formula_and_read_back"
LINES = "hostile/test_terminal.py::test_lines_and_json_hold_nothing_that_steers"
FIGURES = "paper/test_plots.py::test_no_name_is_a_formula_in_any_figure"
PLANS = f"{HERE}::test_plans_read_back_as_they_were_said"

# Where, of what kind, and the test that puts hostile words through it. The short list stands in DEVELOPERS.md.
TABLE = {
    ("paper/html.py", "markup"): PAGES,
    ("paper/templates/document.html.j2", "template"): PAGES,
    ("paper/svg.py", "markup"): f"{HERE}::test_drawings_have_the_same_tree_whatever_is_said",
    ("paper/wall_drawing.py", "markup"): f"{HERE}::test_drawings_have_the_same_tree_whatever_is_said",
    ("publish/manifest.py", "markup"): f"{HERE}::test_no_word_of_a_manifest_is_taken_for_html",
    ("publish/xmp.py", "markup"): f"{HERE}::test_metadata_come_out_as_they_were_said",
    ("publish/iim.py", "by hand"): f"{HERE}::test_metadata_come_out_as_they_were_said",  # lengths are counted
    ("archive/__init__.py", "markup"): f"{HERE}::test_a_repr_is_no_html",  # of Archive, in angle brackets
    ("jobs/references/filling.py", "csv"): SHEETS,
    ("jobs/references/press.py", "csv"): SHEETS,
    ("publish/table.py", "csv"): SHEETS,
    ("paper/pdf.py", "typst"): PDF,
    ("paper/print_pictures.py", "typst"): "paper/test_sheets.py::test_words_are_no_markup_and_come_out_in_their_letters",
    ("paper/templates/blocks.typ", "typst"): PDF,
    ("paper/templates/document.typ", "typst"): PDF,
    ("paper/templates/sheets.typ", "typst"): "paper/test_sheets.py::test_words_are_no_markup_and_come_out_in_their_letters",
    ("scenes/linking.py", "toml"): PLANS,
    ("scenes/writing.py", "toml"): PLANS,
    ("records/shared.py", "by hand"): f"{HERE}::test_the_pointer_to_a_shared_archive_reads_back",  # a TOML string of ours
    ("paper/figures.py", "figure"): FIGURES,
    ("paper/plots.py", "figure"): FIGURES,
    ("paper/strengths_plot.py", "figure"): "paper/test_plots.py::test_names_of_frames_are_cut_and_no_formulas",
    ("paper/series_page.py", "figure"): FIGURES,  # numbers and words of ours only
    ("paper/strips.py", "figure"): FIGURES,  # days and hours only
    ("panels/base.py", "figure"): FIGURES,  # saves what the above drew
    ("cli/__init__.py", "terminal"): LINES,
    ("cli/answering.py", "terminal"): LINES,
    ("cli/commands.py", "terminal"): "hostile/test_terminal.py::test_a_plan_shown_on_a_terminal_does_not_steer_it_and_is_exact_in_a_file",
    ("archive/pace.py", "terminal"): "hostile/test_terminal.py::test_a_bar_of_progress_shows_names_without_what_steers",
    ("sources/pdf_apart.py", "terminal"): LINES,  # JSON in ASCII to the process that started it
    ("panels/base.py", "log"): "panels/test_find_panel.py::test_a_hostile_caption_stays_text",
    ("records/files.py", "log"): LINES,  # silences a library
    ("sources/linear.py", "log"): LINES,  # the same
    ("publish/linked.py", "address"): f"{HERE}::test_addresses_hold_nothing_but_what_addresses_may",
    ("publish/manifest.py", "address"): f"{HERE}::test_addresses_hold_nothing_but_what_addresses_may",
    ("publish/series_manifest.py", "address"): f"{HERE}::test_addresses_hold_nothing_but_what_addresses_may",
    ("sources/fetching.py", "address"): "sources/test_fetching.py::test_other_addresses_are_none",
    ("sources/manifest.py", "file name"): "sources/test_fetching.py::test_other_addresses_are_none",  # the end of an address
    ("publish/manifest.py", "file name"): FOLDERS,
    ("archive/telling.py", "file name"): NAMES,
    ("archive/planning.py", "file name"): NAMES,  # slug_of
    ("scenes/plan.py", "file name"): NAMES,  # slug_of
    ("panels/base.py", "file name"): "panels/test_gather_panel.py::test_uploads_stay_in_their_folder_and_go_with_the_panel",
    ("panels/check.py", "file name"): NAMES,
    ("panels/shared.js", "words, unseen"): "panels/test_find_panel.py::test_a_hostile_caption_stays_text",  # refill, which makes visible
    ("jobs/references/bringing.py", "file name"): OURS,
    ("jobs/planning/dossier.py", "file name"): FOLDERS,
    ("jobs/choosing/hanging.py", "file name"): FOLDERS,  # a slug and a day
    ("jobs/choosing/printing.py", "file name"): FOLDERS,  # a slug and a number
    ("jobs/references/press.py", "file name"): FOLDERS,
    ("jobs/references/leaving.py", "by hand"): FOLDERS,  # files named by letters, digits and hyphens
    ("jobs/choosing/putting_out.py", "file name"): "jobs/choosing/test_putting_out.py::test_what_goes_out_has_a_name_that_every_disk_takes",
    ("jobs/choosing/series_pages.py", "file name"): NAMES,  # slug_of
    ("jobs/references/signatures.py", "file name"): OURS,
    ("jobs/keeping/pack_places.py", "file name"): OURS,
    ("jobs/keeping/packing.py", "file name"): OURS,
    ("paper/sheets.py", "file name"): OURS,
    ("records/sqlite.py", "file name"): OURS,
    ("records/files.py", "file name"): OURS,
    ("records/shared.py", "file name"): OURS,
    ("records/tally.py", "file name"): OURS,
    ("search/vector_folder.py", "file name"): OURS,
    ("search/vectors.py", "file name"): OURS,
    ("encoders/openclip.py", "file name"): OURS,
    ("sources/pdf_apart.py", "file name"): OURS,
    ("demo.py", "file name"): OURS,
    ("records/pack.py", "file name"): OURS,
}  # fmt: skip


def test_every_outlet_is_in_the_table_and_the_table_is_true() -> None:
    by_hand = {place for place in TABLE if place[1] == "by hand"}
    assert outlets.found() == set(TABLE) - by_hand
    assert {kind for _, kind in TABLE} == set(HOLDS)
    for file, _ in by_hand:
        assert (outlets.ROOM / file).is_file()
    for place, test in TABLE.items():
        file, _, name = test.partition("::")
        if test != OURS:
            assert f"def {name}(" in (TESTS / file).read_text("utf-8"), place


@pytest.mark.parametrize(
    ("source", "kind"),
    [
        ("x = f'<b>{title}</b>'", "markup"),
        ("x = '<a href=' + title", "markup"),
        ("x = f'<{tag}'", "markup"),
        ("x = '<td>%s</td>' % title", "markup"),
        ("x = Markup(title)", "markup"),
        ("class A:\n    def _repr_html_(self): ...", "markup"),
        ("import jinja2\nx = jinja2.Template(title)", "markup"),
        ("import csv\ncsv.writer(out)", "csv"),
        ("frame.to_csv(out)", "csv"),
        ("typst.compile(title)", "typst"),
        ("axes.set_title(title)", "figure"),
        ("print(title)", "terminal"),
        ("path = folder / f'{title}-sheet'", "file name"),
        ("path = f'{title}.pdf'", "file name"),
        ("x = base + quote(title)", "address"),
        ("logging.getLogger('x')", "log"),
        ("tomli_w.dumps(x)", "toml"),
    ],
)
def test_a_new_outlet_is_noticed(source: str, kind: str) -> None:
    assert kind in set(outlets.of_python(source))


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("a.js", "el.innerHTML = title;"), ("a.js", "el.insertAdjacentHTML('beforeend', title);"),
        ("a.js", "document.write(title)"), ("a.js", "new Function(title)"), ("a.js", "eval(title)"),
        ("a.js", "window.open(url)"), ("a.js", "el.replaceChildren(title)"), ("a.js", "el.textContent = title"), ("a.j2", "<p>{{ title | safe }}</p>"), ("a.j2", "<p class={{ title }}>"),
        ("a.j2", '<p style="{{ title }}">'), ("a.j2", '<p onclick="{{ title }}">'), ("a.typ", "#eval(doc.title)"),
        ("a.typ", '#eval(x, mode: "markup")'), ("a.typ", "#read(doc.file)"), ("a.typ", "#link(doc.title)[x]"),
    ],
)  # fmt: skip
def test_a_new_outlet_in_a_script_or_a_template_is_noticed(name: str, source: str, tmp_path: Path) -> None:
    remark = "// A remark, of which nothing counts.\n" if name.endswith(".js") else ""
    (tmp_path / name).write_text(remark + source)
    assert outlets.of_file(name, tmp_path / name) - {"template", "typst"}


def test_links_and_pictures_of_panels_are_objects_that_they_made_themselves() -> None:
    """The address of a link or picture is never a text: what a title says cannot become one."""
    for path in (outlets.ROOM / "panels").glob("*.js"):
        for kind, value in re.findall(r"\b(href|src): ([^,}]+)", path.read_text("utf-8")):
            assert re.match(
                r"[\w.]*[sS]hel(f|ves)[\w.]*\.url\(|url\b|src\b|(first|second|map)\b|ctx\.urls\.get\(|one\.url\b", value
            ), (
                path.name,
                kind,
                value,
            )


# --- words that try to be something else ----------------------------------------------------------------------------

WORST = (
    "<script>alert(1)</script>", "\"'><img src=x onerror=alert(1)>", "]]></title></style></textarea><svg onload=x>",
    "<!-- --> <![CDATA[ <?php &lt; &#60; &amp;amp;", '#eval("1") #raw(`x`) #panic() #sys.inputs $x$ *b* _i_ @c <l> // c',
    "{{7*7}}{% raw %}", "$\\frac{$", "=1+1", "@SUM(A1)", "+1", "-1", "\t=1", " =1", "'=1", "../../etc/passwd",
    "..\\..\\x", "CON", "nul.txt", ".hidden", "a\nb\r\nc\u2028d", "\0\x1b[31m\x9b2J\x7f", "\u202egnp.exe \u2066x",
    "\\u{41} \\", "漢" * 100, "x" * 3_000, "\ud800", "\ufffe\uffff", '"' * 3, "'" * 3, "%s %n %00", "onset = url(x) href=y",
)  # fmt: skip


def png() -> bytes:
    data = io.BytesIO()
    Image.new("L", (8, 6)).save(data, "PNG")
    return data.getvalue()


PICTURES = {"p": png()}


def harmless(text: str) -> str:
    """Words of the same length and lines, as a page shows them, without anything in them."""
    return re.sub(r"\S", "x", blocks.clean(text, lines=True))


def squeezed(text: str) -> str:
    return "".join(text.split())


def page(text: str) -> dict[str, Any]:
    """A document with the text in every place that a document has."""
    plate = blocks.plate("p", text, text, text, beside=[blocks.facts([(text, text), (text, [text])])])
    small = blocks.plate("p", text, text, text, size="small")
    line = dict.fromkeys(
        ("label", "target", "frame", "difference", "tolerance", "verdict", "note", "remedy", "words"), text
    )
    made = [
        blocks.heading(text), blocks.text(text), blocks.text(text, "lead"), blocks.table([text, "b"], [[text, text]]),
        plate, blocks.plates([small]), small, blocks.quote(text, text, text), blocks.listing([text], text),
        blocks.swatches([{"hex": text, "lab": text, "name": text, "note": text}]), blocks.caution(text, text, [text]),
        blocks.question(text, [(text, text)]), blocks.tick(text, [text]), blocks.pair(small, small),
        blocks.verdicts([{"title": text, "lines": [line | {"target_colours": [(text, 1.0)], "frame_colours": []}]}]),
    ]  # fmt: skip
    return blocks.document(text, text, text, text, text, text, [blocks.section("s", text, [blocks.page(text, made)])])


class Tree(html.parser.HTMLParser):
    """Tags with the names of their attributes, and texts, as Python's own parser sees them."""

    def __init__(self, source: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, tuple[str, ...]]] = []
        self.words: list[str] = []
        self.values: list[str] = []
        self.feed(source)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, tuple(name for name, _ in attrs)))
        self.values += [value or "" for _, value in attrs]

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def handle_comment(self, data: str) -> None:
        self.tags.append(("comment", (data,)))

    def unknown_decl(self, data: str) -> None:
        self.tags.append(("declaration", (data,)))

    def handle_pi(self, data: str) -> None:
        self.tags.append(("instruction", (data,)))


@pytest.mark.parametrize("text", WORST)
def test_pages_in_html_have_the_same_tree_whatever_is_said(text: str) -> None:
    made, plain = Tree(write_html(page(text), PICTURES)), Tree(write_html(page(harmless(text)), PICTURES))
    assert made.tags == plain.tags
    shown = squeezed(blocks.clean(text))
    assert made.words.count(blocks.clean(text)) >= plain.words.count(blocks.clean(harmless(text)))
    assert squeezed("".join(made.words)).count(shown) > 10
    assert blocks.clean(text, 600) in made.values  # what stands for a picture


def test_pages_in_pdf_show_the_words_and_hold_nothing_that_acts() -> None:
    whole = [blocks.text(text) for text in WORST]
    for text in WORST[:8]:
        whole += page(text)["sections"][0]["pages"][0]["blocks"]
    made = write_pdf(
        blocks.document(WORST[4], "", "s", "1", "", WORST[0], [blocks.section("s", "s", [blocks.page("", whole)])]),
        PICTURES,
    )
    reader = PdfReader(io.BytesIO(made))
    said = squeezed("".join(one.extract_text() for one in reader.pages))
    for text in WORST:
        shown = blocks.clean(text)
        if shown.isascii():  # which letters the faces of this machine have is tested with the pages
            assert squeezed(shown)[:500] in said, text
    assert reader.metadata is not None
    assert reader.metadata.title == WORST[4]
    for acting in (b"/JavaScript", b"/JS", b"/OpenAction", b"/AA", b"/Launch", b"/URI", b"/EmbeddedFile"):
        assert all(acting not in _decoded(one) for one in reader.pages), acting
        assert acting not in str(reader.trailer["/Root"]).encode()


def _decoded(one: Any) -> bytes:
    return str({key: value for key, value in one.items() if key != "/Parent"}).encode()


@pytest.mark.parametrize("text", WORST)
def test_drawings_have_the_same_tree_whatever_is_said(text: str) -> None:
    def sheet(words: str) -> Any:
        made = svg.Sheet(100.0, 100.0)
        made.text((1.0, 5.0), svg.words(words))
        made.label(svg.Label(((50.0, 50.0),), (svg.words(words),), (0.0, 0.0, 100.0, 100.0)))
        return ElementTree.fromstring(made.written(svg.words(words), svg.words(words)).encode(), forbid_dtd=True)

    def wall(words: str) -> Any:
        hung = Arrangement(words, "s", "2026-01-01", 3000.0, 2000.0, (Hung("f", 100.0, 100.0, 300.0, 200.0),))
        return ElementTree.fromstring(wall_drawing(hung, {"f": Piece(words)}).encode(), forbid_dtd=True)

    for draw_it in (sheet, wall):
        made, plain = draw_it(text), draw_it(harmless(text))
        assert [(one.tag, sorted(one.keys())) for one in made.iter()] == [
            (one.tag, sorted(one.keys())) for one in plain.iter()
        ]
    assert [one.text for one in sheet(text).iter() if one.text and one.text.strip()] == [svg.words(text)] * 4 * bool(
        svg.words(text)
    )


@pytest.mark.parametrize("text", WORST)
def test_plans_read_back_as_they_were_said(text: str) -> None:
    plan = with_values('[scene]\ntitle = "x"\n', {("scene", "story"): text, ("scene", "statements"): [text]})
    plan = with_entry(plan, ("need",), {"name": text, "do": [text]})
    read = tomllib.loads(plan)
    assert read["scene"] == {"title": "x", "story": text, "statements": [text]}
    assert read["need"] == [{"name": text, "do": [text]}]


@pytest.mark.parametrize("text", WORST)
def test_short_names_are_plain_letters(text: str) -> None:
    from refarchive.archive.telling import file_name
    from refarchive.scenes.plan import slug_of

    assert re.fullmatch(r"[a-z0-9]*(-[a-z0-9]+)*", slug_of(text))
    made = file_name(text)
    assert len(made.encode()) <= 200
    assert not set('<>:"/\\|?*') & set(made)
    assert made.isprintable()


def test_the_pointer_to_a_shared_archive_reads_back(tmp_path: Path) -> None:
    from refarchive.errors import BadQuery
    from refarchive.records.shared import Shared, read, write

    kept = 0
    for text in WORST:
        try:
            write(tmp_path, Shared("postgresql://host/name", text))
        except BadQuery:
            continue
        kept += 1
        assert read(tmp_path) == Shared("postgresql://host/name", text)
    assert kept > 20


@pytest.mark.parametrize("text", WORST)
def test_metadata_come_out_as_they_were_said(text: str) -> None:
    told = Particulars(
        "f",
        title=text[:1_500],
        creator=text[:1_500],
        caption=text,
        alt_text=text,
        keywords=(text[:1_500],),
        usage_terms=text,
    )
    made = photo_metadata(told, on="2026-05-01")
    packet = xmp.packet(made, most=None).standard
    tree = ElementTree.fromstring(packet.partition(b"?>")[2].rpartition(b"<?xpacket")[0], forbid_dtd=True)
    said = [one.text for one in tree.iter() if one.text and one.text.strip()]
    wanted = cleaned(text[:1_500])
    assert said.count(wanted) >= 3 or not wanted
    assert {one.tag.partition("}")[0] for one in tree.iter()} <= {
        f"{{{uri}" for uri in (*xmp.NAMESPACES.values(), xmp.META, xmp.RDF)
    }
    ours = {(2, one.iim) for one in PROPERTIES if one.iim} | {(1, 0), (1, 90), (2, 0)}
    for record, number, value in iim.data_sets(iim.iim(made)):
        assert (record, number) in ours
        if record == 2 and number == 5 and wanted:
            assert wanted.startswith(value.decode("utf-8"))


def test_a_repr_is_no_html(archive: Archive) -> None:
    assert not hasattr(archive, "_repr_html_")
    assert repr(archive).startswith("<refarchive archive ")


# --- an archive in which everything is hostile ----------------------------------------------------------------------


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Archive, Path]]:
    """An archive with a picture for each of the texts, which says it in every field, and all that was written of it."""
    place = tmp_path_factory.mktemp("hostile")
    with refarchive.create(place / "archive", "tiny", who="tester") as made:
        for number, text in enumerate(WORST):
            name = "".join(c for c in text if c not in "/\0").encode(
                "utf-8", "surrogateescape" if text == "x" else "replace"
            )
            draw(place / "in" / f"{number:02d}.png", number)
            (place / "in" / f"{number:02d}.png").rename(
                place / "in" / f"{number:02d}{name[:150].decode('utf-8', 'ignore')}.png"
            )
        made.gather(place / "in")
        ids = [one.id for one in sorted(made.references(), key=lambda one: one.source_name)]
        for one, text in zip(ids, WORST, strict=True):
            made.describe(one, title=text, creator=text, place=text, description=text, source=text, credit=text,
                          basis=text, basis_evidence=text, rights="CC BY 4.0")  # fmt: skip
            made.mark(one, (0.1, 0.1, 0.5, 0.5), text)
        made.plan(f"[scene]\ntitle = {json.dumps(WORST[0])}\nslug = \"ford\"\n[[need]]\nname = \"hat\"\ndepartment = \"props\"\n"
                  f"[[need.evidence]]\nreference = \"{ids[1]}\"\nrelation = \"shows\"\n")  # fmt: skip
        bare = draw(place / "bare.png", 99)
        made.gather(bare)
        made.describe("bare.png", title=WORST[20] + WORST[21])
        out = place / "out"
        made.exchange.write(out / "left")
        made.exchange.publish_references([*ids, "bare.png"], out / "published", leave_out=True)
        made.evidence.write_debts(out / "debts.csv")
        made.dossier("ford", out=out / "dossier")
        made.print_findings(made.find("x", top=50), out / "found.html", question=WORST[0])
        yield made, out


def test_sheets_in_csv_hold_no_formula_and_read_back(hostile: tuple[Archive, Path]) -> None:
    archive, out = hostile
    for path, named in (
        (out / "left" / "references.csv", "title"), (out / "published" / "captions.csv", "title"), (out / "debts.csv", "title"),
    ):  # fmt: skip
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.reader(file))
        assert {len(row) for row in rows} == {len(rows[0])}
        for cell in (cell for row in rows[1:] for cell in row):
            # OWASP, CSV Injection: what a cell must not begin with.
            assert cell.lstrip(" \u00a0")[:1] not in ("=", "+", "-", "@", "\t", "\r", "\n") or not cell.strip()
        # Another reader than the writer: pandas' own, in C.
        read = pandas.read_csv(
            io.StringIO(path.read_bytes().decode("utf-8-sig").replace("\0", "")), dtype=str, keep_default_na=False
        )
        assert len(read) == len(rows) - 1
        titles = {squeezed(one).replace("\0", "").lstrip("'") for one in read[named]}
        wanted = {squeezed(r.title).replace("\0", "").lstrip("'") for r in archive.references()}
        assert titles <= wanted
        assert len(titles) > 20


def test_what_is_written_has_names_that_every_system_takes(hostile: tuple[Archive, Path]) -> None:
    files = [one for one in hostile[1].rglob("*") if one.is_file()]
    assert len(files) > 2 * len(WORST)
    for one in files:
        assert re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9-]{0,99}\.[a-z]{3,6}", one.name), one.name
        assert not re.fullmatch(r"(?i)con|prn|aux|nul|com\d|lpt\d", one.stem)


def test_texts_for_people_hold_nothing_that_steers_a_terminal(hostile: tuple[Archive, Path]) -> None:
    texts = list(hostile[1].rglob("*.txt"))
    assert {one.name for one in texts} == {"rights.txt", "captions.txt", "left-out.txt"}
    for one in texts:
        told = one.read_text("utf-8")
        assert "[U+202E]gnp.exe" in told
        steering = {c for c in told if unicodedata.category(c) == "Cc" or c in "\u202e\u2066"}
        assert steering == {"\n"}, one.name


def test_no_word_of_a_manifest_is_taken_for_html(hostile: tuple[Archive, Path]) -> None:
    """IIIF Presentation 3.0, 4.5: a string that begins with < and ends with > is HTML to whoever shows it."""
    document = json.loads((hostile[1] / "left" / "manifest.json").read_text("utf-8"))

    def strings(value: Any) -> Iterator[str]:
        if isinstance(value, dict):
            for inner in value.values():
                yield from strings(inner)
        elif isinstance(value, list):
            for inner in value:
                yield from strings(inner)
        elif isinstance(value, str):
            yield value

    taken = [one for one in strings([document["label"], [[c["label"], c["metadata"], c.get("summary")] for c in document["items"]]])
             if one.strip().startswith("<") and one.strip().endswith(">")]  # fmt: skip
    assert len(taken) > 3
    for one in taken:
        tree = Tree(one)
        assert tree.tags == [("span", ())]
        assert "".join(tree.words) in WORST


def test_addresses_hold_nothing_but_what_addresses_may(hostile: tuple[Archive, Path]) -> None:
    told = (hostile[1] / "left" / "manifest.json").read_text("utf-8") + (
        hostile[1] / "left" / "references.jsonld"
    ).read_text("utf-8")
    found = re.findall(r'"@?id": "((?:[^"\\]|\\.)*)"', told)
    assert len(found) > 4 * len(WORST)
    for one in found:
        assert re.fullmatch(r"[A-Za-z0-9:/?#\[\]@!$&'()*+,;=._~%-]+", one), one  # RFC 3986, 2.2 and 2.3


def test_the_pages_of_a_hostile_archive_run_nothing(hostile: tuple[Archive, Path]) -> None:
    allowed = set("html head meta title style body header h1 h2 h3 h4 h5 p nav ol li a main section div figure figcaption span b i small "
                  "em img svg rect dl dt dd table thead tbody tr th td ul blockquote footer".split())  # fmt: skip
    for one in (hostile[1] / "found.html", hostile[1] / "dossier" / "ford-dossier.html"):
        tree = Tree(one.read_text("utf-8"))
        assert {tag for tag, _ in tree.tags} <= allowed
        assert not any(
            name.startswith("on") or name in ("style", "srcset", "srcdoc") for _, names in tree.tags for name in names
        )
        assert any("<script>alert(1)</script>" in word for word in tree.words)
