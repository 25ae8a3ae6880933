"""An invented scene, rich enough to fill every kind of page: cockle gatherers of Merrow Sands, 1871."""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import pytest
from PIL import Image, ImageDraw

from refarchive.paper import pages
from refarchive.paper.citing import PlateRequest
from refarchive.paper.pages import SwatchReading
from refarchive.paper.pdf import write_pdf
from refarchive.records.dates import read_date
from refarchive.records.model import (
    Detail,
    Evidence,
    Figure,
    Intent,
    Need,
    PaletteColour,
    Passage,
    Quantity,
    Reference,
    Scene,
    Sourcing,
    Swatch,
    Variation,
    Witness,
)

NASTY = "<script>alert(1)</script> {{7*7}} {% raw %} #panic() $x$ *bold* @cite _em_ `raw` \\u{41} // <b> &amp; ]"
RUN = "Pneumono" * 30
RIGHTS = "No known copyright (invented)"


@dataclass
class Made:
    """A scene with everything its pages need."""

    scene: Scene
    references: dict[str, Reference]
    details: dict[str, Detail]
    passages: dict[str, Passage]
    swatches: dict[tuple[str, int], SwatchReading]
    sizes: dict[str, tuple[int, int]] = field(default_factory=dict)

    def dossier(self, department: str | None = None, **more: Any) -> dict[str, Any]:
        return pages.dossier(
            self.scene,
            references=self.references,
            details=self.details,
            passages=self.passages,
            swatches=self.swatches,
            version="revision 3",
            date="2026-02-11",
            department=department,
            **more,
        )

    def requests(self, document: dict[str, Any]) -> tuple[PlateRequest, ...]:
        return pages.plates(document, self.scene, references=self.references, details=self.details)

    def pictures(self, document: dict[str, Any]) -> dict[str, bytes]:
        return prepared(self.requests(document), self.references)


def prepared(requests: Iterable[PlateRequest], references: Mapping[str, Reference]) -> dict[str, bytes]:
    made: dict[str, bytes] = {}
    for request in requests:
        reference = references.get(request.reference)
        size = (reference.width, reference.height) if reference else (900, 600)
        picture = drawn(request.reference or request.frame, size)
        if request.region:
            x, y, w, h = request.region
            box = (x * size[0], y * size[1], (x + w) * size[0], (y + h) * size[1])
            picture = picture.crop(tuple(int(v) for v in box))  # type: ignore[arg-type]
        picture.thumbnail((request.longest_px, request.longest_px))
        data = io.BytesIO()
        picture.save(data, "JPEG", quality=80)
        made[request.name] = data.getvalue()
    return made


def drawn(name: str, size: tuple[int, int]) -> Image.Image:
    """A shore, a sky and some figures: no picture of anything real, only something to look at."""
    seed = sum(map(ord, name))
    width, height = size
    warm = seed % 3
    sky = [(196, 188, 170), (150, 165, 176), (214, 196, 160)][warm]
    sand = [(122, 108, 86), (104, 104, 98), (140, 112, 78)][warm]
    column = Image.new("RGB", (1, height))
    for y in range(height):
        t = y / height
        near = sky if t < 0.45 else sand
        column.putpixel((0, y), tuple(int(c * (1.05 - 0.4 * abs(t - 0.45))) for c in near))
    picture = column.resize((width, height))
    draw = ImageDraw.Draw(picture)
    for n in range(5 + seed % 4):
        x = width * (0.08 + 0.86 * ((n * 37 + seed) % 100) / 100)
        tall = height * (0.18 + 0.3 * ((n * 53 + seed) % 10) / 10)
        foot = height * (0.6 + 0.3 * ((n * 29) % 10) / 10)
        shade = 30 + (n * 13) % 40
        draw.polygon(
            [(x - tall * 0.22, foot), (x + tall * 0.22, foot), (x, foot - tall)], fill=(shade, shade, shade + 8)
        )
        draw.ellipse([x - tall * 0.09, foot - tall * 1.15, x + tall * 0.09, foot - tall * 0.95], fill=(shade + 60,) * 3)
    for n in range(14):
        y = height * (0.5 + 0.035 * n)
        wave = [(x, y + 3 * math.sin(x / 60 + n + seed)) for x in range(0, width, 12)]
        draw.line(wave, fill=tuple(c - 18 for c in sand), width=2)
    return picture


def _reference(identity: str, title: str, witness: Witness, date: str = "", **more: Any) -> Reference:
    size = more.pop("size", (900, 640))
    kind = more.pop("kind", "image")
    return Reference(
        id=identity,
        kind=kind,
        title=title,
        source_name="" if kind == "object" else f"{identity}.{'txt' if kind == 'text' else 'png'}",
        when=read_date(date) if date else None,
        witness=witness,
        width=size[0] if kind == "image" else 0,
        height=size[1] if kind == "image" else 0,
        **more,
    )


def _references() -> list[Reference]:
    handmade, photograph = Witness.HANDMADE, Witness.PHOTOGRAPH
    where = {
        "collection": "Estuary Room, Merrow Sands (invented)",
        "rights": RIGHTS,
        "source": "Invented for this test",
    }
    return [
        _reference(
            "sands",
            "Cockle women going out, Merrow Sands",
            handmade,
            "1870~",
            creator="Élise Thornby",
            medium="watercolour and scratching out on wove paper",
            dimensions="31 × 47 cm",
            accession="ER.1931.14",
            credit="Given by the painter’s niece",
            description="Five women with baskets and rakes walk on wet sand before sunrise.",
            place="Merrow Sands",
            size=(1200, 780),
            **where,
        ),
        _reference(
            "anne",
            "Portrait of a cockle woman in bed-gown and apron",
            photograph,
            "1868/1872",
            creator="Thos. Garrow, Market Street",
            medium="albumen print, carte de visite",
            dimensions="9 × 6 cm",
            accession="ER.P.207",
            description="A standing woman in a short jacket and a rolled-up skirt.",
            size=(640, 980),
            **where,
        ),
        _reference(
            "panorama",
            "The estuary from the chapel roof at low water",
            photograph,
            "1869",
            creator="Thos. Garrow",
            medium="three albumen prints, joined",
            size=(1800, 520),
            **where,
        ),
        _reference("rake", "Cockle rake and jumbo board", Witness.OBJECT, "1850/1880", size=(900, 900), **where),
        _reference(
            "engraved",
            "Cockle gathering on the northern sands",
            Witness.SECOND_HAND,
            "1873",
            creator="after a sketch by J. Pell",
            medium="wood engraving",
            size=(1000, 700),
            collection="Press cuttings",
            source="A weekly",
        ),
        _reference("lamp", "Horn lantern", Witness.OBJECT, "", size=(600, 900), **where),
        _reference("later", "Pageant of the shore, Act II", Witness.LATER, "1911", size=(980, 700), **where),
        _reference("bonnet", "Quilted sun-bonnet, lilac print", Witness.OBJECT, "1865/1875", size=(760, 760), **where),
        _reference("boots", "Clogs with irons", Witness.OBJECT, "1860/1880", size=(1100, 620), **where),
        _reference(
            "advert", "Shawls and flannels, price list", Witness.COMMERCIAL, "1871-02", size=(560, 1000), **where
        ),
        _reference("cart", "Cart at the ford", Witness.UNKNOWN, "", creator="", size=(1000, 760)),
        _reference("sky", "Study of a sky before sunrise", handmade, "1869-11", size=(1300, 620), **where),
        _reference(
            "inquest",
            "Inquest on Hannah Bell, held at the Plough",
            Witness.TEXT,
            "1871-02-14",
            kind="text",
            creator="Coroner’s clerk",
            **where,
        ),
        _reference(
            "inventory",
            "Inventory of the goods of ſarah Dove; £3 — 4s. — 6d., née Côté",
            Witness.TEXT,
            "1866",
            kind="text",
            **where,
        ),
        _reference("buckle", "Brass shoe buckle from the dunes", Witness.OBJECT, "1780/1860", kind="object", **where),
    ]


def _needs() -> tuple[Need, ...]:
    def shows(reference: str, detail: str | None = None, note: str = "", relation: str = "shows") -> Evidence:
        return Evidence(reference, relation, detail=detail, note=note)

    return (
        Need(
            "anne-shawl",
            "Shawl, crossed and tied behind",
            "wardrobe",
            "anne",
            description="A square of grey-brown wool, folded to a triangle, crossed over the breast and "
            "knotted behind, so that both hands are free for rake and basket.",
            prominence="close-up",
            facts=(
                ("Layer", "outerwear, over the bed-gown"),
                ("Material", "plain-woven wool, fulled, hand-dyed"),
                ("Closure", "knotted; no pin visible"),
                ("Visible construction", "selvedge on two sides, fringe on two"),
                ("When wet", "doubles its weight; the dye bleeds brown onto linen"),
            ),
            do=("Knot it low, so that the point covers the skirt band.", "Let the fringe felt."),
            dont=("No safety pins.", "No printed pattern."),
            substitutes=("A cut army blanket, washed hot twice.",),
            breakdown=("clean", "worn: rubbed at the shoulders", "soaked to the elbows, sand in the fringe"),
            quantity=Quantity(1, 2, 1, "Three takes in water, one day to dry each, two days of shooting."),
            sourcing=Sourcing("make", "Weaver at Low Barn (invented)", 40.0, 180.0, None, "2026-01-20", "Ines"),
            swatches=(Swatch("sands", (0.3, 0.5, 0.1, 0.1), "wool, lit side"), Swatch("anne", None, "wool, shadow")),
            evidence=(
                shows("anne", "d-knot", "the knot behind, low on the back"),
                shows("sands", "d-shawls"),
                shows("sands"),
                Evidence("inquest", "describes", passage="p-inquest-2", note="what she had about her shoulders"),
                Evidence("engraved", "contradicts", note="the engraver gives her a cape with a collar"),
            ),
        ),
        Need(
            "anne-skirt",
            "Skirt, rolled to the knee",
            "wardrobe",
            "anne",
            prominence="close-up",
            facts=(
                ("Layer", "main garment below the waist"),
                ("Material", "striped linsey-woolsey"),
                ("When wet", "clings and turns dark; opaque"),
            ),
            quantity=Quantity(1, 2, 0, "As the shawl, without a spare."),
            sourcing=Sourcing("hire", "", None, 65.0, 65.0, "2026-01-25", "Ines"),
            evidence=(shows("anne", "d-skirt"), Evidence("inventory", "describes", passage="p-inv-1")),
        ),
        Need(
            "anne-bonnet",
            "Sun-bonnet",
            "wardrobe",
            "anne",
            prominence="background",
            facts=(("Layer", "headwear"), ("Material", "quilted cotton, lilac print")),
            evidence=(shows("bonnet"), shows("later", None, "worn thus at a pageant, not a witness of 1871")),
        ),
        Need(
            "anne-clogs",
            "Clogs or bare feet",
            "wardrobe",
            "anne",
            facts=(("Layer", "footwear"),),
            evidence=(shows("boots"), Evidence("panorama", "contradicts", note="everybody in the row stands barefoot")),
        ),
        Need(
            "hannah-stays",
            "Stays",
            "wardrobe",
            "hannah",
            facts=(("Layer", "underwear"), ("Closure", "front lacing")),
            sourcing=Sourcing("seek"),
        ),
        Need(
            "hannah-apron",
            "Sacking apron",
            "wardrobe",
            "hannah",
            facts=(("Material", "jute sacking"),),
            sourcing=Sourcing("own", estimate=0.0),
            evidence=(shows("sands"), shows("advert", None, "the price list")),
        ),
        Need("blankets", "Blankets for the wait, never in the picture", "wardrobe", description="Two for each person."),
        Need(
            "rake",
            "Cockle rake",
            "props",
            "anne",
            prominence="close-up",
            facts=(
                ("Use", "action"),
                ("Dimensions", "shaft 140 cm, seven teeth"),
                ("Floats or sinks", "floats, head down"),
            ),
            quantity=Quantity(2, 0, 1, "One each and one to break."),
            sourcing=Sourcing("make", "Smith", 20, 90.5, 88.25),
            evidence=(shows("rake"), shows("rake", "d-teeth", "seven teeth, square in section")),
        ),
        Need(
            "lantern",
            "Horn lantern",
            "props",
            facts=(("Use", "dressing"),),
            evidence=(shows("lamp"),),
            swatches=(Swatch("lamp", (0.4, 0.4, 0.2, 0.2), "horn"),),
        ),
        Need("basket", "Baskets", "props", evidence=(Evidence("inquest", "describes", passage="p-inquest-1"),)),
        Need("buckle", "Shoe buckle", "props", evidence=(Evidence("buckle", "shows", note="seen in a drawer"),)),
        Need(
            "hands",
            "Chapped hands, broken nails",
            "hair and make-up",
            "anne",
            facts=(("Patch test", "two days before"),),
            evidence=(Evidence("inquest", "describes", passage="p-inquest-2"),),
        ),
        Need(
            "horizon",
            "A clear horizon",
            "set",
            facts=(("View", "west-south-west"), ("Hide or remove", "two buoys")),
            evidence=(shows("panorama"), shows("cart")),
        ),
        Need(
            "dawn",
            "Grey light before sunrise",
            "light",
            facts=(("Source in the story", "the sky behind them"),),
            evidence=(shows("sky"),),
        ),
        Need("mist", "Mist on the far bank", "effects", facts=(("Position", "upwind, behind the cart"),)),
    )


def make() -> Made:
    references = {r.id: r for r in _references()}
    details = {
        d.id: d
        for d in (
            Detail("d-knot", "anne", (0.30, 0.35, 0.4, 0.3), "knot"),
            Detail("d-skirt", "anne", (0.2, 0.55, 0.6, 0.4), "skirt rolled and pinned up"),
            Detail("d-shawls", "sands", (0.1, 0.3, 0.35, 0.5), "three women, all with crossed shawls"),
            Detail("d-teeth", "rake", (0.5, 0.5, 0.3, 0.3), ""),
        )
    }
    passages = {
        p.id: p
        for p in (
            Passage("p-inquest-1", "inquest", 1, "Each of them carried two baskets upon a yoke, and a rake.", 0, 60),
            Passage(
                "p-inquest-2",
                "inquest",
                2,
                "She had about her ſhoulders a brown shawl tied behind, and her hands were much chapped with the salt.",
                62,
                160,
            ),
            Passage("p-inv-1", "inventory", 1, "One linſey petticoat ſtriped, £0 — 2s. — 6d.", 0, 44),
        )
    }
    scene = Scene(
        slug="first-light",
        title="First light on the sands",
        event="The gatherers set out across the sands on the morning of the drowning",
        story="Before dawn the women walk out together, and only one of them looks back.",
        when=read_date("1871-02-13"),
        place="Merrow Sands (invented)",
        latitude=54.1234,
        longitude=-2.9,
        series="Tidal crossings",
        key_reference="sands",
        statements=("They go together.", "The water is far out, and will come back."),
        misreadings=("A procession or a funeral.", "A picnic."),
        intent=Intent(
            words="Cold, wide, nearly without colour; one warm point.",
            palette=(
                PaletteColour("#8f9aa0", 0.55, "sky"),
                PaletteColour("#6d6557", 0.4, "sand"),
                PaletteColour("#c98b3a", 0.05, "lantern"),
            ),
            key=42.0,
            contrast=55.0,
            light_from="behind and to the left",
            light_tilt_deg=150.0,
            like=("sands", "sky"),
        ),
        figures=(
            Figure(
                "anne",
                "Anne Dove",
                "",
                "gatherer, looks back",
                "labouring",
                "walks with a rake",
                "to the knees",
                (("height", "168 cm"), ("chest", "92 cm"), ("shoe", "39")),
            ),
            Figure("hannah", "Hannah Bell", "יעל אלון", "gatherer, leads", "labouring", "carries a yoke", "dry"),
            Figure("boy", "The pilot’s boy", "to be found", "guide", "", "holds the lantern", "to the ankles"),
        ),
        variations=(Variation("The halt", "They wait for the tide to leave the last channel."),),
        needs=_needs(),
        safety=(
            ("water", "A pilot of the sands walks the line at low water on the day."),
            ("animals", "The horse stays with its carter."),
        ),
        currency="GBP",
        revision=3,
    )
    swatches = {
        ("anne-shawl", 0): SwatchReading("#5d5348", (35.9, 2.61, 7.94), 6.31, "sands", (0.3, 0.5, 0.1, 0.1)),
        ("anne-shawl", 1): SwatchReading("#2c2a2b", (17.2, 0.9, 0.0), 4.0, "anne"),
    }
    return Made(scene, references, details, passages, swatches)


@pytest.fixture(scope="module")
def made() -> Made:
    return make()


@pytest.fixture(scope="module")
def hostile() -> Made:
    """The same scene with texts that try to be markup, run on without a space, or need letters few faces have."""
    plain = make()
    scene = plain.scene
    needs = tuple(
        replace(n, name=f"{n.name} {NASTY}", description=f"{NASTY}\n\n{RUN}", do=(NASTY, RUN))
        if n.slug == "rake"
        else n
        for n in scene.needs
    )
    references = dict(plain.references)
    references["rake"] = replace(
        references["rake"],
        title=f"{NASTY} 漢字 \u202egnp.exe\x00\ud800",
        creator=RUN,
        collection="Museo della Città — İznik",
    )
    figures = (replace(scene.figures[0], name=f"Anne {NASTY}", performer="يوسف"), *scene.figures[1:])
    return replace(
        plain, scene=replace(scene, title=f"First {NASTY}", needs=needs, figures=figures), references=references
    )


@pytest.fixture(scope="session")
def draw() -> Callable[[str, tuple[int, int]], Image.Image]:
    return drawn


@pytest.fixture(scope="session")
def prepare() -> Callable[[Iterable[PlateRequest], Mapping[str, Reference]], dict[str, bytes]]:
    return prepared


@pytest.fixture(scope="session")
def nasty() -> str:
    return NASTY


@pytest.fixture(scope="module")
def made_pdf(made: Made) -> bytes:
    document = made.dossier()
    return write_pdf(document, made.pictures(document))


@pytest.fixture(scope="module")
def hostile_pdf(hostile: Made) -> bytes:
    document = hostile.dossier()
    return write_pdf(document, hostile.pictures(document))
