"""What goes out with a finished picture, as it is said in a panel or on the command line: read, refused, kept."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields, replace
from typing import Any

from refarchive.errors import BadQuery, RecordRefused
from refarchive.jobs.kit import Kit
from refarchive.records.model import Frame
from refarchive.records.wall import Edition, Leave, Part, Particulars, Place

TEXTS = (
    "title", "headline", "caption", "note", "alt_text", "creator", "credit_line", "copyright_notice", "usage_terms",
    "web_statement", "rights", "created", "event", "source_type",
)  # fmt: skip
LISTS = ("keywords", "persons", "thanks")
ROWS = {"leaves": Leave, "parts": Part, "editions": Edition}
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


def say(kit: Kit, frame: Frame, values: Mapping[str, Any], expected: int | None) -> int:
    """Change what is said of a picture; keys are fields of `Particulars`, what is not named stays. Its revision.

    Raises BadQuery for a key or a value that cannot be, RecordRefused, ChangedMeanwhile; nothing is changed then.
    """
    now, revision = kit.store.after.particulars(frame.id)
    # What is not named is put back as it was read here: nobody else's change may come in between.
    told = replace(now, **read(values, now))
    return kit.store.after.put_particulars(told, expected=revision if expected is None else expected)


def read(values: Mapping[str, Any], now: Particulars) -> dict[str, Any]:
    """Values as they are said, as fields of `Particulars`. Raises BadQuery."""
    said: dict[str, Any] = {}
    for key, value in values.items():
        if key in TEXTS:
            said[key] = _text(key, value)
        elif key in LISTS:
            said[key] = tuple(text for one in _list(key, value) if (text := _text(key, one)))
        elif key == "contributors":
            pairs = (
                list(value.items()) if isinstance(value, Mapping) else [_pair(key, one) for one in _list(key, value)]
            )
            said[key] = tuple((_text(key, name), _text(key, role)) for name, role in pairs if _text(key, name))
        elif key in ("taken_at", "shown"):
            said[key] = _place(key, value, getattr(now, key))
        elif key in ROWS:
            said[key] = tuple(_row(ROWS[key], key, one) for one in _list(key, value))
        else:
            known = [one.name for one in fields(Particulars) if one.name != "frame"]
            raise BadQuery(f"Nothing called {key[:40]!r} goes out with a picture.", f"There are: {', '.join(known)}.")
    if day := said.get("created"):
        _day("created", day)
    return said


def plain(told: Particulars) -> dict[str, Any]:
    """Particulars as JSON, as a form holds them."""
    document = asdict(told)
    document["contributors"] = [list(pair) for pair in told.contributors]
    return document


def _text(key: str, value: Any) -> str:
    if value is None:
        return ""
    if not isinstance(value, str):
        raise BadQuery(f"{_called(key)} is a text.", "Write it as words.")
    return value.strip()


def _list(key: str, value: Any) -> Sequence[Any]:
    if isinstance(value, str) or not isinstance(value, Sequence):
        raise BadQuery(f"{_called(key)} is a list.", "Give one after another.")
    return value


def _pair(key: str, value: Any) -> tuple[Any, Any]:
    pair = _list(key, value)
    if len(pair) != 2:
        raise BadQuery(f"{_called(key)} are pairs of a name and a role.", "Give both, the role may be empty.")
    return pair[0], pair[1]


def _called(key: str) -> str:
    return key.replace("_", " ").capitalize()


def _day(key: str, value: str) -> str:
    from datetime import date

    try:
        if not _DAY.fullmatch(value):
            raise ValueError
        date.fromisoformat(value)
    except ValueError:
        raise BadQuery(f"{_called(key)}: {value[:40]!r} is no day.", "Give it as 2027-10-11.") from None
    return value


def _place(key: str, value: Any, now: Place) -> Place:
    if not isinstance(value, Mapping):
        raise BadQuery(f"{_called(key)} is a place.", "Give its parts by name.")
    known = {one.name for one in fields(Place)}
    if unknown := set(value) - known:
        raise BadQuery(f"A place has no {sorted(unknown)[0][:40]!r}.", f"It has: {', '.join(sorted(known))}.")
    said: dict[str, Any] = {}
    for name, one in value.items():
        most = {"latitude": 90.0, "longitude": 180.0}.get(name)
        said[name] = _text(name, one) if most is None else _degrees(name, one, most)
    return replace(now, **said)


def _degrees(name: str, value: Any, most: float) -> float | None:
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    number = _number(name, value)
    if not -most <= number <= most:
        raise BadQuery(f"{_called(name)} lies between −{most:.0f} and {most:.0f} degrees.", "Give decimal degrees.")
    return number


def _number(name: str, value: Any) -> float:
    try:
        number = float(value.replace(",", ".")) if isinstance(value, str) else float(value)
    except (TypeError, ValueError):
        raise BadQuery(f"{_called(name)}: {str(value)[:40]!r} is no number.", "Write it with digits.") from None
    except OverflowError:  # a whole number beyond what a float holds
        number = float("inf")
    if number != number or abs(number) > 1e9:
        raise BadQuery(f"{_called(name)} is out of all bounds.", "Write it with digits.")
    return number


def _row(kind: type[Any], key: str, value: Any) -> Any:
    """One permission, part or edition."""
    if not isinstance(value, Mapping):
        raise BadQuery(f"One of the {key} is no row of values.", "Give its parts by name.")
    hints = {one.name: str(one.type) for one in fields(kind)}
    if unknown := set(value) - set(hints):
        raise BadQuery(f"The {key} have no {sorted(unknown)[0][:40]!r}.", f"They have: {', '.join(hints)}.")
    said: dict[str, Any] = {}
    for name, one in value.items():
        if name == "region":
            said[name] = _region(one)
        elif hints[name] == "float":
            said[name] = _number(name, one)
        elif hints[name] == "int":
            number = _number(name, one if str(one).strip() else 0)
            if number != int(number):
                raise BadQuery(f"{_called(name)} is a whole number.", "Count pieces.")
            said[name] = int(number)
        elif name == "until" and _text(name, one):
            said[name] = _day(name, _text(name, one))
        else:
            said[name] = _text(name, one)
    try:
        return kind(**said)
    except TypeError:
        raise RecordRefused(f"One of the {key} lacks a value.", f"It needs: {', '.join(hints)}.") from None


def _region(value: Any) -> tuple[float, float, float, float]:
    parts = [_number("region", one) for one in _list("region", value)]
    if len(parts) != 4:
        raise BadQuery("A region is four numbers.", "Mark it again.")
    return (parts[0], parts[1], parts[2], parts[3])
