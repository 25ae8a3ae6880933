"""Text files: decoding them, and cutting them into passages of a size that a search can return.

A passage is about 40 to 120 words. Paragraphs are kept whole where they fit, joined where they are short and cut at the
ends of sentences where they are long. A Markdown heading begins a passage and stays with what follows it.
"""

from __future__ import annotations

import codecs
import errno
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from refarchive.errors import SourceRefused
from refarchive.records import bounded
from refarchive.sources.folder import shown_name

LARGEST_FILE = 20_000_000  # bytes
FEWEST_WORDS = 40
WANTED_WORDS = 80  # from here on a passage takes nothing more, so that a short rest still fits
MOST_WORDS = 120
MOST_CHARACTERS = 1200  # of a passage; text without spaces is cut here
LONGEST_TITLE = 200

_CONVERT = "Save it as UTF-8 text and gather it again."


# -- decoding --------


def read_text(path: Path) -> str:
    """The text of a file; see `read_text_noticed`, which also says how it was decoded."""
    return read_text_noticed(path)[0]


def read_text_noticed(path: Path) -> tuple[str, str]:
    """The text of a file, and one sentence where its encoding had to be guessed ("" otherwise).

    Line ends stay as they are, so that offsets hold for the file as decoded. A byte order mark is not part of the text.

    Raises
    ------
    SourceRefused
        where it is no regular file, holds no words, is larger than 20 MB, or is not text.
    """
    path = Path(path)
    name = shown_name(path.name)
    data = read_bounded(path, LARGEST_FILE)
    text, notice = decode(data, name)
    if not text.strip():
        raise SourceRefused(f"{name} holds no words.", "Leave it out.")
    return text, notice


def read_bounded(path: Path, largest: int) -> bytes:
    """All bytes of a regular file of at most `largest` bytes.

    Raises
    ------
    SourceRefused
        where it is too large, no regular file, or cannot be read.
    """
    name = shown_name(path.name)
    try:
        return bounded.read_bounded(path, largest)
    except FileNotFoundError:
        raise SourceRefused(f"There is no file {name}.", "Check the name.") from None
    except (OSError, ValueError) as error:
        number = getattr(error, "errno", None)
        if number == errno.EFBIG:
            raise SourceRefused(f"{name} is larger than {largest // 1_000_000} MB.", "Split it.") from None
        if number in (errno.EINVAL, errno.EISDIR):
            raise SourceRefused(f"{name} is not a file.", "Name a file.") from None
        reason = getattr(error, "strerror", None) or "its name is not one that a file can have"
        raise SourceRefused(f"{name} cannot be read: {reason}.", "Check its name and its permissions.") from None


def decode(data: bytes, name: str) -> tuple[str, str]:
    """Decode UTF-8 (with or without a byte order mark), UTF-16 with one, or else Windows-1252 or Latin-1.

    Returns the text and, for the last two, a sentence that says so.

    Raises
    ------
    SourceRefused
        where the bytes are not text: NULs, or more than one control character in a hundred.
    """
    notice = ""
    try:
        if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            text = data.decode("utf-16")
        else:
            text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) or b"\0" in data:
            raise SourceRefused(f"{name} is not text.", _CONVERT) from None
        try:
            text, encoding = data.decode("cp1252"), "Windows-1252"
        except UnicodeDecodeError:
            text, encoding = data.decode("latin-1"), "Latin-1"
        notice = f"{name} is not UTF-8 and was read as {encoding}; look at its accents."
    if "\0" in text:
        raise SourceRefused(f"{name} holds NUL characters, so it is not plain text.", _CONVERT)
    controls = len(re.findall(r"[\x01-\x08\x0e-\x1f\x7f-\x9f]", text))
    if controls > len(text) / 100:
        raise SourceRefused(f"{name} holds control characters, so it is not plain text.", _CONVERT)
    return text, notice


# -- passages --------


class _Piece(NamedTuple):
    """A stretch that is not cut any further."""

    start: int
    end: int
    size: int  # words, or a tenth of the characters where that is more
    opens: bool = False  # a heading: begins a passage
    closes: bool = False  # the end of a paragraph: a passage may well end here


def split(text: str) -> list[tuple[str, int, int]]:
    r"""Passages in order as (text, start, end); `text[start:end]` gives each back. Time is linear in the text.

    >>> split("# Merrow Sands\n\nThe cart set out.")
    [('# Merrow Sands\n\nThe cart set out.', 0, 33)]
    """
    spans: list[list[int]] = []  # start, end, size, whether it begins with a heading
    size = 0
    heading_only = False  # nothing but headings so far: what follows stays with them
    full = True  # the passage that was last begun takes no more
    for piece in _pieces(text):
        room = size + piece.size <= (WANTED_WORDS if size >= FEWEST_WORDS else MOST_WORDS)
        if not full and room and (heading_only or not piece.opens):
            spans[-1][1] = piece.end
            size += piece.size
        else:
            spans.append([piece.start, piece.end, piece.size, int(piece.opens)])
            size = piece.size
            heading_only = True
        spans[-1][2] = size
        heading_only = heading_only and piece.opens
        full = size >= FEWEST_WORDS and piece.closes and not heading_only
    return [(text[start:end], start, end) for start, end in _joined(spans)]


def _joined(spans: list[list[int]]) -> Iterator[tuple[int, int]]:
    """Add a short passage that no heading begins to the one before, where both fit into one."""
    done: list[list[int]] = []
    for start, end, size, opens in spans:
        if done and size < FEWEST_WORDS and not opens and done[-1][2] + size <= MOST_WORDS:
            done[-1][1], done[-1][2] = end, done[-1][2] + size
        else:
            done.append([start, end, size])
    return ((start, end) for start, end, _ in done)


_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+")
_HEADING = re.compile(r" {0,3}#{1,6}(?:[ \t]|$)")
_UNDERLINE = re.compile(r" {0,3}(?:=+|-{2,})[ \t]*$")
_WORD = re.compile(r"\S+")
# The end of a sentence: a stop, closing quotes, space, and then something that can begin a sentence.
_SENTENCE_END = re.compile(r"[.!?…][\"'”’»)\]]{0,3}(?=\s)")
_NO_END = re.compile(
    r"(?:\b(?:mr|mrs|ms|dr|st|rev|capt|col|gen|lieut|lt|sgt|esq|hon|no|nos|vol|fol|pl|fig|p|pp|c|ca|cf|viz|etc|e\.g|i\.e"
    r"|jan|feb|mar|apr|jun|jul|aug|sept?|oct|nov|dec|wm|jas|chas|thos|geo|jno|ft|in|lb|oz|s|d)|\b[A-Z])\.$",
    re.IGNORECASE,
)


def _pieces(text: str) -> Iterator[_Piece]:
    for start, end, heading in _blocks(text):
        if heading:
            yield _Piece(start, end, min(_size(text, start, end), FEWEST_WORDS), opens=True, closes=True)
        elif _fits(text, start, end):
            yield _Piece(start, end, _size(text, start, end), closes=True)
        else:
            pieces = list(_sentences(text, start, end))
            yield from pieces[:-1]
            yield pieces[-1]._replace(closes=True)


def _blocks(text: str) -> Iterator[tuple[int, int, bool]]:
    """Paragraphs and headings, trimmed, as (start, end, is a heading)."""
    start: int | None = None
    end = lines = 0
    for line in _LINE.finditer(text):
        content = line[0].strip()
        if not content:
            if start is not None:
                yield start, end, False
            start, lines = None, 0
            continue
        first = line.start() + len(line[0]) - len(line[0].lstrip())
        last = line.start() + len(line[0].rstrip())
        # Only the first characters can tell a heading, so a line of ten million is no slower to judge than a short one.
        if _HEADING.match(line[0][:12].rstrip("\r\n")) and last - first <= MOST_CHARACTERS:
            if start is not None:
                yield start, end, False
            yield first, last, True
            start, lines = None, 0
            continue
        under_one_line = start is not None and lines == 1 and end - start <= MOST_CHARACTERS and len(content) < 200
        if start is not None and under_one_line and _UNDERLINE.match(line[0].rstrip()):
            yield start, last, True
            start, lines = None, 0
            continue
        if start is None:
            start = first
        end, lines = last, lines + 1
    if start is not None:
        yield start, end, False


def _size(text: str, start: int, end: int) -> int:
    return max(sum(1 for _ in _WORD.finditer(text, start, end)), (end - start) * MOST_WORDS // MOST_CHARACTERS)


def _fits(text: str, start: int, end: int) -> bool:
    return end - start <= MOST_CHARACTERS and _size(text, start, end) <= MOST_WORDS


def _sentences(text: str, start: int, end: int) -> Iterator[_Piece]:
    here = start
    for stop in _SENTENCE_END.finditer(text, start, end):
        if _NO_END.search(text, max(here, stop.start() - 12), stop.start() + 1):
            continue
        yield from _bounded(text, here, stop.end())
        here = _skip_space(text, stop.end(), end)
    if here < end:
        yield from _bounded(text, here, end)


def _skip_space(text: str, here: int, end: int) -> int:
    found = _WORD.search(text, here, end)
    return found.start() if found else end


def _bounded(text: str, start: int, end: int) -> Iterator[_Piece]:
    """A sentence, cut between words where it is too long, and within a word where that alone is."""
    if _fits(text, start, end):
        yield _Piece(start, end, _size(text, start, end))
        return
    first, last, words = start, start, 0
    for word in _WORD.finditer(text, start, end):
        if words and (words == MOST_WORDS or word.end() - first > MOST_CHARACTERS):
            yield _Piece(first, last, _size(text, first, last))
            first, words = word.start(), 0
        first = first if words else word.start()
        while word.end() - first > MOST_CHARACTERS:
            cut = first + MOST_CHARACTERS
            yield _Piece(first, cut, MOST_WORDS)
            first = cut
        last, words = word.end(), words + 1
    if first < last:
        yield _Piece(first, last, _size(text, first, last))


# -- titles --------

_FRONT_TITLE = re.compile(r"title[ \t]*:[ \t]*(.+)", re.IGNORECASE)


def title_of(text: str, file_name: str) -> str:
    """A title for a text: from its front matter, its first Markdown heading, a short first line, or the file's name.

    One line of at most 200 characters, nothing invisible in it.
    """
    lines = [line.strip() for line in text[:20_000].splitlines()[:60]]
    title = _title_in(lines) or _title_from_name(file_name)
    return shown_name(" ".join(title.split()), LONGEST_TITLE)


def _title_in(lines: list[str]) -> str:
    if lines and lines[0] == "---":
        for number, line in enumerate(lines[1:], 1):
            if line in ("---", "..."):
                lines = lines[number + 1 :]
                break
            if found := _FRONT_TITLE.fullmatch(line):
                return found[1].strip().strip("\"'").strip()
    written = [(number, line) for number, line in enumerate(lines) if line]
    for _, line in written[:10]:
        if _HEADING.match(line):
            return line.strip("#").strip()
    if not written:
        return ""
    number, first = written[0]
    following = lines[number + 1] if number + 1 < len(lines) else ""
    alone = not following or bool(_UNDERLINE.match(following))
    return first if alone and len(first) <= 100 and not first.endswith((".", ",", ";", ":")) else ""


def _title_from_name(file_name: str) -> str:
    stem = Path(file_name).stem
    return re.sub(r"[_\-\s]+", " ", stem).strip() or file_name
