"""A scene on the screen: begun, told, given needs, costed, and printed as it was shown."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from refarchive.archive import Archive
from refarchive.panels import Scene

PLAN = """# kept
[scene]
title = "Lamp at the stage"
event = "e"
story = "s"
statements = ["It is late."]
[intent]
key = 20
palette = [ { hex = "#1c2530", share = 1.0, name = "<b>night</b>" } ]
[[figure]]
name = "Agnes"
action = "holds the <b>lamp</b>"
[[need]]
name = "Lamp"
department = "props"
quantity = { hero = 1, spare = 1 }
[[need.evidence]]
reference = "b.png"
relation = "shows"
note = "the <i>bracket</i>"
[[need]]
name = "Shawl"
department = "wardrobe"
"""
SLUG = "lamp-at-the-stage"


@pytest.fixture
def planned(archive: Archive, folder: Path) -> Archive:
    archive.gather(folder)
    archive.plan(PLAN)
    archive.describe("b.png", title="A lamp by the water", date="1869")
    return archive


@pytest.fixture
def page(planned: Archive, show: Callable[..., Page]) -> Page:
    made = show(Scene(planned, SLUG))
    expect(made.get_by_role("status")).to_contain_text("Revision 1")
    return made


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def test_what_is_to_be_told_is_changed_and_comments_stay(page: Page, planned: Archive) -> None:
    page.get_by_label("Story", exact=True).fill("They wait for a boat.")
    page.get_by_label("What the picture is to say").fill("It is late.\n\nNobody speaks. ")
    page.get_by_label("Key (median L*)").fill("22,5")
    page.locator("form", has_text="What is to be told").get_by_role("button", name="Save").click()
    expect(page.get_by_role("status")).to_contain_text("Saved. Revision 2")
    scene = planned.scene(SLUG)
    assert (scene.story, scene.statements, scene.intent.key) == (
        "They wait for a boat.",
        ("It is late.", "Nobody speaks."),
        22.5,
    )
    assert planned.plan_text(SLUG).startswith("# kept")
    assert scene.intent.palette[0].name == "<b>night</b>"


def test_figures_stand_with_what_they_do(page: Page) -> None:
    expect(page.get_by_role("list", name="Figures")).to_have_text("Agnes: holds the <b>lamp</b>")


def test_a_value_that_cannot_be_is_refused_and_stays_on_the_screen(page: Page, planned: Archive) -> None:
    page.get_by_label("Key (median L*)").fill("dark")
    page.locator("form", has_text="What is to be told").get_by_role("button", name="Save").click()
    expect(page.get_by_role("alert")).to_contain_text("'dark' is no number for key.")
    page.get_by_label("Key (median L*)").fill("400")
    page.locator("form", has_text="What is to be told").get_by_role("button", name="Save").click()
    expect(page.get_by_role("alert")).to_contain_text("400")
    assert page.get_by_label("Key (median L*)").input_value() == "400"
    assert planned.scene(SLUG).revision == 1


def test_two_panels_never_write_over_each_other(page: Page, planned: Archive) -> None:
    planned.planning.change(SLUG, scene={"story": "from the other panel"})
    page.get_by_label("Story", exact=True).fill("from this panel")
    page.locator("form", has_text="What is to be told").get_by_role("button", name="Save").click()
    expect(page.get_by_role("alert")).to_contain_text("was changed meanwhile")
    assert planned.scene(SLUG).story == "from the other panel"
    press(page, "Refresh")
    expect(page.get_by_label("Story", exact=True)).to_have_value("from the other panel")


def test_needs_show_what_they_rest_on(page: Page, planned: Archive) -> None:
    expect(page.locator("summary", has_text="Shawl")).to_contain_text("nothing supports it")
    page.locator("summary", has_text="Lamp").click()
    expect(page.get_by_text("1869 · ").first).to_contain_text("the <i>bracket</i>")
    expect(page.get_by_role("img", name="A lamp by the water")).to_be_visible()
    press(page, "Take out A lamp by the water from Lamp")
    expect(page.get_by_role("status")).to_contain_text("Taken out.")
    assert planned.scene(SLUG).needs[0].evidence == ()


def test_needs_are_added_and_removed(page: Page, planned: Archive) -> None:
    page.get_by_label("A further need").fill("Bench")
    page.get_by_label("Department", exact=True).select_option("set")
    press(page, "Add")
    expect(page.get_by_role("status")).to_contain_text("Added. Revision 2")
    assert [need.name for need in planned.scene(SLUG).needs] == ["Lamp", "Shawl", "Bench"]
    page.locator("summary", has_text="Shawl").click()
    press(page, "Remove the need Shawl")
    expect(page.get_by_role("status")).to_contain_text("Shawl was removed")
    assert [need.name for need in planned.scene(SLUG).needs] == ["Lamp", "Bench"]


def test_states_and_costs_are_kept_and_summed(page: Page, planned: Archive) -> None:
    page.get_by_label("state: Lamp").select_option("hire")
    page.get_by_label("estimate: Lamp").fill("45,50")
    page.get_by_label("estimate: Shawl").fill("20")
    page.get_by_label("supplier: Shawl").fill("A lender (invented)")
    press(page, "Save states and costs")
    expect(page.get_by_role("status")).to_contain_text("Saved. Revision 2")
    lamp, shawl = planned.scene(SLUG).needs
    assert (lamp.sourcing.state, lamp.sourcing.estimate) == ("hire", 45.5)
    assert (shawl.sourcing.estimate, shawl.sourcing.supplier) == (20.0, "A lender (invented)")
    expect(page.locator("tfoot")).to_contain_text("65.50")
    page.get_by_label("actual: Lamp").fill("a lot")
    press(page, "Save states and costs")
    expect(page.get_by_role("alert")).to_contain_text("'a lot' is no number for actual.")


def test_pages_are_shown_as_they_print_and_saved(page: Page, planned: Archive, tmp_path: Path) -> None:
    page.get_by_label("For", exact=True).select_option("props")
    press(page, "Show the pages")
    expect(page.get_by_role("status")).to_contain_text("pages.", timeout=60_000)
    shown = page.get_by_role("list", name="Pages of the dossier").get_by_role("img").count()
    assert shown == planned.dossier(SLUG, department="props", out=tmp_path).pages
    press(page, "Make PDF and HTML")
    expect(page.get_by_role("link", name=f"Save {SLUG}-props-dossier.pdf")).to_be_visible(timeout=60_000)
    starts = page.evaluate(
        "async () => Promise.all([...document.querySelectorAll('a[download]')].map("
        "async (one) => (await (await fetch(one.href)).text()).trim().slice(0, 9)))"
    )
    assert starts[0].startswith("%PDF-")
    assert starts[1].lower() == "<!doctype"


def test_witnesses_are_drawn_against_time(page: Page) -> None:
    press(page, "Draw")
    expect(page.get_by_role("img", name="Needs against time")).to_be_visible(timeout=60_000)
    expect(page.get_by_role("img", name="References against time")).to_be_visible()


def test_a_scene_is_begun_from_nothing(archive: Archive, show: Callable[..., Page]) -> None:
    page = show(Scene(archive))
    expect(page.get_by_role("status")).to_contain_text("no scene yet")
    press(page, "Begin")
    expect(page.get_by_role("alert")).to_be_visible()
    page.get_by_label("Or begin a new one").fill("The pilot's crossing")
    press(page, "Begin")
    expect(page.get_by_role("status")).to_contain_text("Revision 1")
    assert [scene.title for scene in archive.scenes()] == ["The pilot's crossing"]


@pytest.mark.parametrize("width", [1200, 600])
def test_it_can_be_read_by_everybody(page: Page, axe: Callable[[Page], list[str]], width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.locator("summary", has_text="Lamp").click()
    assert axe(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
