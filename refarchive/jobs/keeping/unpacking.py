"""Unpacking an archive from one file: all of it, verified, or nothing.

What the pack says of itself is looked at before anything is written. Files then go into a hidden folder beside the
goal; when every one has given its digest, the folder takes its name. Killed or stopped midway, the hidden folder
stays, and the same call goes on in it where the pack is the same; refused, it is removed.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import stat
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, BinaryIO

from refarchive.errors import ArchiveInTheWay, ArchiveMissing, ArchiveUnwritable, PackRefused, RefArchiveError
from refarchive.jobs.keeping.pack_contents import travels
from refarchive.jobs.keeping.pack_database import refuse_unknown, version_of
from refarchive.jobs.keeping.pack_places import Progress, only_one
from refarchive.records import pack
from refarchive.records.files import settle
from refarchive.records.sqlite import DATABASE

_FOLDERS = ("originals", "previews", "vectors")


@dataclass
class Unpacked:
    """What was unpacked. `went_on` are bytes that an earlier run had unpacked; `told` are sentences."""

    archive: str
    database: str
    digest: str
    files: int
    bytes: int
    caches: bool
    went_on: int = 0

    @property
    def told(self) -> list[str]:
        """What to know of the new archive."""
        if self.caches:
            return []
        return ["The pack has no previews and vectors; make them anew with: refarchive verify ARCHIVE --repair"]

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {**asdict(self), "told": self.told}


def looked_into(file: Path, *, progress: Progress | None = None) -> pack.Contents:
    """What a pack holds, after every byte of it was verified; nothing is written. Raises as `unpacked` does."""
    with _opened(file) as source:
        contents = _contents(source)
        done = 0
        for member in contents.members:
            digest = hashlib.sha256()
            for piece in pack.pieces(source, member):
                digest.update(piece)
                done += len(piece)
                _tell(progress, done, contents.size, member)
            if digest.hexdigest() != member.sha256:
                raise pack.damaged(member)
    return contents


def unpacked(file: Path, folder: Path, *, progress: Progress | None = None) -> Unpacked:
    """Unpack the archive in `file` into the new folder `folder`.

    Stopped by what `progress` raises or in any other way, the same call goes on.

    Raises PackRefused or ArchiveTooNew where the pack is not whole and sound, ArchiveMissing where there is none,
    ArchiveInTheWay, ArchiveBusy, ArchiveUnwritable. The folder does not come to be then.
    """
    folder = Path(os.path.abspath(folder))
    with _opened(file) as source:
        contents = _contents(source)
        _check_goal(folder)
        with only_one(folder.with_name(f".{folder.name}.unpacking")):
            hidden = _hidden(folder, contents.digest)
            try:
                done = _unpack(source, contents, folder, hidden, progress)
            except PackRefused:
                shutil.rmtree(hidden, ignore_errors=True)
                raise
            except RefArchiveError:  # some of them are an OSError too
                raise
            except OSError as error:
                raise ArchiveUnwritable(
                    f"The archive cannot be unpacked to {folder.name!r}: {error.strerror or error}.",
                    "Make room there, or check the permissions, and give the same command again to go on.",
                ) from None
    return done


def _opened(file: Path) -> BinaryIO:
    try:
        if not stat.S_ISREG(os.stat(file).st_mode):
            raise PackRefused(f"{file.name!r} is not a file.", "Name the file of a pack.")
        return open(file, "rb", buffering=pack.CHUNK)
    except FileNotFoundError:
        raise ArchiveMissing(f"There is no file {str(file)!r}.", "Name the file of a pack.") from None
    except OSError as error:
        raise PackRefused(f"{file.name!r} cannot be read: {error.strerror}.", "Check its permissions.") from None


def _contents(source: BinaryIO) -> pack.Contents:
    """What the pack holds, refused where an archive would not hold it or this program not read it."""
    try:
        contents = pack.read_contents(source)
    except OSError as error:
        raise PackRefused(f"The pack cannot be read: {error.strerror}.", "Copy it to another disk first.") from None
    names = [member.name.removeprefix(pack.INSIDE) for member in contents.members]
    if strange := next((name for name in names if not travels(name) or name.casefold() in _FOLDERS), None):
        raise PackRefused(f"The file holds {strange!r}, which belongs in no pack.", "Ask for another copy.")
    if DATABASE not in names:
        raise PackRefused("The pack holds no database.", "Ask for another copy.")
    refuse_unknown(str(contents.head["database"]), "The database in the pack")
    return contents


def _check_goal(folder: Path) -> None:
    if os.path.lexists(folder):
        raise ArchiveInTheWay(f"There is something at {str(folder)!r} already.", "Name a new folder.")
    if not folder.parent.is_dir():
        raise ArchiveUnwritable(f"There is no folder {str(folder.parent)!r}.", "Make the folder first.")


def _hidden(folder: Path, digest: str) -> Path:
    """The hidden folder for this pack; those that other packs left are removed, and one with links in it too."""
    begin = f".{folder.name}.unpacking-"
    goal = folder.with_name(begin + digest[:32])
    for found in folder.parent.iterdir():
        if found.name.startswith(begin) and (found != goal or not _plain(found)):
            with suppress(OSError):
                found.unlink() if found.is_symlink() else shutil.rmtree(found)
    return goal


def _plain(folder: Path) -> bool:
    """Whether there is nothing but folders and files, and no link by which one would write elsewhere."""
    if folder.is_symlink() or not folder.is_dir():
        return False
    for place, folders, files in os.walk(folder):
        for name in (*folders, *files):
            kind = os.lstat(os.path.join(place, name)).st_mode
            if not (stat.S_ISDIR(kind) or stat.S_ISREG(kind)):
                return False
    return True


def _unpack(
    source: BinaryIO, contents: pack.Contents, folder: Path, hidden: Path, progress: Progress | None
) -> Unpacked:
    head = contents.head
    size = contents.size
    done = Unpacked(
        str(folder), str(head["database"]), contents.digest, len(contents.members), size, bool(head.get("caches", True))
    )
    _check_space(hidden, contents)
    hidden.mkdir(mode=0o755, exist_ok=True)
    for name in _FOLDERS:
        (hidden / name).mkdir(exist_ok=True)
    wanted, at = set(), 0
    for member in contents.members:
        goal = hidden / member.name.removeprefix(pack.INSIDE)
        wanted.add(goal)
        if _stands(goal, member):
            done.went_on += member.size
            at += member.size
            _tell(progress, at, size, member)
            continue
        goal.parent.mkdir(parents=True, exist_ok=True)
        with suppress(FileNotFoundError):
            goal.unlink()
        digest = hashlib.sha256()
        with open(goal, "xb", buffering=0) as target:
            for piece in pack.pieces(source, member):
                digest.update(piece)
                target.write(piece)
                at += len(piece)
                _tell(progress, at, size, member)
            if digest.hexdigest() != member.sha256:
                raise pack.damaged(member)
            os.chmod(goal, pack.mode(member.name))
    if version_of(hidden / DATABASE) != done.database:
        raise PackRefused("The database in the pack is not the one that it names.", "Ask for another copy.")
    for stray in _strays(hidden, wanted):
        stray.unlink()
    _take_place(hidden, folder)
    return done


def _tell(progress: Progress | None, at: int, size: int, member: pack.Member) -> None:
    if progress is not None:
        progress(at, size, member.name.removeprefix(pack.INSIDE))


def _check_space(hidden: Path, contents: pack.Contents) -> None:
    there = sum(path.stat().st_size for path in hidden.rglob("*") if path.is_file()) if hidden.is_dir() else 0
    wanted = contents.size - there
    free = shutil.disk_usage(hidden.parent).free
    if wanted > free:
        raise ArchiveUnwritable(
            f"The archive takes {wanted / 1e6:,.0f} MB more, and {free / 1e6:,.0f} MB are free there.",
            "Make room, or name a folder on another disk.",
        )


def _stands(goal: Path, member: pack.Member) -> bool:
    """Whether an earlier run unpacked this file whole: its bytes are read and give the digest."""
    try:
        if goal.stat().st_size != member.size:
            return False
        with open(goal, "rb") as file:
            if hashlib.file_digest(file, "sha256").hexdigest() != member.sha256:
                return False
        os.chmod(goal, pack.mode(member.name))
    except OSError:
        return False
    return True


def _strays(hidden: Path, wanted: set[Path]) -> Iterator[Path]:
    """Files that this pack does not hold."""
    yield from [path for path in hidden.rglob("*") if not path.is_dir() and path not in wanted]


def _take_place(hidden: Path, folder: Path) -> None:
    """Bring all to the disk, then give the folder its name, never in the place of something else."""
    for path in (*hidden.rglob("*"), hidden):
        _sync(path)
    try:
        os.rename(hidden, folder)  # fails where a file, or a folder with anything in it, came to be meanwhile
    except OSError:
        if not os.path.lexists(folder):
            raise
        raise ArchiveInTheWay(
            f"Something came to lie at {str(folder)!r} meanwhile.", "Move it away and give the same command again."
        ) from None
    settle(folder.parent)


def _sync(path: Path) -> None:
    if path.is_dir():
        settle(path)
        return
    if os.name == "nt":  # where only what is open for writing can be synced
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
