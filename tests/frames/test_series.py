"""A series in order: drawn pictures whose differences are known, and figures held against libraries and textbooks."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import numpy as np
import ot
import pytest
from PIL import Image
from skimage.color import deltaE_ciede2000

from refarchive.errors import CannotMeasure
from refarchive.frames import ordering, reads, rhythm, series
from refarchive.frames.series import Person, Read, Thing, echoes, neighbours, propose, read_picture, repeats, sit

FRAMES = Path(__file__).parents[2] / "sample_refs" / "frames"
NAMES = ["First light", "渡し場の灯", "Перевозчик", "عبور الدليل", "יעל"]


def flat(grey: int, *, height: int = 60, width: int = 90, warm: int = 0) -> np.ndarray:
    """A shore: light above, dark below, around one grey."""
    picture = np.zeros((height, width, 3), dtype=np.uint8)
    picture[:] = (min(255, grey + warm), grey, max(0, grey - warm))
    picture[: height // 3] = np.minimum(255, picture[: height // 3].astype(int) + 40)
    noise = np.random.default_rng(grey).integers(0, 4, picture.shape)
    return (picture - np.minimum(noise, picture)).astype(np.uint8)


def made(grey: int, name: str = "", **more: Any) -> Read:
    picture = more.pop("picture", None)
    return read_picture(flat(grey) if picture is None else picture, name=name or f"f{grey}", **more)


def bare(key: float, name: str, **more: Any) -> Read:
    """A picture of which only numbers are given."""
    return replace(made(90, name), key=key, **more)


@pytest.fixture(scope="module")
def sample() -> list[Read]:
    names = ["first-light-01", "first-light-02", "pilots-crossing-01", "first-light-03"]
    return [
        read_picture(np.asarray(Image.open(FRAMES / f"{name}.jpg").convert("RGB").resize((600, 400))), name=name)
        for name in names
    ]


# -- one picture --------


def test_a_picture_is_read_as_it_was_drawn() -> None:
    # 60 rows, the upper third lighter: horizon at a third, the median is that of the lower part.
    read = read_picture(
        flat(90, height=240, width=360), name="a", figures=[(0.1, 0.2, 0.1, 0.5), (0.5, 0.5, 0.2, 0.3)], light_deg=-30
    )
    assert read.horizon == pytest.approx(1 / 3, abs=0.01)
    assert read.scale == 0.5
    assert read.light_deg == 330.0
    assert read.aspect == 1.5
    assert read.orientation == "lying"
    # L* of sRGB grey 90 − 1.5 (the mean of the noise) by the formulas of CIE 15 and IEC 61966-2-1.
    light = ((88.5 / 255 + 0.055) / 1.055) ** 2.4
    assert read.key == pytest.approx(116 * light ** (1 / 3) - 16, abs=1.0)
    assert read.untold == {}
    assert sum(one["share"] for one in read.as_dict()["palette"]) == pytest.approx(1.0, abs=0.01)


def test_what_nobody_marked_cannot_be_told() -> None:
    read = made(0, picture=np.zeros((40, 60, 3), dtype=np.uint8), name="black")
    assert set(read.untold) == {"warmth", "horizon", "light", "scale"}
    assert all(words.startswith("Cannot tell") for words in read.untold.values())
    assert read.warmth_mired is None
    assert read.contrast == 0.0


@pytest.mark.parametrize(
    ("picture", "more"),
    [
        (np.zeros((4, 4)), {}),
        (np.zeros((0, 4, 3), dtype=np.uint8), {}),
        (None, {"name": ""}),
        (None, {"light_deg": math.nan}),
        (None, {"figures": [(0.5, 0.5, 0.9, 0.1)]}),
        (None, {"vector": [0.0, 0.0]}),
        (None, {"vector": [np.nan]}),
        (None, {"things": [Thing("x")] * 401}),
    ],
)
def test_what_cannot_be_read_is_refused(picture: Any, more: dict[str, Any]) -> None:
    with pytest.raises(CannotMeasure):
        read_picture(flat(90) if picture is None else picture, **{"name": "a", **more})


# -- distances --------


def test_palettes_lie_apart_as_pot_says(sample: list[Read]) -> None:
    # POT's network simplex over the full ground distances of scikit-image's CIEDE2000.
    one, other = sample[0].palette, sample[2].palette
    ground = deltaE_ciede2000(one.lab[:, None, :], other.lab[None, :, :])
    plan = ot.emd(one.shares, other.shares, np.ascontiguousarray(ground))
    assert reads.apart(sample[0], sample[2], "palette") == pytest.approx(float((plan * ground).sum()), abs=1e-9)
    assert reads.apart(sample[2], sample[0], "palette") == reads.apart(sample[0], sample[2], "palette")


def test_a_palette_half_of_which_moves_lies_half_as_far() -> None:
    # By hand: half the mass stays, half moves over one ground distance, which Sharma, Wu & Dalal 2005 give for
    # their pair 1 as 2.0425.
    from refarchive.looks.colour import Palette

    first = Palette(np.array([[50.0, 2.6772, -79.7751], [20.0, 0, 0]]), np.array([0.5, 0.5]), np.zeros((2, 2)))
    second = Palette(np.array([[50.0, 0.0, -82.7485], [20.0, 0, 0]]), np.array([0.5, 0.5]), np.zeros((2, 2)))
    one, other = replace(made(90), palette=first), replace(made(91), palette=second)
    assert reads.apart(one, other, "palette") == pytest.approx(2.0425 / 2, abs=1e-4)


@pytest.mark.parametrize(("a", "b"), [(350, 20), (20, 350), (0, 180), (359, 1), (90, 90), (10, 200), (-170, 170)])
def test_light_turns_the_shorter_way(a: float, b: float) -> None:
    one, other = made(90, "a", light_deg=a), made(90, "b", light_deg=b)
    # By the dot product of the two directions.
    turn = math.degrees(math.acos(max(-1.0, min(1.0, math.cos(math.radians(a - b))))))
    assert reads.apart(one, other, "light") == pytest.approx(turn, abs=1e-6)


def test_steps_have_the_sign_of_the_way_along_the_wall() -> None:
    dark, light = bare(20, "a", horizon=0.3, warmth_mired=150.0), bare(60, "b", horizon=0.5, warmth_mired=210.0)
    (pair,) = neighbours([dark, light])
    assert pair["key"].value == pytest.approx(40)
    assert pair["key"].shown == "+40.0 L*"
    assert pair["horizon"].value == pytest.approx(0.2)
    assert pair["horizon"].shown == "+20 % of the height"
    assert pair["warmth"].value == pytest.approx(60)
    (back,) = neighbours([light, dark])
    assert back["key"].shown == "−40.0 L*"
    assert back["palette"].value == pair["palette"].value


def test_likeness_is_the_angle_of_vectors() -> None:
    one, other = made(90, "a", vector=[3.0, 0.0]), made(91, "b", vector=[1.0, 1.0])
    assert reads.apart(one, other, "likeness") == pytest.approx(1 - math.cos(math.radians(45)))
    assert reads.apart(one, made(92), "likeness") is None
    with pytest.raises(CannotMeasure, match="different encoders"):
        reads.apart(one, made(92, vector=[1.0, 0.0, 0.0]), "likeness")
    with pytest.raises(CannotMeasure, match="no measure"):
        reads.apart(one, other, "beauty")


# -- words --------


def test_words_of_a_short_series_come_from_absolute_limits() -> None:
    line = [bare(20, "a"), bare(24, "b"), bare(34, "c"), bare(60, "d")]
    words = [pair["key"].word for pair in neighbours(line)]
    assert words == ["near", "", "far"]
    assert "only 4 of the pictures carry it: absolute limits, 5.0 L* and 15.0 L*" in neighbours(line)[0]["key"].why


def test_words_of_a_long_series_come_from_its_own_quartiles() -> None:
    keys = [20, 30, 32, 60, 61, 90]
    line = [bare(key, f"f{key}") for key in keys]
    between = [abs(a - b) for a, b in combinations(keys, 2)]
    lower, upper = np.quantile(between, [0.25, 0.75])
    for pair, (a, b) in zip(neighbours(line), pairwise(keys), strict=True):
        expected = "far" if b - a > upper else "near" if b - a <= lower and b - a < 15 else ""
        assert pair["key"].word == expected
    found = reads.spread(line, "key")
    assert (found.lower, found.upper, found.pairs, found.pictures) == (lower, upper, 15, 6)


def test_a_narrow_series_has_nothing_far_and_a_wide_one_nothing_near() -> None:
    narrow = [bare(50 + 0.1 * k * k, f"f{k}") for k in range(6)]
    assert "far" not in {pair["key"].word for pair in neighbours(narrow)}
    assert any("which is little" in pair["key"].why for pair in neighbours([narrow[0], *narrow[5:], *narrow[1:5]]))
    wide = [bare(k, f"w{k}") for k in (1, 18, 35, 52, 69, 86)]
    assert {pair["key"].word for pair in neighbours(wide)} == {""}
    assert "which is much" in neighbours(wide)[0]["key"].why


def test_a_measure_that_few_carry_is_judged_by_few() -> None:
    line = [bare(k, f"f{k}", horizon=0.4 if k < 23 else None) for k in range(20, 27)]
    pairs = neighbours(line)
    assert pairs[0]["horizon"].word == "near"
    assert "only 3 of the pictures" in pairs[0]["horizon"].why
    assert pairs[3]["horizon"].word == "cannot tell"
    assert pairs[3]["horizon"].value is None


def test_why_it_cannot_be_told_names_the_picture() -> None:
    (pair,) = neighbours([made(90, "a", title="Lamp"), made(120, "b", title="Ford", light_deg=10)])
    assert pair["light"].why == "Lamp: Cannot tell: nothing is marked that the light was read from."
    assert "Cannot tell: light, scale." in pair.sentence


# -- repeats --------


def test_what_repeats_is_found_in_the_record() -> None:
    shawl = Thing("Crossed shawl", "shawl", "wardrobe", (("aa11", "Cockle women"), ("bb", "Inventory")))
    cloak = Thing("Cloak", "cloak", "wardrobe", (("bb", "Inventory"),))
    lamp = Thing("Lantern", "lamp", "props", (("cc", "Horn lantern"),))
    one = made(60, "a", things=[shawl, cloak], place="Merrow Sands", people=[Person("Anne Dove", "Ines")])
    other = made(
        200,
        "b",
        picture=flat(200)[::-1],
        things=[replace(shawl, name="CROSSED  SHAWL", references=()), lamp],
        place="merrow sands ",
        people=[Person("Hannah Bell", "ines"), Person("Anne Dove")],
    )
    found = {(one.kind, one.what): one.how for one in repeats(one, other)}
    assert found == {
        ("place", "merrow sands "): "the same words",
        ("garment", "CROSSED  SHAWL"): "the same name",
        ("figure", "Anne Dove"): "the same name",
        ("performer", "ines"): "as “Anne Dove” and as “Hannah Bell”",
    }
    again = made(200, "c", picture=flat(200)[::-1], things=[Thing("Mantle", references=(("bb", "Inventory"),))])
    (shared,) = repeats(one, again)
    assert shared == series.Repeat("reference", "Inventory", "for “Crossed shawl”, “Cloak”, and for “Mantle”")
    both = made(200, "d", picture=flat(200)[::-1], things=[shawl])
    assert [(r.kind, r.how) for r in repeats(one, both)] == [("garment", "the same name and a reference in common")]
    assert repeats(again, made(10, "e", things=[lamp])) == ()


def test_a_slug_in_common_is_found_under_another_name() -> None:
    one = made(60, "a", things=[Thing("Shawl, crossed", "anne-shawl", "wardrobe")])
    other = made(200, "b", picture=flat(200)[::-1], things=[Thing("Her shawl", "anne-shawl", "wardrobe")])
    assert repeats(one, other) == (series.Repeat("garment", "Her shawl", "the same slug"),)


def test_the_same_picture_is_said_to_be() -> None:
    one = made(90, "a")
    assert repeats(one, one)[0] == series.Repeat("picture", "a", "the same frame")
    assert repeats(one, made(90, "b"))[0].how == "a near copy: at most 0 of the hashes' 64 bits differ"
    # The same layout in other colours is another picture.
    assert repeats(one, made(0, "c", picture=flat(90, warm=60))) == ()


# -- the whole --------


def test_the_sample_frames_differ_as_they_were_drawn(sample: list[Read]) -> None:
    first, second, _ = neighbours(sample)
    assert first["key"].word == "far"  # a night scene beside the same one lit flat
    assert first["key"].value == pytest.approx(sample[1].key - sample[0].key)
    assert "Both lying, of one shape." in first.sentence
    assert second["key"].word == "near"
    assert set(first.as_dict()) == {"first", "second", "differences", "shapes", "repeats", "words"}


def test_one_picture_has_no_neighbours_and_two_places_beside_it() -> None:
    one = made(90, "a", title="A")
    assert neighbours([one]) == ()
    before, after = sit(made(30, "b", title="B"), [one])
    assert (before.where, after.where) == ("before A", "after A")
    assert before.before is None
    assert before.after is not None
    assert before.after.first == "B"
    assert after.after is None
    assert after.before is not None
    assert after.before.second == "B"
    with pytest.raises(CannotMeasure, match="no finished picture"):
        neighbours([])


def test_a_candidate_is_held_against_both_neighbours_at_every_place() -> None:
    line = [bare(key, f"f{key}", title=str(key)) for key in (20, 40, 70)]
    candidate = bare(50, "new", title="new")
    seats = sit(candidate, line)
    assert [seat.place for seat in seats] == [0, 1, 2, 3]
    assert [seat.where for seat in seats] == ["before 20", "between 20 and 40", "between 40 and 70", "after 70"]
    steps = [(s.before and s.before["key"].value, s.after and s.after["key"].value) for s in seats]
    assert steps == [(None, -30), (30, -10), (10, 20), (-20, None)]
    assert seats[1].parted is not None
    assert seats[1].parted["key"].value == 20
    assert not any(hasattr(seat, name) for seat in seats for name in ("score", "best", "rank"))
    assert seats[1].as_dict()["before"]["first"] == "20"
    with pytest.raises(CannotMeasure, match="in the series already"):
        sit(line[0], line)


def test_the_candidate_has_no_part_in_the_spread_it_is_judged_by() -> None:
    line = [bare(key, f"f{key}") for key in (40, 42, 50, 52, 60)]
    far = sit(bare(99, "new"), line)[0].after
    assert far is not None
    expected = neighbours(line)[0]["key"].why
    assert far["key"].why == expected
    assert far["key"].word == "far"


def test_a_candidate_echoes_pictures_that_hang_far_off() -> None:
    shawl = Thing("Shawl", department="wardrobe")
    line = [
        made(k, f"f{k}", picture=np.roll(flat(k), k, axis=0), things=[shawl] if k == 90 else []) for k in (90, 150, 210)
    ]
    (echo,) = echoes(made(30, "new", things=[shawl]), line)
    assert (echo.number, echo.title) == (0, "f90")
    assert ("garment", "Shawl", "the same name") in {(r.kind, r.what, r.how) for r in echo.repeats}


def test_pictures_of_any_size_and_names_in_four_scripts() -> None:
    line = [
        read_picture(flat(40 + 20 * k, height=h, width=w), name=f"n{k}", title=title, place=title)
        for k, (title, h, w) in enumerate(zip(NAMES, (60, 200, 31, 90, 44), (90, 120, 31, 60, 320), strict=True))
    ]
    pairs = neighbours(line)
    assert pairs[0].shapes == "Lying beside upright."
    assert pairs[2].shapes == "Square beside upright."
    (same,) = neighbours([line[0], line[4]])
    assert same.shapes == "Both lying, 1.50 and 7.27 wide for 1 high."
    assert {read.orientation for read in line} == {"lying", "upright", "square"}
    assert pairs[1].first == "渡し場の灯"
    assert "between عبور الدليل and יעל" in [seat.where for seat in sit(made(250, "c"), line)]


def test_identical_pictures_are_near_and_none_is_far() -> None:
    line = [made(90, f"f{k}") for k in range(6)]
    for pair in neighbours(line):
        assert {one.word for one in pair.differences} == {"near", "cannot tell"}
        assert pair.repeats[0].kind == "picture"
    assert {one.word for one in series.rhythms(line)} == {"no pattern can be told with 6 pictures"}
    assert propose(line, "smooth", "palette").moved == 0


def test_with_everything_missing_nothing_is_made_up() -> None:
    line = [made(0, f"f{k}", picture=np.zeros((30, 40, 3), dtype=np.uint8)) for k in range(5)]
    for pair in neighbours(line):
        assert [one.measure for one in pair.differences if one.word == "cannot tell"] == [
            "warmth", "horizon", "light", "scale",
        ]  # fmt: skip
    warm = next(one for one in series.rhythms(line) if one.measure == "warmth")
    assert warm.median is None
    assert "5 cannot be told" in warm.sentence
    with pytest.raises(CannotMeasure, match="Fewer than two"):
        propose(line, "smooth", "horizon")


# -- alternatives in order --------


def test_orders_go_by_the_one_measure_named(sample: list[Read]) -> None:
    by_palette = propose(sample, "smooth", "palette")
    table = reads.matrix(sample, "palette")
    assert by_palette.now == ordering.steps(table, range(4))
    assert by_palette.then.total <= by_palette.now.total
    by_key = propose(sample, "by key")
    assert [sample[k].key for k in by_key.places] == sorted(read.key for read in sample)
    dated = propose(sample, "by date of event", spans=[(3, 3), (1, 2), None, (0, 0)])
    assert dated.places == (3, 1, 2, 0)
    assert propose(sample, "contrasting", "key", fixed={0: 2}).places[0] == 2


@pytest.mark.parametrize(
    ("arrangement", "measure", "more"),
    [
        ("smooth", "", {}),
        ("smooth", "light", {}),
        ("by date of event", "", {}),
        ("by date of event", "", {"spans": [None]}),
        ("by beauty", "", {}),
        ("contrasting", "likeness", {}),
    ],
)
def test_orders_without_a_criterion_are_refused(
    sample: list[Read], arrangement: str, measure: str, more: dict[str, Any]
) -> None:
    with pytest.raises(CannotMeasure):
        propose(sample, arrangement, measure, **more)


def test_sixty_pictures_are_told_quickly() -> None:
    random = np.random.default_rng(3)
    line = [made(30 + 3 * k, f"f{k}") for k in range(60)]
    line = [line[k] for k in random.permutation(60)]
    began = time.process_time()
    assert len(neighbours(line)) == 59
    first = time.process_time() - began
    again = time.process_time()
    found = propose(line, "smooth", "palette")
    assert time.process_time() - again < 2.0
    assert first < 10.0
    assert found.then.total < found.now.total


# -- rhythm --------


def test_runs_are_counted_as_all_orders_of_two_kinds_have_them() -> None:
    # Every arrangement written out: the shares with at most and at least so many runs.
    for above, below in ((1, 1), (3, 3), (2, 5), (4, 3), (5, 5)):
        total = above + below
        lines = [[k in chosen for k in range(total)] for chosen in combinations(range(total), above)]
        counts = [1 + sum(a != b for a, b in pairwise(line)) for line in lines]
        for line, count in zip(lines, counts, strict=True):
            found = rhythm.runs_of(line)
            assert found.count == count
            assert found.few == pytest.approx(np.mean([c <= count for c in counts]))
            assert found.many == pytest.approx(np.mean([c >= count for c in counts]))
            assert found.expected == pytest.approx(np.mean(counts))
            if found.z is not None:
                assert found.z == pytest.approx((count - np.mean(counts)) / np.std(counts))


def test_runs_lie_off_their_mean_as_r_says() -> None:
    # R, package tseries, runs.test, as quoted in the tests of statsmodels: z = 1.386750 for these sixteen.
    line = [bool(k) for k in (1, 1, 1, 0, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 0, 1)]
    assert rhythm.runs_of(line).z == pytest.approx(1.386750, abs=1e-6)


def critical(each: int) -> tuple[int, int]:
    """The most runs that are too few, and the fewest that are too many, at 2.5 % on either side."""
    chances = {}
    for count in range(2, 2 * each + 1):
        # A line with so many runs: blocks of one but for the last of either kind.
        blocks = [1] * count
        blocks[-1] += each - (count + count % 2) // 2 if count % 2 else each - count // 2
        blocks[-2] += each - count // 2
        line = [bool(k % 2 == 0) for k, length in enumerate(blocks) for _ in range(length)]
        assert sum(line) == each == len(line) - each
        chances[count] = rhythm.runs_of(line)
    return (
        max(c for c, found in chances.items() if found.few <= 0.025),
        min(c for c, found in chances.items() if found.many <= 0.025),
    )


@pytest.mark.parametrize(("each", "few", "many"), [(5, 2, 10), (8, 4, 14), (10, 6, 16), (12, 7, 19), (20, 14, 28)])
def test_critical_numbers_of_runs_are_those_of_the_table(each: int, few: int, many: int) -> None:
    # Swed & Eisenhart 1943, as reprinted in Siegel 1956, table F (values from memory).
    assert critical(each) == (few, many)


def told(*values: float | None) -> rhythm.Rhythm:
    return rhythm.rhythm("key", "L*", values, "darker", "lighter")


def test_a_drift_is_told_with_its_chance() -> None:
    down = told(60, 50, 45, 30, 20)
    assert down.word == "drifts darker"
    # Kendall: of the 5! orders two reach |tau| = 1.
    assert down.tau == pytest.approx(-1.0)
    assert down.drift_chance == pytest.approx(2 / math.factorial(5))
    assert told(20, 30, 45, 50, 60).word == "drifts lighter"
    # One of ten pairs the other way round: tau is (9 − 1) / 10.
    assert told(1, 2, 3, 5, 4).tau == pytest.approx(0.8)


def test_figures_are_told_of_a_pattern_only() -> None:
    down = told(60, 50, 45, 30, 20)
    assert down.told == f"Drifts darker. {down.sentence}"
    assert told(20, 60, 21, 61, 22, 62).told == "No pattern can be told with 6 pictures."


def test_an_alternation_needs_enough_pictures() -> None:
    ten = told(*[20.0 + k % 3 + 40 * (k % 2) for k in range(10)])
    assert ten.word == "alternates"
    assert ten.runs is not None
    assert ten.runs.many == pytest.approx(2 / math.comb(10, 5))
    six = told(20, 60, 21, 61, 22, 62)
    assert six.word == "no pattern can be told with 6 pictures"
    assert "6 runs about the median where 4.0 are expected; 10 % of chance orders have as many." in six.sentence
    assert (six.up, six.down, six.level) == (3, 2, 0)


def test_long_stretches_on_one_side_are_told() -> None:
    blocks = told(60, 61, 62, 63, 64, 20, 21, 22, 23, 24, 25, 65)
    assert blocks.word == "stays long on one side"
    assert (blocks.longest, blocks.longest_at) == (6, 5)


def test_what_cannot_be_told_is_passed_over() -> None:
    gaps = told(None, 10, None, 30, 20)
    assert gaps.steps == (20.0, -10.0)
    assert gaps.median == 20
    assert gaps.longest_at == 1
    assert "2 cannot be told and are passed over." in gaps.sentence
    assert told().word == "no pattern can be told with 0 pictures"
    assert told(5).word == "no pattern can be told with 1 picture"
    with pytest.raises(CannotMeasure):
        told(1.0, math.inf)
    with pytest.raises(CannotMeasure):
        rhythm.runs_of([True, True])


def test_chance_series_seldom_show_a_pattern() -> None:
    # What is said of chance series: three measures, two patterns each, normal numbers in any order.
    random = np.random.default_rng(0)
    shown = [any(not told(*random.normal(size=12)).word.startswith("no pattern") for _ in range(3)) for _ in range(200)]
    assert 0.12 < np.mean(shown) < 0.28
