"""Walking a folder, or one file, to see what lies there to be gathered. Nothing is opened.

Names are data: they may hold anything that a file system allows, and are made visible before anybody reads them.
Links are never followed out of the folder that was named.
"""

from __future__ import annotations

import hashlib
import os
import stat
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

LONGEST_SHOWN_NAME = 255
DEEPEST = 64  # folders within folders

# What operating systems, browsers and picture programs leave beside pictures.
_CLUTTER = frozenset(
    {"thumbs.db", "ehthumbs.db", "desktop.ini", "icon\r", "__macosx", "@eadir", "$recycle.bin", "lost+found"}
    | {"system volume information"}
)
_CLUTTER_SUFFIXES = (".xmp", ".thm", ".aae", ".tmp", ".part", ".crdownload", "~")


@dataclass(frozen=True)
class Found:
    """One regular file. `relative` has forward slashes and is always storable text, whatever the bytes of the name."""

    path: Path  # free of links below the folder that was named
    relative: str
    size: int  # bytes
    mtime_ns: int


@dataclass(frozen=True)
class Refusal:
    """One thing that cannot be gathered, and why; everything else goes on."""

    source: str  # shown name, relative to the folder
    problem: str
    next_step: str


def walk(source: Path) -> Iterator[Found | Refusal]:
    """Yield every file under a folder in the order of its names, or the one file named.

    Dot-files and what programs leave beside pictures are passed over in silence. Links out of the folder, links to
    folders, pipes, sockets and devices, and what cannot be read are yielded as refusals. Nothing is raised.
    A link that is itself the source is followed: the person named it.
    """
    source = Path(source)
    name = shown_name(source.name or str(source))
    try:
        root = source.resolve(strict=True)
        mode = root.stat().st_mode
    except (OSError, RuntimeError, ValueError) as error:  # RuntimeError: a loop of links, before Python 3.13
        yield _unreadable(name, error)
        return
    if stat.S_ISDIR(mode):
        yield from _folder(root, root, "", 0)
    elif stat.S_ISREG(mode):
        yield _found(root, _storable(source.name or root.name), root.stat())
    else:
        yield _not_a_file(name)


def _folder(folder: Path, root: Path, prefix: str, depth: int) -> Iterator[Found | Refusal]:
    try:
        with os.scandir(folder) as listing:
            entries = sorted(listing, key=lambda entry: os.fsencode(entry.name))
    except OSError as error:
        yield _unreadable(shown_name(prefix.rstrip("/")) or shown_name(folder.name), error)
        return
    for entry in entries:
        if _is_clutter(entry.name):
            continue
        relative = prefix + _storable(entry.name)
        path = folder / entry.name
        try:
            if entry.is_symlink():
                yield _link(path, root, relative)
            elif entry.is_dir(follow_symlinks=False):
                if depth >= DEEPEST:
                    shown = shown_name(relative)
                    yield Refusal(shown, f"{shown} lies more than {DEEPEST} folders deep.", "Gather it by itself.")
                else:
                    yield from _folder(path, root, f"{relative}/", depth + 1)
            elif entry.is_file(follow_symlinks=False):
                yield _found(path, relative, entry.stat(follow_symlinks=False))
            else:
                yield _not_a_file(shown_name(relative))
        except OSError as error:
            yield _unreadable(shown_name(relative), error)


def _link(path: Path, root: Path, relative: str) -> Found | Refusal:
    shown = shown_name(relative)
    try:
        target = path.resolve(strict=True)
        status = target.stat()
    except FileNotFoundError:
        return Refusal(shown, f"{shown} is a link to something that is not there.", "Put the file itself there.")
    except (OSError, RuntimeError):
        return Refusal(shown, f"{shown} is a link that leads in a circle.", "Remove it.")
    if not target.is_relative_to(root):
        return Refusal(
            shown,
            f"{shown} is a link that leads out of the folder.",
            "Copy the file into the folder, or gather the place it leads to.",
        )
    if stat.S_ISDIR(status.st_mode):
        return Refusal(
            shown, f"{shown} is a link to a folder.", "Nothing to do: that folder is gathered where it lies."
        )
    if not stat.S_ISREG(status.st_mode):
        return _not_a_file(shown)
    return _found(target, relative, status)


def _found(path: Path, relative: str, status: os.stat_result) -> Found:
    return Found(path=path, relative=relative, size=status.st_size, mtime_ns=status.st_mtime_ns)


def _not_a_file(shown: str) -> Refusal:
    return Refusal(shown, f"{shown} is a pipe, a socket or a device, not a file.", "Leave it out.")


def _unreadable(shown: str, error: Exception) -> Refusal:
    if isinstance(error, FileNotFoundError):
        return Refusal(shown, f"There is nothing at {shown}.", "Check the name.")
    if isinstance(error, PermissionError):
        return Refusal(shown, f"{shown} may not be read by this user.", "Change its permissions.")
    reason = error.strerror if isinstance(error, OSError) and error.strerror else "it cannot be followed"
    return Refusal(shown, f"{shown} cannot be read: {reason}.", "Check the name and the disk.")


def _is_clutter(name: str) -> bool:
    lower = name.lower()
    return name.startswith(".") or lower in _CLUTTER or lower.endswith(_CLUTTER_SUFFIXES)


def _storable(name: str) -> str:
    r"""The name as text that every database takes: bytes that are no UTF-8 stand as \xNN."""
    return os.fsencode(name).decode("utf-8", "backslashreplace")


def shown_name(name: str, longest: int = LONGEST_SHOWN_NAME) -> str:
    r"""A name with everything invisible or reordering made visible, at most `longest` characters.

    Control, format (bidirectional marks among them) and separator characters, and stray bytes, become [U+000A] and the
    like. A name that is too long loses its middle. The result still has to be escaped for HTML.

    >>> shown_name("sand\npilot\u202egnp.jpg")
    'sand[U+000A]pilot[U+202E]gnp.jpg'
    """
    if len(name) <= longest and name.isprintable():  # as nearly all are: nothing in it need be looked at
        return name
    if len(name) > 2 * longest:
        name = name[:longest] + "…" + name[-longest:]
    shown = "".join(f"[U+{ord(c):04X}]" if _must_be_shown(c) else c for c in name)
    if len(shown) > longest:
        head = longest // 2
        shown = f"{shown[:head]}…{shown[len(shown) - (longest - head - 1) :]}"
    return shown


def _must_be_shown(character: str) -> bool:
    return unicodedata.category(character) in ("Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp")


def root_key(path: Path) -> str:
    """A digest that stands for where a folder lies (for a file, its folder), so that no path need be kept."""
    place = Path(path).resolve()
    if not place.is_dir():
        place = place.parent
    return hashlib.sha256(b"refarchive source\0" + os.fsencode(place.as_posix())).hexdigest()[:32]
