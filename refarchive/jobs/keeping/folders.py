"""A new folder written whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from refarchive import leftovers
from refarchive.errors import CannotPrint


@contextmanager
def new_folder(out: Path, archive: Path) -> Iterator[Path]:
    """A folder to write into for as long as the block lasts; it becomes `out` at its end, or vanishes with an error.

    `out` must be empty or not there yet, and outside the archive. Raises CannotPrint.
    """
    out = Path(os.path.abspath(out))
    _check_target(out, archive)
    folder = ""
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        leftovers.sweep(out.parent.glob(".writing-*"), leftovers.OURS_ALONE)  # of a killed run
        folder = tempfile.mkdtemp(prefix=leftovers.prefix("writing"), dir=out.parent)
        yield Path(folder)
        os.chmod(folder, 0o755)  # noqa: S103 (as any folder a person makes; mkdtemp makes it private)
        with suppress(FileNotFoundError):
            out.rmdir()  # empty, as was seen; if something came in since, this fails and nothing is lost
        os.rename(folder, out)
    except OSError as error:
        raise CannotPrint(
            f"{out.name} cannot be written: {error.strerror or error}.", "Name another folder, or make room there."
        ) from None
    finally:
        if folder:
            shutil.rmtree(folder, ignore_errors=True)


def _check_target(out: Path, archive: Path) -> None:
    try:
        if out.resolve().is_relative_to(archive.resolve()):
            raise CannotPrint(f"{out.name!r} is inside the archive.", "Name a folder outside it.")
        if out.is_symlink() or (out.exists() and not out.is_dir()) or (out.is_dir() and any(out.iterdir())):
            raise CannotPrint(f"There is something at {str(out)!r} already.", "Name a new or empty folder.")
    except OSError as error:
        raise CannotPrint(f"{str(out)!r} cannot be looked into: {error.strerror}.", "Name another folder.") from None
