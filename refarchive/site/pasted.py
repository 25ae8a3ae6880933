"""Harmonic constituents from a table that a person pastes, as tide agencies print them.

A figure in the wrong column gives a tide that looks like any other, so what can be read in two ways is refused.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from refarchive.errors import SiteRefused
from refarchive.site import constituents as harmonics
from refarchive.site.instants import number
from refarchive.site.tide import Constituent

MOST_CHARACTERS, MOST_ROWS = 50_000, 500
UNITS_M = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048}  # the international foot is 0.3048 m
SPEED_WITHIN = 0.01  # of a constituent's speed, as it is printed [°/h]
_HOW = "Write each row as: M2; 1.063; 10.8"
_FIGURE = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)(e[+-]?\d+)?", re.IGNORECASE)
_UNIT = re.compile(r"\b(cm|mm|m|met(?:er|re)s?|ft|feet|foot)\b", re.IGNORECASE)
_HEADINGS = {
    "name": re.compile(r"name|constituent|constituents|symbol|const\.?"),
    "amplitude": re.compile(r"amp\b.*|amplitudes?\b.*|h\b.*"),
    "phase": re.compile(r".*phase\b.*|g\b.*"),
}
_LOCAL = re.compile(r".*\b(local|lst)\b.*")


@dataclass(frozen=True)
class _Columns:
    """In which cells they stand, how many cells the heading has, and the unit it names."""

    name: int
    amplitude: int
    phase: int
    speed: tuple[int, ...]
    cells: int
    unit: str


def read_constituents(text: str, unit: str = "") -> tuple[Constituent, ...]:
    """Constituents pasted as a table: name, amplitude and phase [°], one constituent a row.

    Cells are parted by semicolons, tabs, commas or blanks. A heading may stand above them: it says in which order they
    are, and the unit of the amplitude; of two phases the one not called local is taken. Without it they are name,
    amplitude and phase, perhaps after a row number and before the speed [°/h] and words. A comma may be a decimal point
    where commas part no cells. Rows with # in front and empty ones are passed over. `unit` is m, cm, mm or ft; without
    it the heading's, or metres. Phases are given on as they stand, for whatever clock.

    Raises
    ------
    SiteRefused
        for a table that is too long or empty, an unknown unit, and a row with an unknown or repeated name, a figure
        missing, none, out of range or in doubt; rows are counted as they stand in the text, from 1.
    """
    if len(text) > MOST_CHARACTERS or text.count("\n") >= MOST_ROWS:
        raise SiteRefused(
            f"constituents: the table is longer than {MOST_ROWS} rows or {MOST_CHARACTERS} characters.",
            "Paste the constituents of one station.",
            field="constituents",
        )
    given = _unit(unit) if unit else ""
    rows = [(n, line.rstrip("\r ")) for n, line in enumerate(text.split("\n"), 1)]
    rows = [(n, line) for n, line in rows if line.strip() and not _comment(line)]
    if not rows:
        raise SiteRefused("constituents: there are none.", _HOW, field="constituents")
    columns = _heading(*rows[0])
    if columns:
        rows = rows[1:]
        if given and columns.unit and given != columns.unit:
            raise SiteRefused(
                f"unit: the heading says {columns.unit}, and {given} was given.", "Let them agree.", field="unit"
            )
    metres = UNITS_M[given or (columns.unit if columns else "") or "m"]
    first: dict[str, int] = {}
    found: list[Constituent] = []
    for n, line in rows:
        one = _row(n, line, columns, metres)
        if one.name in first:
            raise _refused(n, "", f"{one.name} stands twice, in row {first[one.name]} too", "Leave one of them out.")
        first[one.name] = n
        found.append(one)
    if not found:
        raise SiteRefused("constituents: there is a heading and no row.", _HOW, field="constituents")
    return tuple(found)


def _row(n: int, line: str, columns: _Columns | None, metres: float) -> Constituent:
    cells, by_comma = _cells(line)
    if columns is None or columns.cells == 0:
        if len(cells) > 1 and cells[0].isdigit() and not _FIGURE.fullmatch(cells[1]):
            cells = cells[1:]
        at, more = (0, 1, 2), cells[3:]
    else:
        if by_comma and len(cells) > columns.cells:
            raise _refused(n, "", "it has more cells than the heading", "Part cells by semicolons.")
        at, more = (columns.name, columns.amplitude, columns.phase), [cells[i] for i in columns.speed if i < len(cells)]
    text = [cells[place] if place < len(cells) else "" for place in at]
    if by_comma and re.fullmatch(r"0\d+", text[2]):
        raise _refused(n, "phase", f"{text[2]} may be the rest of an amplitude", "Part cells by semicolons.")
    name = harmonics.named(text[0], f"constituents, row {n}, name")
    amplitude = _figure(n, "amplitude", text[1]) * metres
    phase = _figure(n, "phase", text[2])
    speed = harmonics.speed_deg_h(name)
    for extra in more:
        if _FIGURE.fullmatch(extra) and abs(float(extra.replace(",", ".")) - speed) > SPEED_WITHIN:
            raise _refused(
                n, "", f"{extra} is one figure too many, or not the speed of {name}, {speed:.3f}°/h",
                "Write decimal points instead of commas, or part cells by semicolons.",
            )  # fmt: skip
    where = f"constituents, row {n} ({name})"
    return Constituent(
        name, number(amplitude, f"{where}, amplitude_m", 0, 20, "m"),
        number(phase, f"{where}, phase_deg", -360, 720, "degrees"),
    )  # fmt: skip


def _heading(n: int, line: str) -> _Columns | None:
    """What a first row says of the columns; None where it is a row of figures or begins with a constituent."""
    cells, _ = _cells(line)
    if any(_FIGURE.fullmatch(cell) for cell in cells) or _known(cells[0]):
        return None
    by_blanks = not re.search(r"[;\t,]", line)
    if "," in line and not re.search(r"[;\t]", line):
        cells = line.split(",")
    words = [" ".join(re.sub(r"[^a-z.# ]", " ", cell.lower()).lstrip("# ").split()) for cell in cells]
    places = {}
    for wanted, pattern in _HEADINGS.items():
        here = [place for place, word in enumerate(words) if pattern.fullmatch(word)]
        if wanted == "phase" and len(here) > 1 and not by_blanks:
            here = [place for place in here if not _LOCAL.fullmatch(words[place])]
        if not here:
            raise _refused(n, "", f"it is neither a constituent nor a heading that says which is the {wanted}", _HOW)
        if len(here) > 1 and wanted != "name":
            raise _refused(n, "", f"there are {len(here)} columns for the {wanted}", "Leave one of them.")
        places[wanted] = max(here, key=lambda place: (words[place] == "name", -place))
    unit = _UNIT.search(words[places["amplitude"]])
    if by_blanks:  # they part words as well, so that places of cells say little
        if not places["name"] < places["amplitude"] < places["phase"]:
            raise _refused(n, "", "its columns are in another order", "Part cells by semicolons.")
        whole = _UNIT.search(line)
        return _Columns(0, 1, 2, (), 0, _unit(whole[0]) if whole else "")
    speed = tuple(place for place, word in enumerate(words) if word.startswith("speed"))
    return _Columns(
        places["name"], places["amplitude"], places["phase"], speed, len(cells), _unit(unit[0]) if unit else ""
    )


def _cells(line: str) -> tuple[list[str], bool]:
    """The cells of a row, empty ones kept, and whether commas part them."""
    for sign in ("\t", ";"):
        if sign in line:
            return [_plain(cell) for cell in line.strip(" ").split(sign)], False
    words = line.split()
    if any("," in word for word in words) and (
        "," in words[0] or any(word.startswith(",") or word.endswith(",") for word in words[:3])
    ):
        return [_plain(cell) for cell in line.split(",")], True
    return [_plain(word) for word in words], False


def _comment(line: str) -> bool:
    said = line.lstrip().lower()
    return said.startswith("#") and not all(word in said for word in ("name", "amp", "phase"))


def _plain(cell: str) -> str:
    return cell.strip().strip('"').replace("−", "-").removesuffix("°").strip()


def _figure(n: int, what: str, text: str) -> float:
    if not text:
        raise _refused(n, what, "is missing", _HOW)
    if not _FIGURE.fullmatch(text):
        raise _refused(n, what, f"“{text[:40]}” is not a figure", _HOW)
    return float(text.replace(",", "."))


def _known(name: str) -> bool:
    try:
        harmonics.named(name)
    except SiteRefused:
        return False
    return True


def _unit(text: str) -> str:
    said = text.strip().lower()
    said = "ft" if said in ("feet", "foot") else "m" if said.startswith("met") else said
    if said not in UNITS_M:
        raise SiteRefused(f"unit: “{text}” is none of them.", f"Give {', '.join(UNITS_M)}.", field="unit")
    return said


def _refused(n: int, what: str, problem: str, next_step: str) -> SiteRefused:
    field = f"constituents, row {n}" + (f", {what}" if what else "")
    return SiteRefused(f"{field}: {problem}.", next_step, field=field)
