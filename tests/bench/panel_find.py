"""How long the panel of finding takes beside `Archive.find`, and until 200 results stand on the screen; run by hand.

python tests/bench panel_find

An archive of small drawn pictures (10,000 unless said otherwise; making it takes minutes) with a quick encoder. The
ratio is that of one question through the panel, previews read and packed, to the same `Archive.find` in the same run.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import numpy as np
from PIL import Image
from playwright.sync_api import expect, sync_playwright
from table import Row, best

TESTS = Path(__file__).parent.parent
sys.path[:0] = [str(TESTS), str(TESTS / "panels")]
import conftest  # noqa: E402, F401  (registers the quick encoder)
from blank_page import CHROMIUM, FLAGS, put_up  # noqa: E402

import refarchive  # noqa: E402
from refarchive.archive import Archive  # noqa: E402
from refarchive.panels import Find  # noqa: E402

REFERENCES, SHOWN = 10_000, 200
WORDS = "lamp by the water"


def rows(*sizes: int) -> Iterator[Row]:
    """A question through the panel in archives of so many references (10,000 unless said otherwise)."""
    for count in sizes or (REFERENCES,):
        with tempfile.TemporaryDirectory() as place, filled(Path(place), count) as archive:
            panel = Find(archive)
            panel.send = lambda *_: None  # type: ignore[method-assign]
            for number in range(min(count, SHOWN)):
                archive.preview(f"lamp-{number:05d}.jpg")
            ask, through = partial(archive.find, WORDS, top=SHOWN + 1), partial(panel.find, number=1, words=WORDS)
            ask()
            bare, own = best(ask), best(through)
            told = f"{count:,} references"
            yield Row("panel of finding, a question", told, own, bare, against="Archive.find")
            shown, decoded = on_screen(archive)
            yield Row("panel of finding, until the pictures stand", f"{told}, {shown} shown", decoded)


def filled(place: Path, count: int) -> Archive:
    """An archive of small drawn pictures."""
    scans = place / "scans"
    scans.mkdir()
    random = np.random.default_rng(0)
    for number in range(count):
        soft = Image.fromarray(random.integers(0, 256, (6, 8, 3), dtype=np.uint8))
        soft.resize((320, 240), Image.Resampling.BICUBIC).save(scans / f"lamp-{number:05d}.jpg", quality=80)
    archive = refarchive.create(place / "archive", "tiny")
    archive.gather(scans)
    return archive


def on_screen(archive: Archive) -> tuple[int, float]:
    """How many results a browser shows, and the seconds from the answer until each of them is decoded."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        page = browser.new_page(viewport={"width": 1200, "height": 900})
        put_up(page, Find(archive))
        page.get_by_label("What is to be seen").fill(WORDS)
        page.evaluate(MEASURE)
        page.get_by_role("button", name="Find", exact=True).click()
        expect(page.get_by_role("status")).to_contain_text("shown", timeout=120_000)
        page.wait_for_function("window.took_ms !== null")
        shown = page.get_by_role("list", name="Found").locator("> li").count()
        took = page.evaluate("window.took_ms") / 1000
        browser.close()
    return shown, took


# From the moment the list is filled until every picture in it is decoded.
MEASURE = """() => {
  window.took_ms = null;
  const list = document.querySelector('.ra-results');
  new MutationObserver(async (_, watch) => {
    watch.disconnect();
    const start = performance.now();
    await Promise.all([...list.querySelectorAll('img')].map((one) => one.decode()));
    window.took_ms = performance.now() - start;
  }).observe(list, { childList: true });
}"""
