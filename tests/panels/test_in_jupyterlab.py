"""The panels in a real JupyterLab, with a real kernel and the built-in encoder: the four jobs, start to finish."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from drawn import draw
from playwright.sync_api import Locator, Page, expect

import refarchive
from refarchive.demo import copy_notebooks, shipped

LONG = 120_000  # ms: the first cell builds the sample archive

SMALL = """import sys
sys.path.insert(0, {tests!r})
import conftest, refarchive
from refarchive.panels import Find, Gather
archive = refarchive.create({folder!r}, "tiny")
archive.gather({scans!r})
find = Find(archive)
find"""


def press(page: Page | Locator, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


@pytest.fixture
def small(tmp_path: Path, folder: Path) -> str:
    tests = str(Path(__file__).parent.parent)
    return SMALL.format(tests=tests, folder=str(tmp_path / "lab-archive"), scans=str(folder))


def cells(page: Page) -> int:
    return page.locator(".jp-NotebookPanel .jp-Cell").count()


def test_keys_stay_in_the_panel(notebook: Callable[..., Page], small: str) -> None:
    """In command mode b adds a cell and d d deletes one, with the panel in it."""
    page = notebook(small, "1 + 1")
    field = page.get_by_label("What is to be seen")
    expect(field).to_be_visible(timeout=LONG)
    expect(page.get_by_role("status").first).to_contain_text("7 references", timeout=LONG)
    before = cells(page)
    field.press_sequentially("bdd a x")
    assert field.input_value() == "bdd a x"
    for control in (page.get_by_role("button", name="Find", exact=True), page.get_by_label("Kind", exact=True)):
        control.focus()
        for key in ("b", "d", "d", "a", "x", "m"):
            page.keyboard.press(key)
    assert cells(page) == before
    field.fill("lamp")
    field.press("Enter")
    expect(page.get_by_role("list", name="Found").locator("> li").first).to_be_visible(timeout=LONG)


def test_fifty_searches_leave_no_widgets_and_no_pictures_behind(notebook: Callable[..., Page], small: str) -> None:
    page = notebook(small)
    field = page.get_by_label("What is to be seen")
    expect(page.get_by_role("status").first).to_contain_text("7 references", timeout=LONG)
    page.evaluate(
        """() => { window.open_ = 0; const made = URL.createObjectURL, gone = URL.revokeObjectURL;
        URL.createObjectURL = (one) => { window.open_ += 1; return made.call(URL, one); };
        URL.revokeObjectURL = (one) => { window.open_ -= 1; return gone.call(URL, one); }; }"""
    )
    models = """async () => { const views = document.querySelectorAll('.ra-panel').length;
        const { kernel } = jupyterapp.shell.currentWidget.context.sessionContext.session;
        const told = await kernel.requestCommInfo({});  // one comm for each widget that the kernel holds
        return [views, window.open_, Object.keys(told.content.comms).length]; }"""
    counts = []
    for number in range(50):
        field.fill(f"lamp {number}")
        press(page, "Find")
        expect(page.get_by_role("status").first).to_contain_text("shown", timeout=LONG)
        expect(page.get_by_role("button", name="Find", exact=True)).not_to_have_attribute("aria-disabled", "true")
        counts.append(page.evaluate(models))
    assert counts[-1] == counts[0]
    assert counts[0][2] > 0


def test_an_error_in_the_kernel_is_a_sentence_in_the_panel(notebook: Callable[..., Page], small: str) -> None:
    page = notebook(small, "archive.close()\narchive._kit.store = None")
    expect(page.get_by_label("What is to be seen")).to_be_visible(timeout=LONG)
    page.wait_for_timeout(1_000)
    press(page, "Find")
    expect(page.get_by_role("alert").first).to_contain_text("Something went wrong inside the tool", timeout=LONG)
    assert page.locator('[data-mime-type="application/vnd.jupyter.error"]').count() == 0


REOPEN = """import sys
sys.path.insert(0, {tests!r})
import conftest, refarchive
from refarchive.panels import Gather
archive = refarchive.open({folder!r})
Gather(archive)"""


def test_a_kernel_started_anew_loses_nothing_that_was_saved(
    notebook: Callable[..., Page], tmp_path: Path, folder: Path
) -> None:
    place = tmp_path / "kept"
    with refarchive.create(place, "tiny") as made:
        made.gather(folder)
    page = notebook(REOPEN.format(tests=str(Path(__file__).parent.parent), folder=str(place)))
    panel = page.locator(".ra-panel")
    expect(panel.get_by_role("status")).to_contain_text("holds 7 references", timeout=LONG)
    for title in ("First", "Second"):
        panel.get_by_label("Or open one by its file name").fill("b.png")
        press(panel, "Open")
        expect(panel.get_by_role("heading", name="One reference")).to_be_visible(timeout=LONG)
        expect(panel.get_by_label("Title or caption")).to_have_value(
            "First" if title == "Second" else "b", timeout=LONG
        )
        panel.get_by_label("Title or caption").fill(title)
        press(panel, "Save")
        expect(panel.get_by_role("status")).to_contain_text("Saved: title.", timeout=LONG)
        page.evaluate(
            "async () => { const session = jupyterapp.shell.currentWidget.context.sessionContext;"
            " await session.restartKernel(); await session.session.kernel.info;"
            " await jupyterapp.commands.execute('notebook:run-all-cells'); }"
        )
        expect(panel.get_by_role("status")).to_contain_text("holds 7 references", timeout=LONG)
    with refarchive.open(place) as kept:
        assert kept.reference("b.png").title == "Second"


def test_gathering_is_stopped_on_the_screen_and_keeps_what_was_done(
    notebook: Callable[..., Page], tmp_path: Path
) -> None:
    place, scans = tmp_path / "kept", tmp_path / "many"
    refarchive.create(place, "tiny").close()
    for number in range(240):
        draw(scans / f"{number:03d}.png", number)
    page = notebook(REOPEN.format(tests=str(Path(__file__).parent.parent), folder=str(place)))
    panel = page.locator(".ra-panel")
    expect(panel.get_by_role("status")).to_contain_text("holds 0 references", timeout=LONG)
    panel.get_by_label("Or a folder or file on this computer").fill(str(scans))
    press(panel, "Gather")
    expect(panel.locator(".ra-work")).to_contain_text("of 240", timeout=LONG)
    press(panel, "Stop")
    expect(panel.get_by_role("alert")).to_contain_text("Stopped. What was taken in until then is kept.", timeout=LONG)
    expect(panel.locator(".ra-work")).to_have_count(0)
    with refarchive.open(place) as kept:
        assert 0 <= len(kept) < 240
        done = len(kept)
    press(panel, "Gather")
    expect(panel.get_by_role("status")).to_contain_text("holds 240 references", timeout=LONG)
    expect(panel.get_by_text(f"{240 - done} added, {done} unchanged")).to_be_visible()


@pytest.fixture(scope="module")
def books(lab: tuple[str, Path]) -> Path:
    copy_notebooks(lab[1])
    return lab[1]


def test_the_four_jobs_from_top_to_bottom(notebook: Callable[..., Page], books: Path, tmp_path: Path) -> None:
    """As a person would, notebook by notebook, ending with a dossier and a checked frame."""
    # Gather: a picture of one's own, with what is known of it, and a detail marked on it.
    draw(tmp_path / "my-scan.png", 3)
    lab = notebook(file="1_gather.ipynb")
    page = lab.locator(".ra-panel")
    expect(page.get_by_role("status").first).to_contain_text("holds 38 references", timeout=LONG)
    page.get_by_label("Files").set_input_files(tmp_path / "my-scan.png")
    page.get_by_label("Where they come from").first.fill("A drawer (invented)")
    press(page, "Gather")
    expect(page.get_by_role("status").first).to_contain_text("holds 39 references", timeout=LONG)
    page.get_by_role("button", name="Say more of it").click()
    page.get_by_label("Title or caption").fill("A lamp in a drawer")
    page.get_by_label("Date, as written").fill("February 1871")
    expect(page.get_by_text("Understood as February 1871")).to_be_visible(timeout=LONG)
    page.get_by_role("group", name="A lamp in a drawer").or_(
        page.get_by_role("group", name="The picture of the reference")
    ).press("ArrowRight")
    page.get_by_label("Note to the marked part").fill("the flame")
    press(page, "Keep the marked part")
    expect(page.get_by_role("list", name="Marked details")).to_contain_text("the flame", timeout=LONG)
    press(page, "Save")
    expect(page.get_by_role("status").first).to_contain_text("Saved: date, title.", timeout=LONG)

    # Find: in words, and into the scene as evidence.
    lab = notebook(file="2_find.ipynb")
    page = lab.locator(".ra-panel")
    expect(page.get_by_role("status").first).to_contain_text("39 references", timeout=LONG)
    page.get_by_label("What is to be seen").fill("a lamp in a drawer")
    press(page, "Find")
    expect(page.get_by_role("list", name="Found").locator("> li").first).to_contain_text(
        "A lamp in a drawer", timeout=LONG
    )
    page.get_by_label("Need").select_option(label="Lantern (props)")
    page.get_by_label("Note", exact=True).fill("found in a drawer")
    press(page, "Use as evidence: A lamp in a drawer")
    expect(page.get_by_role("status").first).to_contain_text("pieces of evidence", timeout=LONG)

    # Scene and dossier: the evidence stands there, and the pages print it.
    lab = notebook(file="3_scene_and_dossier.ipynb")
    page = lab.locator(".ra-panel")
    expect(page.get_by_role("status").first).to_contain_text("Revision 2", timeout=LONG)
    page.locator("summary", has_text="Lantern:").click()
    expect(page.get_by_role("img", name="A lamp in a drawer")).to_be_visible()
    page.get_by_label("For", exact=True).last.select_option("props")
    press(page, "Make PDF and HTML")
    with lab.expect_download(timeout=LONG) as download:
        page.get_by_role("link", name="first-light-props-dossier.pdf").click(timeout=LONG)
    dossier = tmp_path / "dossier.pdf"
    download.value.save_as(dossier)
    assert dossier.read_bytes().startswith(b"%PDF-")
    from pypdf import PdfReader

    assert "A lamp in a drawer" in " ".join(one.extract_text() for one in PdfReader(dossier).pages).replace("\n", " ")

    # Check: a frame, line by line, and a departure that is meant.
    lab = notebook(file="4_check.ipynb")
    page = lab.locator(".ra-panel")
    expect(page.get_by_label("Scene", exact=True)).to_have_value("first-light", timeout=LONG)
    page.get_by_label("Or a picture file").set_input_files(shipped("sample_refs") / "frames" / "first-light-02.jpg")
    expect(page.get_by_role("status").first).to_contain_text("Ready to be checked.", timeout=LONG)
    press(page, "Check")
    expect(page.get_by_role("status").first).to_contain_text("Checked; 1 check", timeout=LONG)
    key = page.get_by_role("list", name="Lines against the intent").locator("> li[data-measure=key]")
    key.get_by_text("It is meant that way").click()
    key.get_by_label("Meant that way (key), because").fill("for the poster")
    press(key, "Keep as an intended departure")
    expect(page.get_by_role("status").first).to_contain_text("Checked; 2 checks", timeout=LONG)

    with refarchive.open(books / "merrow-archive") as archive:
        reference = archive.reference("my-scan.png")
        assert (reference.title, reference.source) == ("A lamp in a drawer", "A drawer (invented)")
        assert [one.note for one in archive.details("my-scan.png")] == ["the flame"]
        lantern = next(need for need in archive.scene("first-light").needs if need.name == "Lantern")
        assert lantern.evidence[-1].note == "found in a drawer"
        lines = archive.frame_work.earlier("first-light", "first-light-02.jpg")[-1]["lines"]
        assert {one["measure"]: one["verdict"] for one in lines if one["against"] == "intent"}[
            "key"
        ] == "departure intended"
