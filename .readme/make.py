"""Make the pictures of README.md from what `refarchive demo` writes. Needs chromium and poppler-utils.

python .readme/make.py
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

from PIL import Image

from refarchive.demo import run_demo

HERE = Path(__file__).parent
BROWSER = (
    "chromium --headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --hide-scrollbars"
).split()


def screen(page: Path, height: int, goal: str, crop: tuple[int, int, int, int] | None = None) -> None:
    """A page in the browser, 1200 px wide."""
    with tempfile.TemporaryDirectory() as folder:
        shot = Path(folder) / "shot.png"
        subprocess.run(
            [*BROWSER, f"--user-data-dir={folder}/profile", f"--window-size=1200,{height}", f"--screenshot={shot}",
             page.resolve().as_uri()],
            check=True, capture_output=True, timeout=120,
        )  # fmt: skip
        picture = Image.open(shot).convert("RGB")
        (picture.crop(crop) if crop else picture).save(HERE / goal, quality=84, optimize=True)


def sheet(pdf: str | Path, page: int = 1) -> Image.Image:
    """A page of a PDF, 72 pixels per inch."""
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(
            ["pdftoppm", "-r", "72", "-png", "-f", str(page), "-l", str(page), "-singlefile", str(pdf),
             f"{folder}/sheet"],
            check=True, timeout=120,
        )  # fmt: skip
        return Image.open(f"{folder}/sheet.png").convert("RGB")


def sheets(pdf: Path, pages: list[int], goal: str) -> None:
    """Pages of a PDF side by side on grey."""
    found = [sheet(pdf, page) for page in pages]
    gap = 16
    width = sum(p.width + gap for p in found) + gap
    board = Image.new("RGB", (width, found[0].height + 2 * gap), (119, 119, 119))
    x = gap
    for picture in found:
        board.paste(picture, (x, gap))
        x += picture.width + gap
    board.save(HERE / goal, quality=84, optimize=True)


def panels(place: Path) -> None:
    """The panels over the sample archive, worked as a person works them."""
    import sys

    from playwright.sync_api import expect, sync_playwright

    sys.path.insert(0, str(HERE.parent / "tests" / "panels"))
    from blank_page import CHROMIUM, FLAGS, put_up

    import refarchive
    from refarchive.demo import shipped
    from refarchive.panels import Check, Find, OnSite, Publish, Scene, Wall

    frame = shipped("sample_refs") / "frames" / "first-light-02.jpg"
    with refarchive.open(place) as archive, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)

        def shot(panel: object, goal: str, height: int, act: object) -> None:
            page = browser.new_page(viewport={"width": 1200, "height": height})
            put_up(page, panel)  # type: ignore[arg-type]
            act(page)  # type: ignore[operator]
            page.wait_for_timeout(400)
            page.screenshot(path=str(HERE / goal), type="jpeg", quality=84)
            page.close()

        def find(page: Any) -> None:
            page.get_by_label("What is to be seen").fill("women with baskets going out over the wet sand before dawn")
            page.get_by_label("Period", exact=True).fill("1868/1874")
            page.get_by_label("Need").select_option(label="Cockle baskets (props)")
            page.get_by_role("button", name="Find", exact=True).click()
            expect(page.get_by_role("status")).to_contain_text("shown", timeout=60_000)

        def check(page: Any) -> None:
            page.get_by_label("Or a picture file").set_input_files(frame)
            expect(page.get_by_role("status")).to_contain_text("Ready", timeout=60_000)
            page.get_by_role("button", name="Check", exact=True).click()
            expect(page.get_by_role("status")).to_contain_text("Checked", timeout=60_000)
            page.get_by_label("Beside").select_option(index=1)

        def scene(page: Any) -> None:
            expect(page.get_by_role("status")).to_contain_text("Revision", timeout=60_000)
            fold = page.locator("summary", has_text="Madder kerchief")
            fold.click()
            fold.evaluate("one => one.scrollIntoView({block: 'start'})")

        def onsite(page: Any) -> None:
            expect(page.get_by_role("status")).to_contain_text("2027", timeout=60_000)

        def wall(page: Any) -> None:
            expect(page.get_by_role("list", name="Group 1")).to_be_visible(timeout=60_000)
            page.get_by_role("navigation").get_by_role("button", name="A sitting").click()
            page.get_by_role("button", name="Begin", exact=True).click()
            expect(page.get_by_text("0 said in this sitting")).to_be_visible(timeout=60_000)

        def standing(page: Any) -> None:
            expect(page.get_by_role("list", name="Group 1")).to_be_visible(timeout=60_000)
            page.get_by_role("navigation").get_by_role("button", name="How they stand").click()
            expect(page.get_by_role("list", name="Ahead")).to_be_visible(timeout=60_000)

        def publish(page: Any) -> None:
            expect(page.get_by_role("list", name="Neighbours")).to_be_visible(timeout=60_000)
            page.get_by_role("navigation").get_by_role("button", name="What rests on what").click()

        shot(Wall(archive, "first-light"), "panel-wall.jpg", 690, wall)
        shot(Wall(archive, "first-light"), "panel-standing.jpg", 1080, standing)
        shot(Publish(archive, "first-light"), "panel-publish.jpg", 1180, publish)
        shot(OnSite(archive, "pilots-crossing"), "panel-onsite.jpg", 1500, onsite)
        shot(Find(archive, "first-light"), "panel-find.jpg", 1100, find)
        shot(Check(archive, "first-light"), "panel-check.jpg", 1150, check)
        shot(Scene(archive, "first-light"), "panel-scene.jpg", 900, scene)
        browser.close()


def after(files: dict[str, str]) -> None:
    """Pages of what came after the shoot: a work print, the wall to scale, the series, the statement."""
    shown = [sheet(files[name]) for name in ("Work print", "The wall, to scale", "The series", "  caption and note")]
    gap = 16
    lying, upright = shown[:2], shown[2:]
    tall = max(one.height for one in upright)
    low = (tall - gap) // 2
    left = [one.resize((one.width * low // one.height, low), Image.Resampling.LANCZOS) for one in lying]
    width = max(one.width for one in left) + sum(one.width + gap for one in upright) + 2 * gap
    board = Image.new("RGB", (width, tall + 2 * gap), (119, 119, 119))
    for row, one in enumerate(left):
        board.paste(one, (gap, gap + row * (low + gap)))
    x = 2 * gap + max(one.width for one in left)
    for one in upright:
        board.paste(one, (x, gap))
        x += one.width + gap
    board.save(HERE / "after-pages.jpg", quality=84, optimize=True)


def crossing(place: Path, folder: Path) -> None:
    """Pages on place and light: the call sheet, the windows, the lighting plan."""
    import refarchive

    with refarchive.open(place) as archive:
        written = archive.dossier("pilots-crossing", department="light", out=folder / "crossing")
    text = subprocess.run(
        ["pdftotext", "-layout", str(written.pdf), "-"], check=True, capture_output=True, text=True, timeout=120
    ).stdout.split("\f")
    wanted = ("Call sheet\n", "When all of it holds,", "Lighting plan\n")
    sheets(
        written.pdf, [next(n for n, page in enumerate(text, 1) if one in page) for one in wanted], "onsite-pages.jpg"
    )


def main() -> None:
    """Run the demo in a temporary folder and take the pictures."""
    with tempfile.TemporaryDirectory() as folder:
        done = run_demo(Path(folder) / "demo")
        screen(Path(done["find"]["html"]), 1350, "find.jpg")
        shutil.copyfile(done["coverage"]["figure"], HERE / "coverage.png")
        screen(Path(done["check"][0]["report"]), 1650, "check.jpg")
        sheets(Path(done["dossier"]["pdf"]), [1, 4, 6], "dossier.jpg")
        sheets(Path(done["check_pdf"]), [1, 2, 3], "check-pages.jpg")
        after(done["after"]["files"])
        panels(Path(done["archive"]))
        crossing(Path(done["archive"]), Path(folder))


if __name__ == "__main__":
    main()
