"""After the shoot, as frozen dataclasses: prints and walls, sittings and what was decided, series, and what goes out.

Nothing here touches a file or a database. Moments are UTC, ISO 8601; days are ISO days. Regions are as in `model`.
"""

from __future__ import annotations

from dataclasses import dataclass

from refarchive.records.model import Region

CRITERIA = ("story", "gesture", "light", "series")  # one at a time in a sitting
ANSWERS = ("left", "right", "neither yet")
# What in a picture rests on what: said by the person, proposed from the evidence of the need.
STANDINGS = ("supported", "inferred", "invented", "unknown")
LEAVE = ("not asked", "asked", "granted", "refused", "not needed")  # where a permission or a release stands
LEAVE_KINDS = ("model", "property", "place", "reference", "other")


@dataclass(frozen=True)
class Sitting:
    """One dated session of looking, with one criterion; `viewer` is "" for the photographer."""

    id: str
    scene: str
    criterion: str  # one of CRITERIA
    began: str
    viewer: str = ""
    light: str = ""  # by what light the prints were looked at, in words
    seed: int = 0  # which sides and repeats follow from, so that they can be told again
    frames: tuple[str, ...] = ()  # those that were looked at


@dataclass(frozen=True)
class Judgement:
    """What was said of one pair. `repeats` is the number of the judgement whose pair was shown again, unannounced."""

    sitting: str
    left: str  # ids of frames
    right: str
    says: str  # one of ANSWERS
    at: str
    reason: str = ""
    repeats: int | None = None
    number: int = 0  # counted by the store, over all sittings

    @property
    def ahead(self) -> str:
        """The frame that was preferred, "" for neither yet."""
        return {"left": self.left, "right": self.right}.get(self.says, "")


@dataclass(frozen=True)
class Print:
    """A work print of one frame; those of one sheet share its `sheet`. Sizes are those of the picture on the paper."""

    id: str
    frame: str
    sheet: str
    printed: str  # day
    width_mm: float
    height_mm: float
    pixels_per_inch: float
    paper: str = ""
    note: str = ""


@dataclass(frozen=True)
class Hung:
    """One picture on a wall: its left upper corner from the wall's, and its size, in millimetres."""

    frame: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    finished: bool = False  # a finished picture of the series, beside which the prints hang
    print: str = ""  # the work print, "" where it was arranged on screen


@dataclass(frozen=True)
class Arrangement:
    """What hung where on a day. Nothing is overwritten: each change is an arrangement of its own."""

    wall: str  # a name: "studio, north side"
    scene: str
    at: str
    width_mm: float
    height_mm: float
    hung: tuple[Hung, ...] = ()
    light: str = ""
    note: str = ""
    photograph: str = ""  # SHA-256 of a picture of the wall, "" where there is none
    suffix: str = ""
    number: int = 0  # counted by the store


@dataclass(frozen=True)
class Decision:
    """The sentence that ended the choosing, with what was turned down and why. A later one stands beside it."""

    scene: str
    frame: str
    at: str
    sentence: str
    turned_down: tuple[tuple[str, str], ...] = ()  # (frame, why)
    number: int = 0


@dataclass(frozen=True)
class SeriesOrder:
    """Finished pictures of a series in an order, on a day."""

    series: str
    at: str
    frames: tuple[str, ...]
    note: str = ""
    number: int = 0


@dataclass(frozen=True)
class Part:
    """A region of a picture, the need it shows, and what it rests on."""

    name: str
    region: Region
    standing: str  # one of STANDINGS
    need: str = ""  # slug, "" where it belongs to none
    why: str = ""


@dataclass(frozen=True)
class Leave:
    """One permission or release: of whom, for what, where it stands, and where that can be read."""

    kind: str  # one of LEAVE_KINDS
    who: str
    what: str = ""
    state: str = "not asked"  # one of LEAVE
    evidence: str = ""
    until: str = ""  # day, "" without an end


@dataclass(frozen=True)
class Edition:
    """One print size of a picture: how many there may be, how many are made and gone."""

    name: str
    width_mm: float  # of the picture
    height_mm: float
    count: int
    proofs: int = 0  # artist's proofs, beside the count
    made: int = 0
    placed: int = 0  # sold, given or lent for good
    paper: str = ""
    note: str = ""


@dataclass(frozen=True)
class Place:
    """A place in the parts that IPTC Photo Metadata knows."""

    sublocation: str = ""
    city: str = ""
    province: str = ""
    country: str = ""
    country_code: str = ""  # ISO 3166
    latitude: float | None = None
    longitude: float | None = None


@dataclass(frozen=True)
class Particulars:
    """All that goes out with a picture. What is private stays out of the public version: see `publish`."""

    frame: str
    title: str = ""
    headline: str = ""
    caption: str = ""
    note: str = ""  # the historical note, as the person left it
    alt_text: str = ""
    keywords: tuple[str, ...] = ()
    creator: str = ""
    credit_line: str = ""
    copyright_notice: str = ""
    usage_terms: str = ""
    web_statement: str = ""  # an address
    rights: str = ""  # a statement or licence, as in references
    created: str = ""  # day of the shoot, never of the historical event
    event: str = ""
    taken_at: Place = Place()
    shown: Place = Place()
    persons: tuple[str, ...] = ()
    contributors: tuple[tuple[str, str], ...] = ()  # (name, role)
    thanks: tuple[str, ...] = ()
    source_type: str = ""  # a digital source type of IPTC's vocabulary
    leaves: tuple[Leave, ...] = ()
    parts: tuple[Part, ...] = ()
    editions: tuple[Edition, ...] = ()
