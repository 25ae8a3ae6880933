"""Three shoots: what a camera locked on a tripod brought home, frame by frame, and what is known of each frame.

The tripod is knocked between groups: `shift` is how far everything in the frame moved, in frame pixels to the right and
down, against the first frame of the shoot. `blur` is the sigma of a Gaussian in frame pixels.
"""

from __future__ import annotations

# fmt: off
import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from drawing import developing
from drawing.canvas import Array
from drawing.cast import Pose
from drawing.dawn import Dawn, dawn
from drawing.ford import Ford, ford
from drawing.stage import Stage, stage
from PIL import Image

FIRST, PILOT, FERRY = "first-light", "pilots-crossing", "ferry-lamp"
OFFSETS = {FIRST: "+00:00", PILOT: "+01:00", FERRY: "+00:00"}  # summer time ended on 26 October 2025
FOCAL_MM = {FIRST: 40.0, PILOT: 40.0, FERRY: 40.0}
GRAIN = {FIRST: 1.0, PILOT: 0.75, FERRY: 1.15}


@dataclass(frozen=True, slots=True)
class Take:
    """One frame of a shoot: when and how it was exposed, what is known of it, and what is in it."""

    scene: str
    name: str
    group: int
    when: str  # local time
    seconds: Fraction
    f_number: float
    iso: int
    what: Dawn | Ford | Stage
    shift: tuple[float, float] = (0.0, 0.0)
    blur: float = 0.0
    gain: float = 1.0
    flare: float = 1.0
    remark: str = ""


def _string(seed: int, *, leave: str = "", day: float = 1.0, mist: float = 0.5, drift: float = 0.0, power: float = 1.0,
        glare: float = 1.0, steps: dict[str, float] | None = None, **poses: Pose) -> Dawn:
    usual = {"bessy": Pose(carries="arms", stride=1.1), "ruth": Pose(lantern=True, hand=(0.16, 0.47), look="down",
            stride=0.95), "hannah": Pose(stride=0.9, hand=(0.06, 0.70)), "agnes": Pose(stride=1.05, look="down")}
    there = {name: pose for name, pose in {**usual, **poses}.items() if name != leave}
    return Dawn(there, steps or {}, mist, drift, power, glare, day, seed)


HIGH = Pose(lantern=True, hand=(0.24, 0.80), look="ahead", stride=0.35, lean=0.0)
HAIL = Pose(stride=0.3, lean=0.0, look="ahead", hand=(0.17, 1.06), blow=0.03)
COUGH = (0.055, 0.755)

TAKES: tuple[Take, ...] = (
    # --- First light: 23 February 2025, sun seven to five degrees below the horizon ----------------
    Take(FIRST, "FL_0412.jpg", 1, "2025-02-23 06:33:41.18", Fraction(1, 10), 2.8, 3200, _string(1)),
    Take(FIRST, "FL_0413.jpg", 1, "2025-02-23 06:33:42.63", Fraction(1, 10), 2.8, 3200, _string(2,
            bessy=Pose(carries="arms", stride=0.8), ruth=Pose(lantern=True, hand=(0.15, 0.47), look="down", stride=0.8),
            hannah=Pose(stride=1.1, hand=COUGH, look="down"), agnes=Pose(stride=0.8, look="down"),
            steps={"bessy": 0.012, "ruth": 0.010, "hannah": 0.012, "agnes": 0.014})),
    Take(FIRST, "FL_0414.jpg", 1, "2025-02-23 06:33:44.02", Fraction(1, 10), 2.8, 3200, _string(3,
            bessy=Pose(carries="arms", stride=0.9), ruth=Pose(lantern=True, hand=(0.18, 0.46), look="down", stride=0.7),
            hannah=Pose(stride=0.8, hand=COUGH), agnes=Pose(stride=1.25, lift=0.075, look="down", lean=0.05),
            steps={"bessy": 0.024, "ruth": 0.021, "hannah": 0.024, "agnes": 0.030}),
            remark="agnes mid-step, her front foot off the sand"),
    Take(FIRST, "FL_0417.jpg", 2, "2025-02-23 06:39:05.44", Fraction(1, 10), 2.8, 3200, _string(4, day=1.06, mist=0.75,
            drift=0.6, hannah=Pose(stride=0.25, look="back", lean=0.0, hand=(0.08, 0.46)), steps={"hannah": -0.03,
            "agnes": 0.06}), (2.4, -1.3), remark="hannah looks back"),
    Take(FIRST, "FL_0418.jpg", 2, "2025-02-23 06:39:06.91", Fraction(1, 10), 2.8, 3200, _string(5, day=1.06, mist=0.75,
            drift=0.63, hannah=Pose(stride=0.3, look="back", lean=0.0, hand=(0.09, 0.46)), ruth=Pose(lantern=True,
            hand=(0.17, 0.47), look="ahead", stride=0.7), steps={"hannah": -0.028, "agnes": 0.075, "ruth": 0.012}),
            (2.4, -1.3), 1.8, remark="out of focus"),
    Take(FIRST, "FL_0421.jpg", 3, "2025-02-23 06:45:30.07", Fraction(1, 15), 2.8, 3200, _string(6, leave="bessy",
            day=1.12, mist=0.55, drift=1.1, ruth=HIGH, hannah=Pose(stride=0.8, hand=COUGH, look="down"),
            steps={"ruth": -0.03, "agnes": 0.02}), (1.1, 0.7), remark="bessy missing; the lantern held high"),
    Take(FIRST, "FL_0422.jpg", 3, "2025-02-23 06:45:32.29", Fraction(1, 15), 2.8, 3200, _string(7, day=1.12, mist=0.6,
            drift=1.13, power=4.5, glare=9, ruth=Pose(lantern=True, hand=(0.25, 0.77), look="camera", stride=0.3,
            lean=0.0), hannah=Pose(stride=0.95, hand=COUGH, look="down"), steps={"ruth": -0.025, "agnes": 0.035,
            "bessy": -0.12}), (1.1, 0.7), flare=1.4,
            remark="the lantern flares and is blown; bessy coming in at the left"),
    Take(FIRST, "FL_0426.jpg", 4, "2025-02-23 06:51:12.55", Fraction(1, 20), 2.8, 3200, _string(8, day=1.18, mist=1.25,
            drift=1.9, ruth=Pose(lantern=True, hand=(0.15, 0.465), look="ahead", stride=0.4, lean=0.0),
            hannah=Pose(stride=0.35, hand=COUGH, look="ahead", lean=0.0), agnes=HAIL, bessy=Pose(carries="arms",
            stride=0.5, look="down"), steps={"hannah": -0.12, "ruth": 0.02, "bessy": 0.06}), (-3.6, 2.2),
            remark="agnes has stopped with her arm up; mist"),
    Take(FIRST, "FL_0427.jpg", 4, "2025-02-23 06:51:14.12", Fraction(1, 20), 2.8, 3200, _string(9, day=1.18, mist=1.3,
            drift=1.94, ruth=Pose(lantern=True, hand=(0.15, 0.465), look="ahead", stride=0.4, lean=0.0),
            hannah=Pose(stride=0.35, hand=COUGH, look="camera", lean=0.0), agnes=Pose(stride=0.3, lean=0.0,
            look="back", hand=(0.2, 1.0)), bessy=Pose(carries="arms", stride=0.4, look="down"), steps={"hannah": -0.12,
            "ruth": 0.02, "bessy": 0.065}), (-3.6, 2.2), remark="hannah looks into the lens"),
    # --- The pilot's crossing: 11 October 2025, falling tide, sun behind thin overcast -------------------------------
    Take(PILOT, "PX_1187.jpg", 1, "2025-10-11 14:36:20.31", Fraction(1, 160), 8, 400, Ford(Pose(look="down", stride=0.8,
            hand=(0.16, 0.62), near=(0.215, 0.72)), nod=-0.16, mist=0.25, seed=1), gain=0.8),
    Take(PILOT, "PX_1188.jpg", 1, "2025-10-11 14:36:21.86", Fraction(1, 160), 8, 400, Ford(Pose(look="down",
            stride=0.85,
            hand=(0.17, 0.60), near=(0.215, 0.72)), nod=-0.28, carrier=Pose(look="back", hand=(0.15, 0.47), near=(-0.08,
            0.86), stride=0.9), mist=0.25, drift=0.03, seed=2), gain=0.8, remark="the mare throws her head up"),
    Take(PILOT, "PX_1191.jpg", 2, "2025-10-11 14:44:02.12", Fraction(1, 160), 8, 400, Ford(Pose(look="ahead",
            stride=1.0,
            hand=(0.15, 0.5), near=(0.21, 0.70)), nod=0.22, way=0.014, mist=0.35, drift=0.5, seed=3), (-0.6, 0.35),
            gain=0.8),
    Take(PILOT, "PX_1192.jpg", 2, "2025-10-11 14:44:03.40", Fraction(1, 160), 8, 400, Ford(Pose(look="down", stride=1.3,
            lift=0.15, lean=0.05, hand=(0.17, 0.55), near=(0.2, 0.72)), pilot_x=1.265, staff=((0.21, 1.04), (0.29,
            0.02)),
            nod=0.28, way=0.02, carrier=Pose(look="down", hand=(0.15, 0.47), near=(-0.1, 0.78), stride=1.1), mist=0.35,
            drift=0.53, seed=4), (-0.6, 0.35), gain=0.8, remark="the pilot mid-step, one foot out of the water"),
    Take(PILOT, "PX_1193.jpg", 2, "2025-10-11 14:44:05.77", Fraction(1, 160), 8, 400, Ford(Pose(look="back", stride=0.7,
            hand=(0.13, 0.47), near=(0.205, 0.71)), nod=0.2, way=0.026, mist=0.35, drift=0.57, gap=1.9, seed=5),
            (-0.6, 0.35), gain=0.8, remark="the cloud tears: the sky at the left is blown; the pilot looks back"),
    Take(PILOT, "PX_1196.jpg", 3, "2025-10-11 14:52:41.09", Fraction(1, 125), 8, 400, Ford(Pose(look="back", stride=0.5,
            hand=(0.12, 1.07), near=(0.205, 0.71), lean=0.0), nod=-0.05, way=0.03, mist=0.95, drift=1.2, seed=6),
            (4.3, -2.75), gain=0.8, remark="the pilot has his arm up; haze"),
    Take(PILOT, "PX_1197.jpg", 3, "2025-10-11 14:52:42.58", Fraction(1, 125), 8, 400, Ford(Pose(look="back", stride=0.5,
            hand=(0.13, 1.05), near=(0.205, 0.71), lean=0.0), nod=-0.1, way=0.03, mist=0.98, drift=1.23, seed=7),
            (4.3, -2.75), 1.4, gain=0.8, remark="out of focus"),
    Take(PILOT, "PX_1199.jpg", 4, "2025-10-11 14:59:18.66", Fraction(1, 125), 8, 400, Ford(Pose(look="ahead",
            stride=0.9,
            hand=(0.13, 0.5), near=(0.21, 0.70)), carrier=None, nod=0.05, way=-0.01, women=False, mist=1.35, drift=1.9,
            seed=8), (1.9, 1.4), gain=0.8, remark="the carrier and the women on the bank missing; thick haze"),
    # --- Lamp at the ferry stage: 28 October 2025, sun five to nine degrees down -------------------------------------
    Take(FERRY, "ST_2031.jpg", 1, "2025-10-28 17:22:07.52", Fraction(1, 30), 2, 3200, Stage(seed=1)),
    Take(FERRY, "ST_2032.jpg", 1, "2025-10-28 17:22:09.08", Fraction(1, 30), 2, 3200, Stage(dinah=Pose(look="up",
            stride=0.3, lean=0.02), hannah=Pose(look="away", stride=0.2, lean=0.04), seed=2)),
    Take(FERRY, "ST_2034.jpg", 2, "2025-10-28 17:29:44.71", Fraction(1, 25), 2, 3200, Stage(dinah=Pose(look="back",
            stride=0.3), rain=1.5, seed=3), (1.25, 0.5), remark="dinah looks out to the water; heavier rain"),
    Take(FERRY, "ST_2035.jpg", 2, "2025-10-28 17:29:46.33", Fraction(1, 25), 2, 3200, Stage(dinah=Pose(look="back",
            stride=1.0, lift=0.05, lean=0.06), dinah_at=(0.748, 0.773), rain=1.5, seed=4), (1.25, 0.5),
            remark="dinah mid-step, her front foot off the planks"),
    Take(FERRY, "ST_2036.jpg", 2, "2025-10-28 17:29:48.01", Fraction(1, 8), 2, 3200, Stage(dinah=Pose(look="back",
            stride=0.4), dinah_at=(0.742, 0.772), rain=1.5, power=2.3, seed=5), (1.25, 0.5), gain=2.8, flare=1.5,
            remark="exposed for too long: the lamp and the planks under it are blown"),
    Take(FERRY, "ST_2039.jpg", 3, "2025-10-28 17:36:30.85", Fraction(1, 20), 2, 3200, Stage(hannah=Pose(look="down",
            stride=0.25), hannah_at=(0.47, 0.708), dinah=Pose(look="down", stride=0.2), power=0.42, rain=0.7, seed=6),
            (-2.8, -0.4), gain=1.1, remark="the lamp low; hannah has turned from the water"),
    Take(FERRY, "ST_2040.jpg", 3, "2025-10-28 17:36:32.20", Fraction(1, 20), 2, 3200, Stage(hannah=Pose(look="down",
            stride=0.3), hannah_at=(0.475, 0.708), dinah=Pose(look="down", stride=0.25), power=0.42, rain=0.7, seed=7),
            (-2.8, -0.4), 2.2, gain=1.1, remark="out of focus"),
    Take(FERRY, "ST_2044.jpg", 4, "2025-10-28 17:44:55.94", Fraction(1, 15), 2, 3200, Stage(hannah=Pose(look="back",
            stride=0.3, hand=(0.1, 0.5)), bessy=Pose(look="ahead", stride=0.2), dinah=Pose(look="back", stride=0.5,
            lean=0.02), dinah_at=(0.74, 0.772), power=0.85, rain=0.5, boat=0.85, seed=8), (0.45, 3.1), gain=1.15,
            remark="the boat without a light; bessy on her feet"),
)
SHOOT = {take.name: take for take in TAKES}


def expose(take: Take) -> Array:
    """The frame, 0–255."""
    what = take.what
    light = dawn(what) if isinstance(what, Dawn) else ford(what) if isinstance(what, Ford) else stage(what)
    return developing.expose(light, move=take.shift, sigma=take.blur, gain=take.gain, seed=7000 + int(take.name[3:7]),
            grain=GRAIN[take.scene], flare=take.flare)


def exif(take: Take) -> Image.Exif:
    """What the camera wrote."""
    return developing.exif(take.when, OFFSETS[take.scene], take.seconds, take.f_number, take.iso, FOCAL_MM[take.scene])


def table(head: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    """A table as CSV."""
    out = io.StringIO()
    written = csv.writer(out, lineterminator="\n")
    written.writerow(head)
    written.writerows(rows)
    return out.getvalue()


def known() -> str:
    """What is known of every frame, as CSV."""
    return table(("scene", "frame", "shift_x_px", "shift_y_px", "blur_sigma_px", "group", "remark"),
            ((t.scene, t.name, *t.shift, t.blur, t.group, t.remark) for t in TAKES))
