"""Version 3: what viewers said of frames, and the lines of each check."""

from __future__ import annotations

from alembic import op

revision = "0003"
down_revision = "0002"

STATEMENTS = """
CREATE TABLE viewing (
    number INTEGER NOT NULL,
    frame TEXT NOT NULL,
    at TEXT NOT NULL,
    viewer TEXT DEFAULT '' NOT NULL,
    seconds FLOAT,
    print_size TEXT DEFAULT '' NOT NULL,
    words TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (number),
    FOREIGN KEY(frame) REFERENCES frame (id)
);
CREATE INDEX ix_viewing_frame ON viewing (frame);
CREATE TABLE frame_check (
    number INTEGER NOT NULL,
    frame TEXT NOT NULL,
    at TEXT NOT NULL,
    lines JSON NOT NULL,
    PRIMARY KEY (number),
    FOREIGN KEY(frame) REFERENCES frame (id)
);
CREATE INDEX ix_frame_check_frame ON frame_check (frame);
"""


def upgrade() -> None:
    """Add tables; no row changes."""
    for statement in STATEMENTS.split(";\n"):
        if statement.strip():
            op.execute(statement)
