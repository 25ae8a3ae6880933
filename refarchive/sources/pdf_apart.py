"""Reading a PDF in a process of its own, because a few hundred bytes of PDF can bring the one that reads it down.

A page that draws itself three times over makes PDFium ask for memory without end and then abort. In a process apart
that is one file refused. Memory is bounded where the system allows it (not on Windows), time everywhere.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import refarchive
from refarchive.errors import SourceRefused
from refarchive.sources import pdf_pages
from refarchive.sources.folder import shown_name

SECONDS_A_PAGE = 60.0
MOST_MEMORY = 2_000_000_000  # bytes of address space


@dataclass(frozen=True)
class PdfPage:
    """One page: its number from 1, the text on it, the file with its picture. Blank pages are left out."""

    number: int
    text: str
    picture: Path


@dataclass(frozen=True)
class PdfRead:
    """A PDF as read: how many pages it has, the title it gives itself, and those pages that are not blank."""

    count: int
    title: str
    pages: tuple[PdfPage, ...]


def read_pdf(path: Path, folder: Path, seconds_a_page: float = SECONDS_A_PAGE) -> PdfRead:
    """Read a PDF whole, its pages' pictures as PNG into `folder`.

    Raises
    ------
    SourceRefused
        where it is too large, broken, locked, has no pages or more than 500, or a page that takes more than
        `seconds_a_page` or too much memory.
    """
    name = shown_name(path.name)
    command = [sys.executable, "-P", "-m", __name__, str(path.absolute()), str(folder.absolute())]
    above = str(Path(refarchive.__file__).parents[1])
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, (above, os.environ.get("PYTHONPATH"))))}
    head: dict[str, Any] = {}
    pages: list[PdfPage] = []
    with subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=environment,
        encoding="utf-8",
    ) as process:  # fmt: skip
        assert process.stdout is not None
        lines = _Watched(process, process.stdout, seconds_a_page)
        try:
            for told in lines:
                if "problem" in told:
                    raise SourceRefused(told["problem"], told["next_step"])
                if not head:
                    head = told
                else:
                    pages += [PdfPage(told["page"], told["text"], folder / told["file"])] if told["file"] else []
        except BaseException:
            process.kill()
            raise
    if lines.read != 1 + head.get("count", 0) or process.returncode != 0:
        where = f"Page {lines.read} of {name}" if head else name
        how = f"takes more than {seconds_a_page:g} seconds" if lines.late else "needs more memory than there is for it"
        raise SourceRefused(f"{where} cannot be read: it is damaged, or {how}.", "Print it anew as PDF, or split it.")
    return PdfRead(head["count"], head["title"], tuple(pages))


class _Watched:
    """What a process writes, line by line; it is stopped where one line takes too long."""

    def __init__(self, process: subprocess.Popen[str], stream: IO[str], seconds: float) -> None:
        self.read = 0
        self.late = False
        self._process = process
        self._stream = stream
        self._seconds = seconds

    def __iter__(self) -> Iterator[dict[str, Any]]:
        while True:
            watch = threading.Timer(self._seconds, self._stop)
            watch.daemon = True
            watch.start()
            try:
                line = self._stream.readline()
            finally:
                watch.cancel()
            if not line.endswith("\n"):
                return
            self.read += 1
            yield json.loads(line)

    def _stop(self) -> None:
        self.late = True
        self._process.kill()


def _tell(told: dict[str, Any]) -> None:
    print(json.dumps(told), flush=True)


def _bound_memory() -> None:
    try:
        import resource
    except ImportError:  # Windows
        return
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _read(path: Path, folder: Path) -> None:
    with pdf_pages.opened(path) as pdf:
        _tell({"count": pdf.count, "title": pdf.title})
        for number in range(1, pdf.count + 1):
            text, picture = pdf.text(number), pdf.picture(number)
            file = "" if not text and pdf_pages.blank(picture) else f"{number:04}.png"
            if file:
                picture.save(folder / file, "PNG", compress_level=4)
            _tell({"page": number, "text": text, "file": file})


def main(path: str, folder: str) -> None:
    """The process apart."""
    _bound_memory()
    try:
        _read(Path(path), Path(folder))
    except SourceRefused as error:
        _tell({"problem": error.problem, "next_step": error.next_step})


if __name__ == "__main__":
    main(*sys.argv[1:3])
