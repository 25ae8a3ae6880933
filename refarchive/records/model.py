"""The records of an archive, as frozen dataclasses.

Nothing here touches a file or a database. Regions are `(x, y, width, height)` as fractions 0–1 of the upright picture,
from its top left corner. Days are Julian day numbers (integers, proleptic Gregorian noon-to-noon labels), so that
dates long before our era sort and compare like any other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from refarchive.records.onsite import Rig, Site

Region = tuple[float, float, float, float]
Kind = Literal["image", "text", "object"]
KINDS: tuple[Kind, ...] = ("image", "text", "object")

DEPARTMENTS = ("wardrobe", "props", "hair and make-up", "set", "light", "effects")
RELATIONS = ("shows", "describes", "contradicts")
SOURCING_STATES = ("seek", "own", "hire", "buy", "make", "fitted", "packed", "returned")
PRESENCE = ("present", "absent", "hidden")
FIT_ASPECTS = ("place", "rank", "occupation", "occasion")  # entered by the person; the date's fit is computed
FIT_WORDS = ("exact", "near", "far", "unknown")
ANSWERS = ("another thing is meant", "kept on purpose")  # a person's word on a question from first dates
# How a member of a family came from the one it is after; the first is the member the others descend from.
DESCENTS = ("original", "copy", "crop", "mirrored", "recoloured", "engraved after", "photographed from", "unknown")


class Witness(StrEnum):
    """What kind of evidence a reference is (common practice; the order is not a ranking)."""

    OBJECT = "surviving object"
    PHOTOGRAPH = "photograph from life"
    HANDMADE = "hand-made image from life"
    TEXT = "contemporary text"
    COMMERCIAL = "commercial or prescriptive"
    SECOND_HAND = "second-hand image"
    LATER = "later reconstruction"
    UNKNOWN = "not yet judged"


@dataclass(frozen=True)
class When:
    """A date as EDTF, as shown, and as the days it can cover.

    `earliest` and `latest` are Julian day numbers; None means open or unknown at that end.
    """

    edtf: str
    text: str
    earliest: int | None
    latest: int | None


@dataclass(frozen=True)
class Reference:
    """One source: a picture, a text, or an object record that has no file."""

    id: str
    kind: Kind
    title: str
    source_name: str  # file name as gathered, "" for an object record without a file
    creator: str = ""
    when: When | None = None
    place: str = ""
    description: str = ""
    medium: str = ""
    dimensions: str = ""
    collection: str = ""
    accession: str = ""
    credit: str = ""
    source: str = ""
    rights: str = ""
    identifier: str = ""
    subjects: tuple[str, ...] = ()  # words, or a notation of Iconclass before its words: "25F72 molluscs"
    witness: Witness = Witness.UNKNOWN
    sha256: str = ""  # of the original file, "" where there is none
    suffix: str = ""  # of the original in originals/, with its dot
    media_type: str = ""
    width: int = 0  # upright pixels
    height: int = 0
    added_at: str = ""  # UTC, ISO 8601
    depicts: When | None = None  # date of the event or state shown, where it is not that of the making
    digitised: str = ""  # day of scanning or photographing, as ISO; never evidence of when the thing was made
    basis: str = ""  # why it may be published: a permission, a licence, an expired term; "" where nobody has said
    basis_evidence: str = ""  # where that can be read: a letter, a page, a file
    origins: tuple[tuple[str, str], ...] = ()  # (field, where its value came from), for what nobody typed

    @property
    def missing(self) -> tuple[str, ...]:
        """Names of the provenance fields still empty: the visible debt of capture first, finish later."""
        wanted = {
            "creator": self.creator,
            "date": self.when,
            "place": self.place,
            "source": self.source,
            "rights": self.rights,
            "description": self.description,
            "witness": self.witness is not Witness.UNKNOWN,
        }
        return tuple(name for name, value in wanted.items() if not value)


@dataclass(frozen=True)
class Detail:
    """A marked region of a picture reference, with a note of its own."""

    id: str
    reference: str
    region: Region
    note: str = ""


@dataclass(frozen=True)
class Passage:
    """A stretch of a text reference; `start` and `end` are character offsets into the decoded text."""

    id: str
    reference: str
    number: int  # from 1
    text: str
    start: int
    end: int


@dataclass(frozen=True)
class SourceMark:
    """What was last seen at one place of one gathered folder, so that a rerun need not open it again."""

    root: str  # digest of the gathered folder's location: never a path
    path: str  # relative, with forward slashes
    size: int
    mtime_ns: int
    sha256: str
    reference: str | None  # None where it was refused
    problem: str = ""
    next_step: str = ""
    version: str = ""  # of the package that looked


@dataclass(frozen=True)
class Swatch:
    """A colour to be read from a picture reference, for a need."""

    reference: str
    region: Region | None
    name: str = ""


@dataclass(frozen=True)
class Evidence:
    """The link from a need to a reference, or to one detail or passage of it."""

    reference: str
    relation: str  # one of RELATIONS
    detail: str | None = None
    passage: str | None = None
    note: str = ""
    fit: tuple[tuple[str, str], ...] = ()  # (aspect of FIT_ASPECTS, word of FIT_WORDS); what is not there is unknown


@dataclass(frozen=True)
class Answer:
    """What the person says to a question whether a thing was there yet; the question is not put again."""

    thing: str  # as the table of first dates names it
    says: str  # one of ANSWERS
    note: str = ""


@dataclass(frozen=True)
class FamilyMember:
    """One reference in a family, and how it descends: `after` is the member it came from, "" where unknown."""

    reference: str
    descent: str = "unknown"  # one of DESCENTS
    after: str = ""
    note: str = ""


@dataclass(frozen=True)
class Family:
    """References that descend from one original: one witness, not many. Confirmed by the person, never by a measure."""

    id: str
    members: tuple[FamilyMember, ...]
    note: str = ""


@dataclass(frozen=True)
class Quantity:
    """How many of a thing, with the arithmetic in words."""

    hero: int = 1
    wet_doubles: int = 0
    spare: int = 0
    why: str = ""

    @property
    def total(self) -> int:
        return self.hero + self.wet_doubles + self.spare


@dataclass(frozen=True)
class Sourcing:
    """Where a thing comes from and what it costs; money is in the plan's currency, two decimals."""

    state: str = "seek"
    supplier: str = ""
    deposit: float | None = None
    estimate: float | None = None
    actual: float | None = None
    due: str = ""
    owner: str = ""


@dataclass(frozen=True)
class Need:
    """One thing a scene must have, in a department."""

    slug: str
    name: str
    department: str
    figure: str = ""  # slug of a figure, "" where it belongs to none
    description: str = ""
    prominence: str = ""  # "close-up" or "background", "" unknown
    facts: tuple[tuple[str, str], ...] = ()  # department fields in printing order: (label, value)
    do: tuple[str, ...] = ()
    dont: tuple[str, ...] = ()
    substitutes: tuple[str, ...] = ()
    breakdown: tuple[str, ...] = ()
    quantity: Quantity = Quantity()
    sourcing: Sourcing = Sourcing()
    swatches: tuple[Swatch, ...] = ()
    evidence: tuple[Evidence, ...] = ()
    answers: tuple[Answer, ...] = ()

    def answered(self, thing: str) -> Answer | None:
        return next((one for one in self.answers if one.thing.casefold() == thing.casefold()), None)


@dataclass(frozen=True)
class Figure:
    """One person in a scene."""

    slug: str
    name: str
    performer: str = ""
    role: str = ""
    rank: str = ""
    action: str = ""
    wet: str = ""  # how wet, in words
    sizes: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Variation:
    """Another moment of the same scene that is planned to be shot."""

    title: str
    moment: str


@dataclass(frozen=True)
class PaletteColour:
    """One intended colour and the share of the picture it should take (0–1)."""

    hex: str
    share: float
    name: str = ""


@dataclass(frozen=True)
class Intent:
    """What the picture is to look like, as measurable targets with tolerances.

    `palette_tolerance` is an earth mover's distance in CIEDE2000 units; `key` the median CIE L* (0–100) and `contrast`
    the spread from the 5th to the 95th percentile of L*, each with its own tolerance in L*. `warmth_k` is a correlated
    colour temperature in kelvin, its tolerance in mired, in which equal steps look alike. `horizon` is where the
    horizon crosses the middle, from 0 at the top to 1, and its tolerance a part of the height. `blown_most` and
    `blocked_most` are the parts of the picture (0–1) that may be without drawing in the lights and in the darks.
    `layout_least` is how alike the light and dark of the frame must lie to those of the references in `like` (−1 to 1).
    Targets left None are not checked.
    """

    words: str = ""
    palette: tuple[PaletteColour, ...] = ()
    palette_tolerance: float = 12.0
    key: float | None = None
    key_tolerance: float = 6.0
    contrast: float | None = None
    contrast_tolerance: float = 10.0
    light_from: str = ""
    light_tilt_deg: float | None = None  # direction the light comes from in the picture plane, 0 right, 90 up
    light_tolerance_deg: float = 20.0
    lit_to_shadow: float | None = None  # stops by which the lit side of a face or garment is to lie above its shadow
    lit_to_shadow_tolerance: float = 0.5
    warmth_k: float | None = None
    warmth_tolerance_mired: float = 20.0
    horizon: float | None = None
    horizon_tolerance: float = 0.03
    blown_most: float | None = None
    blocked_most: float | None = None
    layout_least: float | None = None
    like: tuple[str, ...] = ()  # references the frame should be like
    likeness_percentile: float = 80.0  # it should be at least this like them, within the archive


@dataclass(frozen=True)
class Scene:
    """One planned picture."""

    slug: str
    title: str
    event: str
    story: str
    when: When | None = None
    place: str = ""
    latitude: float | None = None
    longitude: float | None = None
    series: str = ""
    key_reference: str = ""
    statements: tuple[str, ...] = ()
    misreadings: tuple[str, ...] = ()
    intent: Intent = Intent()
    figures: tuple[Figure, ...] = ()
    variations: tuple[Variation, ...] = ()
    needs: tuple[Need, ...] = ()
    safety: tuple[tuple[str, str], ...] = ()  # (topic, what was arranged)
    currency: str = ""
    site: Site | None = None
    rig: Rig | None = None
    revision: int = 0  # counted by the store
    saved_at: str = ""

    @property
    def evidence(self) -> tuple[Evidence, ...]:
        """All that its needs and the candidates for its place stand on, in the order of the plan."""
        of_needs = [e for need in self.needs for e in need.evidence]
        return (*of_needs, *(e for place in (self.site.candidates if self.site else ()) for e in place.evidence))

    def need(self, slug: str) -> Need | None:
        return next((n for n in self.needs if n.slug == slug), None)

    def figure(self, slug: str) -> Figure | None:
        return next((f for f in self.figures if f.slug == slug), None)


@dataclass(frozen=True)
class Frame:
    """A photograph shot for a scene."""

    id: str
    scene: str
    source_name: str
    sha256: str
    suffix: str
    width: int
    height: int
    added_at: str = ""
    taken: str = ""  # by the camera's clock, ISO 8601 as the file tells it; "" where it does not


@dataclass(frozen=True)
class Viewing:
    """What one person said who looked at a frame for a few seconds, without a word of text beside it."""

    frame: str
    at: str  # UTC, ISO 8601
    viewer: str = ""  # a name or a number, "" for nobody named
    seconds: float | None = None
    print_size: str = ""  # as written: "A4", "A6", "screen"
    words: str = ""


@dataclass(frozen=True)
class FrameNote:
    """What the person says of a frame: a need's presence, or a measure departed from on purpose.

    `subject` is "need:<slug>" with a word of PRESENCE as `says`, or "measure:<name>" with "departure intended".
    """

    frame: str
    subject: str
    says: str
    note: str = ""


@dataclass(frozen=True)
class Change:
    """One entry of the cataloguing history."""

    at: str  # UTC, ISO 8601
    who: str
    action: str  # "added", "changed", "removed"
    record: str  # "reference:<id>", "scene:<slug>", …
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None


@dataclass(frozen=True)
class Filter:
    """What a search or a list is narrowed to. Empty fields narrow nothing.

    `earliest` and `latest` are Julian day numbers of the period asked for; a reference passes when its own days overlap
    it. An undated reference never passes a period filter, and the finding says how many were left out for that.
    """

    earliest: int | None = None
    latest: int | None = None
    kinds: tuple[str, ...] = ()  # "text" keeps pictures of pages too whose words are known
    witnesses: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    rights: tuple[str, ...] = ()
    subjects: tuple[str, ...] = ()
    scene: str = ""  # references that are evidence in this scene

    @property
    def empty(self) -> bool:
        return self == Filter()


@dataclass(frozen=True)
class NewReference:
    """A reference with everything that is stored in the same transaction."""

    reference: Reference
    passages: tuple[Passage, ...] = ()
    marks: tuple[SourceMark, ...] = field(default=())
