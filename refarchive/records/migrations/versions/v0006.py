"""Version 6: what comes after the shoot: prints, sittings, walls, decisions, series, what goes out."""

from __future__ import annotations

from alembic import op

revision = "0006"
down_revision = "0005"

STATEMENTS = """
ALTER TABLE frame ADD COLUMN taken TEXT DEFAULT '' NOT NULL;
CREATE TABLE frame_look (
    frame TEXT NOT NULL,
    version TEXT DEFAULT '' NOT NULL,
    told JSON NOT NULL,
    PRIMARY KEY (frame),
    FOREIGN KEY(frame) REFERENCES frame (id)
);
CREATE TABLE work_print (
    id TEXT NOT NULL,
    frame TEXT NOT NULL,
    sheet TEXT DEFAULT '' NOT NULL,
    printed TEXT DEFAULT '' NOT NULL,
    paper TEXT DEFAULT '' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    width_mm FLOAT NOT NULL,
    height_mm FLOAT NOT NULL,
    pixels_per_inch FLOAT NOT NULL,
    PRIMARY KEY (id),
    FOREIGN KEY(frame) REFERENCES frame (id)
);
CREATE INDEX ix_work_print_frame ON work_print (frame);
CREATE TABLE sitting (
    number INTEGER NOT NULL,
    id TEXT NOT NULL,
    scene TEXT NOT NULL,
    criterion TEXT DEFAULT '' NOT NULL,
    began TEXT DEFAULT '' NOT NULL,
    viewer TEXT DEFAULT '' NOT NULL,
    light TEXT DEFAULT '' NOT NULL,
    seed INTEGER NOT NULL,
    frames JSON NOT NULL,
    PRIMARY KEY (number),
    UNIQUE (id),
    FOREIGN KEY(scene) REFERENCES scene (slug)
);
CREATE INDEX ix_sitting_scene ON sitting (scene);
CREATE TABLE judgement (
    number INTEGER NOT NULL,
    sitting TEXT NOT NULL,
    "left" TEXT NOT NULL,
    "right" TEXT NOT NULL,
    says TEXT NOT NULL CONSTRAINT judgement_says CHECK (says in ('left', 'right', 'neither yet')),
    at TEXT DEFAULT '' NOT NULL,
    reason TEXT DEFAULT '' NOT NULL,
    repeats INTEGER,
    PRIMARY KEY (number),
    FOREIGN KEY(sitting) REFERENCES sitting (id),
    FOREIGN KEY("left") REFERENCES frame (id),
    FOREIGN KEY("right") REFERENCES frame (id),
    FOREIGN KEY(repeats) REFERENCES judgement (number)
);
CREATE INDEX ix_judgement_sitting ON judgement (sitting);
CREATE TABLE arrangement (
    number INTEGER NOT NULL,
    scene TEXT NOT NULL,
    wall TEXT DEFAULT '' NOT NULL,
    at TEXT DEFAULT '' NOT NULL,
    light TEXT DEFAULT '' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    photograph TEXT DEFAULT '' NOT NULL,
    suffix TEXT DEFAULT '' NOT NULL,
    width_mm FLOAT NOT NULL,
    height_mm FLOAT NOT NULL,
    hung JSON NOT NULL,
    PRIMARY KEY (number),
    FOREIGN KEY(scene) REFERENCES scene (slug)
);
CREATE INDEX ix_arrangement_scene ON arrangement (scene);
CREATE TABLE decision (
    number INTEGER NOT NULL,
    scene TEXT NOT NULL,
    frame TEXT NOT NULL,
    at TEXT DEFAULT '' NOT NULL,
    sentence TEXT DEFAULT '' NOT NULL,
    turned_down JSON NOT NULL,
    PRIMARY KEY (number),
    FOREIGN KEY(scene) REFERENCES scene (slug),
    FOREIGN KEY(frame) REFERENCES frame (id)
);
CREATE INDEX ix_decision_scene ON decision (scene);
CREATE TABLE series_order (
    number INTEGER NOT NULL,
    series TEXT DEFAULT '' NOT NULL,
    at TEXT DEFAULT '' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    frames JSON NOT NULL,
    PRIMARY KEY (number)
);
CREATE TABLE particulars (
    frame TEXT NOT NULL,
    told JSON NOT NULL,
    revision INTEGER NOT NULL,
    PRIMARY KEY (frame),
    FOREIGN KEY(frame) REFERENCES frame (id)
);
"""


def upgrade() -> None:
    """Add a column and tables; no row changes."""
    for statement in STATEMENTS.split(";\n"):
        if statement.strip():
            op.execute(statement)
