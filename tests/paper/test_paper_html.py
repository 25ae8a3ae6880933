"""The HTML file: whole in itself, unable to run anything, readable by those who do not see it."""

from __future__ import annotations

import base64
import hashlib
import html
import io
import re
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

import pytest
from PIL import Image

from refarchive.errors import CannotPrint
from refarchive.paper.html import css_string, write_html

VOID = {"meta", "img", "br", "rect", "link", "hr", "input"}


class Reader(HTMLParser):
    """The tree as seen by a standard parser: start tags with their attributes, texts, and whether all are closed."""

    def __init__(self, source: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.unbalanced: list[str] = []
        self.feed(source)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {k: v or "" for k, v in attrs}))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {k: v or "" for k, v in attrs}))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.unbalanced.append(tag)

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words))


def attributes(reader: Reader, tag: str) -> list[dict[str, str]]:
    return [a for t, a in reader.tags if t == tag]


@pytest.fixture(scope="module")
def page(made: Any) -> str:
    document = made.dossier()
    return write_html(document, made.pictures(document))


@pytest.fixture(scope="module")
def hostile_page(hostile: Any) -> str:
    document = hostile.dossier()
    return write_html(document, hostile.pictures(document))


def test_nothing_comes_from_elsewhere(page: str) -> None:
    reader = Reader(page)
    names = {t for t, _ in reader.tags}
    assert not names & {"script", "link", "iframe", "object", "embed", "form", "base", "video", "audio", "source"}
    for _, attrs in reader.tags:
        assert not [k for k in attrs if k.startswith("on") or k in ("style", "srcset", "action", "background")]
        for key in ("src", "href"):
            assert attrs.get(key, "#").startswith(("data:image/", "#"))
    assert "url(" not in page
    assert "@import" not in page


def test_the_policy_admits_the_one_style_sheet(page: str) -> None:
    policy = next(a for a in attributes(Reader(page), "meta") if "http-equiv" in a)
    assert policy["http-equiv"] == "Content-Security-Policy"
    style = re.search(r"<style>(.*?)</style>", page, re.DOTALL)
    assert style is not None
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    assert policy["content"].split("; ") == [
        "default-src 'none'",
        "img-src data:",
        f"style-src 'sha256-{digest}'",
        "base-uri 'none'",
        "form-action 'none'",
    ]


def test_tags_balance_and_landmarks_stand(page: str, hostile_page: str) -> None:
    for source in (page, hostile_page):
        reader = Reader(source)
        assert not reader.unbalanced
        assert not reader.open
        names = [t for t, _ in reader.tags]
        assert [names.count(t) for t in ("main", "header", "nav", "footer", "h1")] == [1, 1, 1, 1, 1]
        assert attributes(reader, "html")[0]["lang"] == "en"
        ids = [a["id"] for _, a in reader.tags if "id" in a]
        assert len(ids) == len(set(ids))
        for attrs in attributes(reader, "a"):
            assert attrs["href"][1:] in ids


def test_headings_skip_no_level(page: str, hostile_page: str) -> None:
    for source in (page, hostile_page):
        levels = [int(t[1]) for t, _ in Reader(source).tags if re.fullmatch(r"h[1-6]", t)]
        assert levels[0] == 1
        assert all(b <= a + 1 for a, b in pairwise(levels))
        assert max(levels) == 4


def test_every_picture_says_what_it_shows(page: str) -> None:
    pictures = attributes(Reader(page), "img")
    assert len(pictures) > 30
    assert all(len(a["alt"]) > 5 for a in pictures)
    assert all(int(a["width"]) > 0 and int(a["height"]) > 0 for a in pictures)


def test_texts_are_shown_as_they_stand(hostile_page: str, nasty: str) -> None:
    reader = Reader(hostile_page)
    assert not attributes(reader, "script")
    assert not attributes(reader, "b") or all(a == {"class": "number"} for a in attributes(reader, "b") if a)
    assert nasty in reader.text
    assert f"<title>First {html.escape(nasty, quote=False)}</title>" in hostile_page.replace("&#34;", '"')
    assert "{{7*7}}" in reader.text
    assert "49" not in re.findall(r"\b49\b", reader.text)
    assert "[U+202E]gnp.exe" in reader.text
    assert "\u202e" not in hostile_page
    assert "يوسف" in reader.text
    hostile_page.encode("utf-8")


def test_every_caption_reads_back(made: Any, page: str) -> None:
    text = Reader(page).text
    for words in (
        "Inventory of the goods of ſarah Dove; £3 — 4s. — 6d., née Côté",
        "Élise Thornby, Cockle women going out, Merrow Sands, c. 1870. Watercolour and scratching out on wove paper, "
        "31 × 47 cm. Estuary Room, Merrow Sands (invented), ER.1931.14. Given by the painter’s niece",
        "יעל אלון",
    ):
        assert words in text
    for reference in made.references.values():
        assert reference.title in text


def test_the_header_of_printed_sheets_counts_pages_and_holds_no_markup(hostile_page: str) -> None:
    style = re.search(r"<style>(.*?)</style>", hostile_page, re.DOTALL)
    assert style is not None
    assert 'counter(page)" of "counter(pages)' in style[1]
    assert "size:A4" in style[1]
    assert "<" not in style[1].replace("<=", "")


def test_css_strings_are_escaped() -> None:
    assert css_string('a"}</style>') == '"a\\000022\\00007d\\00003c\\00002fstyle\\00003e"'
    assert css_string("é\n") == '"\\0000e9"'


def test_twice_is_the_same(made: Any, page: str) -> None:
    document = made.dossier()
    assert write_html(document, made.pictures(document)) == page


def test_a_missing_picture_is_said(made: Any) -> None:
    document = made.dossier()
    assert "The picture could not be opened" in Reader(write_html(document, {})).text


@pytest.mark.parametrize("data", [b"", b"<svg onload='alert(1)'/>", b"GIF89a"])
def test_what_is_no_picture_is_refused(made: Any, data: bytes) -> None:
    with pytest.raises(CannotPrint, match=r"is no (JPEG or PNG|plain SVG)"):
        write_html(made.dossier(), {"pl-001": data})


def test_other_kinds_of_picture_are_refused(made: Any) -> None:
    data = io.BytesIO()
    Image.new("RGB", (4, 4)).save(data, "GIF")
    with pytest.raises(CannotPrint):
        write_html(made.dossier(), {"pl-001": data.getvalue()})
