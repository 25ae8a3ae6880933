"""Pictures as pages take them; a drawing is plain SVG, and nothing that could run or fetch."""

from __future__ import annotations

import html
import io

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from refarchive.errors import CannotPrint
from refarchive.paper import blocks
from refarchive.paper.html import write_html
from refarchive.paper.pdf import write_pdf
from refarchive.paper.shown import measured

SVG = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="180mm" height="90mm" viewBox="0 0 180 90">'
    b'<path d="M0 0L180 90" stroke="black" stroke-width="9"/></svg>'
)


def jpeg(orientation: int = 1) -> bytes:
    data = io.BytesIO()
    picture = Image.new("RGB", (30, 20))
    exif = picture.getexif()
    exif[0x0112] = orientation
    picture.save(data, "JPEG", exif=exif)
    return data.getvalue()


def test_sizes_are_those_of_the_upright_picture() -> None:
    assert (measured("a", SVG).suffix, measured("a", SVG).aspect) == ("svg", 2.0)
    assert measured("a", jpeg()).aspect == 1.5
    assert measured("a", jpeg(6)).aspect == pytest.approx(2 / 3)


@pytest.mark.parametrize(
    "inside",
    [
        b"<script>alert(1)</script>",
        b'<image href="http://x/y.png"/>',
        b'<a xlink:href="x"/>',
        b'<path onload="x()"/>',
        b'<rect fill="url(http://x)"/>',
        b"<foreignObject/>",
        b"<path>",
        b"<style>@import 'x';</style>",
        b'<s:script xmlns:s="http://www.w3.org/2000/svg">alert(1)</s:script>',
        b'<x:svg xmlns:x="http://www.w3.org/1999/xhtml"/>',
        b'<path style="fill:red"/>',
        b"<?xml-stylesheet href='http://x/y.css'?>",
        b'<rect fill="URL(#a)"/>',
    ],
)
def test_a_drawing_that_could_run_or_fetch_is_refused(inside: bytes) -> None:
    with pytest.raises(CannotPrint, match="no plain SVG"):
        measured("plan", SVG.replace(b"<path", inside + b"<path"))


@pytest.mark.parametrize("words", ["onset = dusk", "url(here)", "href=", "<script>", "<?php ?>", "]]>", "<!DOCTYPE x>"])
def test_what_the_words_of_a_drawing_say_does_not_matter(words: str) -> None:
    """A lamp called "on = off" stopped the whole dossier from being printed."""
    inside = f"<text>{html.escape(words)}</text><desc>{html.escape(words)}</desc><path".encode()
    assert measured("plan", SVG.replace(b"<path", inside)).suffix == "svg"


@pytest.mark.parametrize("was", [b'width="180mm"', b'height="90mm"'])
def test_a_drawing_without_a_size_is_refused(was: bytes) -> None:
    with pytest.raises(CannotPrint):
        measured("plan", SVG.replace(was, b""))
    with pytest.raises(CannotPrint):
        measured("plan", b"<?xml version='1.0'?><!DOCTYPE svg [<!ENTITY a 'b'>]>" + SVG)


def test_a_drawing_is_set_in_html_and_pdf() -> None:
    plate = blocks.plate("plan", "Plan", "To scale", "A line from the corner", size="large")
    section = blocks.section("s", "Light", [blocks.page("", [plate])])
    document = blocks.document("t", "", "s", "1", "2026-11-26", "a", [section])
    assert "data:image/svg+xml;base64," in write_html(document, {"plan": SVG})
    assert dark(write_pdf(document, {"plan": SVG})) > 5 * dark(write_pdf(document, {}))


def dark(pdf: bytes) -> int:
    """How many pixels of the first sheet are black."""
    opened = pypdfium2.PdfDocument(pdf)
    count = int((np.asarray(opened[0].render(scale=1).to_pil().convert("L")) < 60).sum())
    opened.close()
    return count
