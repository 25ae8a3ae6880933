"""The cast of the three shoots, all invented: figures whose arms, heads and steps can be posed from frame to frame."""

from __future__ import annotations

# fmt: off  (rows of points are easier to follow than one number a line)
import math
from dataclasses import dataclass

from drawing.canvas import Canvas, Colour, Point, mix
from drawing.men import SKIN, souwester
from drawing.people import At, Dress, frame, profile
from drawing.things import basket

UPPER, FORE = 0.17, 0.165  # of the arm, in heights of the figure
NODS = {"ahead": 0.08, "down": 0.42, "up": -0.5, "back": 0.05}
TIN: Colour = (46, 44, 44)


@dataclass(frozen=True, slots=True)
class Pose:
    """How a figure stands: `hand` is where the far hand is, forward and up, in heights; `lift` raises a foot."""

    look: str = "ahead"  # ahead, down, up, back, camera, away
    stride: float = 1.0
    lift: float = 0.0
    lean: float = 0.03
    hand: Point = (0.12, 0.462)
    near: Point | None = None  # where the near hand is; None keeps it on the basket
    lantern: bool = False
    carries: str = "hip"  # hip, arms, ""
    blow: float = 0.02


def turned(at: At, about: Point, angle: float, scale: float = 1.0, mirror: bool = False) -> At:
    """The same places turned forward about a point by `angle` radians, shrunk towards it, mirrored to look behind."""
    c, s = math.cos(angle), math.sin(angle)

    def place(dx: float, up: float) -> Point:
        px, py = (dx - about[0]) * scale, (up - about[1]) * scale
        px = -px if mirror else px
        return at(about[0] + px * c + py * s, about[1] - px * s + py * c)

    return place


def elbow(shoulder: Point, hand: Point, bend: float) -> Point:
    """Where the elbow goes between shoulder and hand; `bend` is +1 where it drops or falls behind, -1 the other way."""
    dx, dy = hand[0] - shoulder[0], hand[1] - shoulder[1]
    far = min(max(math.hypot(dx, dy), 1e-6), (UPPER + FORE) * 0.999)
    along = (far * far + UPPER * UPPER - FORE * FORE) / (2 * far)
    side = math.sqrt(max(UPPER * UPPER - along * along, 0.0)) * bend
    size = math.hypot(dx, dy)
    ux, uy = dx / size, dy / size
    return (shoulder[0] + ux * along + uy * side, shoulder[1] + uy * along - ux * side)


def arm(c: Canvas, at: At, h: float, shoulder: Point, hand: Point, sleeve: Colour, skin: Colour, *,
        bend: float = 1.0) -> None:
    """An arm in its sleeve from shoulder to hand."""
    joint = elbow(shoulder, hand, bend)
    wrist = (joint[0] + (hand[0] - joint[0]) * 0.86, joint[1] + (hand[1] - joint[1]) * 0.86)
    c.limb([at(*wrist), at(*hand)], [0.03 * h, 0.034 * h], skin, hatch=40)
    c.limb([at(*shoulder), at(*joint), at(*wrist)], [0.078 * h, 0.062 * h, 0.046 * h], sleeve, hatch=40)


def lantern_at(at: At, hand: Point) -> Point:
    """The foot of a lantern that hangs from a hand."""
    return at(hand[0], hand[1] - 0.205)


def lantern(c: Canvas, x: float, y: float, h: float) -> Point:
    """The tin of a hurricane lantern, `h` high on its foot at (x, y), its glass left dark; returns its flame."""
    c.line([(x - 0.2 * h, y - 0.72 * h), (x - 0.14 * h, y - 0.96 * h), (x, y - 1.05 * h), (x + 0.14 * h, y - 0.96 * h),
            (x + 0.2 * h, y - 0.72 * h)], TIN, 0.035 * h)
    for side in (-1, 1):
        c.line([(x + 0.2 * side * h, y - 0.2 * h), (x + 0.24 * side * h, y - 0.42 * h), (x + 0.16 * side * h,
                y - 0.7 * h)], TIN, 0.03 * h)
    c.solid([(x - 0.22 * h, y), (x - 0.2 * h, y - 0.2 * h), (x + 0.2 * h, y - 0.2 * h), (x + 0.22 * h, y)], TIN,
            curve=False, gloss=0.2)
    c.solid([(x - 0.18 * h, y - 0.66 * h), (x - 0.08 * h, y - 0.82 * h), (x + 0.08 * h, y - 0.82 * h), (x + 0.18 * h,
            y - 0.66 * h)], TIN, curve=False)
    return (x, y - 0.42 * h)


def head(c: Canvas, at: At, h: float, dress: Dress, pose: Pose) -> None:
    """A head in a kerchief, looking where the pose says."""
    if pose.look in NODS:
        place = turned(at, (-0.005, 0.83), NODS[pose.look], 0.9, pose.look == "back")
        profile(c, place, h * 0.9, dress, blow=pose.blow)
        return
    c.limb([at(0.0, 0.79), at(0.005, 0.87)], [0.066 * h, 0.05 * h], mix(dress.skin, (60, 40, 34), 0.3), hatch=10)
    c.solid([at(0.035, 0.86), at(0.06, 0.9), at(0.058, 0.955), at(0.03, 0.99), at(-0.02, 0.99), at(-0.05, 0.955),
            at(-0.05, 0.9), at(-0.03, 0.86)], dress.kerchief, folds=1.5, fold=0.3, hatch=70)
    if pose.look == "camera":
        c.solid([at(0.006, 0.845), at(0.034, 0.87), at(0.042, 0.92), at(0.034, 0.95), at(0.006, 0.96),
                at(-0.022, 0.95), at(-0.032, 0.92), at(-0.024, 0.87)], dress.skin, hatch=20, outline=0.4)
        for side in (-0.016, 0.022):
            c.oval(*at(side + 0.003, 0.917), 0.009 * h, 0.006 * h, mix(dress.skin, (16, 12, 12), 0.75), form=False,
                    soft=0.002 * h)
        c.line([at(0.008, 0.918), at(0.004, 0.892), at(0.012, 0.889)], mix(dress.skin, (40, 24, 20), 0.5), 0.005 * h)
        c.line([at(-0.007, 0.872), at(0.018, 0.872)], mix(dress.skin, (70, 24, 20), 0.6), 0.005 * h)
        c.solid([at(-0.022, 0.848), at(0.03, 0.848), at(0.02, 0.822), at(0.004, 0.812), at(-0.014, 0.822)],
                mix(dress.kerchief, (255, 240, 230), 0.06), hatch=60)
        return
    c.solid([at(-0.02, 0.88), at(0.025, 0.88), at(0.03, 0.79), at(0.002, 0.765), at(-0.028, 0.79)],
            mix(dress.kerchief, (20, 10, 10), 0.2), hatch=80)


def _leg(c: Canvas, at: At, h: float, joints: list[Point], skin: Colour, toe: float = 0.0) -> None:
    knee, ankle = joints
    calf = (knee[0] * 0.62 + ankle[0] * 0.38 - 0.012, knee[1] * 0.62 + ankle[1] * 0.38)
    c.limb([at(*knee), at(*calf), at(*ankle)], [0.062 * h, 0.064 * h, 0.034 * h], skin, hatch=12)
    ax, ay = ankle
    c.solid([at(ax - 0.018, ay + 0.012), at(ax - 0.03, ay - 0.035 + toe), at(ax - 0.01, ay - 0.05 + toe * 0.5),
            at(ax + 0.08, ay - 0.05 - toe), at(ax + 0.084, ay - 0.036 - toe), at(ax + 0.02, ay + 0.01)], skin, hatch=5)


def woman(c: Canvas, x: float, y: float, h: float, dress: Dress, pose: Pose, *, face: int = 1) -> Point | None:
    """A gatherer in profile, skirts kilted to the calf, walking by her stride; returns her lantern's flame, if any."""
    at = frame(x, y, h, face, pose.lean)
    s = pose.stride
    far = mix(dress.skin, (40, 32, 34), 0.35)
    sleeve = mix(dress.bedgown, (24, 22, 26), 0.2)
    _leg(c, at, h, [(-0.055 * s, 0.28), (-0.15 * s, 0.075 + 0.015 * s)], far, 0.03 * s)
    shoulder_far, shoulder = (0.03, 0.775), (-0.035, 0.765)
    flame: Point | None = None
    arm(c, at, h, shoulder_far, pose.hand, mix(sleeve, (18, 18, 20), 0.25), far)
    _leg(c, at, h, [(0.07 * s, 0.28 + 0.5 * pose.lift), (0.115 * s + 0.4 * pose.lift, 0.052 + pose.lift)], dress.skin,
            -0.3 * pose.lift)
    front, back = 0.105 + 0.05 * s, -0.115 - 0.05 * s
    c.solid([at(0.06, 0.62), at(0.088, 0.53), at(0.112, 0.40), at(front, 0.235), at(front - 0.05, 0.205), at(0.03,
            0.215), at(-0.04, 0.2), at(back + 0.03, 0.195), at(back, 0.225), at(-0.125, 0.4), at(-0.1, 0.53),
            at(-0.06, 0.62)], dress.skirt, folds=5.5, fold=1.0, fan=0.05, hatch=78, seed=3)
    c.solid([at(0.075, 0.575), at(0.108, 0.48), at(0.098, 0.37), at(0.02, 0.34), at(-0.06, 0.36), at(-0.11, 0.42),
            at(-0.1, 0.52), at(-0.06, 0.59)], dress.lining, folds=3, fold=0.9, hatch=60, seed=2)
    c.solid([at(0.04, 0.815), at(0.08, 0.74), at(0.066, 0.64), at(0.078, 0.55), at(0.0, 0.53), at(-0.09, 0.545),
            at(-0.062, 0.64), at(-0.08, 0.75), at(-0.045, 0.815)], dress.bedgown, folds=2.5, fold=0.5, hatch=65)
    if pose.carries == "hip":
        basket(c, *at(-0.05, 0.575), 0.25 * h, dress.basket)
    c.solid([at(0.03, 0.845), at(0.082, 0.785), at(0.092, 0.71), at(0.05, 0.625), at(-0.02, 0.6), at(-0.09 - pose.blow,
            0.5), at(-0.125 - pose.blow, 0.545), at(-0.115, 0.68), at(-0.09, 0.785), at(-0.04, 0.845)], dress.shawl,
            folds=3.5, fold=0.9, fan=0.15, hatch=115, seed=1)
    if pose.carries == "arms":
        basket(c, *at(0.16, 0.585), 0.24 * h, dress.basket)
    rest = (0.0, 0.565) if pose.carries == "hip" else (0.15, 0.55) if pose.carries == "arms" else (0.02, 0.48)
    hand = pose.near or rest
    arm(c, at, h, shoulder, hand, sleeve, dress.skin)
    head(c, at, h, dress, pose)
    if pose.lantern:
        flame = lantern(c, *lantern_at(at, pose.hand), 0.205 * h)
    return flame


def shrouded(c: Canvas, x: float, y: float, h: float, dress: Dress, pose: Pose, *, face: int = 1) -> None:
    """A woman in a wet shawl drawn over her head, her skirt to the ground; `look` away shows her back only."""
    at = frame(x, y, h, face, pose.lean)
    s = pose.stride
    shoe: Colour = (40, 34, 32)
    for foot in (-0.05 - 0.05 * s, 0.04 + 0.07 * s):
        lift = pose.lift if foot > 0 else 0.0
        c.solid([at(foot - 0.03, 0.04 + lift), at(foot - 0.035, 0.004 + lift), at(foot + 0.06, 0.0 + lift * 0.7),
                at(foot + 0.07, 0.016 + lift * 0.7), at(foot + 0.03, 0.045 + lift)], shoe, gloss=0.5, hatch=0)
    c.solid([at(0.075, 0.6), at(0.115, 0.42), at(0.13 + 0.05 * s, 0.12), at(0.12 + 0.07 * s, 0.035), at(0.03, 0.028),
            at(-0.06, 0.022), at(-0.15 - 0.05 * s, 0.035), at(-0.155 - 0.04 * s, 0.11), at(-0.12, 0.42), at(-0.08,
            0.6)], dress.skirt, folds=5.5, fold=1.2, hatch=84, seed=2)
    if pose.hand[1] > 0.7:
        arm(c, at, h, (0.05, 0.76), pose.hand, mix(dress.shawl, (18, 18, 20), 0.25), dress.skin)
    nod = NODS.get(pose.look, 0.0)
    behind = pose.look == "back"
    place = turned(at, (-0.012 if behind else -0.005, 0.82), nod, 0.98 if behind else 0.95, behind)

    def face() -> None:
        c.solid([place(0.0, 0.97), place(0.05, 0.968), place(0.066, 0.94), place(0.068, 0.922), place(0.086, 0.902),
                place(0.074, 0.892), place(0.077, 0.878), place(0.066, 0.86), place(0.02, 0.85), place(-0.02, 0.9)],
                dress.skin, hatch=12, bulge=0.9)
        c.oval(*place(0.055, 0.924), 0.0065 * h, 0.005 * h, mix(dress.skin, (20, 14, 12), 0.8), form=False)

    seen = pose.look in NODS and pose.look != "back"
    if seen:
        face()
    hood = [place(0.052, 0.975), place(0.02, 1.012), place(-0.035, 1.0), place(-0.072, 0.95), place(-0.08, 0.87),
            at(-0.118, 0.81), at(-0.15, 0.7), at(-0.16, 0.55), at(-0.13, 0.43), at(-0.05, 0.36), at(0.03, 0.4),
            at(0.1, 0.46), at(0.128, 0.58), at(0.12, 0.7), at(0.085 if seen else 0.105, 0.8)]
    hood += ([place(0.035, 0.845), place(0.03, 0.9), place(0.035, 0.945)] if seen
            else [place(0.082, 0.86), place(0.074, 0.94)])
    c.solid(hood, dress.shawl, folds=3.5, fold=1.1, fan=0.12, hatch=105, seed=4)
    if pose.look == "back":  # the face past the far edge of the hood, and the hood's edge over its cheek
        face()
        c.solid([at(-0.045, 0.978), at(0.0, 1.008), at(0.06, 0.965), at(0.08, 0.88), at(0.115, 0.79), at(0.08, 0.69),
                at(-0.04, 0.66), at(-0.13, 0.75), at(-0.11, 0.82), at(-0.035, 0.85), at(-0.026, 0.9),
                at(-0.034, 0.945)], dress.shawl, folds=2, fold=0.6, hatch=105, outline=0.4)
    if pose.look in NODS:
        c.limb([at(-0.01, 0.72), at(0.05, 0.6), at(0.105, 0.69)], [0.085 * h, 0.075 * h, 0.05 * h],
                mix(dress.shawl, (18, 18, 20), 0.18), hatch=60)
    c.line([at(0.02, 0.82), at(-0.02, 0.62), at(-0.04, 0.42)], mix(dress.shawl, (14, 12, 14), 0.55), 0.012 * h,
            strength=0.6, taper=True)


def seated(c: Canvas, x: float, y: float, h: float, dress: Dress, *, asleep: bool = True, face: int = 1) -> None:
    """A girl on an upturned basket with her back to a post on her far side; `h` is her height standing."""
    at = frame(x, y, h, face)
    c.solid([at(-0.15, 0.2), at(-0.165, 0.02), at(-0.1, -0.01), at(0.08, -0.01), at(0.1, 0.02), at(0.085, 0.2)],
            dress.basket, folds=7, fold=1.4, hatch=2)
    for foot in (0.2, 0.245):
        c.solid([at(foot - 0.03, 0.05), at(foot - 0.03, 0.0), at(foot + 0.07, -0.005), at(foot + 0.08, 0.012),
                at(foot + 0.02, 0.05)], (38, 33, 31), gloss=0.5)
    c.solid([at(-0.13, 0.3), at(-0.15, 0.19), at(-0.05, 0.16), at(0.12, 0.15), at(0.15, 0.03), at(0.27, 0.03),
            at(0.285, 0.16), at(0.26, 0.29), at(0.2, 0.325), at(0.05, 0.33)], dress.skirt, folds=4, fold=1.1, hatch=50,
            seed=2)
    about = (-0.03, 0.5)
    tip = turned(at, about, 0.5 if asleep else -0.12)
    down = -0.3  # the head of a standing figure, brought to a seated one

    def p(dx: float, up: float) -> Point:
        return tip(dx - 0.01, up + down)

    c.solid([p(0.0, 0.965), p(0.05, 0.965), p(0.066, 0.94), p(0.084, 0.902), p(0.074, 0.885), p(0.066, 0.86), p(0.02,
            0.85), p(-0.02, 0.9)], dress.skin, hatch=12)
    c.solid([p(0.05, 0.975), p(0.02, 1.01), p(-0.035, 1.0), p(-0.07, 0.95), p(-0.068, 0.88), at(-0.12, 0.5), at(-0.155,
            0.38), at(-0.15, 0.27), at(-0.06, 0.24), at(0.06, 0.26), at(0.16, 0.31), at(0.13, 0.42), at(0.07, 0.5),
            p(0.04, 0.85), p(0.03, 0.9), p(0.035, 0.945)], dress.shawl, folds=3, fold=1.0, hatch=100, seed=6)
    c.limb([at(-0.04, 0.46), at(0.02, 0.34), at(0.14, 0.34)], [0.09 * h, 0.075 * h, 0.05 * h], mix(dress.shawl, (18,
            18, 20), 0.2), hatch=60)


def pilot(c: Canvas, x: float, y: float, h: float, pose: Pose, *, coat: Colour, staff: tuple[Point, Point]) -> None:
    """The pilot wading to the right in oilskin and sou'wester; the near hand is on his staff, the far one free."""
    at = frame(x, y, h, 1, pose.lean)
    boots: Colour = (44, 38, 34)
    s = pose.stride
    c.limb([at(-0.01, 0.48), at(-0.05 * s, 0.27), at(-0.12 * s, 0.03)], [0.115 * h, 0.09 * h, 0.075 * h], mix(boots,
            (10, 10, 10), 0.3), hatch=10)
    c.limb([at(0.01, 0.48), at(0.07 * s, 0.28 + pose.lift * 0.6), at(0.1 * s + pose.lift * 0.5, 0.02 + pose.lift)],
            [0.115 * h, 0.09 * h, 0.075 * h], boots, hatch=10)
    if pose.lift:
        tx, ty = 0.1 * s + pose.lift * 0.5, 0.02 + pose.lift
        c.limb([at(tx, ty), at(tx + 0.09, ty - 0.015)], [0.06 * h, 0.04 * h], boots)
    far = mix(coat, (20, 18, 16), 0.4)
    arm(c, at, h, (0.045, 0.775), pose.hand, far, mix(SKIN, (40, 30, 28), 0.3))
    c.solid([at(0.045, 0.835), at(0.09, 0.76), at(0.085, 0.6), at(0.1, 0.42), at(0.135, 0.25), at(0.02, 0.23),
            at(-0.125,
            0.26), at(-0.1, 0.45), at(-0.085, 0.62), at(-0.1, 0.75), at(-0.055, 0.84)], coat, folds=3, fold=1.0,
            hatch=75, gloss=0.12)
    c.line([at(0.055, 0.8), at(0.06, 0.6), at(0.075, 0.3)], mix(coat, (16, 14, 12), 0.5), 0.008 * h, strength=0.7)
    c.limb([at(*staff[0]), at(*staff[1])], [0.016 * h, 0.018 * h], (132, 106, 76), hatch=88)
    hold = pose.near or (0.2, 0.7)
    arm(c, at, h, (-0.02, 0.77), hold, coat, SKIN)
    c.solid([at(0.075, 0.845), at(0.06, 0.77), at(-0.07, 0.745), at(-0.1, 0.78), at(-0.055, 0.845)], coat, folds=1.5,
            fold=0.6, hatch=20, gloss=0.1)  # the cape over the shoulders
    place = turned(at, (0.0, 0.83), NODS.get(pose.look, 0.05), 0.92, pose.look == "back")
    c.limb([place(0.0, 0.82), place(0.01, 0.88)], [0.075 * h, 0.06 * h], SKIN)
    c.solid([place(-0.02, 0.965), place(0.045, 0.97), place(0.07, 0.94), place(0.092, 0.905), place(0.078, 0.895),
            place(0.07, 0.87), place(0.0, 0.875)], SKIN, hatch=15)
    c.solid([place(0.074, 0.893), place(0.082, 0.86), place(0.06, 0.815), place(0.02, 0.82), place(0.0, 0.88),
            place(0.03, 0.885)], (128, 122, 116), hatch=80)
    souwester(c, place, mix(coat, (60, 54, 40), 0.3))


def carrier(c: Canvas, x: float, y: float, h: float, pose: Pose, *, smock: Colour = (176, 170, 154)) -> None:
    """The carrier, bare-headed in his smock, wading to the right, his near hand at the mare's head."""
    at = frame(x, y, h, 1, pose.lean)
    legs: Colour = (58, 52, 48)
    s = pose.stride
    for dx, tone in ((-0.1 * s, mix(legs, (10, 10, 10), 0.35)), (0.09 * s, legs)):
        c.limb([at(0.0, 0.46), at(dx * 0.5, 0.27), at(dx, 0.02)], [0.11 * h, 0.085 * h, 0.07 * h], tone, hatch=10)
    arm(c, at, h, (0.04, 0.77), pose.hand, mix(smock, (30, 28, 26), 0.4), mix(SKIN, (40, 30, 28), 0.3))
    c.solid([at(0.045, 0.835), at(0.085, 0.76), at(0.08, 0.6), at(0.105, 0.4), at(0.01, 0.375), at(-0.11, 0.39),
            at(-0.085, 0.6), at(-0.095, 0.75), at(-0.05, 0.84)], smock, folds=4, fold=1.1, hatch=78)
    c.solid([at(0.05, 0.83), at(0.07, 0.79), at(-0.06, 0.78), at(-0.07, 0.82), at(-0.04, 0.845)], (92, 50, 44),
            hatch=20)
    arm(c, at, h, (-0.02, 0.765), pose.near or (0.24, 0.8), smock, SKIN)
    place = turned(at, (0.0, 0.83), NODS.get(pose.look, 0.05), 0.92, pose.look == "back")
    c.limb([place(0.0, 0.81), place(0.01, 0.88)], [0.072 * h, 0.058 * h], SKIN)
    c.solid([place(-0.03, 0.965), place(0.045, 0.975), place(0.07, 0.945), place(0.09, 0.905), place(0.078, 0.893),
            place(0.08, 0.875), place(0.062, 0.852), place(0.02, 0.855), place(-0.03, 0.9)], SKIN, hatch=15)
    c.solid([place(0.066, 0.965), place(0.03, 1.0), place(-0.03, 0.99), place(-0.062, 0.94), place(-0.05, 0.88),
            place(-0.022, 0.88), place(-0.01, 0.94), place(0.035, 0.962)], (64, 50, 42), folds=2, fold=0.5, hatch=40)
    c.oval(*place(0.052, 0.925), 0.0065 * h, 0.005 * h, (24, 18, 16), form=False)
