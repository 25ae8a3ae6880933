"""Site and light on the screen: sliders move sun and power, and the plan is drawn again; nothing is kept."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from refarchive.archive import Archive
from refarchive.panels import OnSite

PLAN = """[scene]
title = "The <b>ford</b>"
slug = "ford"
event = "e"
story = "s"
latitude = 54.06
longitude = -3.64
[intent]
lit_to_shadow = 2.0
lit_to_shadow_tolerance = 0.1
[site]
zone = "Europe/London"
shoot = "2027-10-11 14:50"
[rig]
f_number = 8
iso = 100
shutter_s = 0.008
sync_s = 0.005
lens_bearing_deg = 300
ambient_ev100 = 11
contrast_at = "face"
[[rig.point]]
name = "face"
x_m = 0
y_m = 4
height_m = 1.6
[[rig.light]]
number = 1
unit = "head <script>"
purpose = "key"
x_m = -1
y_m = 1
height_m = 2.6
aimed_at = "face"
guide_number_m = 32
least_power = 0.0078125
"""


@pytest.fixture
def page(archive: Archive, show: Callable[..., Page]) -> Page:
    archive.plan(PLAN)
    made = show(OnSite(archive, "ford"))
    expect(made.get_by_role("status")).to_contain_text("2027-10-11 14:50", timeout=30_000)
    return made


def test_what_is_shown_is_what_was_worked_out(page: Page, archive: Archive) -> None:
    expect(page.get_by_role("list", name="Sun and moon")).to_contain_text(
        archive.onsite.day("ford", "2027-10-11")["shot"]["words"]
    )
    rig = archive.onsite.rig("ford")
    expect(page.get_by_role("list", name="Light")).to_contain_text(rig["contrast"]["words"])
    expect(page.get_by_role("list", name="Light")).to_contain_text(rig["points"][0]["words"])
    expect(page.get_by_text("A flash unit holds a lethal voltage")).to_be_visible()


def test_sliders_move_sun_and_power_and_keep_nothing(page: Page, archive: Archive) -> None:
    before = archive.scene("ford")
    drawn = page.locator("img.ra-plan")
    first = drawn.get_attribute("src")
    page.get_by_role("slider", name="Time").fill("480")
    expect(page.get_by_role("status")).to_have_text("2027-10-11 08:00.", timeout=30_000)
    morning = archive.onsite.look("ford", at="2027-10-11 08:00")
    expect(page.get_by_role("list", name="Sun and moon")).to_contain_text(morning["day"]["shot"]["words"])
    assert drawn.get_attribute("src") != first
    assert drawn.evaluate("image => image.decode().then(() => image.naturalWidth)") > 300
    page.get_by_role("slider", name="Light 1").fill("2")
    expect(page.get_by_text("2.0 stops below full")).to_be_visible()
    quarter = archive.onsite.look("ford", at="2027-10-11 08:00", powers={1: 0.25})
    expect(page.get_by_role("list", name="Light")).to_contain_text(quarter["rig"]["contrast"]["words"], timeout=30_000)
    page.get_by_role("slider", name="Day").fill("10")
    expect(page.get_by_role("status")).to_have_text("2027-10-21 08:00.", timeout=30_000)
    assert archive.scene("ford") == before


def test_windows_are_looked_for_and_the_day_is_worked_backwards(page: Page, archive: Archive) -> None:
    page.get_by_role("button", name="Look for windows").click()
    expect(page.get_by_role("alert")).to_contain_text("has no window yet")
    archive.plan(
        PLAN.replace(
            'shoot = "2027-10-11 14:50"',
            'shoot = "2027-10-11 14:50"\n[site.window]\nopens = "2027-10-11"\ncloses = "2027-10-12"\n'
            'sun_least_deg = 10\ncall = [ { who = "cast <i>", before_min = 90 } ]',
        )
    )
    page.get_by_role("button", name="Look for windows").click()
    expect(page.get_by_role("status")).to_have_text("Windows were found.", timeout=30_000)
    best = archive.onsite.windows("ford")["windows"][0]
    expect(page.get_by_role("list", name="Best windows")).to_contain_text(f"{best['from']} to {best['until']}")
    page.get_by_text("The day worked backwards").first.click()
    expect(page.get_by_text("cast <i>").first).to_be_visible()


def test_hostile_words_stay_words(page: Page) -> None:
    expect(page.get_by_text("Light 1: head <script>")).to_be_visible()
    page.get_by_text("The drawing in words").click()
    expect(page.get_by_text("head <script>", exact=False).last).to_be_visible()
    assert page.locator("script").count() == 0


def test_a_power_a_light_does_not_have_is_told(archive: Archive, show: Callable[..., Page]) -> None:
    archive.plan(PLAN)
    page = show(OnSite(archive, "ford"))
    expect(page.get_by_role("status")).to_contain_text("2027", timeout=30_000)
    told = page.evaluate(
        "() => new Promise((told) => { model.on('msg:custom', (one) => one.problem && told(one.problem)); "
        "model.send({ask: 'look', number: 77, with: {slug: 'ford', day: '2027-10-11', offset: 0, minute: 600, "
        "stops: {'1': 12}}}); })"
    )
    assert "light 1" in told["sentence"].lower()


def test_scenes_without_a_rig_are_not_offered(archive: Archive, show: Callable[..., Page]) -> None:
    archive.plan('[scene]\ntitle = "Plain"\nevent = "e"\nstory = "s"\n')
    page = show(OnSite(archive))
    expect(page.get_by_role("status")).to_contain_text("No scene has a rig yet.")


@pytest.mark.parametrize("width", [1200, 600])
def test_it_can_be_read_by_everybody(page: Page, axe: Callable[[Page], list[str]], width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    assert axe(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
