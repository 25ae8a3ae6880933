"""Version 1: references, details, passages, scenes, frames, settings, history and the words tables.

Written out, not taken from schema.py: a migration must go on making what it made.
"""

from __future__ import annotations

from alembic import op

revision = "0001"
down_revision = None

STATEMENTS = """
CREATE TABLE history (
    number INTEGER NOT NULL,
    at TEXT NOT NULL,
    who TEXT NOT NULL,
    action TEXT NOT NULL,
    record TEXT NOT NULL,
    "before" JSON,
    "after" JSON,
    PRIMARY KEY (number)
);
CREATE INDEX ix_history_record ON history (record);
CREATE TABLE reference (
    number INTEGER NOT NULL,
    id TEXT NOT NULL,
    kind TEXT NOT NULL CONSTRAINT reference_kind CHECK (kind in ('image', 'text', 'object')),
    title TEXT DEFAULT '' NOT NULL,
    source_name TEXT DEFAULT '' NOT NULL,
    creator TEXT DEFAULT '' NOT NULL,
    place TEXT DEFAULT '' NOT NULL,
    description TEXT DEFAULT '' NOT NULL,
    medium TEXT DEFAULT '' NOT NULL,
    dimensions TEXT DEFAULT '' NOT NULL,
    collection TEXT DEFAULT '' NOT NULL,
    accession TEXT DEFAULT '' NOT NULL,
    credit TEXT DEFAULT '' NOT NULL,
    source TEXT DEFAULT '' NOT NULL,
    rights TEXT DEFAULT '' NOT NULL,
    identifier TEXT DEFAULT '' NOT NULL,
    witness TEXT DEFAULT '' NOT NULL,
    suffix TEXT DEFAULT '' NOT NULL,
    media_type TEXT DEFAULT '' NOT NULL,
    added_at TEXT DEFAULT '' NOT NULL,
    date_edtf TEXT,
    date_text TEXT,
    earliest INTEGER,
    latest INTEGER,
    subjects JSON NOT NULL,
    sha256 TEXT,
    width INTEGER DEFAULT '0' NOT NULL,
    height INTEGER DEFAULT '0' NOT NULL,
    PRIMARY KEY (number),
    UNIQUE (id),
    UNIQUE (sha256)
);
CREATE INDEX ix_reference_earliest ON reference (earliest);
CREATE INDEX ix_reference_kind ON reference (kind);
CREATE INDEX ix_reference_latest ON reference (latest);
CREATE INDEX reference_source_name ON reference (source_name);
CREATE TABLE setting (
    "key" TEXT NOT NULL,
    value JSON NOT NULL,
    PRIMARY KEY ("key")
);
CREATE TABLE detail (
    id TEXT NOT NULL,
    reference TEXT NOT NULL,
    x FLOAT NOT NULL,
    y FLOAT NOT NULL,
    width FLOAT NOT NULL,
    height FLOAT NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (id),
    FOREIGN KEY(reference) REFERENCES reference (id)
);
CREATE INDEX ix_detail_reference ON detail (reference);
CREATE TABLE passage (
    id TEXT NOT NULL,
    reference TEXT NOT NULL,
    number INTEGER NOT NULL,
    text TEXT DEFAULT '' NOT NULL,
    start INTEGER NOT NULL,
    "end" INTEGER NOT NULL,
    PRIMARY KEY (id),
    FOREIGN KEY(reference) REFERENCES reference (id)
);
CREATE INDEX ix_passage_reference ON passage (reference);
CREATE TABLE scene (
    number INTEGER NOT NULL,
    slug TEXT NOT NULL,
    title TEXT DEFAULT '' NOT NULL,
    event TEXT DEFAULT '' NOT NULL,
    story TEXT DEFAULT '' NOT NULL,
    place TEXT DEFAULT '' NOT NULL,
    series TEXT DEFAULT '' NOT NULL,
    currency TEXT DEFAULT '' NOT NULL,
    saved_at TEXT DEFAULT '' NOT NULL,
    toml TEXT DEFAULT '' NOT NULL,
    date_edtf TEXT,
    date_text TEXT,
    earliest INTEGER,
    latest INTEGER,
    latitude FLOAT,
    longitude FLOAT,
    key_reference TEXT,
    intent JSON NOT NULL,
    safety JSON NOT NULL,
    revision INTEGER NOT NULL,
    PRIMARY KEY (number),
    UNIQUE (slug),
    FOREIGN KEY(key_reference) REFERENCES reference (id)
);
CREATE TABLE source_mark (
    root TEXT NOT NULL,
    path TEXT NOT NULL,
    size INTEGER NOT NULL,
    mtime_ns INTEGER NOT NULL,
    sha256 TEXT DEFAULT '' NOT NULL,
    reference TEXT,
    problem TEXT DEFAULT '' NOT NULL,
    next_step TEXT DEFAULT '' NOT NULL,
    version TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (root, path),
    FOREIGN KEY(reference) REFERENCES reference (id)
);
CREATE TABLE figure (
    scene TEXT NOT NULL,
    slug TEXT NOT NULL,
    position INTEGER NOT NULL,
    name TEXT DEFAULT '' NOT NULL,
    performer TEXT DEFAULT '' NOT NULL,
    role TEXT DEFAULT '' NOT NULL,
    rank TEXT DEFAULT '' NOT NULL,
    action TEXT DEFAULT '' NOT NULL,
    wet TEXT DEFAULT '' NOT NULL,
    sizes JSON NOT NULL,
    PRIMARY KEY (scene, slug),
    FOREIGN KEY(scene) REFERENCES scene (slug) ON DELETE CASCADE
);
CREATE TABLE frame (
    number INTEGER NOT NULL,
    id TEXT NOT NULL,
    scene TEXT NOT NULL,
    source_name TEXT DEFAULT '' NOT NULL,
    sha256 TEXT DEFAULT '' NOT NULL,
    suffix TEXT DEFAULT '' NOT NULL,
    added_at TEXT DEFAULT '' NOT NULL,
    width INTEGER NOT NULL,
    height INTEGER NOT NULL,
    PRIMARY KEY (number),
    UNIQUE (id),
    FOREIGN KEY(scene) REFERENCES scene (slug)
);
CREATE INDEX ix_frame_scene ON frame (scene);
CREATE TABLE need (
    scene TEXT NOT NULL,
    slug TEXT NOT NULL,
    position INTEGER NOT NULL,
    name TEXT DEFAULT '' NOT NULL,
    department TEXT DEFAULT '' NOT NULL,
    figure TEXT DEFAULT '' NOT NULL,
    description TEXT DEFAULT '' NOT NULL,
    prominence TEXT DEFAULT '' NOT NULL,
    facts JSON NOT NULL,
    do JSON NOT NULL,
    dont JSON NOT NULL,
    substitutes JSON NOT NULL,
    breakdown JSON NOT NULL,
    quantity JSON NOT NULL,
    sourcing JSON NOT NULL,
    PRIMARY KEY (scene, slug),
    FOREIGN KEY(scene) REFERENCES scene (slug) ON DELETE CASCADE
);
CREATE TABLE scene_line (
    scene TEXT NOT NULL,
    kind TEXT NOT NULL,
    position INTEGER NOT NULL,
    title TEXT DEFAULT '' NOT NULL,
    text TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (scene, kind, position),
    FOREIGN KEY(scene) REFERENCES scene (slug) ON DELETE CASCADE
);
CREATE TABLE evidence (
    scene TEXT NOT NULL,
    need TEXT NOT NULL,
    position INTEGER NOT NULL,
    reference TEXT NOT NULL,
    detail TEXT,
    passage TEXT,
    relation TEXT NOT NULL CONSTRAINT evidence_relation CHECK (relation in ('shows', 'describes', 'contradicts')),
    note TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (scene, need, position),
    FOREIGN KEY(scene, need) REFERENCES need (scene, slug) ON DELETE CASCADE,
    FOREIGN KEY(reference) REFERENCES reference (id),
    FOREIGN KEY(detail) REFERENCES detail (id),
    FOREIGN KEY(passage) REFERENCES passage (id)
);
CREATE INDEX ix_evidence_reference ON evidence (reference);
CREATE TABLE frame_note (
    frame TEXT NOT NULL,
    subject TEXT NOT NULL,
    says TEXT DEFAULT '' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (frame, subject),
    FOREIGN KEY(frame) REFERENCES frame (id)
);
CREATE TABLE swatch (
    scene TEXT NOT NULL,
    need TEXT NOT NULL,
    position INTEGER NOT NULL,
    reference TEXT NOT NULL,
    region JSON,
    name TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (scene, need, position),
    FOREIGN KEY(scene, need) REFERENCES need (scene, slug) ON DELETE CASCADE,
    FOREIGN KEY(reference) REFERENCES reference (id)
);
CREATE VIRTUAL TABLE reference_words USING fts5(
    id UNINDEXED, title, description, creator, place, medium, subjects, other,
    tokenize = 'porter unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE passage_words USING fts5(id UNINDEXED, text, tokenize = 'porter unicode61 remove_diacritics 2');
"""


def upgrade() -> None:
    """Create every table."""
    for statement in STATEMENTS.split(";\n"):
        if statement.strip():
            op.execute(statement)
