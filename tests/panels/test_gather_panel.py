"""Gathering on the screen: files in, what is said of them, details marked, and nothing overwritten."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from drawn import draw
from playwright.sync_api import Page, expect

from refarchive.archive import Archive
from refarchive.panels import Gather


@pytest.fixture
def panel(archive: Archive) -> Gather:
    return Gather(archive)


@pytest.fixture
def page(panel: Gather, show: Callable[..., Page]) -> Page:
    made = show(panel)
    expect(made.get_by_role("status")).to_contain_text("holds 0 references")
    return made


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def test_files_come_in_with_what_is_said_of_them(page: Page, archive: Archive, tmp_path: Path) -> None:
    draw(tmp_path / "one.png", 1)
    draw(tmp_path / "two.jpg", 2)
    (tmp_path / "broken.jpg").write_bytes(b"\xff\xd8\xff\xe0 no picture")
    page.get_by_label("Files").set_input_files([tmp_path / name for name in ("one.png", "two.jpg", "broken.jpg")])
    page.get_by_label("Where they come from").first.fill("Album of a reading room (invented)")
    page.get_by_label("Date", exact=True).fill("autumn 1869")
    press(page, "Gather")
    expect(page.get_by_role("status")).to_contain_text("holds 2 references", timeout=30_000)
    expect(page.get_by_text("2 added, 0 unchanged")).to_be_visible()
    expect(page.get_by_text("broken.jpg: ")).to_be_visible()
    assert page.get_by_role("list", name="New in the archive").locator("img").count() == 2
    for name in ("one.png", "two.jpg"):
        reference = archive.reference(name)
        assert reference.source == "Album of a reading room (invented)"
        assert reference.when is not None
        assert reference.when.text == "autumn 1869"


def test_the_same_picture_again_is_said_to_be_there(page: Page, archive: Archive, tmp_path: Path) -> None:
    archive.gather(draw(tmp_path / "one.png", 1) or tmp_path / "one.png")
    (tmp_path / "again.png").write_bytes((tmp_path / "one.png").read_bytes())
    page.get_by_label("Files").set_input_files(tmp_path / "again.png")
    press(page, "Gather")
    expect(page.get_by_role("heading", name="The same picture was there already")).to_be_visible(timeout=30_000)
    assert len(archive) == 1


def test_a_folder_of_this_computer_and_a_sheet(page: Page, archive: Archive, folder: Path, tmp_path: Path) -> None:
    page.get_by_label("Or a folder or file on this computer").fill(str(folder))
    press(page, "Gather")
    expect(page.get_by_role("status")).to_contain_text("holds 7 references", timeout=30_000)
    page.get_by_label("Or a folder or file on this computer").fill(str(tmp_path / "nowhere"))
    press(page, "Gather")
    expect(page.get_by_text("Not taken").or_(page.get_by_role("alert").locator("strong"))).to_be_visible(timeout=30_000)
    assert len(archive) == 7


def test_nothing_chosen_is_a_sentence(page: Page) -> None:
    press(page, "Gather")
    expect(page.get_by_role("alert")).to_contain_text("Nothing was chosen.")


def test_what_is_missing_is_filled_in_with_the_date_understood(page: Page, archive: Archive, tmp_path: Path) -> None:
    draw(tmp_path / "one.png", 1)
    page.get_by_label("Files").set_input_files(tmp_path / "one.png")
    press(page, "Gather")
    page.get_by_role("list", name="References with something missing").get_by_role("button").click()
    page.get_by_label("Title or caption").fill("A <b>lamp</b>")
    page.get_by_label("Date, as written").fill("c. 1868")
    expect(page.get_by_text("Understood as about 1868")).to_be_visible()
    page.get_by_label("Date, as written").fill("31 April 1868")
    expect(page.locator("form .ra-hint").first).to_contain_text("31 April 1868")
    page.get_by_label("Date, as written").fill("Lady Day 1868")
    press(page, "Save")
    expect(page.get_by_role("status")).to_contain_text("Saved: date, title.")
    reference = archive.reference("one.png")
    assert (reference.title, reference.when.text) == ("A <b>lamp</b>", "Lady Day 1868")
    press(page, "Save")
    expect(page.get_by_role("status")).to_contain_text("Nothing was changed.")


def test_a_detail_is_marked_and_shown_again(page: Page, archive: Archive, tmp_path: Path) -> None:
    archive.gather(draw(tmp_path / "one.png", 1) or tmp_path / "one.png")
    page.get_by_label("Or open one by its file name").fill("one.png")
    press(page, "Open")
    press(page, "Keep the marked part")
    expect(page.get_by_role("alert")).to_contain_text("Nothing is marked.")
    marker = page.get_by_role("group", name="The picture of the reference")
    marker.press("ArrowLeft")
    marker.press("ArrowUp")
    page.get_by_label("Note to the marked part").fill("the hand")
    press(page, "Keep the marked part")
    expect(page.get_by_role("list", name="Marked details")).to_contain_text("the hand")
    (detail,) = archive.details("one.png")
    assert detail.region == pytest.approx((0.33, 0.33, 0.3, 0.3))


def test_a_change_made_elsewhere_is_not_written_over(page: Page, archive: Archive, tmp_path: Path) -> None:
    archive.gather(draw(tmp_path / "one.png", 1) or tmp_path / "one.png")
    page.get_by_label("Or open one by its file name").fill("one.png")
    press(page, "Open")
    archive.describe("one.png", title="From the other panel", place="Merrow Sands")
    page.get_by_label("Title or caption").fill("From this panel")
    press(page, "Save")
    expect(page.get_by_role("alert")).to_contain_text("was changed meanwhile: title")
    assert archive.reference("one.png").title == "From the other panel"
    page.get_by_label("Title or caption").fill("one")
    page.get_by_label("Maker").last.fill("T. Quill (invented)")
    press(page, "Save")
    reference = archive.reference("one.png")
    assert reference.place == "Merrow Sands"  # what this panel did not touch stays as it was changed


def test_uploads_stay_in_their_folder_and_go_with_the_panel(panel: Gather, tmp_path: Path) -> None:
    said: list = []
    panel.send = lambda content, buffers=None: said.append(content)  # type: ignore[method-assign]
    for name in (
        "../../escape.png",
        "..\\..\\escape.png",
        "/etc/passwd",
        "",
        "..",
        "渡" * 300 + ".png",
        "\ud800\0\n.png",
    ):
        panel._received(panel, {"ask": "take", "number": 1, "with": {"name": name, "at": 0, "size": 3}}, [b"abc"])
        panel.wait(10)
        path = Path(said[-1]["answer"]["path"])
        assert path.parent == Path(panel._uploads.name)
        assert path.read_bytes() == b"abc"
    for at, size, piece in ((0, 0, b""), (5, 9, b"abc"), (0, 2, b"abc"), (0, 10**12, b"abc")):
        panel._received(panel, {"ask": "take", "number": 2, "with": {"name": "x", "at": at, "size": size}}, [piece])
        panel.wait(10)
        assert "problem" in said[-1]
    place = Path(panel._uploads.name)
    panel.close()
    assert not place.exists()


def test_gathering_is_stopped_between_two_steps_and_keeps_what_was_done(archive: Archive, folder: Path) -> None:
    panel = Gather(archive)
    said: list = []

    def hear(content: dict, buffers: object = None) -> None:
        said.append(content)
        if "progress" in content:
            panel._received(panel, {"ask": "stop", "with": {"number": 7}}, [])

    panel.send = hear  # type: ignore[method-assign]
    panel._received(panel, {"ask": "gather", "number": 7, "with": {"place": str(folder)}}, [])
    panel.wait(60)
    assert said[-1]["problem"]["sentence"] == "Stopped."
    assert len(archive) < 7
    panel._received(panel, {"ask": "gather", "number": 8, "with": {"place": str(folder)}}, [])
    panel._received(panel, {"ask": "stop", "with": {"number": 99}}, [])
    panel.send = lambda content, buffers=None: said.append(content)  # type: ignore[method-assign]
    panel.wait(60)
    panel.close()


@pytest.mark.parametrize(
    "content",
    [None, [], "x", {"ask": "nothing", "number": 1}, {"ask": "open", "number": 1, "with": {}},
     {"ask": "open", "number": 1, "with": {"name": "x", "more": 1}}, {"ask": "open", "number": "1"},
     {"ask": "open", "number": 1, "with": []}, {"ask": "__init__", "number": 1, "with": {}}],
)  # fmt: skip
def test_what_is_no_question_is_answered_with_a_sentence(panel: Gather, content: object) -> None:
    said: list = []
    panel.send = lambda content, buffers=None: said.append(content)  # type: ignore[method-assign]
    panel._received(panel, content, [])
    assert "does not know" in said[-1]["problem"]["sentence"]


def test_it_can_be_read_by_everybody(
    page: Page, archive: Archive, tmp_path: Path, axe: Callable[[Page], list[str]]
) -> None:
    archive.gather(draw(tmp_path / "one.png", 1) or tmp_path / "one.png")
    page.get_by_label("Or open one by its file name").fill("one.png")
    press(page, "Open")
    expect(page.get_by_role("heading", name="One reference")).to_be_visible()
    assert axe(page) == []
    page.set_viewport_size({"width": 600, "height": 900})
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
