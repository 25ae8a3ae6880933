"""Version 4: what the person says to questions from first dates, with each need."""

from __future__ import annotations

from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add a column; no row changes."""
    op.execute("ALTER TABLE need ADD COLUMN answers JSON DEFAULT '[]' NOT NULL")
