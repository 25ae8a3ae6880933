"""Iconclass: the tree against the package's own data, and notations that are published.

Authority: the data of Iconclass (CC0) as the PyPI package iconclass 0.29 carries them, read here by the package itself
or straight from its zip, never through the module under test.
"""

from __future__ import annotations

import socket
import urllib.request
from itertools import pairwise
from pathlib import Path
from zipfile import ZipFile

import iconclass
import pytest

from refarchive.errors import BadQuery, SubjectsUnavailable, UnknownRecord
from refarchive.subjects import all_above, ancestors, children, is_under, nearest, notation, top, tree, wider
from refarchive.subjects import data as held

ZIP = Path(iconclass.__file__).parent / "data.zip"


@pytest.fixture(scope="module")
def written() -> dict[str, list[str]]:
    """What notations.txt lists under each notation (lines N, C and ;), read line by line."""
    found: dict[str, list[str]] = {}
    code, field = "", ""
    for line in ZipFile(ZIP).read("notations.txt").decode("utf8").splitlines():
        kind, _, value = line.partition(" ")
        if kind == "N":
            code = value.strip()
            found[code] = []
        field = field if kind == ";" else kind
        if field == "C":
            found[code].append(value.strip())
    return found


def test_the_file_holds_what_the_package_says_it_does(written: dict[str, list[str]]) -> None:
    assert len(written) > 40_000
    assert set(written) == set(held.data().below)


def test_every_child_has_its_parent(written: dict[str, list[str]]) -> None:
    wrong = [
        (parent, child)
        for parent, below in written.items()
        for child in below
        if parent not in notation(child).above or not is_under(child, parent) or child not in notation(parent).children
    ]
    assert not wrong


def test_every_notation_climbs_to_a_main_class(written: dict[str, list[str]]) -> None:
    tops = {one.code for one in top()}
    assert tops == set("0123456789")
    for code in written:
        path = (*ancestors(code), code)
        assert path[0] in tops
        assert all(lower in written[upper] for upper, lower in pairwise(path)), path
        assert code not in all_above(code)


def test_above_is_everything_along_every_parent(written: dict[str, list[str]]) -> None:
    above: dict[str, set[str]] = {code: set() for code in written}
    for parent, below in written.items():
        for child in below:
            above[child].add(parent)

    def closure(code: str) -> set[str]:
        return above[code].union(*(closure(upper) for upper in above[code]))

    assert sum(len(upper) > 1 for upper in above.values()) > 2_000
    for code in written:
        assert all_above(code) == closure(code)


def test_every_notation_has_words_and_is_found_in_any_case(written: dict[str, list[str]]) -> None:
    for code in written:
        assert notation(code.lower()).code == code
        assert notation(code).text


def test_the_keys_are_those_of_the_package() -> None:
    """Every key that the package itself would open one step below a notation, for each of its queues of keys."""
    reader = iconclass.init()
    seen = set()
    for code, (queue, _) in held.data().keys.items():
        if queue in seen:
            continue
        seen.add(queue)
        own = [str(one) for one in reader[code] if "(+" in str(one)]
        assert own
        assert [k for k in notation(code).keys if "(" not in k.partition("(+")[2]] == own
        for one in own:
            assert notation(one).text == reader[one]("en")
            assert is_under(one, code)
    assert len(seen) > 10


# Well-known notations, picked from memory; that they exist, what they mean and what stands above them was read from the
# data of the package (iconclass.org itself was out of reach), and each text is compared with its line of txt_en.txt.
PUBLISHED = {
    "11H(JEROME)": ("1", "11", "11H", "11H(...)"),
    "25F23(LION)": ("2", "25", "25F", "25F23", "25F23(...)"),
    "25F33(EAGLE)": ("2", "25", "25F", "25F3", "25F33"),
    "31A": ("3", "31"),
    "46C2": ("4", "46", "46C"),
    "47I2213": ("4", "47", "47I", "47I2", "47I22", "47I221"),
    "53A2": ("5", "53", "53A"),  # the example on the package's own page
    "25H215": ("2", "25", "25H", "25H2", "25H21"),
    "41D2333": ("4", "41", "41D", "41D2", "41D23", "41D233"),
}


@pytest.mark.parametrize(("code", "above"), PUBLISHED.items())
def test_published_notations(code: str, above: tuple[str, ...]) -> None:
    lines = ZipFile(ZIP).read("txt_en.txt").decode("utf8").splitlines()
    text = next(line.partition("|")[2] for line in lines if line.partition("|")[0] == code)
    assert notation(code).text == text
    assert set(above) <= set(ancestors(code))
    assert all(is_under(code, one) for one in above)


def test_what_the_words_are() -> None:
    assert notation("46C2").text == "traffic on the water"
    assert notation("31A").text.startswith("the (nude) human figure")
    assert notation("25F23(LION)").keywords == ("lion",)
    assert {"25F23", "25FF2"} <= {one.code for one in children("25F2")}


@pytest.mark.parametrize(
    ("code", "parent", "beneath"),
    [
        ("25F23(LION)", "25F2", True),
        ("25FF23", "25F23", True),  # fabulous ones: the data list them under both
        ("25FF23", "25FF", True),
        ("31AA1", "31A1", True),
        ("31AA1", "31AA", True),
        ("51AA", "51A", False),  # opposing concepts stand beside, though one begins like the other
        ("51AA", "51", True),
        ("25F23(LION)(+46)", "25F23(LION)(+4)", True),
        ("25F23(LION)(+46)", "25F23(LION)", True),
        ("25F23(LION)(+46)", "25F", True),
        ("25F23(LION)(+46)", "25F(+4)", False),
        ("25F23(LION)", "25F23(LION)", False),
        ("25F", "25F23", False),
        ("46C14", "46C1", True),
        ("46C14", "46C2", False),
        ("11H(JEROME)1", "11H(JEROME)", True),
        ("11H(JEROME)1", "11H(...)", True),
        ("83(OVID, Metamorphoses II)", "83(OVID, Metamorphoses I)", False),
        ("83(OVID, Metamorphoses I:1-20)", "83(OVID, Metamorphoses I)", True),
    ],
)
def test_beneath_is_what_the_data_say(code: str, parent: str, beneath: bool) -> None:
    assert is_under(code, parent) is beneath


@pytest.mark.parametrize(("free", "known"), [("FOO", "LION"), ("SEA WOLF", "FOX")])
def test_a_free_name_stands_where_known_names_stand(free: str, known: str) -> None:
    for pattern in ("25F23({})", "25FF23({})", "25F23({})(+46)"):
        expected = {one.replace(known, free) for one in all_above(pattern.format(known))}
        assert all_above(pattern.format(free)) == expected
    assert notation(f"25f23({free.lower()})").code == f"25F23({free})"
    assert notation(f"25F23({free})").text == f"beasts of prey, predatory animals: {free.lower()}"


def test_a_free_saint_has_the_life_that_jerome_has() -> None:
    assert notation("11H(FOO)").children == tuple(c.replace("JEROME", "FOO") for c in notation("11H(JEROME)").children)
    assert ancestors("11H(FOO)119") == tuple(c.replace("JEROME", "FOO") for c in ancestors("11H(JEROME)119"))


def test_a_name_in_a_key() -> None:
    found = notation("25D3(+2(GOLD))")
    assert found.above == ("25D3(+2)",)
    assert found.text.endswith("gold)")
    assert "25D3(+2(...))" in notation("25D3(+2)").keys


@pytest.mark.parametrize(
    ("code", "near"),
    [
        ("46C99", "46C"),
        ("25F20", "25F2"),
        ("46C2(FOO)", "46C2"),
        ("25F(+99)", "25F"),
        ("25F23(LION)(+469)", "25F23(LION)"),
        ("19C", "1"),
    ],
)
def test_unknown_notations_name_the_nearest(code: str, near: str) -> None:
    with pytest.raises(UnknownRecord) as caught:
        notation(code)
    assert caught.value.records == (near,)
    assert f" {near} (" in caught.value.next_step
    assert nearest(code) == near


@pytest.mark.parametrize(
    "code",
    ["", "boats", "x", "(+1)", "46C2(+1)(+2)", "25F23(LION", "46C2;41D", "61B:31D14", "4" * 5000, "25F23()", "²5"],
)
def test_what_is_no_notation_is_refused(code: str) -> None:
    with pytest.raises((BadQuery, UnknownRecord)) as caught:
        notation(code)
    assert len(caught.value.problem) < 120
    assert caught.value.next_step


def test_widening_goes_up_by_steps_and_stops_at_the_class() -> None:
    assert [wider("25F23(LION)(+46)", n) for n in (0, 1, 2, 3, 4, 9)] == [
        "25F23(LION)(+46)", "25F23(LION)(+4)", "25F23(LION)", "25F23", "25F2", "2",
    ]  # fmt: skip
    with pytest.raises(BadQuery):
        wider("46C2", -1)


def test_nothing_is_fetched_or_written(monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither the data nor a name at Wikidata, which the package by itself would look up."""

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("the network was asked")

    before = {p: p.stat().st_mtime_ns for p in ZIP.parent.iterdir()}
    monkeypatch.setattr(socket, "socket", refuse)
    monkeypatch.setattr(urllib.request, "urlopen", refuse)
    held.data.cache_clear()
    assert notation("11H(wd:Q44248)").text == "male saints: wd:q44248"
    assert {p: p.stat().st_mtime_ns for p in ZIP.parent.iterdir()} == before


def test_lost_data_are_named_and_not_fetched(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(iconclass, "__file__", str(tmp_path / "__init__.py"))
    held.data.cache_clear()
    try:
        with pytest.raises(SubjectsUnavailable, match="lost its data"):
            tree.notation("46C2")
        (tmp_path / "data.zip").write_bytes(b"no zip")
        with pytest.raises(SubjectsUnavailable, match="cannot be read"):
            tree.notation("46C2")
    finally:
        held.data.cache_clear()
    assert [p.name for p in tmp_path.iterdir()] == ["data.zip"]
