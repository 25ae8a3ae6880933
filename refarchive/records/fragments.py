"""Regions of pictures as media fragments (`xywh=…`), out and in, exact to the last digit.

W3C Media Fragments URI 1.0, section 4.2.2. Its per cent are whole numbers; ours may have decimals, as others' do.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal, InvalidOperation

from refarchive.records.model import Region

_SLACK = Decimal("1e-9")  # fractions of whole pixels do not always add up to exactly 1
CONFORMS_TO = "http://www.w3.org/TR/media-frags/"
_NUMBER = r"(-?[0-9]{1,20}(?:\.[0-9]{0,40})?)"
_FRAGMENT = re.compile(
    rf"xywh=(?:(pixel|percent|pct):)?{_NUMBER},{_NUMBER},{_NUMBER},{_NUMBER}(?![0-9.])", re.IGNORECASE
)


def fragment(region: Region, width: int = 0, height: int = 0) -> str:
    """A region as a media fragment: in pixels where all four are whole, else in per cent.

    >>> fragment((0.1, 0.2, 0.3, 0.4), 1000, 500)
    'xywh=100,100,300,200'
    >>> fragment((0.1, 0.25, 0.07, 0.4))
    'xywh=percent:10,25,7,40'
    """
    exact = [Decimal(repr(float(value))) for value in region]
    if width > 0 and height > 0:
        pixels = [value * side for value, side in zip(exact, (width, height, width, height), strict=True)]
        if all(value == value.to_integral_value() for value in pixels):
            return f"xywh={','.join(map(_digits, pixels))}"
    return f"xywh=percent:{','.join(_digits(value * 100) for value in exact)}"


def _digits(value: Decimal) -> str:
    return format(value.to_integral_value() if value == value.to_integral_value() else value.normalize(), "f")


def region_in(text: str, width: float = 0, height: float = 0) -> Region | None:
    """The region of the first media fragment in a text, cut to what lies on the picture; None where nothing does.

    `width` and `height` are those of the canvas, which pixels count on.

    >>> region_in("https://example.org/canvas#xywh=100,100,300,200", 1000, 500)
    (0.1, 0.2, 0.3, 0.4)
    """
    found = _FRAGMENT.search(text)
    if found is None:
        return None
    try:
        x, y, w, h = (Decimal(number) for number in found.groups()[1:])
        across = down = Decimal(100)
        if (found[1] or "pixel").lower() == "pixel":
            across, down = Decimal(repr(width)), Decimal(repr(height))
        if not (across > 0 and down > 0):
            return None
        left, size_across = _cut(x / across, w / across)
        top, size_down = _cut(y / down, h / down)
    except InvalidOperation:
        return None
    region = (float(left), float(top), float(size_across), float(size_down))
    return region if all(map(math.isfinite, region)) and region[2] > 0 and region[3] > 0 else None


def _cut(start: Decimal, size: Decimal) -> tuple[Decimal, Decimal]:
    """A stretch, cut to what lies between 0 and 1; untouched where all of it does."""
    if start >= 0 and start + size <= 1 + _SLACK:
        return start, size
    first, last = max(start, Decimal(0)), min(start + size, Decimal(1))
    return first, last - first
