"""Watching what a process does while it reads something hostile: files written, hosts asked, programs started.

An audit hook (`sys.addaudithook`) cannot be taken out again, so it belongs into a process of its own. It notes, and
stops nothing: an error raised from it could be swallowed by the very code that is watched. C libraries that open files
on their own account (SQLite, LibRaw, libtiff) raise no audit event; what they leave behind is seen by `left_behind`.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

_WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
# Events that change the disk, and which of their arguments are a path and the open folder that it is relative to.
_PATHS: dict[str, tuple[tuple[int, int], ...]] = {
    "os.mkdir": ((0, 2),), "os.rename": ((0, 2), (1, 3)), "os.remove": ((0, 1),), "os.rmdir": ((0, 1),),
    "os.link": ((1, 3),), "os.symlink": ((1, 2),), "os.truncate": ((0, -1),), "os.chmod": ((0, 2),),
    "os.chown": ((0, 3),), "os.utime": ((0, 3),), "sqlite3.connect": ((0, -1),),
}  # fmt: skip
_NETWORK = frozenset(
    "socket.connect socket.sendto socket.sendmsg socket.bind socket.getaddrinfo socket.gethostbyname "
    "socket.gethostbyaddr socket.getnameinfo urllib.Request http.client.connect ftplib.connect smtplib.connect".split()
)
_PROGRAMS = frozenset("subprocess.Popen os.system os.exec os.posix_spawn os.fork os.forkpty".split())
_CODE = frozenset({"pickle.find_class"})  # a pickle may name any code
_NO_HARM = frozenset({os.devnull})
_OF_LIBRARIES = frozenset({"fc-list", "/sbin/ldconfig"})  # matplotlib looks for fonts, ctypes for a library


class Watch:
    """What was done while `noting`, a line each; `inside` are the folders that may be written to."""

    def __init__(self, *inside: Path, programs: bool = False) -> None:
        self.inside = [os.path.realpath(one) for one in inside]
        self.programs = programs  # whether this very Python, or what libraries look for, may be started
        self.seen: list[str] = []
        self._on = False
        sys.addaudithook(self._hook)

    @contextmanager
    def noting(self) -> Iterator[list[str]]:
        """Note for as long as the block lasts, from an empty list on."""
        self.seen.clear()
        self._on = True
        try:
            yield self.seen
        finally:
            self._on = False

    def _hook(self, event: str, args: tuple[Any, ...]) -> None:
        if not self._on:
            return
        if event == "open":
            path, mode, flags = args
            writes = any(c in mode for c in "wax+") if isinstance(mode, str) else bool((flags or 0) & _WRITES)
            if writes and not self._may(path):
                self.seen.append(f"wrote to {path!r}")
        elif event in _PATHS:
            for path_at, folder_at in _PATHS[event]:
                folder = args[folder_at] if 0 <= folder_at < len(args) else -1
                path = _of_database(args[path_at]) if event == "sqlite3.connect" else args[path_at]
                if path != ":memory:" and not self._may(path, folder, itself=True):
                    self.seen.append(f"{event} {args[path_at]!r}")
        elif event in _NETWORK or event in _CODE:
            self.seen.append(f"{event} {args[:3]!r}"[:300])
        elif event in _PROGRAMS and not (self.programs and str(args[0]) in (sys.executable, *_OF_LIBRARIES)):
            self.seen.append(f"{event} {args[:2]!r}"[:300])

    def _may(self, path: object, folder: object = -1, *, itself: bool = False) -> bool:
        """Whether a path lies inside; `itself`: a link at its end is meant, and not what it leads to."""
        if isinstance(path, int):  # a file that is open already
            return True
        try:
            base = os.readlink(f"/proc/self/fd/{folder}") if isinstance(folder, int) and folder >= 0 else ""
            named = os.path.join(base, os.fsdecode(path))  # type: ignore[arg-type]
            above, name = os.path.split(named.rstrip(os.sep))
            whole = os.path.join(os.path.realpath(above), name) if itself else os.path.realpath(named)
        except (OSError, TypeError, ValueError):  # "\\0" in it: no file of that name can be
            return True
        return whole in _NO_HARM or any(whole == one or whole.startswith(one + os.sep) for one in self.inside)


def _of_database(path: object) -> object:
    """The file that SQLite is told of by an address."""
    if isinstance(path, str) and path.startswith("file:"):
        return unquote(urlsplit(path).path)
    return path


def left_behind(*folders: Path) -> set[str]:
    """Every name beneath some folders, to be compared before and after."""
    return {str(path) for folder in folders for path in folder.rglob("*")}
