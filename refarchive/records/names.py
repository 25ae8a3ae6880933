"""Names of files made of what people, cameras and other archives call them."""

from __future__ import annotations

import re
import unicodedata

LONGEST = 200  # bytes, of the 255 that most disks take, so that something can be added
_RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])(\.|$)")  # on Windows, with any ending


def file_name(name: str, most: int = LONGEST) -> str:
    r"""A name that every system takes for a file in the folder it is put into, near to the one given.

    Letters of all scripts and the ending stay; what is no letter, mark, digit or one of space . _ - ( ) becomes _.
    `most` is in bytes of UTF-8. Source of what is not allowed: Microsoft, Naming Files, Paths, and Namespaces.

    >>> file_name("../Deep\\ford: low water?.JPG"), file_name("con.txt"), file_name("..")
    ('ford_ low water_.JPG', '_con.txt', 'file')
    """
    last = name.replace("\\", "/").rpartition("/")[2]
    kept = "".join(c if c in " ._-()" or unicodedata.category(c)[0] in "LMN" else "_" for c in last).strip(" .")
    stem, dot, ending = kept.rpartition(".")
    if not dot or len(ending.encode()) > 16:
        stem, dot, ending = kept, "", ""
    stem = f"_{stem}" if _RESERVED.match(f"{stem}{dot}") else stem
    stem = stem.encode()[: most - len(f"{dot}{ending}".encode())].decode("utf-8", "ignore").rstrip(" .")
    return f"{stem}{dot}{ending}" if stem else ending or "file"
