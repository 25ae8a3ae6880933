"""Names that files can have on every system, so that what was packed on one can be unpacked on any other."""

from __future__ import annotations

import unicodedata

from refarchive.errors import PackRefused

LONGEST_NAME = 255  # bytes of one part in UTF-8: the least of the usual file systems
LONGEST_PATH = 1_000  # bytes
_FORBIDDEN = frozenset('\\:*?"<>|')  # Windows; a colon also begins drive letters and hidden streams
# Windows, https://learn.microsoft.com/windows/win32/fileio/naming-a-file
_RESERVED = frozenset({"con", "prn", "aux", "nul", *(f"{p}{n}" for p in ("com", "lpt") for n in "123456789¹²³")})


def unportable(name: str) -> str:
    """What is wrong with a relative path with `/`, as the end of a sentence; "" where nothing is.

    >>> unportable("originals/ab/picture.jpg"), unportable("../outside")
    ('', 'leads out of its folder')
    """
    try:
        encoded = name.encode("utf-8")
    except UnicodeEncodeError:
        return "is not valid Unicode"
    parts = name.split("/")
    if not name or name.startswith("/"):
        return "is no path inside a folder"
    if ".." in parts:
        return "leads out of its folder"
    if "" in parts or "." in parts:
        return "is no plain path"
    if any(ord(sign) < 32 or 127 <= ord(sign) < 160 or sign in "\u2028\u2029" for sign in name):
        return "has a control character"
    if strange := next((sign for sign in name if sign in _FORBIDDEN), ""):
        return f"has the character {strange}"
    if len(encoded) > LONGEST_PATH or any(len(part.encode()) > LONGEST_NAME for part in parts):
        return "is too long"
    if any(part[-1] in " ." or part[0] == " " for part in parts):
        return "has a part that begins or ends with a space, or ends with a full stop"
    if any(part.partition(".")[0].rstrip().casefold() in _RESERVED for part in parts):
        return "is one that Windows keeps for itself"
    return ""


class Names:
    """Paths met so far: each must be portable, and none may stand where another does on any system.

    Systems differ in whether they tell apart capitals, or two ways to write one accented letter.
    """

    def __init__(self) -> None:
        self._files: set[str] = set()
        self._folders: set[str] = set()

    def add(self, name: str) -> None:
        """Take a path in. Raises PackRefused."""
        if wrong := unportable(name):
            raise PackRefused(
                f"The name {name[:200]!r} {wrong}.", "Other systems could not hold it; rename the file, then pack anew."
            )
        parts = _alike(name).split("/")
        whole = "/".join(parts)
        above = {"/".join(parts[:n]) for n in range(1, len(parts))}
        if whole in self._files or whole in self._folders or above & self._files:
            raise PackRefused(
                f"The name {name[:200]!r} stands for the same place as another one does on some systems.",
                "Rename one of the two, then pack anew.",
            )
        self._files.add(whole)
        self._folders |= above


def _alike(name: str) -> str:
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())
