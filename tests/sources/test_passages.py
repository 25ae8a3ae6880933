"""Decoding texts and cutting them into passages."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refarchive.errors import SourceRefused
from refarchive.sources import passages
from refarchive.sources.passages import read_text, read_text_noticed, split, title_of

LETTER = "Déjà vu — the pilot’s cart, £5, ſand."


@pytest.mark.parametrize(
    "data",
    [
        LETTER.encode(),
        LETTER.encode("utf-8-sig"),
        LETTER.encode("utf-16"),
        b"\xfe\xff" + LETTER.encode("utf-16-be"),
    ],
)
def test_unicode_encodings_are_read_without_a_word(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "letter.txt").write_bytes(data)
    assert read_text_noticed(tmp_path / "letter.txt") == (LETTER, "")


@pytest.mark.parametrize(
    ("data", "text", "encoding"),
    [
        ("café, Müller".encode("latin-1"), "café, Müller", "Windows-1252"),
        ("the pilot’s £5 — paid".encode("cp1252"), "the pilot’s £5 — paid", "Windows-1252"),
        ("é".encode("latin-1") + b"\x81 and two hundred more letters" + b" x" * 100, None, "Latin-1"),
    ],
)
def test_older_encodings_are_read_with_a_notice(tmp_path: Path, data: bytes, text: str | None, encoding: str) -> None:
    (tmp_path / "old.txt").write_bytes(data)
    read, notice = read_text_noticed(tmp_path / "old.txt")
    assert read == (data.decode("latin-1") if text is None else text)
    assert notice == f"old.txt is not UTF-8 and was read as {encoding}; look at its accents."


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "holds no words"),
        (b" \n\t ", "holds no words"),
        (b"the pilot\0 crossed", "NUL"),
        (b"caf\xe9\0", "not text"),
        ("the pilot".encode("utf-32"), "NUL"),
        ("the pilot".encode("utf-16-le"), "NUL"),
        (b"\xff\xfea", "not text"),
        (bytes(range(1, 32)) * 4, "control characters"),
    ],
)
def test_what_is_not_text_is_refused(tmp_path: Path, data: bytes, why: str) -> None:
    (tmp_path / "text.txt").write_bytes(data)
    with pytest.raises(SourceRefused, match=why) as caught:
        read_text(tmp_path / "text.txt")
    assert caught.value.next_step


def test_what_is_no_file_is_refused_and_never_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.txt")
    for name in ("pipe.txt", "nothing.txt", ".", "x" * 5000, "nul\0.txt"):
        with pytest.raises(SourceRefused):
            read_text(tmp_path / name)


def test_a_file_beyond_the_limit_is_refused(tmp_path: Path) -> None:
    (tmp_path / "big.txt").write_bytes(b"word " * (passages.LARGEST_FILE // 5))
    assert len(read_text(tmp_path / "big.txt")) == passages.LARGEST_FILE
    with (tmp_path / "big.txt").open("ab") as file:
        file.write(b"x")
    with pytest.raises(SourceRefused, match="larger than 20 MB"):
        read_text(tmp_path / "big.txt")


def test_line_ends_stay_so_that_offsets_hold(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_bytes(b"one\r\n\r\ntwo\rthree\n")
    assert read_text(tmp_path / "a.txt") == "one\r\n\r\ntwo\rthree\n"


# -- passages --------


def sentence(words: int, start: str = "The") -> str:
    return " ".join([start, *["cart"] * (words - 2), "crossed."])


def sizes(text: str) -> list[int]:
    return [len(passage.split()) for passage, _, _ in split(text)]


def test_a_short_text_is_one_passage() -> None:
    assert split("  The cart set out.\n") == [("The cart set out.", 2, 19)]


def test_paragraphs_of_the_right_size_stay_whole() -> None:
    text = "\n\n".join(sentence(60) for _ in range(4))
    assert sizes(text) == [60, 60, 60, 60]


def test_short_paragraphs_are_joined_and_long_ones_cut_at_the_ends_of_sentences() -> None:
    assert sizes("\n\n".join(sentence(10) for _ in range(8))) == [40, 40]
    cut = split(" ".join(sentence(15) for _ in range(30)))
    assert len(cut) == 6
    for passage, _, _ in cut:
        assert passage.startswith("The ")
        assert passage.endswith("crossed.")
        assert 40 <= len(passage.split()) <= 120


def test_a_short_rest_joins_the_passage_before_it() -> None:
    assert sizes(sentence(60) + "\n\n" + sentence(10)) == [70]


def test_abbreviations_and_initials_end_no_sentence() -> None:
    text = " ".join(
        [f"On {n} Feb. the Rev. J. Marsh met Capt. Dunn and Mrs. Hale at No. 4, c. noon." for n in range(20)]
    )
    for passage, _, _ in split(text):
        assert passage.startswith("On ")


def test_headings_begin_a_passage_and_stay_with_what_follows() -> None:
    text = "\n\n".join(
        ["# Inventory", sentence(50), "## Kitchen", "### East wall", sentence(20), "Yard\n----", sentence(30)]
    )
    assert [p.split("\n")[0] for p, _, _ in split(text)] == ["# Inventory", "## Kitchen", "Yard"]
    assert split(text)[1][0].startswith("## Kitchen\n\n### East wall\n\nThe cart")


def test_a_heading_with_nothing_below_is_a_passage_of_its_own() -> None:
    assert [p for p, _, _ in split(f"{sentence(50)}\n\n# End")] == [sentence(50), "# End"]


def test_text_without_spaces_is_cut_by_length() -> None:
    cut = split("砂" * 5000)
    assert "".join(p for p, _, _ in cut) == "砂" * 5000
    assert max(len(p) for p, _, _ in cut) <= passages.MOST_CHARACTERS


@pytest.mark.parametrize("unit", ["a", "ab ", "a. ", "\n", "# ", "."])
def test_ten_megabytes_of_one_line_come_out_whole(unit: str) -> None:
    text = unit * (10_000_000 // len(unit) // (8 if unit == "a. " else 1))
    cut = split(text)
    assert sum(len(p.replace(" ", "")) for p, _, _ in cut) == len(text.replace(" ", "").replace("\n", ""))
    assert max((len(p) for p, _, _ in cut), default=0) <= 2 * passages.MOST_CHARACTERS


_TOKENS = st.sampled_from(
    [
        "word",
        "The",
        "end.",
        "Mr.",
        "\n",
        "\r\n",
        "\n\n",
        "# ",
        "---",
        " ",
        "\t",
        "é",
        "x" * 1300,
        "!",
        "”",
        "\u2028",
        "##",
    ]
)


@settings(max_examples=200, deadline=None)
@given(st.one_of(st.text(max_size=400), st.lists(_TOKENS, max_size=400).map("".join)))
def test_passages_are_stretches_in_order_and_lose_nothing(text: str) -> None:
    here = 0
    for passage, start, end in split(text):
        assert text[start:end] == passage
        assert passage.strip()
        assert start >= here
        assert not text[here:start].strip()  # nothing but space between passages
        assert len(passage.split()) <= passages.MOST_WORDS + passages.FEWEST_WORDS
        here = end
    assert not text[here:].strip()


# -- titles --------


@pytest.mark.parametrize(
    ("text", "name", "title"),
    [
        ("# Inquest at Merrow\n\nOn the 3rd…", "x.md", "Inquest at Merrow"),
        ('---\ntitle: "The carrier’s book"\n---\nText', "x.md", "The carrier’s book"),
        ("---\nauthor: nobody\n---\n\n## Diary ##\n", "x.md", "Diary"),
        ("Inventory of the ferry house\n============\n\nText", "x.md", "Inventory of the ferry house"),
        ("A LETTER FROM THE SANDS\n\nDear sister,", "x.txt", "A LETTER FROM THE SANDS"),
        ("Dear sister,\n\nwe set out", "letter_1871-02.txt", "letter 1871 02"),
        ("We set out at four.\nIt was dark.", "first-light.txt", "first light"),
        ("", "-.txt", "-.txt"),
        ("# \u202egpj\x07", "x.md", "[U+202E]gpj[U+0007]"),
    ],
)
def test_titles(text: str, name: str, title: str) -> None:
    assert title_of(text, name) == title


@settings(deadline=None)
@given(st.text(max_size=500), st.text(min_size=1, max_size=300))
def test_a_title_is_one_short_line(text: str, name: str) -> None:
    title = title_of(text, name)
    assert len(title) <= 200
    assert "\n" not in title
