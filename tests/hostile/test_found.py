# ruff: noqa: E501 (tables)
"""What fuzzing found, one test each, seen to fail before it was mended."""

from __future__ import annotations

import io
import json
import os
import re
import struct
import threading
import tracemalloc
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from PIL import Image
from raw_file import write_dng

from refarchive.archive import Archive
from refarchive.demo import shipped
from refarchive.errors import (
    ArchiveAway,
    ArchiveDamaged,
    PlanRefused,
    PublishRefused,
    RefArchiveError,
    SheetRefused,
    SourceRefused,
)
from refarchive.jobs.choosing import sittings
from refarchive.jobs.keeping import opening
from refarchive.jobs.references import filling, signatures, thumbnails
from refarchive.panels import base
from refarchive.panels import onsite as onsite_panel
from refarchive.paper import shown
from refarchive.publish import iim, tiff_tags
from refarchive.records import bounded, files, preview_sums, shared, tally
from refarchive.scenes.places import Places
from refarchive.scenes.plan import read_plan
from refarchive.search import vectors
from refarchive.site import clocks, instants
from refarchive.sources import described, fetching, firsts, linear, metadata, passages, pdf_pages, sheet, shot

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
    {"generation": -1}, {"generation": 10**300}, {"generation": float("inf")}, {"format": float("inf")}, {"identity": [1]}, {"format": 0},
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


# --- what hangs, or takes minutes where seconds should do -----------------------------------------------------------

PATIENCE_S = 60.0  # what is in order takes a fraction of a second; what was found took minutes, or never ended


def ended(call: Callable[[], Any]) -> Any:
    """What the call returns or raises; it fails where the call has not ended by then."""
    told: list[Any] = []

    def run() -> None:
        try:
            told.append((call(), None))
        except BaseException as error:
            told.append((None, error))

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    thread.join(PATIENCE_S)
    assert told, "it has not ended"
    value, error = told[0]
    if error is not None:
        raise error
    return value


READERS: dict[str, tuple[str, Callable[[Path], Any]]] = {
    "picture_size": ("a.jpg", files.picture_size),
    "open_picture": ("a.jpg", files.open_picture),
    "hash_of": ("a.jpg", files.hash_of),
    "read_shot": ("a.dng", shot.read_shot),
    "shot_picture": ("a.jpg", shot.shot_picture),
    "open_linear": ("a.tif", linear.open_linear),
    "open_linear, raw": ("a.dng", linear.open_linear),
    "read_text": ("a.txt", passages.read_text),
    "read_json": ("a.json", described.read_json),
    "read_sheet": ("a.csv", sheet.read_sheet),
    "read_firsts": ("a.csv", firsts.read_firsts),
    "filled": ("a.csv", filling._rows),
    "sittings": ("a.csv", sittings._rows),
    "pdf": ("a.pdf", lambda path: pdf_pages.opened(path).__enter__()),
    "shared.toml": (shared.POINTER, lambda path: shared.read(path.parent)),
    "vectors": (vectors.HEAD, lambda path: vectors.opened(path.parent)),
    "thumbnail": ("a.jpg", lambda path: thumbnails.thumbnail(path, 64)),
}


@pytest.mark.parametrize("reader", READERS)
def test_a_named_pipe_is_refused_and_not_waited_for(tmp_path: Path, reader: str) -> None:
    name, read = READERS[reader]
    os.mkfifo(tmp_path / name)
    with pytest.raises(RefArchiveError):
        ended(lambda: read(tmp_path / name))


def test_pipes_in_place_of_an_archives_own_files_are_damage_or_nothing(tmp_path: Path) -> None:
    for name in ("pairs", tally.FILE, opening.MARK, "a.jpg"):
        os.mkfifo(tmp_path / name)
    assert ended(lambda: signatures.Pairs(tmp_path / "pairs")).damaged
    assert ended(lambda: signatures._kept(tmp_path / "pairs")) is None
    assert ended(lambda: tally.read(tmp_path)) is None
    assert ended(lambda: preview_sums.state(tmp_path / "a.jpg")) is preview_sums.State.DAMAGED
    assert ended(lambda: metadata.read_metadata(tmp_path / "a.jpg")) == {}
    with pytest.raises(ArchiveAway):
        ended(lambda: opening._check_mark(None, tmp_path))  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["keys.0.txt", "sums.0.u32"])
def test_a_pipe_among_the_files_of_vectors_is_damage(tmp_path: Path, name: str) -> None:
    file = vectors.VectorFile(tmp_path / "v", identity={"name": "tiny"}, dimension=3)
    file.append(["a"], np.ones((1, 3), np.float32))
    (tmp_path / "v" / name).unlink()
    os.mkfifo(tmp_path / "v" / name)
    with pytest.raises(ArchiveDamaged):
        ended(lambda: vectors.VectorFile(tmp_path / "v", identity={"name": "tiny"}, dimension=3).damaged())


def test_a_plan_in_a_pipe_is_refused_and_a_sheet_of_sittings_too(archive: Archive, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(PlanRefused, match="a pipe, a socket or a device"):
        ended(lambda: archive.read_scene(tmp_path / "pipe"))
    archive.plan(HEAD)
    with pytest.raises(SheetRefused, match="a pipe, a socket or a device"):
        ended(lambda: archive.after.read_sittings("ford", tmp_path / "pipe"))


def test_a_plan_larger_than_plans_are_is_not_read_into_memory(archive: Archive, tmp_path: Path) -> None:
    with open(tmp_path / "large.toml", "wb") as file:
        file.truncate(300_000_000)
    tracemalloc.start()
    try:
        with pytest.raises(PlanRefused, match="larger than 4 MB"):
            archive.read_scene(tmp_path / "large.toml")
        assert tracemalloc.get_traced_memory()[1] < 20_000_000
    finally:
        tracemalloc.stop()


def test_a_file_that_grows_while_it_is_read_is_not_read_beyond_the_bound(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"x" * 101)
    assert bounded.read_bounded(tmp_path / "a", 101) == b"x" * 101
    with pytest.raises(OSError, match="larger than 100 bytes"):
        bounded.read_bounded(tmp_path / "a", 100)
    with pytest.raises(IsADirectoryError):
        bounded.read_bounded(tmp_path, 100)


def test_many_tables_and_long_lines_of_blanks_do_not_take_longer_than_their_length() -> None:
    tables = "".join(f"[[a{number}]]\nx = 1\n" for number in range(60_000))
    assert ended(lambda: Places(tables)).line(("a59999", 0, "x")) == 120_000
    assert ended(lambda: Places("[" + " " * 900_000 + "x\n[scene]")).line(("scene",)) == 2
    assert ended(lambda: Places("[" + "a." * 400_000 + "a]\n[scene]")).line(("scene",)) == 2


@pytest.mark.parametrize("line", ["[need]", "  [ need ] # x", "[[need]]", "[[ need ]]#", '["need"]'])
def test_headers_of_tables_are_still_found(line: str) -> None:
    at = ("need", 0) if "[[" in line else ("need",)
    assert Places(f"x = 1\n{line}\ny = 2\n").line((*at, "y")) == 3


@pytest.mark.parametrize("line", ["[need", "[need] x", "[[need]", '[ne"ed#]', "[]", "[[]]", "x[need]", "[ne,ed]"])
def test_what_is_no_header_is_none(line: str) -> None:
    assert Places(f"{line}\n").line(("need",)) is None


# --- pictures -------------------------------------------------------------------------------------------------------


def claiming(width: int, height: int, samples: int, kind: tuple[int, int], compression: int = 1) -> bytes:
    """A TIFF of some hundred bytes (TIFF 6.0) whose head promises samples of (format, bits) that are not there."""
    tags = {
        256: width, 257: height, 258: kind[1], 259: compression, 262: 2 if samples >= 3 else 1, 273: 400, 277: samples,
        278: height, 279: 64, 284: 2, 339: kind[0],
    }  # fmt: skip
    entries = b"".join(struct.pack("<HHII", tag, 4, 1, value) for tag, value in sorted(tags.items()))
    packed = zlib.compress(b"\0" * 64) if compression == 8 else b"\0" * 64
    return (b"II*\0" + struct.pack("<IH", 8, len(tags)) + entries + b"\0" * 4).ljust(400, b"\0") + packed


FLOATS, WHOLE = 3, 1


@pytest.mark.parametrize("read", [files.open_picture, linear.open_linear])
@pytest.mark.parametrize(("said", "words"), [
    ((14_000, 14_000, 3, (FLOATS, 64)), "bytes of samples"), ((14_000, 14_000, 4, (WHOLE, 32)), "bytes of samples"),
    ((7_000, 7_000, 3, (WHOLE, 16)), "can hold"), ((5_000, 5_000, 3, (FLOATS, 32), 8), "can hold"),
])  # fmt: skip
def test_a_small_tiff_that_claims_gigabytes_is_refused_before_room_is_made(
    tmp_path: Path, read: Callable[[Path], Any], said: Any, words: str
) -> None:
    (tmp_path / "a.tif").write_bytes(claiming(*said))
    tracemalloc.start()
    try:
        with pytest.raises(SourceRefused, match=words):
            read(tmp_path / "a.tif")
        assert tracemalloc.get_traced_memory()[1] < 20_000_000
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("read", [linear.open_linear, shot.read_shot, shot.shot_picture])
def test_a_raw_file_cut_short_is_refused_in_words(tmp_path: Path, read: Callable[[Path], Any]) -> None:
    whole = write_dng(tmp_path / "a.dng", np.full((600, 900, 3), 0.25)).read_bytes()
    for length in (700, 1200, 5_000, len(whole) // 2, len(whole) - 300):
        (tmp_path / "b.dng").write_bytes(whole[:length])
        with pytest.raises(SourceRefused) as caught:
            read(tmp_path / "b.dng")
        assert "b'" not in str(caught.value)  # LibRaw's words come as bytes


def test_a_preview_that_claims_to_be_huge_is_damage(tmp_path: Path) -> None:
    from PIL import Image

    Image.new("L", (64, 64)).save(tmp_path / "a.jpg")
    data = (tmp_path / "a.jpg").read_bytes()
    at = data.index(b"\xff\xc0") + 5
    (tmp_path / "a.jpg").write_bytes(data[:at] + struct.pack(">HH", 60_000, 60_000) + data[at + 4 :])
    with pytest.raises(ArchiveDamaged):
        thumbnails.thumbnail(tmp_path / "a.jpg", 32)


# --- metadata on their way out --------------------------------------------------------------------------------------


def test_more_image_resources_and_data_sets_than_any_picture_has_are_refused() -> None:
    one = b"8BIM\x04\x05\0\0\0\0\0\x02ab"
    assert len(iim.resources(one * 1000)) == 1000
    with pytest.raises(PublishRefused, match="image resources"):
        iim.resources(one * (iim.MOST_RESOURCES + 1))
    with pytest.raises(PublishRefused, match="data sets"):
        list(iim.data_sets(b"\x1c\x02\x78\0\x01a" * (iim.MOST_SETS + 1)))


def test_values_that_lie_over_one_another_are_refused() -> None:
    """Every directory of 65,535 entries that each claim the whole file: to blank them one by one took hours."""
    count, size = 60_000, 8_000_000
    entry = struct.pack("<HHII", tiff_tags.XMP, 1, size - 100, 50)
    data = b"II*\0" + struct.pack("<I", size) + b"\0" * (size - 8)
    data += struct.pack("<H", count) + entry * count + struct.pack("<I", 0)
    with pytest.raises(PublishRefused, match="over one another"):
        ended(lambda: tiff_tags.emptied(tiff_tags.read(data, "The TIFF"), {tiff_tags.XMP}))


# --- panels ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def panel(archive: Archive) -> Any:
    made = base.Panel(archive)
    made.told = []
    made.send = lambda content, buffers=None: made.told.append(content)
    yield made
    made.close()


@pytest.mark.parametrize("number", ["x", None, [1], {"a": 1}, 1.5, "9" * 5000])
def test_a_stop_without_a_number_is_answered_in_words(panel: Any, number: Any) -> None:
    panel._received(None, {"ask": "stop", "number": 4, "with": {"number": number}}, [])
    assert panel.told[-1]["problem"]["sentence"]
    assert not panel._stop


@pytest.mark.parametrize("name", ["ö" * 200 + ".jpg", "𝄞" * 300 + ".tiff", "a." + "ж" * 300, "…" * 90, "\ud800.jpg"])
def test_a_long_name_of_other_scripts_is_taken(panel: Any, name: str) -> None:
    asked = {"ask": "take", "number": 1, "with": {"name": name, "at": 0, "size": 3}}
    panel._received(None, asked, [b"abc"])
    panel.wait(60)
    taken = Path(panel.told[-1]["answer"]["path"])
    assert taken.read_bytes() == b"abc"
    assert len(taken.name.encode()) <= 200
    assert taken.suffix in (".jpg", ".tiff") or not name.endswith(("jpg", "tiff"))


@pytest.mark.parametrize("name", ["x" * 5_000, "a\0b", "../../etc/passwd", "\ud800"])
def test_a_file_that_was_never_taken_is_named(panel: Any, name: str) -> None:
    with pytest.raises(RefArchiveError):
        panel.taken(name)


@pytest.mark.parametrize("code", ["9" * 150, "25F" + "9" * 100, "25F23(LION)(+4" + "6" * 90 + ")", "11H" + "A" * 140])
def test_a_notation_that_goes_on_and_on_is_refused_at_once(code: str) -> None:
    """Every shorter one was tried within each refusal: twice as long with every character."""
    from refarchive.subjects import tree

    with pytest.raises(RefArchiveError) as caught:
        ended(lambda: tree.notation(code))
    assert str(caught.value)


@pytest.mark.parametrize("last", ["1e999", "Infinity", "-1e400", "NaN", '"x"', "[3]", "null"])
def test_a_tally_with_a_number_that_is_none_counts_for_nothing(tmp_path: Path, last: str) -> None:
    told = f'{{"version": "7", "last": {last}, "sums": {{}}}}'.encode()
    (tmp_path / tally.FILE).write_bytes(b"%08x\n%s" % (zlib.crc32(told), told))
    assert ended(lambda: tally.read(tmp_path)) is None


@pytest.mark.parametrize(
    "address", ["https://host.example/\ud800", "https://host.example/?q=\udfff", "http://h/a\udc80b"]
)
def test_an_address_with_half_a_character_is_refused(address: str) -> None:
    with pytest.raises(RefArchiveError, match="no web address"):
        fetching._parts(address)


def test_no_sentence_repeats_a_value_without_end() -> None:
    for ask in (instants.day_start, instants.seconds_of_day, instants.instant, clocks.zone_of):
        with pytest.raises(RefArchiveError) as caught:
            ask("2025-01-01T" + "9" * 70_000)
        assert len(str(caught.value)) < 5_000
        assert caught.value.next_step in str(caught.value)


@pytest.mark.parametrize("name", ["a/" * 600, "Europe/" + "x/" * 5_000 + "London", "9" * 70_000])
def test_a_zone_of_many_parts_is_refused_before_it_is_looked_for(name: str) -> None:
    with pytest.raises(RefArchiveError, match="no time zone"):
        clocks.zone_of(name)


@pytest.mark.parametrize("given", ["{}", "[{}]", "[[{}]]"])
def test_a_number_of_more_digits_than_python_writes_is_refused(given: str) -> None:
    plan = (shipped("sample_refs") / "scenes" / "pilots-crossing.toml").read_text("utf-8")
    before, _, after = plan[plan.index("[rig]") :].partition("[[rig.figure]]")
    scene = '[scene]\ntitle = "a"\nslug = "a"\nevent = "e"\nstory = "s"\n'
    large = given.format("0x" + "f" * 9_000)
    with pytest.raises(RefArchiveError, match="very many digits"):
        read_plan(f"{scene}{before}[[rig.figure]]{re.sub('y_m = .*', f'y_m = {large}', after, count=1)}", Nothing())


def test_a_light_without_a_number_is_named() -> None:
    with pytest.raises(RefArchiveError, match="no number of a light"):
        onsite_panel.OnSite.look(None, "ford", "2027-10-11", 0, 600, {"p0.jpg": 1.0})  # type: ignore[arg-type]


def test_a_picture_that_breaks_where_its_orientation_stands_is_refused() -> None:
    kept = io.BytesIO()
    Image.fromarray(np.random.default_rng(1).integers(0, 256, (300, 300, 3), np.uint8)).save(kept, "PNG")
    first, *others = kept.getvalue().split(b"IDAT")
    assert len(others) > 2
    broken = b"IDAT".join([first, others[0]]) + b"ZO\xdd\xec" + b"IDAT".join(others[1:])
    with pytest.raises(RefArchiveError):
        shown.measured("a", broken)
