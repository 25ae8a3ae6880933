"""Checking on the screen: a frame measured, beside a reference, departed from on purpose, and seen by others."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import tifffile
from drawn import draw
from PIL import Image
from playwright.sync_api import Locator, Page, expect

from refarchive.archive import Archive
from refarchive.panels import Check

PLAN = """[scene]
title = "Lamp at the stage"
event = "e"
story = "s"
key_reference = "b.png"
statements = ["Women wait for a boat that is late."]
misreadings = ["A funeral."]
[intent]
words = "Dark, <i>one</i> lamp."
key = 20
key_tolerance = 5
palette = [ { hex = "#1c2530", share = 1.0 } ]
[[need]]
name = "Lamp"
department = "props"
[[need.evidence]]
reference = "b.png"
relation = "shows"
"""


@pytest.fixture
def planned(archive: Archive, folder: Path) -> Archive:
    archive.gather(folder)
    archive.plan(PLAN)
    archive.describe("b.png", title="A lamp by the water")
    return archive


@pytest.fixture
def shot(tmp_path: Path) -> Path:
    picture = np.asarray(Image.open(draw(tmp_path / "copy.png", 1) or tmp_path / "copy.png").convert("RGB"))
    Image.fromarray((picture * 0.9).astype(np.uint8)).save(tmp_path / "shot.png")
    return tmp_path / "shot.png"


@pytest.fixture
def page(planned: Archive, shot: Path, show: Callable[..., Page]) -> Page:
    made = show(Check(planned, "lamp-at-the-stage"))
    made.get_by_label("Or a picture file").set_input_files(shot)
    expect(made.get_by_role("status")).to_contain_text("Ready to be checked.")
    press(made, "Check")
    expect(made.get_by_role("status")).to_contain_text("Checked; 1 check", timeout=30_000)
    return made


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def row(page: Page, measure: str) -> Locator:
    return page.get_by_role("list", name="Lines against the intent").locator(f"> li[data-measure={measure}]")


def figures(page: Page, measure: str) -> list[str]:
    row(page, measure).get_by_text("Figures, and how it was measured").click()
    return row(page, measure).locator("dd").all_inner_texts()


def test_lines_are_those_of_the_check(page: Page, planned: Archive) -> None:
    (kept,) = planned.frames("lamp-at-the-stage")
    line = next(
        one for one in planned.frame_work.earlier("lamp-at-the-stage", kept.id)[0]["lines"] if one["measure"] == "key"
    )
    own = row(page, "key")
    expect(own.locator("b")).to_have_text("outside")
    expect(own).to_contain_text(f"Lighter than was meant by {line['difference']:.0f} L*, where 5 L* is allowed.")
    assert line["verdict"] == "outside"
    assert figures(page, "key") == [f"{x:.1f} L*" for x in (20, line["frame"], line["difference"], 5)]
    expect(page.get_by_text("What brought it within in a trial").first).to_be_visible()
    expect(page.get_by_text("Dark, <i>one</i> lamp.")).to_be_visible()


def test_a_departure_meant_stays_with_its_reason(page: Page, planned: Archive) -> None:
    row(page, "key").get_by_text("It is meant that way").click()
    row(page, "key").get_by_role("button", name="Keep as an intended departure").click()
    expect(page.get_by_role("alert")).to_contain_text("No reason was given.")
    page.get_by_label("Meant that way (key), because").fill("the fog lifted, and it stays")
    row(page, "key").get_by_role("button", name="Keep as an intended departure").click()
    expect(page.get_by_role("status")).to_contain_text("Checked; 2 checks", timeout=30_000)
    expect(row(page, "key").locator("b")).to_have_text("departure intended")
    row(page, "key").get_by_text("Figures, and how").click()
    expect(page.get_by_text("the fog lifted, and it stays")).to_be_visible()
    last = planned.frame_work.earlier("lamp-at-the-stage", planned.frames("lamp-at-the-stage")[0].id)[-1]["lines"]
    assert {one["measure"]: one["verdict"] for one in last if one["against"] == "intent"}["key"] == "departure intended"


def test_needs_are_said_to_be_present(page: Page, planned: Archive) -> None:
    page.get_by_label("Lamp", exact=True).select_option("present")
    press(page, "Check again with this")
    expect(page.get_by_role("status")).to_contain_text("Checked; 2", timeout=30_000)
    lines = planned.frame_work.earlier("lamp-at-the-stage", planned.frames("lamp-at-the-stage")[0].id)[-1]["lines"]
    assert next(one for one in lines if one["measure"] == "need")["verdict"] == "within"
    assert page.get_by_label("Lamp", exact=True).input_value() == "present"


def test_a_marked_figure_is_placed(page: Page) -> None:
    press(page, "Keep the mark and check again")
    expect(page.get_by_role("alert")).to_contain_text("Nothing is marked.")
    marker = page.get_by_role("group", name="The frame, to mark a part")
    marker.press("ArrowRight")
    page.get_by_label("It is", exact=True).select_option("figure")
    page.get_by_label("Name of the figure").fill("agnes")
    press(page, "Keep the mark and check again")
    expect(page.get_by_text("Figure agnes")).to_be_visible(timeout=30_000)
    expect(page.get_by_text("30 % of the height and 9.0 % of the area")).to_be_visible()


def test_frame_and_reference_are_looked_at_in_four_ways(page: Page) -> None:
    page.get_by_label("Beside", exact=True).select_option(label="A lamp by the water")
    other = page.get_by_role("img", name="Reference: A lamp by the water")
    expect(other).to_be_visible()
    own = page.get_by_role("img", name="Frame: shot.png")
    boxes = [one.bounding_box() for one in (own, other)]
    assert boxes[0]["height"] == pytest.approx(boxes[1]["height"], abs=1)
    assert boxes[0]["x"] + boxes[0]["width"] <= boxes[1]["x"]
    page.get_by_label("How", exact=True).select_option("parted")
    page.get_by_label("Where the line stands").fill("30")
    assert "30%" in other.evaluate("image => image.parentElement.style.clipPath")
    page.get_by_label("How", exact=True).select_option("instead")
    expect(own).to_be_visible()
    expect(other).to_have_count(0)  # hidden from sight and from a screen reader
    press(page, "Show the other")
    expect(other).to_be_visible()
    expect(own).to_have_count(0)
    page.get_by_label("How", exact=True).select_option("over")
    expect(
        page.get_by_text("laid over each other").or_(page.get_by_text("to look at; no word hangs on it"))
    ).to_be_visible(timeout=30_000)


def test_several_references_stand_beside_the_frame(planned: Archive, shot: Path, show: Callable[..., Page]) -> None:
    planned.evidence.link("lamp-at-the-stage", "lamp", "a.jpg")
    other = planned.reference("a.jpg").title
    page = show(Check(planned, "lamp-at-the-stage"))
    page.get_by_label("Or a picture file").set_input_files(shot)
    expect(page.get_by_role("status")).to_contain_text("Ready")
    press(page, "Check")
    expect(page.get_by_role("status")).to_contain_text("Checked", timeout=30_000)
    page.get_by_label("Beside", exact=True).select_option(label="A lamp by the water")
    page.get_by_label("A second", exact=True).select_option(label=other)
    expect(page.get_by_role("img", name=f"Reference: {other}", exact=True)).to_be_visible()
    assert page.locator(".ra-pane:visible").count() == 3
    page.get_by_role("slider", name="Enlarged").fill("2")
    moved = page.locator(".ra-pane:visible img").evaluate_all("images => images.map(one => one.style.transform)")
    assert len(set(moved)) == 1
    page.get_by_label("How", exact=True).select_option("parted")
    assert page.locator(".ra-pane:visible").count() == 2


def test_stops_are_told_from_a_linear_file(planned: Archive, show: Callable[..., Page], tmp_path: Path) -> None:
    planned.planning.change("lamp-at-the-stage", intent={"lit_to_shadow": 2.0})
    light = np.full((80, 120, 3), 0.4, np.float32)
    light[:, 60:] = 0.05  # three stops below
    tifffile.imwrite(tmp_path / "shot.tif", light, photometric="rgb")
    Image.fromarray((255 * light ** (1 / 2.2)).astype(np.uint8)).save(tmp_path / "shot.png")
    page = show(Check(planned, "lamp-at-the-stage"))
    page.get_by_label("Or a picture file").set_input_files(tmp_path / "shot.png")
    expect(page.get_by_role("status")).to_contain_text("Ready")
    page.get_by_label("Raw or linear file").set_input_files(tmp_path / "shot.tif")
    expect(page.get_by_role("status")).to_contain_text("Stops will be told from it.")
    press(page, "Check")
    expect(page.get_by_role("status")).to_contain_text("Checked", timeout=30_000)
    for name, left in (("lit", 0.05), ("shadow", 0.6)):
        marker = page.get_by_role("group", name="The frame, to mark a part")
        marker.scroll_into_view_if_needed()
        box = marker.locator("img").bounding_box()
        assert box is not None
        page.mouse.move(box["x"] + left * box["width"], box["y"] + 0.2 * box["height"])
        page.mouse.down()
        page.mouse.move(box["x"] + (left + 0.3) * box["width"], box["y"] + 0.8 * box["height"])
        page.mouse.up()
        page.get_by_label("It is", exact=True).select_option(name)
        press(page, "Keep the mark and check again")
        expect(page.get_by_role("status")).to_contain_text("Checked", timeout=30_000)
    line = row(page, "'lit to shadow'")
    expect(line).to_contain_text("further above the shadow side than was meant, by 1.0 stops", timeout=30_000)


def test_tones_and_palettes_are_drawn(page: Page) -> None:
    page.get_by_label("Beside", exact=True).select_option(label="A lamp by the water")
    press(page, "Draw tones and palettes")
    plot = page.get_by_role("img", name="How much of the picture")
    expect(plot).to_be_visible(timeout=30_000)
    assert plot.evaluate("image => image.decode().then(() => image.naturalWidth)") > 600


def test_zoom_moves_both_alike(page: Page) -> None:
    page.get_by_label("Beside", exact=True).select_option(label="A lamp by the water")
    page.get_by_role("slider", name="Enlarged").fill("3")
    page.get_by_role("group", name="Frame and reference").press("ArrowRight")
    both = page.locator(".ra-pane img").evaluate_all("images => images.slice(0, 2).map(one => one.style.transform)")
    assert both[0] == both[1]
    assert both[0].startswith("scale(3)")


def test_words_of_viewers_are_kept_and_held_against_the_sentences(page: Page, planned: Archive) -> None:
    page.get_by_label("What they said").fill("some women waiting for a late boat <script>")
    page.get_by_label("Seconds").fill("five")
    press(page, "Keep their words")
    expect(page.get_by_role("alert")).to_contain_text("'five' is no number of seconds.")
    page.get_by_label("Seconds").fill("5")
    press(page, "Keep their words")
    expect(page.get_by_text("1 viewers: 1 said what was meant")).to_be_visible(timeout=30_000)
    expect(page.get_by_role("list", name="What was said")).to_contain_text("<script>")
    assert planned.frame_work.viewings("lamp-at-the-stage", "shot.png")["viewers"] == 1


def test_the_report_is_saved_by_the_browser(page: Page) -> None:
    press(page, "Make the report (PDF)")
    link = page.get_by_role("link", name="Save shot-check.pdf")
    expect(link).to_be_visible(timeout=30_000)
    data = page.evaluate(
        "async () => { const got = await fetch(document.querySelector('a[download]').href);"
        " return (await got.text()).slice(0, 5); }"
    )
    assert data == "%PDF-"


def test_a_frame_that_is_no_picture_is_refused(planned: Archive, tmp_path: Path, show: Callable[..., Page]) -> None:
    (tmp_path / "no.jpg").write_bytes(b"no picture")
    page = show(Check(planned, "lamp-at-the-stage"))
    press(page, "Check")
    expect(page.get_by_role("alert")).to_contain_text("No frame was chosen.")
    page.get_by_label("Or a picture file").set_input_files(tmp_path / "no.jpg")
    expect(page.get_by_role("status")).to_contain_text("Ready")
    press(page, "Check")
    expect(page.get_by_role("alert")).to_contain_text("no.jpg")
    assert planned.frames("lamp-at-the-stage") == []


@pytest.mark.parametrize("width", [1200, 600])
def test_it_can_be_read_by_everybody(page: Page, axe: Callable[[Page], list[str]], width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.get_by_label("Beside", exact=True).select_option(label="A lamp by the water")
    for fold in page.locator("summary").all():
        if fold.is_visible():
            fold.click()
    assert axe(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
