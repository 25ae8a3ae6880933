"""The container of a packed archive: a plain tar file that is written, and read, in one way only.

    refarchive-pack/pack.json             the format's number, the database's version, what the caches hold
    refarchive-pack/READ-ME.txt           how to read it without this program
    refarchive-pack/archive/…             the files of the archive, stored as they are
    refarchive-pack/SHA256SUMS            the SHA-256 of each of them, as `sha256sum -c` reads it
    refarchive-pack/SHA256SUMS.sha256     the SHA-256 of that list, which thereby stands for the whole

Every tar program reads it: headers are those of POSIX.1-1988 (ustar), and of POSIX.1-2001 (pax) where a name or a size
asks for it, https://pubs.opengroup.org/onlinepubs/9699919799/utilities/pax.html. All that a header holds follows from
name and size: no owner, no clock, so that the same files always give the same bytes. The reader accepts a header only
where it is, byte for byte, the one that would be written; links, devices, sparse files and other ways of other
programs thereby cannot occur. The header is made here and not by `tarfile`, because what is accepted must not move
with a library; tests hold it to what `tarfile` writes.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, BinaryIO

from refarchive.errors import ArchiveTooNew, PackRefused
from refarchive.records.portable import Names

FORMAT = 1
TOP = "refarchive-pack/"
HEAD, ABOUT, INSIDE = f"{TOP}pack.json", f"{TOP}READ-ME.txt", f"{TOP}archive/"
SUMS, SEAL = f"{TOP}SHA256SUMS", f"{TOP}SHA256SUMS.sha256"
BLOCK = 512
CHUNK = 1 << 20
END = bytes(2 * BLOCK)
MOST_MEMBERS = 2_000_000
_MOST_HEAD, _MOST_ABOUT, _MOST_PAX = 65_536, 65_536, 4_096
_LARGEST_PLAIN = 8**11  # bytes; what eleven octal digits hold
_LARGEST = 1 << 50
_MOMENT = 315_532_800  # every member's time: 1980-01-01, the oldest that all programs take without a warning
_SEAL_SIZE = 64 + 2 + len("SHA256SUMS") + 1

ABOUT_TEXT = """\
This is an archive of period references, packed to one file by the program refarchive.

The file is a plain tar archive (POSIX ustar and pax). Nothing in it is compressed or encrypted. To read it without
refarchive, unpack it with any tar program, then check that nothing was damaged:

    tar -xf FILE
    cd refarchive-pack
    sha256sum -c SHA256SUMS.sha256 SHA256SUMS

archive/archive.sqlite is an SQLite 3 database with all records. archive/originals holds every gathered file as it
was, named by the SHA-256 of its content; the table "reference" says what each one is (columns sha256 and suffix).
archive/previews and archive/vectors, where they are here, can be made anew from those two.

With refarchive:

    refarchive unpack FILE ARCHIVE
"""


@dataclass(frozen=True)
class Member:
    """A file in a pack: its name in the tar, bytes, where they begin, SHA-256 as hex ("" where not known yet)."""

    name: str
    size: int
    at: int
    sha256: str = ""

    @property
    def end(self) -> int:
        """Where the next header begins."""
        return self.at + padded(self.size)


@dataclass(frozen=True)
class Contents:
    """What a pack says it holds: its head, the members inside the archive, the digest that stands for the whole."""

    head: dict[str, Any]
    members: tuple[Member, ...]
    digest: str

    @property
    def size(self) -> int:
        """Bytes of the archive's files."""
        return sum(member.size for member in self.members)


# --- headers ----------------------------------------------------------------------------------------------------------


def padded(size: int) -> int:
    """Bytes that a member takes, filled up to whole blocks."""
    return -(-size // BLOCK) * BLOCK


def mode(name: str) -> int:
    """Permissions of a member: originals can only be read."""
    return 0o444 if name.startswith(f"{INSIDE}originals/") else 0o644


def header(name: str, size: int) -> bytes:
    """The header of a member: one block, or three and more where name or size need pax records."""
    plain = _split(name)
    if plain is not None and size < _LARGEST_PLAIN:
        return _block(*plain, size, mode(name), b"0")
    records = b""
    if not name.isascii() or len(name) > 100:
        records += _record("path", name)
    if size >= _LARGEST_PLAIN:
        records += _record("size", str(size))
        size = 0
    extended = _block(b"././@PaxHeader", b"", len(records), 0, b"x", moment=0) + _filled(records)
    return extended + _block(name.encode("ascii", "replace")[:100], b"", size, mode(name), b"0")


def _split(name: str) -> tuple[bytes, bytes] | None:
    """A name as ustar holds it, name and prefix; None where it cannot."""
    if not name.isascii():
        return None
    if len(name) <= 100:
        return name.encode(), b""
    parts = name.split("/")
    for n in range(1, len(parts)):
        prefix, rest = "/".join(parts[:n]), "/".join(parts[n:])
        if len(prefix) <= 155 and len(rest) <= 100:
            return rest.encode(), prefix.encode()
    return None


def _record(key: str, value: str) -> bytes:
    """A pax record: its own length in decimal, key and value."""
    rest = f" {key}={value}\n".encode()
    length = len(rest) + 1
    while len(str(length)) + len(rest) != length:
        length = len(str(length)) + len(rest)
    return str(length).encode() + rest


def _block(name: bytes, prefix: bytes, size: int, mode: int, kind: bytes, *, moment: int = _MOMENT) -> bytes:
    fields = (
        (name, 100),
        (b"%07o" % mode, 8),
        (b"%07o" % 0, 8),  # owner
        (b"%07o" % 0, 8),  # group
        (b"%011o" % size, 12),
        (b"%011o" % moment, 12),
        (b" " * 8, 8),  # the checksum is reckoned with spaces in its place
        (kind, 1),
        (b"", 100),  # no link
        (b"ustar\x0000", 8),
        (b"", 32 + 32 + 8 + 8),  # names of owner and group, numbers of a device
        (prefix, 155),
        (b"", 12),
    )
    block = b"".join(value.ljust(width, b"\0") for value, width in fields)
    return block[:148] + b"%06o\0 " % sum(block) + block[156:]


def _filled(content: bytes) -> bytes:
    return content + bytes(padded(len(content)) - len(content))


# --- writing ----------------------------------------------------------------------------------------------------------


class Writer:
    """Writes a pack into a file that is open for reading and writing, member by member, from where it stands."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._sums: list[tuple[str, str]] = []

    def add(self, name: str, size: int, pieces: Iterable[bytes]) -> str:
        """Write a member of exactly `size` bytes; returns its SHA-256. Raises PackRefused where it has more or less."""
        digest = hashlib.sha256()
        self._file.write(header(name, size))
        written = 0
        for piece in pieces:
            written += len(piece)
            if written > size:
                break
            digest.update(piece)
            self._file.write(piece)
        if written != size:
            raise PackRefused(f"{name.removeprefix(INSIDE)!r} changed while it was being packed.", "Pack once more.")
        self._file.write(bytes(padded(size) - size))
        self.kept(name, digest.hexdigest())
        return digest.hexdigest()

    def kept(self, name: str, sha256: str) -> None:
        """Know of a member that stands in the file already."""
        self._sums.append((name, sha256))

    def finish(self) -> str:
        """Write the list of digests and the end; returns the digest of the list."""
        sums = "".join(_line(sha256, name) for name, sha256 in self._sums).encode()
        digest = hashlib.sha256(sums).hexdigest()
        for name, content in ((SUMS, sums), (SEAL, _line(digest, SUMS).encode())):
            self._file.write(header(name, len(content)) + _filled(content))
        self._file.write(END)
        return digest


def _line(sha256: str, name: str) -> str:
    return f"{sha256}  {name.removeprefix(TOP)}\n"


def ending(names: Iterable[str]) -> int:
    """Bytes that the list of digests and the end of a pack take, for members of these names."""
    size = sum(67 + len(name.removeprefix(TOP).encode()) for name in names)
    return len(header(SUMS, size)) + padded(size) + BLOCK + padded(_SEAL_SIZE) + len(END)


def head_text(database: str, caches: bool, written_by: str) -> bytes:
    """The content of `pack.json`."""
    told = {"format": FORMAT, "database": database, "caches": caches, "written_by": written_by}
    return (json.dumps(told, indent=1) + "\n").encode()


# --- reading ----------------------------------------------------------------------------------------------------------


def read_header(file: BinaryIO, at: int) -> Member:
    """The member whose header stands at a place in the file. Raises PackRefused for all but what is written here."""
    file.seek(at)
    block = _exactly(file, BLOCK)
    raw, path, size = block, None, None
    if block[156:157] == b"x":
        length = _octal(block[124:136], at)
        if length > _MOST_PAX:
            raise _odd(at)
        records = _exactly(file, padded(length))
        block = _exactly(file, BLOCK)
        raw += records + block
        path, size = _pax(records[:length], at)
    elif block[156:157] in (b"1", b"2", b"3", b"4", b"6"):
        raise PackRefused("The file holds links or devices, as no pack does.", "Don't unpack it; ask for another copy.")
    if path is None:
        try:
            name, prefix = (block[a:b].partition(b"\0")[0].decode("ascii") for a, b in ((0, 100), (345, 500)))
        except UnicodeDecodeError:
            raise _odd(at) from None
        path = f"{prefix}/{name}" if prefix else name
    size = _octal(block[124:136], at) if size is None else size
    if size > _LARGEST or header(path, size) != raw:
        raise _odd(at)
    return Member(path, size, at + len(raw))


def pieces(file: BinaryIO, member: Member) -> Iterator[bytes]:
    """The bytes of a member, piece by piece. Raises PackRefused where the file ends, or the filling is not empty."""
    file.seek(member.at)
    left = member.size
    while left:
        piece = _exactly(file, min(CHUNK, left))
        left -= len(piece)
        yield piece
    if any(_exactly(file, padded(member.size) - member.size)):
        raise _odd(member.at + member.size)


def read_contents(file: BinaryIO) -> Contents:
    """What a pack holds, after a look at every header; only the bytes of the archive's own files are not looked at.

    Raises PackRefused where anything is not as it is written here, ArchiveTooNew for a later format.
    """
    end = file.seek(0, 2)
    head, sums, place = _read_head(file, end)
    _check_end(file, end)
    names, members = Names(), []
    while True:
        member = read_header(file, place)
        place = member.end
        if member.name in (SUMS, SEAL):
            break
        inside = member.name.removeprefix(INSIDE)
        if inside == member.name:
            raise PackRefused(
                f"The file holds {member.name[:200]!r}, which belongs in no pack.", "Ask for another copy."
            )
        names.add(inside)
        members.append(member)
        if len(members) > MOST_MEMBERS or place > end:
            raise PackRefused("The file claims more than it can hold.", "Ask for another copy.")
    return Contents(head, *_checked_sums(file, member, [*sums, *members], end))


def _read_head(file: BinaryIO, end: int) -> tuple[dict[str, Any], list[Member], int]:
    try:
        first = read_header(file, 0)
        if first.name != HEAD or first.size > _MOST_HEAD:
            raise ValueError(first.name)
        told = json.loads(b"".join(pieces(file, first)))
        number, version = told["format"], told["database"]
        if type(number) is not int or not FORMAT <= number < 1_000_000 or not isinstance(version, str):
            raise ValueError(number)
    except (PackRefused, ValueError, KeyError, TypeError, OverflowError, RecursionError):
        raise PackRefused(
            "The file is not a packed archive.", "Name a file that was made with: refarchive pack ARCHIVE FILE"
        ) from None
    if number != FORMAT:
        raise ArchiveTooNew(
            f"The pack is of format {number}; this refarchive reads format {FORMAT}.",
            "Install the newer refarchive that wrote it.",
        )
    about = read_header(file, first.end)
    if about.name != ABOUT or about.size > _MOST_ABOUT:
        raise _odd(first.end)
    return told, [first, about], about.end


def _check_end(file: BinaryIO, end: int) -> None:
    """Look at the end first: what was cut short is then told at once, and as such."""
    at = end - len(END) - padded(_SEAL_SIZE) - BLOCK
    try:
        if at < 0 or end % BLOCK:
            raise _odd(end)
        seal = read_header(file, at)
        if (seal.name, seal.size) != (SEAL, _SEAL_SIZE):
            raise _odd(at)
        file.seek(seal.end)
        if file.read(len(END) + 1) != END:
            raise _odd(seal.end)
    except PackRefused:
        raise PackRefused(
            "The pack does not end as it should: it was cut short, or something was added.",
            "Copy the file again from where it came.",
        ) from None


def _checked_sums(file: BinaryIO, sums: Member, members: list[Member], end: int) -> tuple[tuple[Member, ...], str]:
    """The members of the archive with the digests that the list gives them, and the digest of the list."""
    due = sum(67 + len(member.name.removeprefix(TOP).encode()) for member in members)
    if sums.name != SUMS or sums.size != due:
        raise _odd(sums.at)
    digest, found, carried = hashlib.sha256(), [], b""
    waiting = iter(members)
    for piece in pieces(file, sums):
        digest.update(piece)
        *lines, carried = (carried + piece).split(b"\n")
        for line in lines:
            member = next(waiting, None)
            sha256 = line[:64].decode("ascii", "replace")
            if member is None or line + b"\n" != _line(sha256, member.name).encode() or not _is_digest(sha256):
                raise PackRefused("The pack's list of digests is not that of its files.", "Copy the file again.")
            found.append(Member(member.name, member.size, member.at, sha256))
    seal = read_header(file, sums.end)
    sealed = b"".join(pieces(file, seal)) if seal.size == _SEAL_SIZE else b""
    if seal.name != SEAL or seal.end + len(END) != end or sealed != _line(digest.hexdigest(), SUMS).encode():
        raise PackRefused("The pack's list of digests was damaged.", "Copy the file again from where it came.")
    for member in found[:2]:
        if digest_of(file, member) != member.sha256:
            raise damaged(member)
    return tuple(found[2:]), digest.hexdigest()


def digest_of(file: BinaryIO, member: Member) -> str:
    """SHA-256 of a member's bytes as they stand in the file. Raises PackRefused where the file ends."""
    digest = hashlib.sha256()
    for piece in pieces(file, member):
        digest.update(piece)
    return digest.hexdigest()


def damaged(member: Member) -> PackRefused:
    """What to say of a member whose bytes do not give the digest that the list has."""
    return PackRefused(
        f"{member.name.removeprefix(TOP)!r} was damaged in the pack: its bytes do not give the digest in the list.",
        "Copy the file again from where it came, or take another copy.",
    )


def _is_digest(text: str) -> bool:
    return len(text) == 64 and set(text) <= set("0123456789abcdef")


def _exactly(file: BinaryIO, size: int) -> bytes:
    found = file.read(size)
    if len(found) != size:
        raise PackRefused("The pack was cut short.", "Copy the file again from where it came.")
    return found


def _octal(field: bytes, at: int) -> int:
    digits = field[:-1]
    if field[-1:] != b"\0" or not digits.isdigit() or b"8" in digits or b"9" in digits:
        raise _odd(at)
    return int(digits, 8)


def _pax(records: bytes, at: int) -> tuple[str | None, int | None]:
    """Path and size out of pax records; whether they stand as they should is seen by writing them anew."""
    path, size = None, None
    try:
        while records:
            length = int(records.partition(b" ")[0][:5])
            record, records = records[:length], records[max(length, 1) :]
            key, _, value = record.partition(b" ")[2][:-1].partition(b"=")
            if key == b"path":
                path = value.decode("utf-8")
            elif key == b"size" and value.isdigit() and len(value) < 20:
                size = int(value)
            else:
                raise _odd(at)
    except ValueError:
        raise _odd(at) from None
    return path, size


def _odd(at: int) -> PackRefused:
    return PackRefused(
        f"At byte {at} the file is not as refarchive writes a pack: it was damaged, or made by another program.",
        "Copy the file again from where it came.",
    )
