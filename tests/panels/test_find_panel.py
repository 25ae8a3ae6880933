"""Finding on the screen: asked as a person asks, answered by the archive, used for a scene."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from drawn import draw
from playwright.sync_api import Page, expect

from refarchive.archive import Archive
from refarchive.archive.telling import visible
from refarchive.panels import Find

PLAN = """[scene]
title = "Lamp at the stage"
event = "e"
story = "s"
[[need]]
name = "Lamp"
department = "props"
[[need]]
name = "Shawl"
department = "wardrobe"
"""
HOSTILE = "<img src=x onerror=\"document.title='run'\">"


@pytest.fixture
def filled(archive: Archive, folder: Path) -> Archive:
    archive.gather(folder)
    archive.plan(PLAN)
    archive.describe("a.jpg", title=HOSTILE, date="1871")
    archive.describe("e.gif", title="\u202egnp.exe\x9b")
    archive.describe("b.png", title="A lamp by the water", date="1869")
    return archive


@pytest.fixture
def page(filled: Archive, show: Callable[..., Page]) -> Page:
    made = show(Find(filled))
    expect(made.get_by_role("status")).to_contain_text("7 references")
    return made


def results(page: Page) -> list[str]:
    return page.get_by_role("list", name="Found").locator("> li .ra-caption:first-of-type").all_inner_texts()


def test_words_find_with_reasons_and_pictures(page: Page, filled: Archive) -> None:
    page.get_by_label("What is to be seen").fill("lamp by the water")
    page.get_by_role("button", name="Find", exact=True).click()
    first = page.get_by_role("list", name="Found").locator("> li").first
    expect(first).to_contain_text("A lamp by the water")
    expect(first).to_contain_text("Above all for the words of its caption")
    first.get_by_text("How it was found").click()
    expect(first).to_contain_text("Ranked 1st by words in the caption")
    assert first.locator("img").evaluate("image => image.decode().then(() => image.naturalWidth)") > 50
    own = filled.findings_document(filled.find("lamp by the water", top=201))
    assert len(own["hits"]) == page.get_by_role("list", name="Found").locator("> li").count()
    titles = [hit["title"].replace("\u202e", "[U+202E]").replace("\x9b", "[U+009B]") for hit in own["hits"]]
    assert [f"{n}. {title}" for n, title in enumerate(titles, 1)] == results(page)  # what the command line shows


def test_a_hostile_caption_stays_text(page: Page) -> None:
    page.get_by_role("button", name="Find", exact=True).click()
    expect(page.get_by_text(HOSTILE, exact=False).first).to_be_visible()
    expect(page.get_by_text("[U+202E]gnp.exe[U+009B]").first).to_be_visible()
    assert page.title() != "run"
    assert page.locator("img[onerror]").count() == 0


def test_a_period_says_what_was_understood_and_narrows(page: Page) -> None:
    page.get_by_label("Period", exact=True).fill("Michaelmas 1869")
    expect(page.locator(".ra-hint").first).to_contain_text("29 September 1869")
    page.get_by_label("Period", exact=True).fill("11/12/1869")
    expect(page.locator(".ra-hint").first).to_contain_text("11/12/1869")
    page.get_by_label("Period", exact=True).fill("1871")
    page.get_by_role("button", name="Find", exact=True).click()
    expect(page.get_by_role("status")).to_contain_text("1 answer shown")
    assert results(page) == [f"1. {HOSTILE}"]


def test_a_hit_becomes_evidence_in_one_motion(page: Page, filled: Archive) -> None:
    page.get_by_label("Scene", exact=True).select_option("lamp-at-the-stage")
    page.get_by_label("Need").select_option("lamp")
    page.get_by_label("Note").fill("the bracket")
    page.get_by_label("What is to be seen").fill("lamp by the water")
    page.get_by_role("button", name="Find", exact=True).click()
    page.get_by_role("button", name="Use as evidence: A lamp by the water").click()
    expect(page.get_by_role("status")).to_contain_text("now has 1 piece of evidence")
    (evidence,) = filled.scene("lamp-at-the-stage").needs[0].evidence
    assert (evidence.reference, evidence.relation, evidence.note) == (
        filled.reference("b.png").id,
        "shows",
        "the bracket",
    )


def test_evidence_without_a_need_is_refused_in_a_sentence(page: Page, filled: Archive) -> None:
    page.get_by_role("button", name="Find", exact=True).click()
    page.get_by_role("button", name="Use as evidence").first.click()
    expect(page.get_by_role("alert")).to_contain_text("Choose a scene and a need above.")
    assert not any(need.evidence for need in filled.scene("lamp-at-the-stage").needs)


@pytest.mark.parametrize(
    ("relation", "words"),
    [("is the key picture", "It is the key picture"), ("is what the frame", "should be like it: 1")],
)
def test_a_hit_becomes_what_the_scene_looks_to(page: Page, filled: Archive, relation: str, words: str) -> None:
    page.get_by_label("Scene", exact=True).select_option("lamp-at-the-stage")
    option = page.get_by_label("The reference").locator("option", has_text=relation)
    page.get_by_label("The reference").select_option(option.get_attribute("value"))
    page.get_by_label("What is to be seen").fill("lamp by the water")
    page.get_by_role("button", name="Find", exact=True).click()
    page.get_by_role("button", name="Use as evidence: A lamp by the water").click()
    expect(page.get_by_role("status")).to_contain_text(words)
    scene = filled.scene("lamp-at-the-stage")
    assert filled.reference("b.png").id in (scene.key_reference, *scene.intent.like)


def test_a_subject_is_looked_up_and_narrows(page: Page, filled: Archive) -> None:
    filled.evidence.assign_subject("b.png", "41B31")
    page.get_by_label("Subject", exact=True).fill("lamp")
    page.get_by_role("button", name="Look up subjects").click()
    expect(page.get_by_role("status")).to_contain_text("choose one", timeout=60_000)
    page.get_by_label("Subject", exact=True).fill("41B3")
    page.get_by_role("button", name="Look up subjects").click()
    page.get_by_role("button", name="41B31 ", exact=False).first.click()
    expect(page.get_by_label("Subject", exact=True)).to_have_value("41B31")
    page.get_by_role("button", name="Find", exact=True).click()
    expect(page.get_by_role("status")).to_contain_text("1 answer shown")
    assert results(page) == ["1. A lamp by the water"]
    page.get_by_label("Subject", exact=True).fill("41B34")
    page.get_by_role("button", name="Find", exact=True).click()
    expect(page.get_by_role("status")).to_contain_text("Nothing found")
    page.get_by_label("How wide").select_option(label="one step wider")
    page.get_by_role("button", name="Find", exact=True).click()
    expect(page.get_by_text("Widened from")).to_be_visible()
    expect(page.get_by_role("status")).to_contain_text("1 answer shown")


def asked(page: Page, given: dict[str, object]) -> dict[str, str]:
    """The problem that the panel tells for a question, asked as a page that was tampered with would."""
    told = page.evaluate(
        "(given) => new Promise((told) => { model.on('msg:custom', (one) => one.problem && told(one.problem)); "
        "model.send({ask: 'find', number: 98, with: given}); })",
        given,
    )
    return dict(told)


def test_only_references_are_asked_for_their_like(page: Page, tmp_path: Path) -> None:
    draw(tmp_path / "private.png", 1)
    told = asked(page, {"like": str(tmp_path / "private.png")})
    assert "no reference" in told["sentence"]


@pytest.mark.parametrize(
    "given", [{"page": "1"}, {"page": True}, {"more": "abc"}, {"more": [1]}, {"words": 5}, {"region": [0, 0, "x", 1]}]
)
def test_values_of_another_kind_are_refused(page: Page, given: dict[str, object]) -> None:
    assert "what this version does not know" in asked(page, given)["sentence"]


def test_a_picture_from_disk_and_a_part_marked_by_keyboard(page: Page, filled: Archive, tmp_path: Path) -> None:
    draw(tmp_path / "mine.png", 1)  # drawn as b.png was
    page.get_by_label("Like a picture file").set_input_files(tmp_path / "mine.png")
    expect(page.get_by_text("Like: mine.png")).to_be_visible()
    page.get_by_role("button", name="Find", exact=True).click()
    expect(page.get_by_role("list", name="Found").locator("> li").first).to_contain_text("A lamp by the water")
    marker = page.get_by_role("group", name="The picture to find alike")
    marker.focus()
    marker.press("ArrowRight")
    marker.press("Shift+ArrowDown")
    expect(page.get_by_text("30 % wide and 32 % high, 37 % from the left")).to_be_visible()
    marker.press("Escape")
    expect(page.get_by_text("The whole picture counts.")).to_be_visible()


def test_a_part_marked_with_the_mouse_is_kept_with_the_evidence(page: Page, filled: Archive) -> None:
    page.get_by_label("Scene", exact=True).select_option("lamp-at-the-stage")
    page.get_by_label("Need").select_option("shawl")
    page.get_by_label("What is to be seen").fill("lamp by the water")
    page.get_by_role("button", name="Find", exact=True).click()
    page.get_by_role("button", name="Ask for its like: A lamp by the water").click()
    image = page.get_by_role("img", name="The picture to find alike")
    image.scroll_into_view_if_needed()
    place = image.bounding_box()
    assert place is not None
    page.mouse.move(place["x"] + 0.25 * place["width"], place["y"] + 0.25 * place["height"])
    page.mouse.down()
    page.mouse.move(place["x"] + 0.75 * place["width"], place["y"] + 0.5 * place["height"])
    page.mouse.up()
    page.get_by_role("button", name="Use as evidence: A lamp by the water").click()
    expect(page.get_by_role("status")).to_contain_text("now has 1")
    (evidence,) = filled.scene("lamp-at-the-stage").needs[1].evidence
    detail = next(one for one in filled.details("b.png") if one.id == evidence.detail)
    assert detail.region == pytest.approx((0.25, 0.25, 0.5, 0.25), abs=0.01)


def test_more_like_this_steers_the_next_answer(page: Page, filled: Archive) -> None:
    page.get_by_role("button", name="Find", exact=True).click()
    more = page.locator("li", has_text="A lamp by the water").get_by_role("button", name="More like it")
    more.click()
    expect(more).to_have_attribute("aria-pressed", "true")
    expect(page.get_by_text("More like “A lamp by the water”")).to_be_visible()
    page.get_by_role("button", name="Find", exact=True).click()
    expect(page.get_by_role("status")).to_contain_text("shown")
    expected = filled.find(more=["b.png"], top=201)
    assert results(page) == [f"{hit.rank}. {visible(hit.reference.title)}" for hit in expected.hits]


def test_pictures_of_the_answer_before_are_let_go(page: Page) -> None:
    page.evaluate(
        """() => { window.open_ = 0; const made = URL.createObjectURL, gone = URL.revokeObjectURL;
        URL.createObjectURL = (one) => { window.open_ += 1; return made.call(URL, one); };
        URL.revokeObjectURL = (one) => { window.open_ -= 1; return gone.call(URL, one); }; }"""
    )
    for _ in range(5):
        page.get_by_role("button", name="Find", exact=True).click()
        expect(page.get_by_role("status")).to_contain_text("shown")
    assert page.evaluate("window.open_") == 5  # one for each picture on the screen, after five answers
    page.evaluate("window.end()")
    assert page.evaluate("window.open_") == 0


@pytest.mark.parametrize("width", [1200, 900])
def test_it_can_be_read_and_worked_by_everybody(
    filled: Archive, show: Callable[..., Page], axe: Callable[[Page], list[str]], width: int
) -> None:
    page = show(Find(filled), width)
    page.get_by_role("button", name="Find", exact=True).click()
    expect(page.get_by_role("status")).to_contain_text("shown")
    assert axe(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_twice_as_large_nothing_runs_out_of_the_page(filled: Archive, show: Callable[..., Page]) -> None:
    page = show(Find(filled), 1200, zoom=2.0)
    page.get_by_role("button", name="Find", exact=True).click()
    expect(page.get_by_role("status")).to_contain_text("shown")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_every_control_is_reached_by_tab_and_named(page: Page) -> None:
    reached = set()
    page.locator("body").focus()
    for _ in range(30):
        page.keyboard.press("Tab")
        name = page.evaluate(
            "() => { const e = document.activeElement; "
            "return e.labels?.[0]?.textContent || e.getAttribute('aria-label') || e.textContent; }"
        )
        assert name.strip()
        reached.add(name.split(".")[0])
    assert {
        "What is to be seen, or read of",
        "Find",
        "Period",
        "Kind",
        "Kind of witness",
        "Scene",
        "Need",
        "Note",
    } <= reached


def test_an_error_in_the_kernel_is_a_sentence(
    filled: Archive, show: Callable[..., Page], monkeypatch: pytest.MonkeyPatch
) -> None:
    panel = Find(filled)
    page = show(panel)
    monkeypatch.setattr(type(filled), "find", lambda *_, **__: 1 / 0)
    page.get_by_role("button", name="Find", exact=True).click()
    expect(page.get_by_role("alert")).to_contain_text("Something went wrong inside the tool (ZeroDivisionError).")
    assert "Traceback" not in page.content()
