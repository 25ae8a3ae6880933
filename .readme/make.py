"""Make the pictures of README.md from what `refarchive demo` writes. Needs chromium and poppler-utils.

python .readme/make.py
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path

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


def sheets(pdf: Path, pages: list[int], goal: str) -> None:
    """Pages of a PDF side by side on grey."""
    with tempfile.TemporaryDirectory() as folder:
        found = []
        for page in pages:
            subprocess.run(
                ["pdftoppm", "-r", "72", "-png", "-f", str(page), "-l", str(page), str(pdf), f"{folder}/{page:03d}"],
                check=True, timeout=120,
            )  # fmt: skip
            found.append(Image.open(next(Path(folder).glob(f"{page:03d}*.png"))).convert("RGB"))
        gap = 16
        width = sum(p.width + gap for p in found) + gap
        board = Image.new("RGB", (width, found[0].height + 2 * gap), (119, 119, 119))
        x = gap
        for picture in found:
            board.paste(picture, (x, gap))
            x += picture.width + gap
        board.save(HERE / goal, quality=84, optimize=True)


def main() -> None:
    """Run the demo in a temporary folder and take the pictures."""
    with tempfile.TemporaryDirectory() as folder:
        done = run_demo(Path(folder) / "demo")
        screen(Path(done["find"]["html"]), 1350, "find.jpg")
        shutil.copyfile(done["coverage"]["figure"], HERE / "coverage.png")
        screen(Path(done["check"][0]["report"]), 1650, "check.jpg")
        sheets(Path(done["dossier"]["pdf"]), [1, 4, 6], "dossier.jpg")
        sheets(Path(done["check_pdf"]), [1, 2, 4], "check-pages.jpg")


if __name__ == "__main__":
    main()
