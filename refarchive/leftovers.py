"""Names of files that are still being written, so that what a killed program left behind is known for nobody's.

Folders for a moment, in the system's own for temporary files, are named in the same way.

Such a file says who writes it: the machine and the process. A process that is gone will not come back for it. Of
another machine's (an archive on a shared disk) only age can tell.
"""

from __future__ import annotations

import hashlib
import math
import os
import platform
import shutil
import tempfile
import time
from collections.abc import Iterable
from contextlib import suppress
from functools import cache
from pathlib import Path

STALE_S = 3600.0  # age from which a half-made file of unknown origin is nobody's
OURS_ALONE = math.inf  # instead of an age, outside an archive: what a program of this machine wrote that is gone


def prefix(kind: str) -> str:
    """The beginning of a temporary name: a dot, the kind of work ("taking", "making", "writing"), who writes."""
    return f".{kind}-{_machine()}-{os.getpid()}-"


def sweep(paths: Iterable[Path], older_than_s: float = STALE_S) -> int:
    """Remove those half-made files and folders that nobody writes any more; how many. What cannot be is left."""
    limit = time.time() - older_than_s
    swept = 0
    for path in paths:
        with suppress(OSError):
            if path.stat().st_mtime >= limit and not _abandoned(path.name):
                continue
            if path.is_dir():
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink()
            swept += 1
    return swept


def temporary(kind: str) -> tempfile.TemporaryDirectory[str]:
    """A folder that is gone when `with` is left, or at `cleanup`; before the first, what killed programs left is."""
    _clear(tempfile.gettempdir())
    return tempfile.TemporaryDirectory(prefix=prefix(f"refarchive_{kind}"))


@cache
def _clear(place: str) -> None:
    sweep(Path(place).glob(".refarchive_*"), OURS_ALONE)


def _abandoned(name: str) -> bool:
    parts = name.split("-")
    if len(parts) < 4 or parts[1] != _machine() or not parts[2].isdigit() or os.name != "posix":
        return False
    try:
        os.kill(int(parts[2]), 0)  # asks only whether it is there
    except ProcessLookupError:
        return True
    except (OSError, OverflowError):
        return False  # somebody else's
    return False


def _machine() -> str:
    return hashlib.sha256(platform.node().encode("utf-8", "replace")).hexdigest()[:8]
