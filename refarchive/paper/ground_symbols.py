"""The plain shapes of a ground plan; each has its line in the key. Turns are bearings on the plan."""

from __future__ import annotations

import math

from refarchive.paper.svg import INK, PAPER, Dot, Sheet


def way(turn: float) -> Dot:
    """On paper, one unit along a bearing of the plan."""
    return math.sin(math.radians(turn)), -math.cos(math.radians(turn))


def off(at: Dot, turn: float, far: float) -> Dot:
    """So many millimetres from a point along a bearing."""
    ux, uy = way(turn)
    return at[0] + far * ux, at[1] + far * uy


def oblong(at: Dot, wide: float, deep: float, turn: float) -> list[Dot]:
    """Corners of an oblong turned about its middle."""
    (ax, ay), (bx, by) = way(turn + 90.0), way(turn)
    return [
        (at[0] + sx * wide / 2.0 * ax + sy * deep / 2.0 * bx, at[1] + sx * wide / 2.0 * ay + sy * deep / 2.0 * by)
        for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]


def turned(one: float, other: float) -> float:
    """From one bearing to another, −180 to 180°."""
    return (one - other + 180.0) % 360.0 - 180.0


def keep(sheet: Sheet, at: Dot, half: float) -> None:
    """Keep words out of the square around a point."""
    sheet.keep((at[0] - half, at[1] - half, at[0] + half, at[1] + half))


def triangle(sheet: Sheet, at: Dot, turn: float, name: str) -> None:
    """A light, its point the way it throws."""
    corners = [off(at, turn + 120.0 * n, 1.9) for n in range(3)]
    sheet.lines(corners, name, weight=0.2, fill=INK, closed=True, avoid=False)
    keep(sheet, at, 1.5)


def square(sheet: Sheet, at: Dot, name: str, turn: float) -> None:
    """A camera."""
    corners = [off(at, turn + 45.0 + 90.0 * n, 2.1) for n in range(4)]
    sheet.lines(corners, name, weight=0.2, fill=INK, closed=True, avoid=False)
    keep(sheet, at, 1.6)


def feet(sheet: Sheet, at: Dot, radius: float, feet: int, name: str) -> None:
    """A stand from above."""
    for n in range(feet):
        sheet.lines([at, off(at, 360.0 * n / feet, radius)], name, weight=0.25)


def puff(sheet: Sheet, at: Dot, name: str) -> None:
    """Smoke."""
    for n in range(3):
        sheet.circle(off(at, 120.0 * n, 0.8), 0.9, name, weight=0.2, fill=PAPER)


def disc(sheet: Sheet, at: Dot, name: str, fill: str) -> None:
    """A sun, full or open."""
    sheet.circle(at, 1.2, name, weight=0.3, fill=fill)
    for n in range(8):
        ends = [off(at, 45.0 * n, 1.6), off(at, 45.0 * n, 2.4)]
        sheet.lines(ends, f"{name}-ray", weight=0.2, avoid=False)


def dash(sheet: Sheet, at: Dot, *, weight: float, dash: str = "", ink: str = INK) -> None:
    """A line, for the key."""
    sheet.lines([(at[0] - 4.0, at[1]), (at[0] + 4.0, at[1])], "key", weight=weight, dash=dash, ink=ink)


def key_arrow(sheet: Sheet, at: Dot, *, weight: float, fill: str, dash: str = "") -> None:
    """An arrow, for the key."""
    sheet.arrow([(at[0] - 4.0, at[1]), (at[0] + 4.0, at[1])], "key", weight=weight, dash=dash, fill=fill)


def key_sun(sheet: Sheet, at: Dot, fill: str, dash: str) -> None:
    """A sun and its arrow, for the key."""
    disc(sheet, (at[0] - 2.0, at[1]), "key", fill)
    sheet.arrow([(at[0] + 0.6, at[1]), (at[0] + 4.2, at[1])], "key", dash=dash, fill=fill, head=1.8)
