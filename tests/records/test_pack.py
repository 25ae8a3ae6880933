"""The container of a pack, against `tarfile` and against forgery; names, against what systems say of them."""

from __future__ import annotations

import hashlib
import io
import json
import tarfile
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from refarchive.errors import ArchiveTooNew, PackRefused
from refarchive.records import pack
from refarchive.records.portable import LONGEST_PATH, Names, unportable

HEAD = pack.head_text("0006", True, "test")
FILES = (("originals/ab/" + "a" * 64 + ".jpg", b"picture"), ("scene Ä.toml", b""), ("archive.sqlite", b"x" * 700))
names = st.lists(st.text(st.characters(blacklist_categories=("Cs", "Cc")), min_size=1, max_size=60), min_size=1).map(
    "/".join
)


def made(files: tuple[tuple[str, bytes], ...] = FILES, *, head: bytes = HEAD) -> bytes:
    """A pack as the writer writes it, which looks at no name."""
    file = io.BytesIO()
    writer = pack.Writer(file)
    writer.add(pack.HEAD, len(head), [head])
    writer.add(pack.ABOUT, 5, [b"about"])
    for name, content in files:
        writer.add(pack.INSIDE + name, len(content), [content])
    writer.finish()
    return file.getvalue()


def read(content: bytes) -> pack.Contents:
    return pack.read_contents(io.BytesIO(content))


def raw_member(info: tarfile.TarInfo, content: bytes = b"") -> bytes:
    return info.tobuf(tarfile.PAX_FORMAT) + content + bytes(pack.padded(len(content)) - len(content))


def with_member(raw: bytes) -> bytes:
    """A pack with a foreign member before the others."""
    whole = made()
    at = pack.read_header(io.BytesIO(whole), pack.read_header(io.BytesIO(whole), 0).end).end
    return whole[:at] + raw + whole[at:]


# --- headers ----------------------------------------------------------------------------------------------------------


@given(names, st.integers(0, 1 << 50))
@example("plain.txt", 0)
@example("a" * 100, 8**11 - 1)
@example("a" * 101, 8**11)
@example(f"{'a' * 150}/{'b' * 100}", 1)
@example("é", 1)
@settings(max_examples=300)
def test_a_header_says_to_tarfile_what_it_was_made_of(name: str, size: int) -> None:
    raw = pack.header(pack.INSIDE + name, size)
    with tarfile.open(fileobj=io.BytesIO(raw + bytes(1024))) as tar:
        found = tar.next()
    assert found is not None
    assert (found.name, found.size, found.type) == ((pack.INSIDE + name).rstrip("/"), size, tarfile.REGTYPE)
    assert (found.mtime, found.mode, found.uid, found.linkname) == (315532800, 0o644, 0, "")
    member = pack.read_header(io.BytesIO(raw), 0)
    assert (member.name, member.size, member.at) == (pack.INSIDE + name, size, len(raw))


@pytest.mark.parametrize("name", ["a", "a" * 100, f"{'p' * 140}/{'n' * 90}", "Ä" * 40, "x" * 180, f"{'p/' * 80}end"])
@pytest.mark.parametrize("size", [0, 1, 8**11 - 1, 8**11, 1 << 49])
def test_a_header_is_byte_for_byte_what_tarfile_writes(name: str, size: int) -> None:
    info = tarfile.TarInfo(name)
    info.size, info.mtime, info.mode = size, 315532800, 0o644
    fits = size < 8**11 and name.isascii() and "x" * 101 not in name
    assert pack.header(name, size) == info.tobuf(tarfile.USTAR_FORMAT if fits else tarfile.PAX_FORMAT)


def test_tarfile_reads_a_pack_and_the_list_in_it_holds() -> None:
    with tarfile.open(fileobj=io.BytesIO(made())) as tar:
        found = {m.name: f.read() for m in tar if (f := tar.extractfile(m))}
    sums = found[pack.SUMS].decode().splitlines()
    inside = {line[66:]: line[:64] for line in sums}
    assert inside == {
        name.removeprefix(pack.TOP): hashlib.sha256(content).hexdigest()
        for name, content in found.items()
        if name not in (pack.SUMS, pack.SEAL)
    }
    assert found[pack.SEAL].decode() == f"{hashlib.sha256(found[pack.SUMS]).hexdigest()}  SHA256SUMS\n"
    held = read(made())
    assert [(m.name.removeprefix(pack.INSIDE), m.size, m.sha256) for m in held.members] == [
        (name, len(content), hashlib.sha256(content).hexdigest()) for name, content in FILES
    ]
    assert held.digest == hashlib.sha256(found[pack.SUMS]).hexdigest()
    assert pack.ending([pack.HEAD, pack.ABOUT, *(pack.INSIDE + name for name, _ in FILES)]) == len(made()) - (
        held.members[-1].end
    )


def test_a_file_that_grows_or_shrinks_is_not_written() -> None:
    for size in (3, 5):
        with pytest.raises(PackRefused, match="changed"):
            pack.Writer(io.BytesIO()).add("x", size, [b"ab", b"cd"])


# --- forgery ----------------------------------------------------------------------------------------------------------


def test_no_byte_can_be_other_than_it_is() -> None:
    """Each byte in turn: the look at the contents finds it, or else reading the member that it is in."""
    whole, late = made(), 0
    for at in range(len(whole)):
        changed = bytearray(whole)
        changed[at] ^= 1 << at % 8
        with suppress(PackRefused, ArchiveTooNew):
            member = next(m for m in read(bytes(changed)).members if m.at <= at < m.end)
            late += 1
            assert pack.digest_of(io.BytesIO(bytes(changed)), member) != member.sha256
    assert late == 512 + 1024  # two files with something in them


@given(st.data())
@settings(max_examples=200)
def test_cut_doubled_or_shuffled_blocks_are_refused(data: st.DataObject) -> None:
    whole = made()
    blocks = [whole[n : n + 512] for n in range(0, len(whole), 512)]
    at, to = sorted(data.draw(st.lists(st.integers(0, len(blocks)), min_size=2, max_size=2)))
    kind = data.draw(st.sampled_from(["cut", "double", "swap"]))
    if kind == "cut":
        blocks[at:to] = []
    elif kind == "double":
        blocks[at:at] = blocks[at:to]
    else:
        blocks[at:to] = blocks[at:to][::-1]
    changed = b"".join(blocks)
    if changed == whole:
        return
    with suppress(PackRefused):
        held = read(changed)
        found = [pack.digest_of(io.BytesIO(changed), member) for member in held.members]
        assert found != [member.sha256 for member in held.members]


@given(st.binary(max_size=3000), st.integers(0, 3000))
def test_anything_else_is_no_pack(noise: bytes, at: int) -> None:
    for content in (noise, made()[:at] + noise):
        if content != made():
            with pytest.raises(PackRefused):
                read(content)


@pytest.mark.parametrize("more", [b"\0", bytes(512), b"more", bytes(10_240), made()])
def test_what_follows_the_end_is_refused(more: bytes) -> None:
    with pytest.raises(PackRefused, match=r"something was added|damaged"):
        read(made() + more)


def test_a_pack_that_was_cut_short_is_told_as_such() -> None:
    for size in range(1400, len(made()), 37):
        with pytest.raises(PackRefused):
            read(made()[:size])
    with pytest.raises(PackRefused, match="cut short"):
        read(made()[:-512])


def links() -> Iterator[tarfile.TarInfo]:
    for kind in (tarfile.SYMTYPE, tarfile.LNKTYPE, tarfile.CHRTYPE, tarfile.BLKTYPE, tarfile.FIFOTYPE):
        info = tarfile.TarInfo(f"{pack.INSIDE}trap")
        info.type, info.linkname = kind, "/etc/passwd" if kind in (tarfile.SYMTYPE, tarfile.LNKTYPE) else ""
        yield info


@pytest.mark.parametrize("info", list(links()), ids=lambda info: info.type.decode())
def test_links_and_devices_are_refused(info: tarfile.TarInfo) -> None:
    with pytest.raises(PackRefused, match="links or devices"):
        read(with_member(raw_member(info)))


def test_what_other_programs_write_is_refused() -> None:
    owned = tarfile.TarInfo(f"{pack.INSIDE}a")
    owned.uid, owned.mtime = 1000, 315532800
    folder = tarfile.TarInfo(f"{pack.INSIDE}folder")
    folder.type = tarfile.DIRTYPE
    sparse = tarfile.TarInfo(f"{pack.INSIDE}bomb")
    sparse.pax_headers = {"GNU.sparse.major": "1", "GNU.sparse.minor": "0", "GNU.sparse.realsize": str(1 << 60)}
    long = tarfile.TarInfo(f"{pack.INSIDE}{'n' * 300}")
    for raw in (
        raw_member(owned),
        raw_member(folder),
        raw_member(sparse),
        long.tobuf(tarfile.GNU_FORMAT),
        bytes(512),
    ):
        with pytest.raises(PackRefused):
            read(with_member(raw))


def test_a_size_beyond_the_file_is_refused_before_it_is_believed() -> None:
    for size in (10_000, 8**11 - 1, 1 << 49, 1 << 62):
        with pytest.raises(PackRefused):
            read(with_member(pack.header(f"{pack.INSIDE}bomb", size)))


def test_more_members_than_a_pack_may_hold_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pack, "MOST_MEMBERS", 2)
    with pytest.raises(PackRefused, match="more than it can hold"):
        read(made())


def test_a_member_that_has_no_business_there_is_refused() -> None:
    for name in ("refarchive-pack/other", "elsewhere", "/etc/passwd", "../up", pack.HEAD, pack.ABOUT):
        with pytest.raises(PackRefused):
            read(with_member(pack.header(name, 0)))


NO_HEAD = [b"", b"{", b"[]", b'{"format": 1}', b'{"format": true, "database": "0006"}', b'{"format": 1, "database": 6}']
NO_HEAD += [b'{"format": 0, "database": "0006"}', b'{"format": "1", "database": "0006"}', b"[" * 60_000, b"1" * 9999]
NO_HEAD += [b'{"format": 1' + b"0" * 5000 + b', "database": "0006"}', b" " * 70_000 + HEAD, b"\xff"]


@pytest.mark.parametrize("head", NO_HEAD)
def test_a_head_that_says_something_else_is_no_pack(head: bytes) -> None:
    with pytest.raises(PackRefused, match="not a packed archive"):
        read(made(head=head))


def test_a_later_format_is_told_as_such() -> None:
    head = json.dumps({"format": 2, "database": "0009", "and": "more"}).encode()
    with pytest.raises(ArchiveTooNew, match="format 2") as told:
        read(made(head=head))
    assert "newer refarchive" in told.value.next_step


# --- names ------------------------------------------------------------------------------------------------------------

# Windows' list: https://learn.microsoft.com/windows/win32/fileio/naming-a-file
WRONG = ["", "/etc/passwd", "..", "../up", "a/../../up", "a//b", "./a", "a/.", "a/", "C:/x", "c:x", "a\\b", "..\\up"]
WRONG += ["nul", "CON", "con.txt", "a/Aux.jpg", "LPT1", "com9.tar.gz", "COM¹", "nul .txt", "a.", "a ", "b./c", "a\0b"]
WRONG += ["a\nb", "a\x1b[2J", "a\x85b", "a\u2028b", "a?b", "a*b", "a|b", "a<b", 'a"b', "file:stream", "n" * 256]
WRONG += ["é" * 128, "/".join(["n" * 200] * 6), "a\udcff", " a"]


@pytest.mark.parametrize("name", WRONG)
def test_names_that_a_system_would_not_hold_are_refused(name: str) -> None:
    assert unportable(name)
    with pytest.raises(PackRefused):
        Names().add(name)
    if "\udcff" not in name:
        with pytest.raises(PackRefused):
            read(made(((name, b"x"), *FILES)))


@pytest.mark.parametrize(
    "name", ["a", "scènes/été.toml", "船.toml", "con-trol.txt", "nullify", "a b/c.d.e", ".hidden", "com0", "n" * 255]
)
def test_names_that_every_system_holds_are_taken(name: str) -> None:
    assert unportable(name) == ""
    assert len(name.encode()) < LONGEST_PATH
    assert [m.name for m in read(made(((name, b"x"),))).members] == [pack.INSIDE + name]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("a", "a"),
        ("a", "A"),
        ("Straße", "STRASSE"),
        ("é", "e\u0301"),
        ("É", "e\u0301"),
        ("a", "a/b"),
        ("a/b", "A"),
        ("archive.sqlite", "Archive.SQLite"),
    ],
)
def test_names_that_meet_on_some_system_are_refused(first: str, second: str) -> None:
    with pytest.raises(PackRefused, match="same place"):
        read(made(((first, b"1"), (second, b"2"))))


def test_nothing_is_said_of_a_path(tmp_path: Path) -> None:
    """The container knows no paths: a forged name cannot reach the disk by reading it."""
    with pytest.raises(PackRefused):
        read(made(((f"{tmp_path}/x", b"x"),)))
    assert list(tmp_path.iterdir()) == []
