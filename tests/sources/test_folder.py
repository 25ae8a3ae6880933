"""Walking folders that hold more than well-meant files."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refarchive.sources import folder as folder_module
from refarchive.sources.folder import Found, Refusal, root_key, shown_name, walk


def found(source: Path) -> list[str]:
    return [one.relative for one in walk(source) if isinstance(one, Found)]


def refused(source: Path) -> dict[str, str]:
    return {one.source: one.problem for one in walk(source) if isinstance(one, Refusal)}


def test_files_come_in_the_order_of_their_names_whatever_the_order_on_disk(tmp_path: Path) -> None:
    for name in ("b.jpg", "B.jpg", "a/z.txt", "a/b/c.png", "ä.jpg", "10.jpg", "9.jpg"):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"12345")
    assert found(tmp_path) == ["10.jpg", "9.jpg", "B.jpg", "a/b/c.png", "a/z.txt", "b.jpg", "ä.jpg"]
    one = next(iter(walk(tmp_path)))
    assert isinstance(one, Found)
    assert (one.size, one.mtime_ns) == (5, (tmp_path / "10.jpg").stat().st_mtime_ns)
    assert one.path == tmp_path.resolve() / "10.jpg"


def test_one_file_is_a_source_too(tmp_path: Path) -> None:
    (tmp_path / "cart.jpg").write_bytes(b"1")
    assert found(tmp_path / "cart.jpg") == ["cart.jpg"]


def test_what_programs_leave_beside_pictures_is_passed_over(tmp_path: Path) -> None:
    for name in (
        ".DS_Store",
        "._cart.jpg",
        "Thumbs.db",
        "desktop.ini",
        "cart.xmp",
        "cart.jpg~",
        ".git/x.jpg",
        "a.part",
    ):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"1")
    (tmp_path / "__MACOSX").mkdir()
    (tmp_path / "__MACOSX" / "cart.jpg").write_bytes(b"1")
    (tmp_path / "cart.jpg").write_bytes(b"1")
    assert found(tmp_path) == ["cart.jpg"]
    assert refused(tmp_path) == {}


def test_links_out_of_the_folder_are_refused_and_the_rest_goes_on(tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    inside = tmp_path / "inside"
    outside.mkdir()
    inside.mkdir()
    (outside / "secret.jpg").write_bytes(b"1")
    (inside / "a.jpg").write_bytes(b"1")
    (inside / "file.jpg").symlink_to(outside / "secret.jpg")
    (inside / "folder").symlink_to(outside)
    (inside / "up.jpg").symlink_to("../outside/secret.jpg")
    (inside / "z.jpg").write_bytes(b"1")
    assert found(inside) == ["a.jpg", "z.jpg"]
    problems = refused(inside)
    assert set(problems) == {"file.jpg", "folder", "up.jpg"}
    assert all("leads out of the folder" in problem for problem in problems.values())
    assert "outside" not in " ".join(problems.values())


def test_a_neighbour_whose_name_only_begins_alike_is_outside(tmp_path: Path) -> None:
    (tmp_path / "refs").mkdir()
    (tmp_path / "refs-private").mkdir()
    (tmp_path / "refs-private" / "a.jpg").write_bytes(b"1")
    (tmp_path / "refs" / "a.jpg").symlink_to(tmp_path / "refs-private" / "a.jpg")
    assert found(tmp_path / "refs") == []


def test_links_within_the_folder_lead_to_the_file_itself(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"1")
    (tmp_path / "b.jpg").symlink_to("a.jpg")
    both = [one for one in walk(tmp_path) if isinstance(one, Found)]
    assert [one.relative for one in both] == ["a.jpg", "b.jpg"]
    assert both[0].path == both[1].path
    assert not both[1].path.is_symlink()


def test_circles_of_links_end(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "back").symlink_to(tmp_path)
    (tmp_path / "one").symlink_to("two")
    (tmp_path / "two").symlink_to("one")
    (tmp_path / "gone").symlink_to("nowhere")
    (tmp_path / "c.jpg").write_bytes(b"1")
    assert found(tmp_path) == ["c.jpg"]
    problems = refused(tmp_path)
    assert "link to a folder" in problems["a/back"]
    assert "circle" in problems["one"]
    assert "circle" in problems["two"]
    assert "not there" in problems["gone"]


def test_pipes_and_sockets_are_refused_without_opening_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    (tmp_path / "pipe-link.jpg").symlink_to("pipe.jpg")
    monkeypatch.chdir(tmp_path)  # the path of a socket has to be short
    with socket.socket(socket.AF_UNIX) as server:
        server.bind("socket.jpg")
        problems = refused(tmp_path)
    assert set(problems) == {"pipe.jpg", "pipe-link.jpg", "socket.jpg"}
    assert all("not a file" in problem for problem in problems.values())
    assert refused(tmp_path / "pipe.jpg") == {"pipe.jpg": problems["pipe.jpg"]}


def test_what_is_not_there_is_refused(tmp_path: Path) -> None:
    assert refused(tmp_path / "nothing.jpg") == {"nothing.jpg": "There is nothing at nothing.jpg."}
    assert len(refused(tmp_path / ("x" * 5000))) == 1
    assert len(refused(tmp_path / "nul\0.jpg")) == 1


def test_a_folder_that_cannot_be_listed_is_refused_and_the_rest_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "locked").mkdir()
    (tmp_path / "z.jpg").write_bytes(b"1")
    scandir = os.scandir

    def deny(path: Path) -> object:
        if Path(path).name == "locked":
            raise PermissionError(13, "Permission denied")
        return scandir(path)

    monkeypatch.setattr(folder_module.os, "scandir", deny)
    assert found(tmp_path) == ["z.jpg"]
    assert "may not be read" in refused(tmp_path)["locked"]


def test_folders_too_deep_are_refused(tmp_path: Path) -> None:
    deepest = tmp_path / "/".join(["d"] * 70)
    deepest.mkdir(parents=True)
    (deepest / "a.jpg").write_bytes(b"1")
    (tmp_path / "z.jpg").write_bytes(b"1")
    assert found(tmp_path) == ["z.jpg"]
    assert ["folders deep" in problem for problem in refused(tmp_path).values()] == [True]


HOSTILE = 'sand\npilot\'s "cart" \u202egpj.exe <b>\u2066.jpg'


def test_hostile_names_are_kept_as_they_are_and_shown_made_visible(tmp_path: Path) -> None:
    (tmp_path / HOSTILE).write_bytes(b"1")
    (one,) = walk(tmp_path)
    assert isinstance(one, Found)
    assert one.relative == HOSTILE
    assert one.path.read_bytes() == b"1"
    shown = shown_name(one.relative)
    assert shown == 'sand[U+000A]pilot\'s "cart" [U+202E]gpj.exe <b>[U+2066].jpg'


def test_names_that_are_no_utf8_can_be_stored_and_read(tmp_path: Path) -> None:
    raw = os.fsencode(tmp_path) + b"/caf\xe9.jpg"
    with open(raw, "wb") as file:
        file.write(b"1")
    (one,) = walk(tmp_path)
    assert isinstance(one, Found)
    assert one.relative == "caf\\xe9.jpg"
    assert one.relative.encode("utf-8")  # no stray surrogates
    assert one.path.read_bytes() == b"1"


@settings(deadline=None)
@given(st.text(max_size=700))
def test_shown_names_are_short_and_hold_nothing_that_hides(name: str) -> None:
    shown = shown_name(name)
    assert len(shown) <= 255
    shown.encode("utf-8")  # raises where a stray byte is left
    assert not set(shown) & set("\n\r\t\0\x1b\x7f\u200b\u200e\u200f\u2028\u202a\u202e\u2066\u2069\ufeff")


def test_a_long_name_keeps_its_beginning_and_its_ending() -> None:
    shown = shown_name("Merrow" + "x" * 1000 + ".jpg")
    assert shown.startswith("Merrow")
    assert shown.endswith(".jpg")
    assert len(shown) == 255


def test_a_root_key_names_a_place_and_tells_no_path(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "x.jpg").write_bytes(b"1")
    (tmp_path / "link").symlink_to("a")
    key = root_key(tmp_path / "a")
    assert key == root_key(tmp_path / "link") == root_key(tmp_path / "a" / "x.jpg")
    assert key != root_key(tmp_path)
    assert len(key) == 32
    assert set(key) <= set("0123456789abcdef")
