"""The data of Iconclass as the `iconclass` package carries them: notations, what stands under what, English words.

The package keeps everything in one zip beside its code, and would fetch what is missing from the network and write it
there; nothing is fetched or written here, because the zip is looked for first. Nor is a name ever looked up at
Wikidata, which the package does for names such as (wd:Q42).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from refarchive.errors import SubjectsUnavailable

ANY = "(...)"  # where Iconclass lets a name be filled in


@dataclass(frozen=True)
class Data:
    """Everything by notation, without keys; `keys` says which texts the keys of a notation have.

    `below` and `above` are the tree's two directions. A few thousand notations stand under two parents: 31AA1, female,
    under 31AA and under 31A1. `spelt` finds a notation whatever its case.
    """

    below: Mapping[str, tuple[str, ...]]
    above: Mapping[str, tuple[str, ...]]
    related: Mapping[str, tuple[str, ...]]
    texts: Mapping[str, str]
    keywords: Mapping[str, tuple[str, ...]]
    keys: Mapping[str, tuple[str, tuple[str, ...]]]
    spelt: Mapping[str, str]


def _source() -> Any:
    """The package's own reader. Raises SubjectsUnavailable where its data are not on this machine, or are damaged."""
    step = "Install it again: pip install --force-reinstall iconclass"
    try:
        import iconclass
    except ImportError as error:
        raise SubjectsUnavailable("The package iconclass, which carries the subjects, is missing.", step) from error
    if not (Path(iconclass.__file__).parent / "data.zip").is_file():
        raise SubjectsUnavailable("The package iconclass has lost its data.", step)
    try:
        source = iconclass.Iconclass()
        source.load("en")
    except Exception as error:
        raise SubjectsUnavailable(f"The data of the package iconclass cannot be read ({error}).", step) from error
    return source


@cache
def data() -> Data:
    """All of it, read once (about half a second, some 60 MB)."""
    source = _source()
    records: dict[str, dict[str, Any]] = {code: record for code, record in source._D.items() if code}
    below = {code: tuple(record.get("c", ())) for code, record in records.items()}
    above: dict[str, list[str]] = {code: [] for code in records}
    for code, narrower in below.items():
        for one in narrower:
            above[one].append(code)
    for code, broader in above.items():  # the one spelt most like it first: 31AA1 is shown under 31AA
        broader.sort(key=lambda other, code=code: (-_alike(code, other), other))  # type: ignore[misc]
    return Data(
        below=below,
        above={code: tuple(broader) for code, broader in above.items()},
        related={code: tuple(r for r in record.get("r", ()) if r in records) for code, record in records.items()},
        texts=source.texts["en"],
        keywords={code: tuple(dict.fromkeys(words)) for code, words in source.keywords["en"].items()},
        keys={code: (record["k"]["k"], tuple(record["k"]["s"])) for code, record in records.items() if "k" in record},
        spelt={code.casefold(): code for code in records},
    )


def _alike(code: str, other: str) -> int:
    """How many characters two notations begin with in common."""
    return next((n for n, (a, b) in enumerate(zip(code, other, strict=False)) if a != b), min(len(code), len(other)))
