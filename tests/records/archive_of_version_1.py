"""An archive with rows in every table, as version 0001 of the database held them. All invented.

`version_0001.sql` was written from it, by running this file, at version 0001. It is never written anew:
later versions are tested by what they make of it.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
from contextlib import closing
from pathlib import Path

from refarchive.records.model import (
    Detail,
    Evidence,
    Figure,
    Frame,
    FrameNote,
    Intent,
    Need,
    NewReference,
    PaletteColour,
    Passage,
    Quantity,
    Reference,
    Scene,
    SourceMark,
    Sourcing,
    Swatch,
    Variation,
    When,
    Witness,
)
from refarchive.records.store import DATABASE, Store

SQL = Path(__file__).with_name("version_0001.sql")

PICTURE = Reference(
    id="ref-aaaaaaaaaaaa",
    kind="image",
    title="Gatherers at low water",
    source_name="sands “1”.jpg",
    creator="Invented hand",
    when=When("1871-02~", "about February 1871", 2404460, 2404487),
    place="Merrow Sands",
    description="Three women with lanterns; one carries a Kreſſet.",
    medium="wood engraving",
    dimensions="120 × 180 mm",
    collection="Nowhere Collection",
    accession="N.1",
    credit="Invented for tests",
    source="test",
    rights="http://rightsstatements.org/vocab/NKC/1.0/",
    identifier="urn:x-test:1",
    subjects=("lantern", "cockle rake"),
    witness=Witness.SECOND_HAND,
    sha256="a" * 64,
    suffix=".jpg",
    media_type="image/jpeg",
    width=1800,
    height=1200,
    added_at="2026-01-02T03:04:05+00:00",
)
LETTER = Reference(
    id="ref-bbbbbbbbbbbb",
    kind="text",
    title="A letter about the ford",
    source_name="letter.txt",
    when=When("../1870", "before 1871", None, 2404428),
    witness=Witness.TEXT,
    sha256="b" * 64,
    suffix=".txt",
    media_type="text/plain",
    added_at="2026-01-02T03:04:06+00:00",
)
LANTERN = Reference(
    id="ref-cccccccccccc", kind="object", title="Horn lantern", source_name="", added_at="2026-01-02T03:04:07+00:00"
)
PASSAGES = (
    Passage("ref-bbbbbbbbbbbb.p1", LETTER.id, 1, "The cart ſtuck at the ford.", 0, 27),
    Passage("ref-bbbbbbbbbbbb.p2", LETTER.id, 2, "We lit the horn lantern and waited.", 29, 64),
)
MARKS = (
    SourceMark("r1", "sands.jpg", 1234, 1_700_000_000_123_456_789, "a" * 64, PICTURE.id, version="0.1.0"),
    SourceMark("r1", "broken.jpg", 10, 1, "c" * 64, None, "It is cut short.", "Copy it again.", "0.1.0"),
)
DETAIL = Detail("ref-aaaaaaaaaaaa.d00000001", PICTURE.id, (0.1, 0.2, 0.3, 0.4), "the lantern’s ring")
SCENE = Scene(
    slug="first-light",
    title="First light on the sands",
    event="Gatherers set out before dawn",
    story="They leave while it is dark, because the tide does not wait.",
    when=When("1871-02", "February 1871", 2404460, 2404487),
    place="Merrow Sands",
    latitude=54.1,
    longitude=-2.9,
    series="The crossing",
    key_reference=PICTURE.id,
    statements=("It is cold.", "They do this every day."),
    misreadings=("A procession.",),
    intent=Intent(
        words="before the sun",
        palette=(PaletteColour("#334455", 0.6, "sea"), PaletteColour("#c8a060", 0.4)),
        key=32.5,
        contrast=40.0,
        light_from="the left",
        light_tilt_deg=35.0,
        like=(PICTURE.id,),
    ),
    figures=(
        Figure("ann", "Ann", "A. Performer", "gatherer", "labourer", "walks", "to the knee", (("height", "168 cm"),)),
        Figure("boy", "The boy"),
    ),
    variations=(Variation("Later", "the lanterns are out"),),
    needs=(
        Need(
            slug="lantern",
            name="Horn lantern",
            department="props",
            figure="ann",
            description="iron and horn",
            prominence="close-up",
            facts=(("hand or dressing", "hand"), ("floats", "no")),
            do=("soot on the horn",),
            dont=("glass",),
            substitutes=("oiled paper",),
            breakdown=("clean", "worn"),
            quantity=Quantity(1, 2, 1, "two soaked takes"),
            sourcing=Sourcing("hire", "A lender", 10.0, 45.5, None, "2026-02-01", "props"),
            swatches=(
                Swatch(PICTURE.id, (0.1, 0.1, 0.05, 0.05), "horn"),
                Swatch(PICTURE.id, None),
            ),
            evidence=(
                Evidence(PICTURE.id, "shows", detail=DETAIL.id, note="ring and bail"),
                Evidence(LETTER.id, "describes", passage=PASSAGES[1].id),
                Evidence(LANTERN.id, "contradicts"),
            ),
        ),
        Need("shawl", "Shawl", "wardrobe"),
    ),
    safety=(("water", "attended, with a throw line"),),
    currency="EUR",
)
FRAME = Frame("frame-000000000001", SCENE.slug, "take 3.tif", "d" * 64, ".tif", 6000, 4000, "2026-01-03T00:00:00+00:00")
NOTES = (
    FrameNote(FRAME.id, "measure:key", "departure intended", "mist"),
    FrameNote(FRAME.id, "need:lantern", "present"),
)
TOML = 'slug = "first-light"  # as written\n'


def fill(store: Store) -> None:
    """Put everything above into an empty archive."""
    store.add_references([NewReference(PICTURE, (), MARKS), NewReference(LETTER, PASSAGES), NewReference(LANTERN)])
    store.save_scene(SCENE, details=[DETAIL], toml=TOML)
    store.add_frame(FRAME)
    store.note_frames(NOTES)
    store.set_setting("encoder", {"name": "built-in", "why": "no weights"})
    store.change_reference(LANTERN.id, place="Merrow Sands")
    store.change_reference(LANTERN.id, place="")


def dump(path: Path) -> str:
    """A database as SQL that any SQLite can read: the full-text tables by their columns, not by their inner tables."""
    with closing(sqlite3.connect(path)) as connection:
        tables = connection.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY rowid"
        ).fetchall()
        words = [name for name, sql in tables if sql.startswith("CREATE VIRTUAL")]
        lines = []
        for name, sql in tables:
            if any(name.startswith(f"{w}_") for w in words):
                continue
            lines.append(f"{sql};")
            columns = [row[1] for row in connection.execute(f'PRAGMA table_info("{name}")')]
            if name in words:
                columns.insert(0, "rowid")
            listed = ", ".join(f'"{c}"' for c in columns)
            quoted = " || ', ' || ".join(f'quote("{c}")' for c in columns)
            lines += [
                f'INSERT INTO "{name}" ({listed}) VALUES ({row[0]});'
                for row in connection.execute(f'SELECT {quoted} FROM "{name}" ORDER BY rowid')
            ]
        lines += [
            f"{row[0]};"
            for row in connection.execute("SELECT sql FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL")
        ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    if SQL.exists():
        sys.exit(f"{SQL.name} is there already, and is never written anew.")
    with tempfile.TemporaryDirectory() as folder:
        with Store.create(Path(folder), who="tester") as made:
            fill(made)
        SQL.write_text(
            "-- Written by archive_of_version_1.py at version 0001. Never edited.\n" + dump(Path(folder) / DATABASE)
        )
