"""What fuzzing found, one test each, seen to fail before it was mended."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile

from refarchive.archive import Archive
from refarchive.errors import ArchiveDamaged, PlanRefused, SourceRefused
from refarchive.publish import iim
from refarchive.records import files
from refarchive.scenes.plan import read_plan
from refarchive.search import vectors

HEAD = '[scene]\ntitle = "The ford"\nslug = "ford"\n'


@pytest.mark.parametrize("kind", [np.complex64, np.complex128])
def test_a_tiff_of_numbers_that_are_no_light_is_refused(tmp_path: Path, kind: type) -> None:
    tifffile.imwrite(tmp_path / "a.tif", np.ones((8, 8), kind), metadata=None)
    with pytest.raises(SourceRefused, match="samples of the kind"):
        files.open_picture(tmp_path / "a.tif")


class Nothing:
    def resolve(self, name: str) -> Any:
        raise AssertionError(name)

    def passages(self, reference: str | None = None) -> list[Any]:
        return []


@pytest.mark.parametrize("number", ["9" * 4400, "0x" + "f" * 4000, "-" + "9" * 4400])
@pytest.mark.parametrize("field", ["[scene]\nlatitude", "[rig]\nx", "[scene]\nslug"])
def test_a_number_of_thousands_of_digits_is_refused_in_words(number: str, field: str) -> None:
    table, _, key = field.partition("\n")
    with pytest.raises(PlanRefused) as caught:
        read_plan(f"{table}\n{key} = {number}\n", Nothing())
    assert len(str(caught.value)) < 2_000


def test_a_plan_opened_by_slug_refuses_such_a_number_too(archive: Archive) -> None:
    archive.plan(HEAD)
    with pytest.raises(PlanRefused):
        archive.planning.write("ford", f"{HEAD}latitude = {'9' * 4400}\n")


@pytest.mark.parametrize("values", [[float("nan"), 2], [float("inf"), 2], [10**400, 2]])
def test_no_number_stands_where_two_are_wanted(values: list[float]) -> None:
    from refarchive.scenes.onsite_plan import _numbers

    class Reader:
        def refuse(self, path: object, problem: str, next_step: str) -> PlanRefused:
            return PlanRefused(problem, next_step)

    with pytest.raises(PlanRefused):
        _numbers(values, 2, ("site",), Reader())  # type: ignore[arg-type]


@pytest.mark.parametrize("said", [
    {"dimension": 0}, {"dimension": -1}, {"dimension": 2**62}, {"dimension": 10**30}, {"dimension": float("inf")},
    {"generation": -1}, {"generation": float("inf")}, {"format": float("inf")}, {"identity": [1]}, {"format": 0},
])  # fmt: skip
def test_a_head_of_vectors_that_cannot_be_is_damage(tmp_path: Path, said: dict[str, Any]) -> None:
    head = {"format": 1, "identity": {"name": "tiny"}, "dimension": 3, "generation": 0} | said
    (tmp_path / "head.json").write_text(json.dumps(head))
    (tmp_path / "keys.0.txt").write_text('"a"\n')
    (tmp_path / "rows.0.f32").write_bytes(b"\0" * 12)
    with pytest.raises(ArchiveDamaged):
        vectors.opened(tmp_path)


def test_a_head_of_vectors_nested_beyond_reading_is_damage(tmp_path: Path) -> None:
    (tmp_path / "head.json").write_text("[" * 100_000)
    with pytest.raises(ArchiveDamaged):
        vectors.opened(tmp_path)


@pytest.mark.parametrize("size", [32_767, 32_768, 40_000, 65_536, 70_000])
def test_a_long_data_set_of_others_is_kept_whole(size: int) -> None:
    value = b"a" * size
    made = iim._data_set(2, 200, value)
    assert list(iim.data_sets(made)) == [(2, 200, value)]
