"""The pilot and the carrier, invented."""

from __future__ import annotations

# fmt: off  (rows of points are easier to follow than one number a line)
from drawing.canvas import Canvas, Colour, mix
from drawing.people import At, frame

SKIN: Colour = (200, 156, 128)


def pilot_walking(c: Canvas, x: float, y: float, h: float, *, coat: Colour = (74, 68, 52)) -> None:
    """The pilot in profile, wading to the right, sounding with his staff."""
    at = frame(x, y, h, 1, 0.03)
    boots: Colour = (44, 38, 34)
    c.limb([at(-0.01, 0.48), at(-0.045, 0.27), at(-0.1, 0.03)], [0.11 * h, 0.085 * h, 0.07 * h], mix(boots, (10, 10,
            10), 0.3), hatch=10)
    c.limb([at(0.01, 0.48), at(0.06, 0.27), at(0.075, 0.02)], [0.11 * h, 0.085 * h, 0.07 * h], boots, hatch=10)
    c.limb([at(0.04, 0.78), at(0.13, 0.68), at(0.22, 0.66)], [0.08 * h, 0.065 * h, 0.045 * h], mix(coat, (20, 18, 16),
            0.4), hatch=60)
    c.limb([at(0.2, 1.02), at(0.31, 0.02)], [0.016 * h, 0.016 * h], (150, 120, 84), hatch=88)
    c.solid([at(0.04, 0.84), at(0.09, 0.76), at(0.08, 0.6), at(0.1, 0.42), at(0.13, 0.26), at(0.02, 0.24), at(-0.12,
            0.27), at(-0.1, 0.45),
             at(-0.085, 0.62), at(-0.1, 0.75), at(-0.05, 0.845)], coat, folds=2.5, fold=0.8, hatch=75, gloss=0.1)
    c.limb([at(-0.02, 0.77), at(0.04, 0.63), at(0.19, 0.72)], [0.09 * h, 0.075 * h, 0.05 * h], coat, hatch=45,
            gloss=0.08)
    c.oval(*at(0.235, 0.735), 0.024 * h, 0.022 * h, SKIN)
    c.limb([at(0.0, 0.82), at(0.01, 0.88)], [0.075 * h, 0.06 * h], SKIN)
    c.solid([at(-0.02, 0.965), at(0.045, 0.97), at(0.07, 0.94), at(0.092, 0.905), at(0.078, 0.895), at(0.07, 0.87),
            at(0.0, 0.875)], SKIN, hatch=15)
    c.solid([at(0.074, 0.895), at(0.08, 0.86), at(0.06, 0.825), at(0.02, 0.83), at(0.0, 0.88), at(0.03, 0.885)], (150,
            142, 134), hatch=80)
    souwester(c, at)


def souwester(c: Canvas, at: At, colour: Colour = (84, 78, 58)) -> None:
    """A sou'wester on a head in profile."""
    c.solid([at(0.075, 0.965), at(0.055, 1.005), at(0.0, 1.025), at(-0.045, 1.0), at(-0.06, 0.955), at(0.0, 0.955)],
            colour, hatch=70, gloss=0.1)
    c.solid([at(0.11, 0.945), at(0.08, 0.972), at(0.0, 0.972), at(-0.06, 0.965), at(-0.12, 0.86), at(-0.1, 0.85),
            at(-0.04, 0.9), at(0.03, 0.945)], colour,
            hatch=30, gloss=0.1)
