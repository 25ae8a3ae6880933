"""Version 2: dates of what is shown and of scanning, basis of rights, origins of values, fit of evidence, families."""

from __future__ import annotations

from alembic import op

revision = "0002"
down_revision = "0001"

STATEMENTS = """
ALTER TABLE reference ADD COLUMN depicts_edtf TEXT;
ALTER TABLE reference ADD COLUMN depicts_text TEXT;
ALTER TABLE reference ADD COLUMN depicts_earliest INTEGER;
ALTER TABLE reference ADD COLUMN depicts_latest INTEGER;
ALTER TABLE reference ADD COLUMN digitised TEXT DEFAULT '' NOT NULL;
ALTER TABLE reference ADD COLUMN basis TEXT DEFAULT '' NOT NULL;
ALTER TABLE reference ADD COLUMN basis_evidence TEXT DEFAULT '' NOT NULL;
ALTER TABLE reference ADD COLUMN origins JSON DEFAULT '[]' NOT NULL;
ALTER TABLE evidence ADD COLUMN fit JSON DEFAULT '[]' NOT NULL;
CREATE TABLE family (
    number INTEGER NOT NULL,
    id TEXT NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (number),
    UNIQUE (id)
);
CREATE TABLE family_member (
    reference TEXT NOT NULL,
    family TEXT NOT NULL,
    position INTEGER NOT NULL,
    descent TEXT DEFAULT '' NOT NULL,
    "after" TEXT,
    note TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (reference),
    FOREIGN KEY(reference) REFERENCES reference (id),
    FOREIGN KEY(family) REFERENCES family (id) ON DELETE CASCADE,
    FOREIGN KEY("after") REFERENCES reference (id)
);
CREATE INDEX ix_family_member_family ON family_member (family);
CREATE TABLE not_family (
    one TEXT NOT NULL,
    other TEXT NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (one, other),
    FOREIGN KEY(one) REFERENCES reference (id) ON DELETE CASCADE,
    FOREIGN KEY(other) REFERENCES reference (id) ON DELETE CASCADE
);
"""


def upgrade() -> None:
    """Add columns and tables; no row changes."""
    for statement in STATEMENTS.split(";\n"):
        if statement.strip():
            op.execute(statement)
