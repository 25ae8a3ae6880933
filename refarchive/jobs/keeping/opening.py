"""Making an archive and opening one: in a folder of its own, or in a database and a folder that several people share.

Originals of a shared archive lie as files in a folder that everybody mounts: they are large, never altered, and named
by their content, so that two people who keep the same file at once cannot disagree. In the database they would swell
every backup of it. The folder carries a mark that the database knows: a share that is not mounted is told from it.
"""

from __future__ import annotations

import secrets
import shutil
from contextlib import suppress
from pathlib import Path

from refarchive.errors import (
    ArchiveAway,
    ArchiveBusy,
    ArchiveDamaged,
    ArchiveInTheWay,
    ArchiveMissing,
    ArchiveUnwritable,
    BadQuery,
)
from refarchive.jobs.kit import Kit
from refarchive.jobs.references import reencoding
from refarchive.records import shared as places
from refarchive.records.bounded import open_regular
from refarchive.records.files import Files
from refarchive.records.shared import Shared
from refarchive.records.store import Store

FOLDERS = ("originals", "previews", "vectors")
MARK = "shared.mark"  # in the folder of originals; its text is the setting of the same name


def make(folder: Path, encoder: str, who: str, shared: Shared | None = None) -> None:
    """Make an archive in a folder that is empty or not there yet; nothing is left behind where it fails.

    Raises ArchiveInTheWay, UnknownEncoder, WeightsUnavailable, and what the database refuses.
    """
    from refarchive import encoders

    _refuse_occupied(folder)
    name, why = encoders.choose(encoder)
    files = _files_of(folder, shared)
    if (files / MARK).exists():
        raise ArchiveInTheWay(f"{str(files)!r} holds the originals of another archive.", "Name a folder of its own.")
    with _made(folder):
        for sub in FOLDERS:
            (files / sub if sub != "vectors" else folder / sub).mkdir(exist_ok=shared is not None)
        with Store.create(folder, who, shared) as store:
            if shared is not None:
                mark = secrets.token_hex(16)
                store.set_setting(MARK, mark)
                (files / MARK).write_text(mark + "\n", "ascii")
            store.set_setting("encoder", {"name": name, "why": why})


def join(folder: Path, who: str, shared: Shared) -> None:
    """Make a folder of one's own for an archive that others share already. Nothing of theirs is changed.

    Raises ArchiveInTheWay, ArchiveMissing where the database holds no archive, ArchiveAway for another folder of
    originals than the archive's.
    """
    _refuse_occupied(folder)
    files = _files_of(folder, shared)
    with _made(folder):
        (folder / "vectors").mkdir()
        places.write(folder, shared)
        with Store.open(folder, who) as store:
            _check_mark(store, files)


def opened(folder: Path, who: str) -> Kit:
    """What works with the archive in a folder. Raises ArchiveMissing, ArchiveDamaged, ArchiveAway, as Store.open."""
    if str(folder).startswith(("postgresql:", "postgres:")):  # not repeated: a password might stand in it
        raise ArchiveMissing(
            "The address of a database stands where an archive's folder is expected.",
            "Name the folder that was made for it with: refarchive new postgresql://HOST/DATABASE FOLDER",
        )
    if not folder.is_dir():
        raise ArchiveMissing(f"There is no folder {str(folder)!r}.", f"Make one with: refarchive new {str(folder)!r}")
    store = Store.open(folder, who)
    try:
        chosen = store.setting("encoder")
        if not isinstance(chosen, dict) or not isinstance(chosen.get("name"), str):
            raise ArchiveDamaged("The archive does not say which encoder it uses.", "Restore a backup.")
        root = folder
        if store.shared is not None:
            root = _files_of(folder, places.read(folder))
            _check_mark(store, root)
    except BaseException:
        store.close()
        raise
    files = Files(root)
    with suppress(OSError):  # a read-only archive is still of use
        files.sweep()
    kit = Kit(store, files, folder, chosen["name"])
    with suppress(ArchiveUnwritable, ArchiveBusy):  # what cannot be put in place now is at the next opening
        reencoding.finish(kit)
    return kit


def _files_of(folder: Path, shared: Shared | None) -> Path:
    if shared is None or not shared.files:
        return folder
    files = Path(shared.files)
    if not files.is_absolute():
        raise BadQuery("The folder of originals is named by half a path.", "Name it whole, from the root.")
    if not files.is_dir():
        raise ArchiveAway(
            f"There is no folder {shared.files!r}, where the archive's originals lie.",
            f"Mount it, or correct {places.POINTER} in the archive's folder.",
        )
    return files


def _check_mark(store: Store, files: Path) -> None:
    try:
        found = _first(files / MARK, 100).decode("ascii").strip()
    except (OSError, ValueError):
        found = ""
    if not found or found != store.setting(MARK):
        raise ArchiveAway(
            f"{str(files)!r} is not the folder where this archive's originals lie.",
            "Mount the folder that everybody shares, and name it: --files FOLDER with refarchive new, or "
            f"files in {places.POINTER}.",
        )


def _first(path: Path, count: int) -> bytes:
    with open_regular(path) as file:
        return file.read(count)


def _refuse_occupied(folder: Path) -> None:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ArchiveInTheWay(f"There is something at {str(folder)!r} already.", "Choose a new or empty folder.")


class _made:  # noqa: N801 (reads as a word in a with)
    """A folder that goes again, with what an archive puts there, where the block fails."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._fresh = folder, not folder.exists()

    def __enter__(self) -> None:
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise ArchiveUnwritable(f"No folder can be made there ({error}).", "Choose another place.") from None

    def __exit__(self, kind: object, error: object, trace: object) -> None:
        if kind is None:
            return
        for sub in FOLDERS:
            shutil.rmtree(self._folder / sub, ignore_errors=True)
        for file in (*self._folder.glob("archive.sqlite*"), *self._folder.glob("shared.*")):
            with suppress(OSError):
                file.unlink()
        if self._fresh:
            with suppress(OSError):
                self._folder.rmdir()
