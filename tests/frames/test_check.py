"""The check on drawn frames whose answers are known, and every way in which it says that it cannot tell."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from refarchive.errors import CannotMeasure
from refarchive.frames import check
from refarchive.frames.check import Line, ReferenceLook, check_frame
from refarchive.looks import colour, plates, tone
from refarchive.records.model import FrameNote, Intent, Need, PaletteColour, Reference, When, Witness
from refarchive.scenes.mediums import ORTHOCHROMATIC_FROM

KEYS = [
    "measure", "against", "target", "frame", "difference", "tolerance", "unit", "verdict", "note", "label", "remedy",
]  # fmt: skip


def stripes(*parts: tuple[str, int]) -> np.ndarray:
    """Upright stripes of hexadecimal colours, so many pixels wide each; 40 pixels high."""
    columns = [np.full((40, width, 3), np.frombuffer(bytes.fromhex(c), np.uint8), np.uint8) for c, width in parts]
    return np.concatenate(columns, axis=1)


FRAME = stripes(("8a6f4d", 50), ("2f3e4e", 30), ("d9d2c0", 20))
POPULATION = np.arange(100) / 100


def day(year: int, month: int = 1, dom: int = 1) -> int:
    return date(year, month, dom).toordinal() + 1_721_425


def reference(name: str = "r1", **more: Any) -> Reference:
    given_ = {"kind": "image", "title": f"Title of {name}", "source_name": f"{name}.png"} | more
    return Reference(id=name, **given_)


def look(
    name: str = "r1", picture: np.ndarray | None = FRAME, likeness: float | None = 0.9, **more: Any
) -> ReferenceLook:
    return ReferenceLook(reference(name, **more), picture, likeness, POPULATION)


def run(
    frame: np.ndarray = FRAME,
    intent: Intent | None = None,
    needs: Any = (),
    notes: Any = (),
    references: Any = (),
) -> tuple[Line, ...]:
    return check_frame(frame_picture=frame, intent=intent or Intent(), needs=needs, notes=notes, references=references)


def only(lines: tuple[Line, ...], measure: str, against: str) -> Line:
    (line,) = (entry for entry in lines if (entry.measure, entry.against) == (measure, against))
    return line


def said(subject: str, says: str, note: str = "") -> FrameNote:
    return FrameNote("f1", subject, says, note)


def photographed(edtf_from: int | None, edtf_to: int | None) -> dict[str, Any]:
    return {"witness": Witness.PHOTOGRAPH, "when": When("", "", edtf_from, edtf_to)}


# Against the intent --------------------------------------------------------------------------------------------------

MEANT = Intent(
    palette=(PaletteColour("#8a6f4d", 0.5), PaletteColour("#2f3e4e", 0.3), PaletteColour("#d9d2c0", 0.2)),
    key=48.0,
    contrast=60.0,
)


def test_a_frame_of_just_the_intended_colours_is_no_distance_away() -> None:
    line = only(run(intent=MEANT), "palette", "intent")
    assert (line.difference, line.tolerance, line.unit, line.verdict) == (0.0, 12.0, "ΔE00", "within")
    assert line.target == line.frame == [
        {"hex": "#8a6f4d", "share": 0.5}, {"hex": "#2f3e4e", "share": 0.3}, {"hex": "#d9d2c0", "share": 0.2},
    ]  # fmt: skip


def test_palette_distance_is_the_share_that_moves_times_how_far() -> None:
    # A fifth of the frame is pale and was to be brown: 0.2 of the distance from one to the other.
    gap = float(colour.delta_e_2000(colour.hex_to_lab("#d9d2c0"), colour.hex_to_lab("#8a6f4d")))
    palette = (PaletteColour("#8a6f4d", 0.7), PaletteColour("#2f3e4e", 0.3))
    line = only(run(intent=Intent(palette=palette, palette_tolerance=5.0)), "palette", "intent")
    assert line.difference == pytest.approx(0.2 * gap, abs=6e-4)
    assert line.verdict == "outside"
    exact = Intent(palette=palette, palette_tolerance=line.difference or 0)
    assert only(run(intent=exact), "palette", "intent").verdict == "within"


def test_shares_that_do_not_sum_to_one_are_said_to_be_parts() -> None:
    palette = tuple(replace(entry, share=entry.share * 0.8) for entry in MEANT.palette)
    line = only(run(intent=replace(MEANT, palette=palette)), "palette", "intent")
    assert line.difference == 0.0
    assert "sum to 0.80" in line.note
    assert "sum to" not in only(run(intent=MEANT), "palette", "intent").note


def test_key_and_contrast_of_known_values() -> None:
    brown, dark, pale = (float(colour.hex_to_lab(h)[0]) for h in ("8a6f4d", "2f3e4e", "d9d2c0"))
    key, contrast = (only(run(intent=MEANT), measure, "intent") for measure in ("key", "contrast"))
    assert key.frame == pytest.approx(brown, abs=6e-4)  # dark 30, brown 50, pale 20 of a hundred columns
    assert key.difference == pytest.approx(brown - 48.0, abs=6e-4)
    assert contrast.frame == pytest.approx(pale - dark, abs=6e-4)
    assert contrast.difference == pytest.approx(pale - dark - 60.0, abs=6e-4)
    assert (key.unit, key.tolerance, contrast.tolerance) == ("L*", 6.0, 10.0)


@pytest.mark.parametrize(
    ("target", "tolerance", "verdict"),
    [(40.0, 10.1, "within"), (60.0, 10.0, "within"), (39.9, 10.0, "outside"), (61.0, 10.0, "outside")],
)
def test_key_of_flat_grey_on_either_side_of_the_tolerance(target: float, tolerance: float, verdict: str) -> None:
    # 8-bit 119 is L* 50.0344 (CIE 15).
    grey = np.full((20, 20, 3), 119, np.uint8)
    line = only(run(grey, Intent(key=target, key_tolerance=tolerance)), "key", "intent")
    assert line.frame == pytest.approx(50.0344, abs=6e-4)
    assert line.verdict == verdict
    assert only(run(grey, Intent(contrast=0.0, contrast_tolerance=0.0)), "contrast", "intent").verdict == "within"


def test_light_is_not_guessed_and_says_what_to_mark_where_it_was_asked_for() -> None:
    assert not [line for line in run(intent=MEANT) if line.measure == "light"]
    words = only(run(intent=Intent(light_from="low, from the sea")), "light", "intent")
    assert (words.target, words.frame, words.verdict) == ("low, from the sea", None, "cannot tell")
    tilt = only(run(intent=Intent(light_tilt_deg=150.0, light_from="upper left")), "light", "intent")
    assert (tilt.target, tilt.tolerance, tilt.label, tilt.verdict) == (150.0, 20.0, "upper left", "cannot tell")
    assert "Mark one rounded thing" in tilt.note


def test_nothing_planned_gives_no_line() -> None:
    assert run() == ()


def test_a_departure_turns_the_word_and_keeps_the_figures() -> None:
    intent = replace(MEANT, key=90.0)
    before = only(run(intent=intent), "key", "intent")
    after = run(intent=intent, notes=[said("measure:key", "departure intended", "fog came in")])
    line = only(after, "key", "intent")
    assert (before.verdict, line.verdict) == ("outside", "departure intended")
    assert replace(line, verdict=before.verdict, note=before.note) == before
    assert "fog came in" in line.note
    assert "figures alone: outside" in line.note
    assert only(after, "contrast", "intent").verdict == "within"
    assert only(run(intent=intent, notes=[said("measure:key", "present")]), "key", "intent").verdict == "outside"


# Needs ---------------------------------------------------------------------------------------------------------------

SHAWL, LAMP = Need("shawl", "Grey shawl", "wardrobe"), Need("lamp", "Horn lamp", "props")


@pytest.mark.parametrize(
    ("words", "frame", "verdict"),
    [
        ([], None, "cannot tell"),
        (["present"], "present", "within"),
        (["absent"], "absent", "outside"),
        (["hidden"], "hidden", "cannot tell"),
        (["absent", "departure intended"], "absent", "departure intended"),
        (["departure intended"], "departed", "departure intended"),
        (["absent", "present"], "present", "within"),
        (["lost"], None, "cannot tell"),
    ],
)
def test_a_need_is_what_the_person_says(words: list[str], frame: str | None, verdict: str) -> None:
    lines = run(needs=[SHAWL, LAMP], notes=[said("need:shawl", word) for word in words])
    shawl, lamp = lines
    assert (shawl.frame, shawl.verdict) == (frame, verdict)
    assert (shawl.measure, shawl.against, shawl.target, shawl.unit) == (
        "need",
        "intent",
        "present",
        "as the person says",
    )
    assert (shawl.difference, shawl.tolerance) == (None, None)
    assert (lamp.label, lamp.frame, lamp.verdict) == ("Horn lamp", None, "cannot tell")


def test_hidden_and_unsaid_needs_give_their_reasons_and_the_persons_words_stand() -> None:
    lines = run(needs=[SHAWL, LAMP], notes=[said("need:shawl", "hidden", "behind the cart")])
    assert lines[0].note == "behind the cart Hidden does not mean absent."
    assert lines[1].note.startswith("Nobody has said yet")
    (line,) = run(needs=[SHAWL], notes=[said("need:shawl", "departure intended", "too warm. ")])
    assert line.note == "The person notes an intended departure: too warm."


def test_a_measure_departure_never_touches_a_need() -> None:
    (line,) = run(needs=[SHAWL], notes=[said("measure:need", "departure intended"), said("need:shawl", "absent")])
    assert line.verdict == "outside"


# Against references --------------------------------------------------------------------------------------------------


def test_a_reference_that_is_the_frame_is_no_distance_away() -> None:
    lines = run(references=[look()])
    assert [line.measure for line in lines] == ["palette", "values", "likeness"]
    assert [(line.difference, line.verdict) for line in lines[:2]] == [(0.0, "within"), (0.0, "within")]
    assert {line.label for line in lines} == {"Title of r1"}
    assert "fewer than 3" in lines[0].note
    assert (lines[0].tolerance, lines[1].tolerance) == (12.0, 6.0)


def test_tolerances_come_from_how_far_the_references_lie_from_each_other() -> None:
    pictures = [np.full((20, 20, 3), level, np.uint8) for level in (60, 119, 200)]
    pictures = [picture + np.array([40, 0, 0], np.uint8) for picture in pictures]  # not monochrome
    looks = [look(f"r{n}", picture) for n, picture in enumerate(pictures)]
    lines = run(pictures[1], references=looks)
    labs = [colour.srgb_to_lab(picture[0, 0]) for picture in pictures]
    pairs = [(0, 1), (0, 2), (1, 2)]
    palette = only(lines, "palette", "r0")
    assert palette.tolerance == pytest.approx(
        np.median([colour.delta_e_2000(labs[a], labs[b]) for a, b in pairs]), abs=6e-4
    )
    values = only(lines, "values", "r2")
    assert values.tolerance == pytest.approx(np.median([abs(labs[a][0] - labs[b][0]) for a, b in pairs]), abs=6e-4)
    assert values.difference == pytest.approx(labs[2][0] - labs[1][0], abs=6e-4)
    assert values.target["median"] == pytest.approx(labs[2][0], abs=6e-4)
    assert "usually lie from each other" in values.note
    assert only(lines, "palette", "r1").verdict == "within"
    black = run(np.zeros((20, 20, 3), np.uint8), references=looks)
    assert only(black, "values", "r2").verdict == "outside"


def test_pictures_that_may_not_be_compared_set_no_tolerance() -> None:
    early = [look(f"r{n}", **photographed(day(1860), day(1861))) for n in range(3)]
    lines = run(references=[*early, look("own")])
    assert "fewer than 3" in only(lines, "palette", "own").note
    assert "fewer than 3" in only(lines, "values", "own").note


@pytest.mark.parametrize(
    ("likeness", "percentile", "short", "verdict"),
    [(0.9, 90.5, 0.0, "within"), (0.79, 79.5, -0.5, "outside"), (-1.0, 0.0, -80.0, "outside")],
)
def test_likeness_that_the_intent_asks_for(likeness: float, percentile: float, short: float, verdict: str) -> None:
    # The population is 0.00, 0.01 … 0.99; a value equal to one of them counts half of it.
    line = only(run(intent=Intent(like=("r1",)), references=[look(likeness=likeness)]), "likeness", "r1")
    assert (line.target, line.frame, line.difference, line.tolerance) == (80.0, percentile, short, 0.0)
    assert line.verdict == verdict
    assert line.unit == "percentile within this archive"


def test_likeness_that_nobody_asked_for_is_held_against_the_middle() -> None:
    near, far = (only(run(references=[look(likeness=v)]), "likeness", "r1") for v in (0.6, 0.4))
    assert (near.target, near.verdict, far.verdict) == (50.0, "within", "outside")
    assert "Nobody asked" in far.note


def test_likeness_needs_an_archive_of_some_size() -> None:
    for size, verdict in ((19, "cannot tell"), (20, "within")):
        looked = ReferenceLook(reference(), FRAME, 1.0, np.arange(size) / size)
        line = only(run(references=[looked]), "likeness", "r1")
        assert line.verdict == verdict
    few = only(run(references=[ReferenceLook(reference(), FRAME, 1.0, [0.5, np.nan])]), "likeness", "r1")
    assert (few.frame, few.verdict) == (None, "cannot tell")
    assert "holds 1 encoded" in few.note
    for missing in (None, float("nan")):
        line = only(run(references=[look(likeness=missing)]), "likeness", "r1")
        assert line.verdict == "cannot tell"
        assert "not seen" in line.note


def test_references_without_a_usable_picture_stop_nothing() -> None:
    broken = np.zeros((4, 4), np.uint8)
    lines = run(
        intent=Intent(like=("r1", "gone", "gone")), references=[look(picture=None), look("r2", broken), look("r3")]
    )
    first, second = only(lines, "likeness", "r1"), only(lines, "likeness", "r2")
    assert (first.target, first.verdict, second.target, second.verdict) == (80.0, "cannot tell", None, "cannot tell")
    assert "no picture" in first.note
    assert "shape (height, width, 3)" in second.note
    assert only(lines, "palette", "r3").verdict == "within"
    gone = only(lines, "likeness", "gone")
    assert (gone.target, gone.verdict) == (80.0, "cannot tell")
    assert "Gather it" in gone.note
    assert len(lines) == 6


# What must not be compared -------------------------------------------------------------------------------------------


def words_of(**more: Any) -> tuple[Line, Line]:
    lines = run(references=[look(**more)])
    return only(lines, "palette", "r1"), only(lines, "values", "r1")


@pytest.mark.parametrize(
    "more",
    [
        photographed(day(1865), day(1866)),
        photographed(day(1882), day(1882, 12, 31)),
        photographed(day(1880), day(1890)),
        photographed(None, day(1890)),
        {"witness": Witness.PHOTOGRAPH},
        {"medium": "Albumen print", "when": When("1870", "1870", day(1870), day(1870, 12, 31))},
        {"medium": "quarter-plate tintype", "witness": Witness.OBJECT},
    ],
)
def test_photographs_that_are_or_may_be_early_take_no_comparison(more: dict[str, Any]) -> None:
    palette, values = words_of(**more)
    for line in (palette, values):
        assert (line.verdict, line.tolerance) == ("cannot tell", None)
        assert "orthochromatic" in line.note
        assert line.frame is not None
    assert (palette.difference, palette.target) == (None, None)
    if "A simulation" not in values.note:
        assert (values.difference, values.target) == (None, None)


def test_values_are_held_against_a_surely_early_photograph_as_a_plate_would_see_the_frame() -> None:
    early = photographed(day(1865), day(1866))
    blue = stripes(("3040c0", 85), ("c0a030", 15))
    as_seen = plates.as_plate(blue, "blue-sensitive")
    line = only(run(blue, references=[look(picture=as_seen, **early)]), "values", "r1")
    assert line.difference == pytest.approx(0, abs=0.5)  # the photograph of this very thing
    assert line.verdict == "cannot tell"
    assert "A simulation" in line.note
    grey = np.repeat(np.rint(255 * colour.encoded(colour.linear(blue) @ colour.LUMINANCE))[..., None], 3, -1)
    plain = only(run(blue, references=[look(picture=grey.astype(np.uint8), **early)]), "values", "r1")
    assert plain.difference is not None
    assert plain.difference > 10  # as the eye sees it, it is another picture
    undated = only(run(blue, references=[look(picture=as_seen, witness=Witness.PHOTOGRAPH)]), "values", "r1")
    assert undated.difference is None


@pytest.mark.parametrize(
    "more",
    [
        photographed(day(1883), day(1883, 12, 31)),
        photographed(day(1905), None),
        {"medium": "oil on canvas", "when": When("1850", "1850", day(1850), day(1850, 12, 31))},
        {"medium": "wool, twill", "witness": Witness.OBJECT},
        {"medium": "silver buckle, engraved", "witness": Witness.OBJECT},
        {"medium": "hand-coloured engraving"},
        {"medium": "chromolithograph"},
        {"medium": "pen and ink and watercolour"},
        {},
    ],
)
def test_what_has_colour_of_its_own_is_compared(more: dict[str, Any]) -> None:
    for line in words_of(**more):
        assert line.verdict == "within"


@pytest.mark.parametrize(
    "medium",
    [
        "Wood engraving",
        "etching on laid paper",
        "pencil drawing",
        "uncoloured lithograph",
        "pen and ink",
        "black and white print",
    ],
)
def test_monochrome_media_take_no_colour_but_values(medium: str) -> None:
    palette, values = words_of(medium=medium)
    assert palette.verdict == "cannot tell"
    assert "monochrome" in palette.note
    assert values.verdict == "within"


def test_pictures_measured_as_monochrome_take_no_colour() -> None:
    grey = np.repeat(np.arange(0, 250, 5, dtype=np.uint8)[None, :, None].repeat(40, axis=0), 3, axis=2)
    palette, values = words_of(picture=grey)
    assert palette.verdict == "cannot tell"
    assert "as measured" in palette.note
    assert values.difference is not None
    tinted = grey.copy()
    tinted[..., 2] //= 2
    assert words_of(picture=tinted)[0].difference is not None


def test_the_day_of_1883_is_its_julian_day_number() -> None:
    # US Naval Observatory: 2000-01-01 noon is JD 2451545; 117 years before lie 42,733 days back (28 leap days).
    assert ORTHOCHROMATIC_FROM == 2_451_545 - 117 * 365 - 28


def test_reconstructions_and_copies_are_flagged_on_every_line() -> None:
    for witness, word in (
        (Witness.LATER, "later reconstruction"),
        (Witness.SECOND_HAND, "second-hand"),
        (Witness.COMMERCIAL, "idealises"),
    ):
        for line in run(references=[look(witness=witness)]):
            assert word in line.note


def test_a_departure_from_references_turns_only_what_was_outside() -> None:
    far = stripes(("102030", 50), ("f0f0ff", 50))
    looks = [look("near"), look("far", far), look("early", **photographed(day(1860), day(1860)))]
    lines = run(
        references=looks,
        notes=[said("measure:palette", "departure intended"), said("measure:values", "departure intended")],
    )
    for measure in ("palette", "values"):
        words = {against: only(lines, measure, against).verdict for against in ("near", "far", "early")}
        assert words == {"near": "within", "far": "departure intended", "early": "cannot tell"}


# Shape ---------------------------------------------------------------------------------------------------------------


def test_lines_are_ordered_and_every_one_fits_a_document() -> None:
    intent = replace(MEANT, light_from="left", like=("r2", "gone"))
    lines = run(intent=intent, needs=[SHAWL], references=[look("r1"), look("r2", picture=None)])
    assert [(line.measure, line.against) for line in lines] == [
        ("palette", "intent"), ("key", "intent"), ("contrast", "intent"), ("light", "intent"), ("need", "intent"),
        ("palette", "r1"), ("values", "r1"), ("likeness", "r1"), ("likeness", "r2"), ("likeness", "gone"),
    ]  # fmt: skip
    for line in lines:
        document = line.as_dict()
        assert list(document) == [*KEYS, "words"]
        assert json.loads(json.dumps(document, allow_nan=False)) == document
        assert document["verdict"] in check.VERDICTS
        assert document["measure"] in check.MEASURES


@pytest.mark.parametrize("shape", [(1, 1), (1, 5000), (5000, 1), (3, 3)])
def test_odd_frames_are_measured(shape: tuple[int, int]) -> None:
    frame = np.full((*shape, 3), 119, np.uint8)
    lines = run(frame, MEANT, references=[look()])
    assert only(lines, "key", "intent").frame == pytest.approx(50.034, abs=1e-3)
    assert only(lines, "contrast", "intent").frame == 0
    assert only(lines, "palette", "intent").frame == [{"hex": "#777777", "share": 1.0}]


@settings(deadline=None, max_examples=15)
@given(arrays(np.uint8, st.tuples(st.integers(1, 8), st.integers(1, 8), st.just(3))))
def test_any_picture_is_like_itself_and_like_its_mirror(picture: np.ndarray) -> None:
    lines = run(picture, references=[look(picture=picture), look("mirror", picture[:, ::-1])])
    for line in lines:
        if line.measure in ("palette", "values") and line.difference is not None:
            assert (line.difference, line.verdict) == (pytest.approx(0, abs=1e-3), "within")
        json.dumps(line.as_dict(), allow_nan=False)


@pytest.mark.parametrize(
    "bad", [np.zeros((4, 4), np.uint8), np.zeros((0, 4, 3), np.uint8), np.zeros((4, 4, 4), np.uint8)]
)
def test_what_is_no_frame_is_refused(bad: np.ndarray) -> None:
    with pytest.raises(CannotMeasure):
        run(bad)


@pytest.mark.parametrize(
    "palette", [(PaletteColour("#12", 1.0),), (PaletteColour("#123456", 0.0),), (PaletteColour("#123456", -1.0),)]
)
def test_an_unusable_intended_palette_is_refused(palette: tuple[PaletteColour, ...]) -> None:
    with pytest.raises(CannotMeasure):
        run(intent=Intent(palette=palette))


def test_a_photographed_picture_end_to_end() -> None:
    from skimage.data import coffee

    picture = coffee()
    summary = tone.tone_summary(picture)
    darker = (picture * 0.4).astype(np.uint8)
    intent = Intent(key=summary.median, key_tolerance=6.0)
    assert only(run(picture, intent), "key", "intent").difference == pytest.approx(0, abs=6e-4)
    line = only(run(darker, intent, references=[look(picture=picture)]), "key", "intent")
    assert line.verdict == "outside"
    assert line.difference is not None
    assert line.difference < -10
