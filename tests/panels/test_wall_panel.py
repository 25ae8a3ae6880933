"""The wall on the screen: frames taken in and chosen, sittings by the keyboard, walls to scale, and the decision."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from refarchive.archive import Archive
from refarchive.panels import Wall

PLAN = (
    '[scene]\ntitle = "The <b>ford</b>"\nslug = "ford"\nseries = "Water"\nevent = "e"\nstory = "A <i>cart</i> sinks."\n'
)
WAIT = 30_000


@pytest.fixture
def card(tmp_path: Path) -> Path:
    """Four frames of one shoot: a picture with detail, a patch of it moved."""
    place = tmp_path / "card"
    place.mkdir()
    ground = np.random.default_rng(3).integers(40, 200, (24, 36, 3), dtype=np.uint8)
    large = np.asarray(Image.fromarray(ground).resize((720, 480), Image.Resampling.BICUBIC)).copy()
    for number in range(4):
        frame = large.copy()
        frame[180:300, 100 + 120 * number : 180 + 120 * number] = (200, 190, 170)
        Image.fromarray(frame).save(place / f"F_{number}.jpg", quality=92)
    return place


@pytest.fixture
def page(archive: Archive, card: Path, show: Callable[..., Page]) -> Page:
    archive.plan(PLAN)
    archive.after.take("ford", card)
    archive.after.measure("ford")
    made = show(Wall(archive, "ford"))
    expect(made.get_by_role("list", name="Group 1")).to_be_visible(timeout=WAIT)
    return made


def part(page: Page, name: str) -> None:
    page.get_by_role("navigation", name="Parts of the wall").get_by_role("button", name=name).click()


def choose(page: Page, *names: str) -> None:
    for name in names:
        page.get_by_role("button", name=name).click()


def test_it_can_be_read_by_everybody(page: Page, axe: Callable[[Page], list[str]]) -> None:
    for name in ("Frames", "Work prints", "The wall", "A sitting", "How they stand", "The decision"):
        part(page, name)
        page.wait_for_timeout(150)
        assert axe(page) == [], name
    part(page, "A sitting")
    page.get_by_role("button", name="Begin", exact=True).click()
    expect(page.get_by_role("group", name="Two pictures")).to_be_focused(timeout=WAIT)
    assert axe(page) == [], "a pair"


def test_text_from_the_archive_is_shown_and_never_read_as_markup(page: Page) -> None:
    expect(page.get_by_text("A <i>cart</i> sinks.")).to_be_visible()
    assert page.locator("section i", has_text="cart").count() == 0


def test_a_shoot_is_taken_in_from_a_folder_and_what_is_refused_is_told(archive, card, show) -> None:
    archive.plan(PLAN)
    (card / "broken.jpg").write_bytes(b"\xff\xd8\xff\xe0 no picture")
    made = show(Wall(archive, "ford"))
    made.get_by_label("A folder on this computer").fill(str(card))
    made.get_by_role("button", name="Take in").click()
    expect(made.get_by_role("status")).to_contain_text("4 added", timeout=WAIT)
    expect(made.get_by_role("status")).to_contain_text("broken.jpg")
    assert len(archive.frames("ford")) == 4


def test_what_differs_between_two_frames_is_shown(page: Page) -> None:
    page.get_by_role("button", name="Show what differs").click()
    expect(page.get_by_role("alert")).to_contain_text("0 frames are chosen")
    choose(page, "F_0.jpg", "F_3.jpg")
    page.get_by_role("button", name="Show what differs").click()
    expect(page.get_by_role("heading", name="What differs")).to_be_visible(timeout=WAIT)
    assert page.locator(".ra-over .ra-box").count() >= 2


def test_a_sitting_by_the_keyboard_keeps_what_was_said_and_can_be_stopped(page: Page, archive: Archive) -> None:
    part(page, "A sitting")
    page.get_by_role("button", name="Begin", exact=True).click()
    pair = page.get_by_role("group", name="Two pictures")
    expect(pair).to_be_focused(timeout=WAIT)
    for key, count in (("ArrowLeft", 1), ("ArrowRight", 2), ("ArrowDown", 3)):
        pair.press(key)
        expect(page.get_by_text(f"{count} said in this sitting")).to_be_visible(timeout=WAIT)
    assert [one.says for one in archive.after.judgements("ford")] == ["left", "right", "neither yet"]
    page.get_by_label("Why, in a line").fill("her hand <script>")
    page.get_by_label("Why, in a line").press("ArrowLeft")  # moves in the text, and says nothing
    page.get_by_role("button", name="The left one").click()
    expect(page.get_by_text("4 said in this sitting")).to_be_visible(timeout=WAIT)
    assert archive.after.judgements("ford")[-1].reason == "her hand <script>"
    page.get_by_role("button", name="Stop here").click()
    expect(page.get_by_role("list", name="Sittings so far")).to_contain_text("4 pairs", timeout=WAIT)
    part(page, "How they stand")
    page.get_by_role("button", name="Work it out").click()
    page.get_by_text("Why, in your words: 1").click()
    expect(page.get_by_role("list", name="Why, in your words")).to_contain_text("her hand <script>", timeout=WAIT)


def test_words_from_outside_are_kept(page: Page, archive: Archive) -> None:
    part(page, "A sitting")
    page.get_by_label("What they said, unprompted").fill("Somebody is drowning")
    page.get_by_label("Who", exact=True).fill("A neighbour")
    page.get_by_role("button", name="Keep their words").click()
    expect(page.get_by_role("list", name="From outside")).to_contain_text("Somebody is drowning", timeout=WAIT)
    assert any("A neighbour" in one for one in archive.after.heard("ford"))


def test_what_hangs_is_at_its_true_relative_size_and_moved_by_keys(page: Page, archive: Archive) -> None:
    part(page, "The wall")
    page.get_by_role("button", name="Hang it").click()
    hung = page.locator(".ra-hung").first
    ground = page.get_by_role("group", name="The wall")
    width, whole = hung.bounding_box()["width"], ground.bounding_box()["width"]
    told = hung.get_attribute("aria-label") or ""
    mm = float(told.split(", ")[1].split(" ×")[0])
    assert width / whole == pytest.approx(mm / 4000, abs=0.003)
    before = hung.bounding_box()["x"]
    hung.focus()
    hung.press("Shift+ArrowRight")
    assert hung.bounding_box()["x"] - before == pytest.approx(whole * 100 / 4000, abs=1.5)
    page.get_by_role("button", name="Closer").click()  # nothing but what hangs, and still to scale
    near = hung.bounding_box()
    assert near["width"] / ground.bounding_box()["width"] == pytest.approx(mm / (mm + 300), abs=0.01)
    page.get_by_role("button", name="Closer").click()
    page.get_by_role("button", name="Keep this arrangement").click()
    expect(page.get_by_role("status")).to_contain_text("Kept", timeout=WAIT)
    (kept,) = archive.after.walls("ford")
    assert kept["hung"][0]["width_mm"] == pytest.approx(mm, abs=0.6)


def test_sizes_are_told_before_the_sheets_are_made(page: Page, archive: Archive) -> None:
    choose(page, "F_0.jpg", "F_1.jpg")
    part(page, "Work prints")
    page.get_by_label("Pictures", exact=True).select_option("2")
    page.get_by_role("button", name="Tell sizes and resolution").click()
    expect(page.get_by_role("list", name="Sizes")).to_contain_text("pixels per inch", timeout=WAIT)
    assert archive.after.prints_told("ford") == []
    page.get_by_role("button", name="Make the sheets").click()
    expect(page.get_by_role("link", name="Save ford-prints-001.pdf")).to_be_visible(timeout=WAIT)
    assert len(archive.after.prints_told("ford")) == 2


def test_the_decision_keeps_the_sentence_and_what_was_turned_down(page: Page, archive: Archive) -> None:
    part(page, "The decision")
    page.get_by_role("button", name="Keep the decision").click()
    expect(page.get_by_role("alert")).to_contain_text("No frame was chosen", timeout=WAIT)
    page.get_by_label("The frame", exact=True).select_option(label="F_2.jpg")
    page.get_by_label("The sentence that decides").fill("The wheel is <sinking>.")
    page.get_by_label("F_0.jpg").fill("nobody looks")
    page.get_by_role("button", name="Keep the decision").click()
    expect(page.get_by_text("F_2.jpg. The wheel is <sinking>.")).to_be_visible(timeout=WAIT)
    (told,) = archive.after.decisions_told("ford")
    assert told["turned_down"] == ["F_0.jpg: nobody looks"]


def test_frames_beyond_those_that_are_pictured_are_there_by_name(archive, card, show, monkeypatch) -> None:
    monkeypatch.setattr("refarchive.panels.wall.PREVIEWS", 2)
    archive.plan(PLAN)
    archive.after.take("ford", card)
    made = show(Wall(archive, "ford"))
    for number in range(4):
        button = made.get_by_role("button", name=f"F_{number}.jpg")
        expect(button).to_be_visible(timeout=WAIT)
        assert button.locator("img").count() == (number < 2)


def test_a_sitting_goes_on_past_a_frame_whose_file_is_missing(page: Page, archive: Archive) -> None:
    archive.frame_work.original("ford", archive.frames("ford")[0].id).unlink()
    part(page, "A sitting")
    page.get_by_role("button", name="Begin", exact=True).click()
    pair = page.get_by_role("group", name="Two pictures")
    for count in range(1, 5):
        expect(pair).to_be_visible(timeout=WAIT)
        pair.press("ArrowDown")
        expect(page.get_by_text(f"{count} said in this sitting")).to_be_visible(timeout=WAIT)
    assert len(archive.after.judgements("ford")) == 4
    assert len(archive.after.sittings_told("ford")) == 1
    names = {archive.frames("ford")[0].id}
    while not names & set(archive.after.next_pair(archive.after.judgements("ford")[0].sitting)["pair"]):
        pair.press("ArrowDown")
        page.wait_for_timeout(200)
    expect(page.get_by_text("The file of the frame 'F_0.jpg' is missing.")).to_be_visible(timeout=WAIT)


def test_one_frame_alone_narrows_nothing_and_a_key_held_down_says_one_thing(page: Page, archive: Archive) -> None:
    choose(page, "F_0.jpg")
    part(page, "A sitting")
    page.get_by_role("button", name="Begin", exact=True).click()
    pair = page.get_by_role("group", name="Two pictures")
    expect(pair).to_be_focused(timeout=WAIT)
    page.keyboard.down("ArrowLeft")
    expect(page.get_by_text("1 said in this sitting")).to_be_visible(timeout=WAIT)
    page.keyboard.down("ArrowLeft")  # as a keyboard repeats it
    page.keyboard.up("ArrowLeft")
    page.wait_for_timeout(400)
    assert len(archive.after.judgements("ford")) == 1
    assert len(archive._kit.store.after.sittings("ford")[0].frames) == 4


def test_what_was_moved_and_not_kept_outlives_other_work(page: Page, archive: Archive) -> None:
    part(page, "The wall")
    page.get_by_role("button", name="Hang it").click()
    hung = page.locator(".ra-hung")
    hung.first.focus()
    hung.first.press("ArrowRight")
    where = hung.first.get_attribute("aria-label")
    part(page, "A sitting")
    page.get_by_label("What they said, unprompted").fill("Somebody is drowning")
    page.get_by_role("button", name="Keep their words").click()
    expect(page.get_by_role("status")).to_contain_text("kept", timeout=WAIT)
    part(page, "The wall")
    assert [hung.nth(n).get_attribute("aria-label") for n in range(hung.count())] == [where]
    page.get_by_role("button", name="Keep this arrangement").click()
    expect(page.get_by_role("status")).to_contain_text("Kept, beside", timeout=WAIT)
    assert len(archive.after.walls("ford")) == 1
