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
KEY = "Key: the median lightness, 0 black to 100 white"


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
    page.get_by_label(KEY, exact=True).fill("22,5")
    press(page, "Save: What is to be told")
    expect(page.get_by_role("status")).to_contain_text("Saved. Revision 2. Other changes on this page are not saved")
    expect(page.get_by_label(KEY, exact=True)).to_have_value("22,5")
    press(page, "Save: How it is to look")
    expect(page.get_by_role("status")).to_have_text("Saved. Revision 3.")
    scene = planned.scene(SLUG)
    assert (scene.story, scene.statements, scene.intent.key) == (
        "They wait for a boat.",
        ("It is late.", "Nobody speaks."),
        22.5,
    )
    assert planned.plan_text(SLUG).startswith("# kept")
    assert scene.intent.palette[0].name == "<b>night</b>"


def test_figures_stand_with_what_they_do_and_are_changed(page: Page, planned: Archive) -> None:
    fold = page.locator("details", has_text="Agnes").first
    expect(fold.locator("summary").first).to_have_text("Agnes: holds the <b>lamp</b>")
    fold.locator("summary").first.click()
    fold.get_by_label("Sizes").fill("height: 164 cm\nshoe: 38: bare")
    press(page, "Save Agnes")
    expect(page.get_by_role("status")).to_contain_text("Revision 2")
    assert dict(planned.scene(SLUG).figures[0].sizes) == {"height": "164 cm", "shoe": "38: bare"}
    expect(fold.get_by_label("Sizes")).to_be_visible()  # what was open stays open
    fold.get_by_label("Sizes").fill("height: 165 cm")
    press(page, "Save Agnes")
    expect(page.get_by_role("status")).to_contain_text("Revision 3")
    assert dict(planned.scene(SLUG).figures[0].sizes) == {"height": "165 cm"}
    page.get_by_label("A further figure").fill("Hannah")
    press(page, "Add the figure")
    expect(page.get_by_role("status")).to_contain_text("Revision 4")
    press(page, "Remove the figure Agnes")
    expect(page.get_by_role("status")).to_contain_text("Agnes was removed")
    assert [one.name for one in planned.scene(SLUG).figures] == ["Hannah"]


def test_colours_are_set_by_hand_or_taken_from_a_picture(page: Page, planned: Archive) -> None:
    expect(page.get_by_role("img", name="The palette that is meant")).to_be_visible()
    press(page, "Add a colour")
    expect(page.get_by_text("add up to 110 %")).to_be_visible()
    press(page, "Save: How it is to look")
    expect(page.get_by_role("alert")).to_contain_text("add up to 1.10")
    page.get_by_label("Share, %").nth(0).fill("90,0")
    page.get_by_label("Called", exact=True).nth(1).fill("haze")
    press(page, "Save: How it is to look")
    expect(page.get_by_role("status")).to_contain_text("Revision 2")
    assert [(c.share, c.name) for c in planned.scene(SLUG).intent.palette] == [(0.9, "<b>night</b>"), (0.1, "haze")]
    press(page, "Take them")
    expect(page.get_by_role("status")).to_contain_text("Not saved yet")
    press(page, "Save: How it is to look")
    expect(page.get_by_role("status")).to_contain_text("Revision 3")
    taken = planned.planning.colours_of("b.png")
    assert [c.hex for c in planned.scene(SLUG).intent.palette] == [one["hex"] for one in taken]


def test_targets_given_in_per_cent_are_kept_as_parts(page: Page, planned: Archive) -> None:
    page.get_by_label("Horizon, from the top", exact=True).fill("38,2")
    page.get_by_label("Tolerance: Horizon, from the top").fill("5")
    page.get_by_label("Blown out, at most").fill("0.5")
    press(page, "Add a picture it is to be like")
    press(page, "Save: How it is to look")
    expect(page.get_by_role("status")).to_contain_text("Revision 2")
    intent = planned.scene(SLUG).intent
    assert (intent.horizon, intent.horizon_tolerance, intent.blown_most) == pytest.approx((0.382, 0.05, 0.005))
    assert intent.like == (planned.reference("b.png").id,)
    expect(page.get_by_label("Horizon, from the top", exact=True)).to_have_value("38.2")


def test_a_need_is_told_in_full(page: Page, planned: Archive) -> None:
    page.locator("summary", has_text="Lamp:").click()
    need = page.locator("details.ra-need", has_text="Lamp:").first
    need.get_by_text("Say more of it").click()
    need.get_by_label("For", exact=True).select_option(label="Agnes")
    need.get_by_label("Material").fill("tin and\nhorn")
    need.get_by_label("Don't").fill("no glass\nno wire")
    need.get_by_label("Wet doubles").fill("2")
    press(page, "Read a colour from a picture")
    need.get_by_label("Called").fill("tin")
    press(page, "Mark the part")
    marker = page.get_by_role("group", name="A lamp by the water")
    expect(marker).to_be_visible()
    marker.press("ArrowLeft")
    expect(page.get_by_text("the part marked, 30 × 30 % of it")).to_be_visible()
    press(page, "Save Lamp")
    expect(page.get_by_role("status")).to_contain_text("Revision 2")
    lamp = planned.scene(SLUG).needs[0]
    assert (lamp.figure, lamp.facts, lamp.dont) == ("agnes", (("Material", "tin and horn"),), ("no glass", "no wire"))
    assert (lamp.quantity.wet_doubles, lamp.swatches[0].name) == (2, "tin")
    assert lamp.swatches[0].region == pytest.approx((0.33, 0.35, 0.3, 0.3))
    need.get_by_label("Wet doubles").fill("2.5")
    press(page, "Save Lamp")
    expect(page.get_by_role("alert")).to_contain_text("no whole number for wet doubles")


def test_a_question_is_answered_where_it_stands(planned: Archive, show: Callable[..., Page]) -> None:
    told = {"description": "a paraffin lamp of tin"}
    planned.planning.change(SLUG, scene={"date": "1830"}, needs={"lamp": told})
    page = show(Scene(planned, SLUG))
    page.locator("summary", has_text="1 open question").click()
    page.get_by_label("Reason").fill("colza <oil>")
    press(page, "another thing is meant: paraffin lamp, Lamp")
    expect(page.get_by_text("Asked whether it is “paraffin lamp”: another thing is meant. colza <oil>")).to_be_visible()
    assert planned.scene(SLUG).needs[0].answers[0].note == "colza <oil>"
    press(page, "Ask again: paraffin lamp, Lamp")
    expect(page.locator("summary", has_text="1 open question")).to_be_visible()
    assert planned.scene(SLUG).needs[0].answers == ()


def test_evidence_is_judged(page: Page, planned: Archive) -> None:
    page.locator("summary", has_text="Lamp:").click()
    page.get_by_text("How it fits").click()
    page.get_by_label("Place", exact=True).nth(1).select_option("near")
    page.get_by_label("What it tells").fill("the ring")
    press(page, "Keep how it fits: A lamp by the water, Lamp")
    expect(page.get_by_text("Fit: place near.")).to_be_visible()
    (one,) = planned.scene(SLUG).needs[0].evidence
    assert (one.note, one.fit) == ("the ring", (("place", "near"),))


def test_what_was_arranged_and_other_moments_are_kept(page: Page, planned: Archive) -> None:
    page.get_by_label("Tide").fill("One person watches the clock.")
    press(page, "Save: Arrangements written down for the work")
    expect(page.get_by_role("status")).to_contain_text("Revision 2")
    press(page, "Add another moment")
    page.get_by_label("What is seen").fill("the lamp is out")
    press(page, "Save: Other moments to be shot")
    expect(page.get_by_role("alert")).to_contain_text("title")
    page.locator("form", has_text="Other moments").get_by_label("Title").fill("Out")
    press(page, "Save: Other moments to be shot")
    expect(page.get_by_role("status")).to_contain_text("Revision 3")
    scene = planned.scene(SLUG)
    assert scene.safety == (("tide", "One person watches the clock."),)
    assert [(one.title, one.moment) for one in scene.variations] == [("Out", "the lamp is out")]


def test_the_plan_is_written_as_text_with_place_and_lights(page: Page, planned: Archive) -> None:
    page.get_by_text("Open it", exact=True).click()
    text = page.get_by_label("The plan as it is written")
    expect(text).to_have_value(PLAN)
    text.fill(PLAN + '[site]\nzone = "Europe/Londn"\n')
    press(page, "Save the plan")
    expect(page.get_by_role("alert")).to_contain_text("there is no time zone")
    text.fill(PLAN.replace("key = 20", "key = 200"))
    press(page, "Save the plan")
    expect(page.get_by_role("alert")).to_contain_text("Line 8, intent, key: is 200.")
    text.fill(PLAN.replace("Lamp at the stage", "Another scene"))
    press(page, "Save the plan")
    expect(page.get_by_role("alert")).to_contain_text("this text is of the scene 'another-scene'")
    text.fill(PLAN + '[site]\nzone = "Europe/London"\n')
    press(page, "Save the plan")
    expect(page.get_by_role("status")).to_contain_text("Revision 2")
    site = planned.scene(SLUG).site
    assert site is not None
    assert site.zone == "Europe/London"
    assert len(planned.scenes()) == 1
    planned.planning.change(SLUG, scene={"story": "from elsewhere"})
    text.fill(PLAN + "# mine\n")
    press(page, "Save the plan")
    expect(page.get_by_role("alert")).to_contain_text("was changed meanwhile")
    assert planned.scene(SLUG).story == "from elsewhere"


def test_a_date_is_understood_as_it_is_typed(page: Page) -> None:
    page.get_by_label("Date of the event").fill("Michaelmas 1869")
    expect(page.get_by_text("Understood as 29 September 1869")).to_be_visible()


def test_a_value_that_cannot_be_is_refused_and_stays_on_the_screen(page: Page, planned: Archive) -> None:
    page.get_by_label(KEY, exact=True).fill("dark")
    press(page, "Save: How it is to look")
    expect(page.get_by_role("alert")).to_contain_text("'dark' is no number for key.")
    page.get_by_label(KEY, exact=True).fill("400")
    press(page, "Save: How it is to look")
    expect(page.get_by_role("alert")).to_contain_text("400")
    assert page.get_by_label(KEY, exact=True).input_value() == "400"
    assert planned.scene(SLUG).revision == 1


def test_two_panels_never_write_over_each_other(page: Page, planned: Archive) -> None:
    planned.planning.change(SLUG, scene={"story": "from the other panel"})
    page.get_by_label("Story", exact=True).fill("from this panel")
    press(page, "Save: What is to be told")
    expect(page.get_by_role("alert")).to_contain_text("was changed meanwhile")
    assert planned.scene(SLUG).story == "from the other panel"
    press(page, "Refresh")
    expect(page.get_by_label("Story", exact=True)).to_have_value("from the other panel")


def test_needs_show_what_they_rest_on(page: Page, planned: Archive) -> None:
    expect(page.locator("summary", has_text="Shawl")).to_contain_text("nothing supports it")
    page.locator("summary", has_text="Lamp:").click()
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
    page.locator("details.ra-need", has_text="Shawl:").get_by_text("Say more of it").click()
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
    page.get_by_label("For", exact=True).last.select_option("props")
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
    page.locator("summary", has_text="Lamp:").click()
    page.locator("details.ra-need", has_text="Lamp:").get_by_text("Say more of it").click()
    assert axe(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
