"""Version 5: place, tide, window and rig of each scene."""

from __future__ import annotations

from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add columns; no row changes."""
    op.execute("ALTER TABLE scene ADD COLUMN site JSON")
    op.execute("ALTER TABLE scene ADD COLUMN rig JSON")
