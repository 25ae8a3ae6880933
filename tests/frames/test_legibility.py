"""Viewers' words against a scene's sentences, with real sentence vectors; and the machine's reading with its trust.

The words in legible_words.csv were written for the sentences of the demo scene before anything was measured (our own
words; only the encoder comes from outside). Every other line chose the threshold, the rest is reported on.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from refarchive.encoders.sentences import shared
from refarchive.errors import CannotMeasure
from refarchive.frames.legibility import MACHINE, MISREADING, NEAR, STATEMENT, machine_reading, read, what_carries
from refarchive.looks.masking import WORKING_SIDE, without_region
from refarchive.search.trust import Share, Trust

SENTENCES = (
    "It is bitterly cold and they do this every tide",
    "They keep together, and one light holds them together",
    "Somebody is missing",
    "Women fleeing, or a shipwreck",
    "A religious procession",
    "A picturesque outing: nobody sings, nobody smiles",
)
KINDS = (STATEMENT, STATEMENT, STATEMENT, MISREADING, MISREADING, MISREADING)


@pytest.fixture(scope="module")
def labelled() -> list[tuple[str, str]]:
    with (Path(__file__).parent / "legible_words.csv").open(encoding="utf-8", newline="") as file:
        return [(row["words"], row["sentence"]) for row in csv.DictReader(file)]


def reading(words: list[str], near: float = NEAR):
    encode = shared().encode
    return read(
        [(w, f"viewer {n}", "A4") for n, w in enumerate(words)], encode(words), encode(SENTENCES), KINDS, near=near
    )


def right(one, label: str) -> bool:
    if not label:
        return one.kind == ""
    return bool(one.nearest) and KINDS[one.nearest[0]] == KINDS[int(label)]


def hits(part: list[tuple[str, str]], near: float = NEAR) -> int:
    said = reading([words for words, _ in part], near).said
    return sum(right(one, label) for one, (_, label) in zip(said, part, strict=True))


def test_near_was_chosen_on_one_half(labelled: list[tuple[str, str]]) -> None:
    grid = [round(0.15 + 0.05 * n, 2) for n in range(9)]
    scores = {near: hits(labelled[0::2], near) for near in grid}
    print("\n", scores)
    assert scores[NEAR] == max(scores.values())


def test_words_are_told_as_statement_misreading_or_neither(labelled: list[tuple[str, str]]) -> None:
    part = labelled[1::2]
    print(f"\n{hits(part)} of {len(part)} of the other half")
    assert hits(part) >= 0.75 * len(part)


def test_counts_over_viewers_and_by_print_size() -> None:
    statements = np.eye(6)[:2]
    words = np.stack([np.eye(6)[0], np.eye(6)[1], np.eye(6)[5], (np.eye(6)[0] + np.eye(6)[1]) / np.sqrt(2)])
    viewings = [("a", "", "A4"), ("b", "", "A4"), ("c", "", "A6"), ("d", "", "A6")]
    found = read(viewings, words, statements, (STATEMENT, MISREADING))
    assert (found.understood, found.misread, found.neither) == (1, 2, 1)
    assert found.said[3].kind == "both"  # nobody can tell, so it counts as misread
    assert found.by_sentence == (2, 1)
    assert found.by_size == {"A4": (1, 1, 0), "A6": (0, 1, 1)}
    assert found.agreement == pytest.approx((0 + 0 + np.sqrt(0.5) + 0 + np.sqrt(0.5) + 0) / 6)


def test_no_viewers_and_no_sentences() -> None:
    none = read([], np.zeros((0, 4)), np.zeros((0, 4)), ())
    assert (none.understood, none.misread, none.neither, none.agreement) == (0, 0, 0, None)
    one = read([("x", "", "")], np.eye(4)[:1], np.zeros((0, 4)), ())
    assert one.neither == 1


@pytest.mark.parametrize("bad", ["vectors", "kinds", "dimension"])
def test_what_does_not_fit_is_refused(bad: str) -> None:
    vectors, sentences, kinds = np.eye(4)[:1], np.eye(4)[:2], (STATEMENT, MISREADING)
    if bad == "vectors":
        vectors = np.eye(4)[:2]
    elif bad == "kinds":
        kinds = (STATEMENT, "joke")
    else:
        sentences = np.eye(5)[:2]
    with pytest.raises(CannotMeasure):
        read([("x", "", "")], vectors, sentences, kinds)


def trust(low: float) -> Trust:
    share = Share(0.5, low, 0.6, 100, 0.05)
    return Trust("e", 100, 100, share, share, share, share)


def test_the_machine_never_speaks_without_its_trust() -> None:
    frame, sentences, others = np.eye(8)[0], np.stack([np.eye(8)[1], np.eye(8)[0]]), np.eye(8)[2:]
    told = machine_reading(frame, sentences, others, (STATEMENT, MISREADING), trust(0.4))
    assert told.ranks == (8, 1)  # the other is as far as all distractors: ties count against
    assert "misreading, at rank 1 of 8" in told.sentence
    assert MACHINE in told.sentence
    assert "50 % (40–60 %" in told.sentence
    weak = machine_reading(frame, sentences, others, (STATEMENT, MISREADING), trust(0.01))
    assert not weak.trusted
    assert weak.sentence.startswith("Cannot tell")


def test_masking_shows_what_carries_a_sentence() -> None:
    whole = (np.eye(3)[0] + np.eye(3)[1]) / np.sqrt(2)
    lost = what_carries(whole, np.stack([np.eye(3)[1], np.eye(3)[0]]), np.eye(3)[:2])
    assert np.array(lost) == pytest.approx(np.array([[0.7071, 0.7071 - 1], [0.7071 - 1, 0.7071]]), abs=1e-3)


def test_a_masked_thing_is_gone_and_the_rest_stays() -> None:
    from skimage import data

    picture = data.astronaut()
    region = (0.35, 0.1, 0.2, 0.3)
    filled = without_region(picture, region)
    assert max(filled.shape[:2]) == WORKING_SIDE
    h, w = filled.shape[:2]
    inside = (slice(int(0.12 * h), int(0.38 * h)), slice(int(0.37 * w), int(0.53 * w)))
    detail = [np.abs(np.diff(p[inside].astype(float), axis=0)).mean() for p in (filled, picture)]
    assert detail[0] < 0.5 * detail[1]
    assert np.array_equal(filled[int(0.5 * h) :], picture[int(0.5 * h) :])
    for bad in ((0.9, 0.9, 0.5, 0.5), (0, 0, 0, 0.1), (0, 0, 1, 1), (-0.1, 0, 0.2, 0.2)):
        with pytest.raises(CannotMeasure):
            without_region(picture, bad)
