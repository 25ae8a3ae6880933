"""Pages of a PDF: the picture of each and the text on it, read with PDFium.

A page is drawn at 200 dots per inch, smaller where it is very large, in sRGB on white; one version of PDFium draws one
file alike every time. PDFium works on one document at a time, so that two threads take turns. A hostile page can end
the process that reads it: files of others go through `pdf_apart`.
"""

from __future__ import annotations

import os
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refarchive.errors import SourceRefused
from refarchive.records.bounded import open_regular
from refarchive.sources.folder import shown_name

if TYPE_CHECKING:
    from PIL.Image import Image

LARGEST_PDF = 300_000_000  # bytes
MOST_PAGES = 500
DPI = 200
LONGEST_SIDE = 4_000  # pixels of a drawn page
LONGEST_TEXT = 200_000  # characters of one page
POINTS_PER_INCH = 72.0

_turn = threading.Lock()


class PdfPages:
    """An open PDF. Pages count from 1."""

    def __init__(self, document: Any, name: str) -> None:
        self._document = document
        self._name = name
        self.count = len(document)

    @property
    def title(self) -> str:
        """The title the file gives itself, in one line; "" where it gives none."""
        return shown_name(" ".join(str(self._document.get_metadata_dict().get("Title") or "").split()), 300)

    def text(self, number: int) -> str:
        """The text on a page, lines of a paragraph joined; "" where it has none, its end left out beyond 200,000 signs.

        Raises SourceRefused where the page is damaged.
        """
        with self._page(number) as page:
            layer = page.get_textpage()
            try:
                length = min(layer.count_chars(), LONGEST_TEXT)
                found = layer.get_text_range(0, length) if length else ""
            finally:
                layer.close()
        lines = found.replace("\r\n", "\n").replace("\r", "\n").replace("\x02", "").replace("\x00", "")
        return "\n\n".join(re.sub(r"(?<=\w-) *\n *(?=\w)| *\n *", _joint, part).strip() for part in _parts(lines))

    def picture(self, number: int) -> Image:
        """A page as an sRGB picture on white. Raises SourceRefused."""
        with self._page(number) as page:
            width, height = page.get_size()
            if not (0 < width < 1e6 and 0 < height < 1e6):
                raise SourceRefused(f"Page {number} of {self._name} has no size that can be drawn.", "Print it anew.")
            scale = min(DPI / POINTS_PER_INCH, LONGEST_SIDE / max(width, height))
            return page.render(scale=scale, fill_color=(255, 255, 255, 255)).to_pil().convert("RGB")  # type: ignore[no-any-return]

    @contextmanager
    def _page(self, number: int) -> Iterator[Any]:
        import pypdfium2

        try:
            page = self._document[number - 1]
            try:
                yield page
            finally:
                page.close()
        except (pypdfium2.PdfiumError, IndexError):
            raise SourceRefused(
                f"Page {number} of {self._name} is damaged.", "Save the PDF anew, or split it."
            ) from None


@contextmanager
def opened(path: Path) -> Iterator[PdfPages]:
    """The pages of a PDF, for as long as the block lasts; other threads wait.

    Raises
    ------
    SourceRefused
        where it is too large, broken, locked with a password, or has no pages or more than 500.
    """
    import pypdfium2

    name = shown_name(path.name)
    try:
        with open_regular(path) as file:
            size = os.fstat(file.fileno()).st_size
    except OSError as error:
        raise SourceRefused(f"{name} cannot be read: {error.strerror}.", "Name a PDF.") from None
    if size > LARGEST_PDF:
        raise SourceRefused(f"{name} has {size / 1e6:,.0f} MB, more than is read at once.", "Split it into parts.")
    with _turn:
        try:
            document = pypdfium2.PdfDocument(path)
        except pypdfium2.PdfiumError as error:
            if "password" in str(error).lower():
                raise SourceRefused(
                    f"{name} is locked with a password.", "Open it elsewhere, save it without one, and gather that."
                ) from None
            raise SourceRefused(
                f"{name} is no PDF that can be read: it is damaged.", "Save or fetch it anew."
            ) from None
        try:
            pages = PdfPages(document, name)
            if pages.count > MOST_PAGES:
                raise SourceRefused(
                    f"{name} has {pages.count:,} pages; at most {MOST_PAGES} are taken at once.",
                    "Print the pages you need, or parts, into PDFs of their own.",
                )
            if pages.count == 0:
                raise SourceRefused(f"{name} has no pages.", "Save or fetch it anew.")
            yield pages
        finally:
            document.close()


def _parts(text: str) -> list[str]:
    return [part for part in re.split(r"\n[ \t]*\n\s*", text) if part.strip()]


def _joint(line_end: re.Match[str]) -> str:
    """What stands for a line end within a paragraph: nothing after a hyphen, a space elsewhere."""
    return "" if line_end.string[line_end.start() - 1 : line_end.start()] == "-" else " "


def is_pdf(path: Path) -> bool:
    """Whether a file begins as PDFs do, within its first kilobyte."""
    with open_regular(path) as file:
        return b"%PDF-" in file.read(1024)


def blank(picture: Image) -> bool:
    """Whether a page is one even ground, with nothing on it."""
    low, high = picture.convert("L").resize((64, 64)).getextrema()
    return bool(high - low < 6)  # type: ignore[operator]
