"""Names of things in plain words: plurals, hyphens, negations, and where they were written."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.scenes.naming import found, key, phrases, singular
from refarchive.sources.firsts import shipped_firsts

KEYS = {key(name): name for name in ("zip", "safety pin", "press stud", "paraffin lamp", "popper", "Cafetière")}


def names(text: str) -> dict[str, str]:
    return {KEYS[k]: quoted for k, quoted in found(text, KEYS).items()}


@pytest.mark.parametrize(
    ("plural", "one"),
    [  # regular plurals as school grammars teach them; from memory
        ("zips", "zip"), ("lamps", "lamp"), ("matches", "match"), ("boxes", "box"), ("glasses", "glass"),
        ("batteries", "battery"), ("braces", "brace"), ("dyes", "dye"), ("ties", "tie"), ("brushes", "brush"),
        ("gas", "gas"), ("glass", "glass"), ("canvas", "canva"), ("truss", "truss"), ("corpus", "corpus"),
    ],
)  # fmt: skip
def test_simple_plurals_meet_their_singular(plural: str, one: str) -> None:
    assert singular(plural) == one


@pytest.mark.parametrize(
    "text",
    ["Safety pins under the hem", "a SAFETY-PIN", "one safetypin", "safety  pin’s head", "(safety pin)", "safety‐pins"],
)
def test_case_plural_hyphen_and_space_do_not_matter(text: str) -> None:
    assert "safety pin" in names(text)


def test_what_was_written_is_quoted_from_its_first_place() -> None:
    assert names("Two Safety-Pins, then a safety pin") == {"safety pin": "Safety-Pins"}
    assert names("une cafetiere") == {"Cafetière": "cafetiere"}


def test_a_word_inside_another_is_no_name() -> None:
    assert names("zipped, zippy, unzip, popperware") == {}
    assert names("safety. Pins in the hem") == {}  # not across a full stop


@pytest.mark.parametrize(
    "text",
    [
        "no zip", "No zips!", "not a zip", "without zip", "without a metal zip", "never a zip", "nor any zip",
        "hooks instead of zips", "hooks instead of a zip", "hooks rather than a zip", "no button or zip",
        "no press stud or zip", "neither lace nor zip",
    ],
)  # fmt: skip
def test_what_is_denied_is_not_found(text: str) -> None:
    assert "zip" not in names(text)


@pytest.mark.parametrize(
    "text",
    [
        "no lace, a zip", "not brass. Zip at the back", "not only a zip", "a zip, not laces", "not visible: zip",
        "no zip at the neck; a zip behind", "she has never in her life worn a zip",
    ],
)  # fmt: skip
def test_a_denial_reaches_no_further(text: str) -> None:
    assert "zip" in names(text)


def test_sentences_that_deny_are_no_phrases() -> None:
    text = "Metal teeth at the back. No zip; without studs: laced with cord.\nNever pressed"
    assert list(phrases(text)) == ["Metal teeth at the back", "laced with cord"]


def test_every_shipped_name_is_found_as_itself_and_in_the_plural_of_its_last_word() -> None:
    for row in shipped_firsts().rows:
        for name in (row.thing, *row.also):
            assert found(f"a {name} here", {key(name)}) == {key(name): name}, name
            if name[-1] not in "sxyh" and name != "zip-up":  # a plural of three letters is left as it is
                assert found(f"some {name}s here", {key(name)}) == {key(name): f"{name}s"}, name


@given(st.text(max_size=200), st.lists(st.text(min_size=3, max_size=12), max_size=4))
def test_any_text_is_searched_and_what_is_quoted_stands_in_it(text: str, wanted: list[str]) -> None:
    keys = {k for k in map(key, wanted) if k}
    for k, quoted in found(text, keys).items():
        assert quoted in text
        assert key(quoted) == k
    assert all(phrase.strip() == phrase for phrase in phrases(text))
