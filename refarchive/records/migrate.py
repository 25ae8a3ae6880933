"""Bringing a database to the present version, through Alembic, inside the caller's transaction."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import sqlalchemy as sa

SCRIPTS = Path(__file__).parent / "migrations"


def _config(connection: sa.Connection | None = None) -> Any:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(SCRIPTS).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def _scripts() -> Any:
    from alembic.script import ScriptDirectory

    return ScriptDirectory.from_config(_config())


def head() -> str:
    """The version that this package writes."""
    # The newest file, without loading Alembic: an archive that is up to date opens without it.
    return max(path.stem.removeprefix("v") for path in (SCRIPTS / "versions").glob("v[0-9]*.py"))


def revision(connection: sa.Connection) -> str | None:
    """The version a database has, None where it has none."""
    if not sa.inspect(connection).has_table("alembic_version"):
        return None
    row = connection.execute(sa.text("SELECT version_num FROM alembic_version")).first()
    return str(row[0]) if row else None


def knows(version: str) -> bool:
    """Whether a database of that version can be brought up to date."""
    return version in {script.revision for script in _scripts().walk_revisions()}


def upgrade(connection: sa.Connection, target: str = "head") -> None:
    """Run the migrations up to `target` on a connection that is in a transaction."""
    from alembic import command

    command.upgrade(_config(connection), target)


def stamp(connection: sa.Connection) -> None:
    """Note that a database was made as it is now, without running anything."""
    from alembic import command

    command.stamp(_config(connection), "head")
