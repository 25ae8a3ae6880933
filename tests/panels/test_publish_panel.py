"""Putting out on the screen: words with what they rest on, parts, permissions, editions, the series, and the file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyexiv2
import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from refarchive.archive import Archive
from refarchive.panels import Publish

PLAN = """[scene]
title = "{title}"
slug = "{slug}"
series = "Water"
event = "A cart is led <b>through</b> the ford"
story = "s"
date = "1869-10-14"
place = "Merrow Sands"
[[figure]]
name = "Isaac"
action = "leads the cart"
[[need]]
name = "Staff"
slug = "staff"
department = "props"
"""
WAIT = 30_000


@pytest.fixture
def two(archive: Archive, tmp_path: Path) -> Archive:
    for number, slug in enumerate(("ford", "stage")):
        archive.plan(PLAN.format(slug=slug, title=f"The {slug}"))
        place = tmp_path / slug
        place.mkdir()
        noise = np.random.default_rng(number).integers(0, 256, (120, 180, 3), dtype=np.uint8)
        Image.fromarray(noise).save(place / f"{slug}.jpg")
        archive.after.take(slug, place)
        archive.after.decide(slug, f"{slug}.jpg", "It is this one.")
    return archive


@pytest.fixture
def page(two: Archive, show: Callable[..., Page]) -> Page:
    made = show(Publish(two, "ford"))
    expect(made.get_by_role("list", name="Neighbours")).to_be_visible(timeout=WAIT)
    return made


def part(page: Page, name: str) -> None:
    page.get_by_role("navigation", name="Parts of going out").get_by_role("button", name=name, exact=True).click()


def test_it_can_be_read_by_everybody(page: Page, axe: Callable[[Page], list[str]]) -> None:
    for name in (
        "The series",
        "Caption and note",
        "What rests on what",
        "Particulars",
        "Permissions",
        "Editions",
        "Files",
    ):
        part(page, name)
        assert axe(page) == [], name


def test_a_draft_says_what_it_rests_on_and_is_taken_only_when_asked(page: Page, two: Archive) -> None:
    part(page, "Caption and note")
    expect(page.get_by_text("A cart is led <b>through</b> the ford").first).to_be_visible()
    page.get_by_text("What each part rests on").first.click()
    expect(page.get_by_text("figure:isaac").first).to_be_visible()
    name = two.publishing.frame("ford")
    assert two.publishing.document("ford", name)["values"]["caption"] == ""
    page.get_by_role("button", name="Use the draft").first.click()
    page.get_by_role("button", name="Save: Caption and historical note").click()
    expect(page.get_by_role("status")).to_contain_text("Saved", timeout=WAIT)
    assert "Isaac: leads the cart." in two.publishing.document("ford", name)["values"]["caption"]


def test_a_part_is_marked_by_the_keyboard_with_its_word(page: Page, two: Archive) -> None:
    part(page, "What rests on what")
    page.get_by_role("button", name="Keep this part").click()
    expect(page.get_by_role("alert")).to_contain_text("Nothing is marked")
    page.get_by_role("group", name="The picture, to mark a part").press("ArrowRight")
    page.get_by_label("What it is").fill("the <staff>")
    page.get_by_label("It is", exact=True).select_option("invented")
    page.get_by_label("Need of the scene").select_option(label="Staff")
    page.get_by_role("button", name="Keep this part").click()
    expect(page.get_by_role("list", name="Parts of the picture")).to_contain_text("the <staff>: invented", timeout=WAIT)
    outline = page.locator(".ra-part")
    assert outline.evaluate("(one) => getComputedStyle(one).borderTopStyle") == "dotted"
    number, marked = outline.locator("span").bounding_box(), outline.bounding_box()
    assert number["y"] + number["height"] <= marked["y"] + 2 or number["y"] >= marked["y"] + marked["height"] - 2
    (kept,) = two.publishing.document("ford", two.publishing.frame("ford"))["values"]["parts"]
    assert (kept["name"], kept["standing"], kept["need"]) == ("the <staff>", "invented", "staff")


def test_permissions_and_editions_are_kept_and_a_mistake_keeps_what_was_typed(page: Page, two: Archive) -> None:
    part(page, "Permissions")
    page.get_by_role("button", name="Add a permission or release").click()
    page.get_by_label("Of whom").fill("Una Named")
    page.get_by_label("Until (a day)").fill("soon")
    page.get_by_role("button", name="Save: Permissions and releases").click()
    expect(page.get_by_role("alert")).to_contain_text("is no day", timeout=WAIT)
    page.get_by_label("Until (a day)").fill("2030-01-01")
    page.get_by_role("button", name="Save: Permissions and releases").click()
    expect(page.get_by_role("list", name="What is recorded")).to_contain_text("Una Named", timeout=WAIT)
    part(page, "Editions")
    page.get_by_role("button", name="Add a size").click()
    for label, value in (("Name", "large"), ("Width, mm", "900"), ("Height, mm", "600"), ("How many", "3")):
        page.get_by_label(label, exact=True).fill(value)
    page.get_by_role("button", name="Save: Editions and print sizes").click()
    expect(page.get_by_role("cell", name="900 × 600 mm", exact=False).first).to_be_visible(timeout=WAIT)
    values = two.publishing.document("ford", two.publishing.frame("ford"))["values"]
    assert values["leaves"][0]["until"] == "2030-01-01"
    assert values["editions"][0]["count"] == 3


def test_an_order_is_moved_looked_at_and_kept(page: Page, two: Archive) -> None:
    order = page.get_by_role("list", name="The order")
    expect(order.get_by_role("listitem").first).to_contain_text("1. The ford")
    page.get_by_role("button", name="The stage: earlier").click()
    expect(order.get_by_role("listitem").first).to_contain_text("1. The stage")
    assert two.series.in_order()["pictures"][0]["scene"] == "ford"
    page.get_by_label("Why this order").fill("darker first")
    page.get_by_role("button", name="Keep this order").click()
    expect(page.get_by_role("status")).to_contain_text("kept", timeout=WAIT)
    assert two.series.in_order()["pictures"][0]["scene"] == "stage"


def test_another_order_is_proposed_as_figures(page: Page) -> None:
    page.get_by_label("By", exact=True).select_option("key")
    page.get_by_role("button", name="Propose").click()
    expect(page.get_by_text("Steps now:")).to_be_visible(timeout=WAIT)


def test_the_file_that_is_sent_holds_the_metadata(page: Page, two: Archive, tmp_path: Path) -> None:
    two.publishing.say("ford", "ford.jpg", {"title": "Переправа"})
    part(page, "Files")
    page.get_by_role("button", name="The public version").click()
    link = page.get_by_role("link", name="Save ford-public.jpg")
    expect(link).to_be_visible(timeout=WAIT)
    with page.expect_download() as download:
        link.click()
    download.value.save_as(tmp_path / "got.jpg")
    with pyexiv2.Image(str(tmp_path / "got.jpg")) as image:
        assert image.read_xmp()["Xmp.dc.title"]['lang="x-default"'] == "Переправа"
    page.get_by_role("button", name="Caption, note and statement").click()
    expect(page.get_by_role("link", name="Save ford-words.pdf")).to_be_visible(timeout=WAIT)


def test_who_worked_on_it_is_kept_with_every_role_and_taken_away_for_good(page: Page, two: Archive) -> None:
    name = two.publishing.frame("ford")

    def kept() -> list[list[str]]:
        return two.publishing.document("ford", name)["values"]["contributors"]

    part(page, "Particulars")
    field = page.get_by_label("Who worked on it")
    save = page.get_by_role("button", name="Save: Particulars")
    field.fill("Ada: hair\nAda: make-up\nNoel")
    save.click()
    expect(page.get_by_role("status")).to_have_text("Saved.", timeout=WAIT)
    assert kept() == [["Ada", "hair"], ["Ada", "make-up"], ["Noel", ""]]
    expect(field).to_have_value("Ada: hair\nAda: make-up\nNoel")
    field.fill("Ada: hair")
    save.click()
    expect(field).to_have_value("Ada: hair", timeout=WAIT)
    page.wait_for_function("() => document.querySelector('[role=status]').textContent !== 'Not saved yet.'")
    assert kept() == [["Ada", "hair"]]


def test_a_frame_whose_file_is_missing_can_still_be_spoken_of(two: Archive, show: Callable[..., Page]) -> None:
    name = two.publishing.frame("ford")
    two.frame_work.original("ford", name).unlink()
    made = show(Publish(two, "ford"))
    part(made, "Caption and note")
    made.get_by_text("What the record lacks", exact=True).click()
    expect(made.get_by_text("The file of the frame 'ford.jpg' is missing.").last).to_be_visible(timeout=WAIT)
    made.get_by_label("Title", exact=True).fill("The ford")
    made.get_by_role("button", name="Save: Caption and historical note").click()
    made.wait_for_function("() => document.querySelector('[role=status]').textContent !== 'Not saved yet.'")
    expect(made.get_by_label("Title", exact=True)).to_have_value("The ford", timeout=WAIT)
    assert two.publishing.document("ford", name)["values"]["title"] == "The ford"
