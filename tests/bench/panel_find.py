"""How long the panel of finding takes beside `Archive.find`, and until 200 results stand on the screen; run by hand.

python tests/bench/panel_find.py [REFERENCES]

An archive of small drawn pictures (10,000 unless said otherwise; making it takes minutes) with a quick encoder. The
ratio is that of one question through the panel, previews read and packed, to the same `Archive.find` in the same run.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image
from playwright.sync_api import expect, sync_playwright

TESTS = Path(__file__).parent.parent
sys.path[:0] = [str(TESTS), str(TESTS / "panels")]
import conftest  # noqa: E402, F401  (registers the quick encoder)
from blank_page import CHROMIUM, FLAGS, put_up  # noqa: E402

import refarchive  # noqa: E402
from refarchive.panels import Find  # noqa: E402

ROUNDS = 5
WORDS = "lamp by the water"


def best(work: Callable[[], object]) -> float:
    """The shortest of a few rounds, in seconds."""
    found = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return min(found)


def main() -> None:
    """Build the archive, and print the times."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as place:
        scans = Path(place) / "scans"
        scans.mkdir()
        random = np.random.default_rng(0)
        for number in range(count):
            soft = Image.fromarray(random.integers(0, 256, (6, 8, 3), dtype=np.uint8))
            soft.resize((320, 240), Image.Resampling.BICUBIC).save(scans / f"lamp-{number:05d}.jpg", quality=80)
        archive = refarchive.create(Path(place) / "archive", "tiny")
        archive.gather(scans)
        panel = Find(archive)
        panel.send = lambda *_: None  # type: ignore[method-assign]
        for name in range(min(count, 200)):
            archive.preview(f"lamp-{name:05d}.jpg")
        archive.find(WORDS, top=201)
        bare = best(lambda: archive.find(WORDS, top=201))
        through = best(lambda: panel.find(number=1, words=WORDS))
        print(f"{count} references: Archive.find {bare:.3f} s, through the panel {through:.3f} s,", end=" ")
        print(f"{through / bare:.2f} times")
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
            print(f"{shown} results decoded {page.evaluate('window.took_ms') / 1000:.2f} s after the answer")
            browser.close()
        archive.close()


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


if __name__ == "__main__":
    main()
