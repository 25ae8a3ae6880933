"""Opening files that anybody may have put there: regular ones alone, and never more of one than a stated size.

A named pipe would be waited for without end and a device read without end; both are refused before they are opened, and
once more behind it, for what lies at a name can be changed in between.
"""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO

REFUSED = frozenset({errno.EINVAL, errno.EISDIR, errno.EFBIG})  # no regular file, a folder, too large
_HOW = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)


def open_regular(path: Path) -> BinaryIO:
    """A regular file, opened for reading its bytes.

    Raises
    ------
    OSError
        where there is none, or it is a folder, a pipe, a socket or a device; its `strerror` says so.
    """
    _refuse(os.stat(path), path)
    handle = os.open(path, _HOW)
    try:
        _refuse(os.fstat(handle), path)
    except OSError:
        os.close(handle)
        raise
    return os.fdopen(handle, "rb")


def read_bounded(path: Path, largest: int) -> bytes:
    """All bytes of a regular file of at most `largest` bytes.

    Raises
    ------
    OSError
        as `open_regular`, and for a larger file; its `strerror` says so.
    """
    with open_regular(path) as file:
        data = file.read(largest + 1)
    if len(data) > largest:
        raise OSError(errno.EFBIG, f"it is larger than {_size(largest)}", str(path))
    return data


def _refuse(state: os.stat_result, path: Path) -> None:
    if stat.S_ISDIR(state.st_mode):
        raise OSError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    if not stat.S_ISREG(state.st_mode):
        raise OSError(errno.EINVAL, "it is a pipe, a socket or a device, not a file", str(path))


def _size(count: int) -> str:
    return f"{count / 1e6:,.0f} MB" if count >= 1_000_000 else f"{count:,} bytes"
