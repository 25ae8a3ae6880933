"""A PDF as the tools of poppler-utils read and paint it."""

from __future__ import annotations

import io
import shutil
import subprocess
import tempfile

from PIL import Image


def poppler(tool: str, pdf: bytes, *options: str) -> bytes:
    """What a tool answers of a PDF."""
    assert shutil.which(tool), f"{tool} of poppler-utils is needed"
    with tempfile.NamedTemporaryFile(suffix=".pdf") as file:
        file.write(pdf)
        file.flush()
        line = [tool, *options, file.name, *(["-"] if tool == "pdftotext" else [])]
        return subprocess.run(line, capture_output=True, check=True).stdout


def text_of(pdf: bytes, *options: str) -> str:
    """Its words, with one space between them."""
    return " ".join(poppler("pdftotext", pdf, *options).decode().split())


def rendered(pdf: bytes, dpi: int = 300, *options: str) -> Image.Image:
    """Its first page, painted."""
    with Image.open(io.BytesIO(poppler("pdftoppm", pdf, "-r", str(dpi), *options, "-singlefile", "-png"))) as shown:
        return shown.convert("RGB")
