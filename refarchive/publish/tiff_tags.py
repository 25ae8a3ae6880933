"""Tags of a TIFF file, or of the TIFF structure that EXIF is: read, added, taken out; image data are never touched.

Source: TIFF 6.0 (1992): a directory is a count, entries of 12 bytes in ascending order of their tags, and the offset of
the next one; offsets have 32 bits, values of up to four bytes stand in the entry itself.

Adding writes a new first directory behind everything that is there, and turns the file's first offset to it. Taking out
shortens a directory in its place and overwrites the values with zeros, so that nothing can be read from the gap; what
lies over image data is refused.
"""

from __future__ import annotations

import struct
from bisect import bisect_left
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

from refarchive.errors import PublishRefused

XMP, IPTC, RESOURCES, GPS, SUB = 700, 33723, 34377, 34853, 330
ASCII, BYTE, UNDEFINED = 2, 1, 7
_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4, 129: 1}
_IMAGES = ((273, 279), (324, 325), (513, 514))  # offsets and lengths: strips, tiles, a JPEG thumbnail
MOST_DIRECTORIES = 1_000
MOST_ENTRIES = 100_000  # of all directories together
MOST_RANGES = 2_000_000  # strips and tiles of all directories together
LARGEST_OFFSET = 0xFFFF_FFFF


@dataclass(frozen=True)
class Entry:
    """One entry: `at` and `size` are where its value lies in the file, in bytes; -1 for an unknown type."""

    tag: int
    kind: int
    count: int
    at: int
    size: int
    raw: bytes


@dataclass(frozen=True)
class Directory:
    at: int
    entries: tuple[Entry, ...]
    next_at: int

    def get(self, tag: int) -> Entry | None:
        """The entry of a tag, None where there is none."""
        return next((one for one in self.entries if one.tag == tag), None)

    @property
    def end(self) -> int:
        return self.at + 2 + 12 * len(self.entries) + 4


@dataclass(frozen=True)
class Tags:
    """A TIFF structure: its byte order ("<" or ">"), its directories in their chain, and those that hang from them."""

    data: bytes
    order: str
    pages: tuple[Directory, ...]
    subs: tuple[Directory, ...]
    where: str  # what to call it in a sentence

    def value(self, entry: Entry) -> bytes:
        """The bytes of a value.

        Raises
        ------
        PublishRefused
            for one that lies outside the file.
        """
        self.check(entry)
        return self.data[entry.at : entry.at + entry.size]

    def check(self, entry: Entry) -> None:
        """Raise PublishRefused for a value that lies outside the file."""
        if entry.size < 0 or entry.at + entry.size > len(self.data):
            raise _broken(self.where, f"the value of tag {entry.tag} lies outside it")

    def numbers(self, entry: Entry, most: int) -> tuple[int, ...]:
        """A value of whole numbers, the first `most` of them."""
        code = {1: "B", 3: "H", 4: "I", 13: "I"}.get(entry.kind)
        if code is None:
            raise _broken(self.where, f"tag {entry.tag} holds no whole numbers")
        self.check(entry)
        return struct.unpack_from(f"{self.order}{min(entry.count, most)}{code}", self.data, entry.at)

    @property
    def images(self) -> list[tuple[int, int]]:
        """Where image data lie: (first byte, byte after the last), of all directories in their order."""
        found: list[tuple[int, int]] = []
        for directory in (*self.pages, *self.subs):
            for offsets, lengths in _IMAGES:
                starts, sizes = directory.get(offsets), directory.get(lengths)
                if starts and sizes:
                    if len(found) + starts.count > MOST_RANGES:
                        raise _broken(self.where, f"it has more than {MOST_RANGES:,} strips")
                    pairs = zip(self.numbers(starts, MOST_RANGES), self.numbers(sizes, starts.count), strict=False)
                    found += [(start, start + size) for start, size in pairs]
        return found


class _Taken:
    """Ranges of bytes, to be asked whether another one meets them."""

    def __init__(self, ranges: Sequence[tuple[int, int]]) -> None:
        held = sorted(one for one in ranges if one[0] < one[1])
        self._starts = [start for start, _ in held]
        self._reach = list(accumulate((end for _, end in held), max))

    def meets(self, start: int, end: int) -> bool:
        before = bisect_left(self._starts, end)
        return before > 0 and self._reach[before - 1] > start


def read(data: bytes, where: str) -> Tags:
    """The directories of a TIFF structure.

    Raises
    ------
    PublishRefused
        for a BigTIFF, for directories outside the file, in a ring, or too many.
    """
    order = {b"II": "<", b"MM": ">"}.get(data[:2])
    if order is None or len(data) < 8:
        raise _broken(where, "it has no TIFF header")
    (magic,) = struct.unpack_from(f"{order}H", data, 2)
    if magic == 43:
        raise PublishRefused(
            f"{where} is a BigTIFF, which is not written to.", "Export the picture as a TIFF under 4 GB, or a JPEG.",
            field="file",
        )  # fmt: skip
    if magic != 42:
        raise _broken(where, "it has no TIFF header")
    pages: list[Directory] = []
    (at,) = struct.unpack_from(f"{order}I", data, 4)
    seen: set[int] = set()
    total = 0
    while at:
        if at in seen or len(pages) >= MOST_DIRECTORIES or total > MOST_ENTRIES:
            raise _broken(where, "its directories go round in a ring, or there are too many")
        seen.add(at)
        pages.append(_directory(data, order, at, where))
        total += len(pages[-1].entries)
        at = pages[-1].next_at
    if not pages:
        raise _broken(where, "it has no directory")
    tags = Tags(data, order, tuple(pages), (), where)
    subs = []
    for page in pages:
        entry = page.get(SUB)
        for offset in tags.numbers(entry, 100) if entry else ():
            if offset not in seen and total <= MOST_ENTRIES:
                seen.add(offset)
                subs.append(_directory(data, order, offset, where))
                total += len(subs[-1].entries)
    return Tags(data, order, tuple(pages), tuple(subs), where)


def _directory(data: bytes, order: str, at: int, where: str) -> Directory:
    if at + 2 > len(data):
        raise _broken(where, f"a directory is said to begin at byte {at}, after its end")
    (count,) = struct.unpack_from(f"{order}H", data, at)
    end = at + 2 + 12 * count + 4
    if end > len(data):
        raise _broken(where, f"the directory at byte {at} goes on after its end")
    entries = []
    for n in range(count):
        start = at + 2 + 12 * n
        tag, kind, number, offset = struct.unpack_from(f"{order}HHII", data, start)
        size = _SIZES[kind] * number if kind in _SIZES else -1
        entries.append(
            Entry(tag, kind, number, start + 8 if 0 <= size <= 4 else offset, size, data[start : start + 12])
        )
    (next_at,) = struct.unpack_from(f"{order}I", data, end - 4)
    return Directory(at, tuple(entries), next_at)


def with_tags(tags: Tags, added: Mapping[int, tuple[int, bytes]], without: Collection[int] = ()) -> bytes:
    """The structure with a new first directory: `added` are (type, value) by tag, `without` tags that go.

    Raises
    ------
    PublishRefused
        where image data lie outside the file, or the whole would be larger than 32 bits can say.
    """
    first, order = tags.pages[0], tags.order
    if any(start < end and not (start >= 8 and end <= len(tags.data)) for start, end in tags.images):
        raise _broken(tags.where, "it is cut short, its image data are said to lie outside it")
    out = bytearray(tags.data)
    entries = [(one.tag, one.raw) for one in first.entries if one.tag not in added and one.tag not in without]
    for tag, (kind, value) in added.items():
        head = struct.pack(f"{order}HHI", tag, kind, len(value))
        if len(value) <= 4:
            entries.append((tag, head + value.ljust(4, b"\0")))
            continue
        out += b"\0" * (len(out) % 2)
        if len(out) + len(value) > LARGEST_OFFSET:
            raise PublishRefused(
                f"{tags.where} would be larger than a TIFF can be.", "Export it as a JPEG.", field="file"
            )
        entries.append((tag, head + struct.pack(f"{order}I", len(out))))
        out += value
    out += b"\0" * (len(out) % 2)
    struct.pack_into(f"{order}I", out, 4, len(out))
    entries.sort(key=lambda one: one[0])
    out += struct.pack(f"{order}H", len(entries)) + b"".join(raw for _, raw in entries)
    out += struct.pack(f"{order}I", first.next_at)
    if len(out) > LARGEST_OFFSET:
        raise PublishRefused(f"{tags.where} would be larger than a TIFF can be.", "Export it as a JPEG.", field="file")
    return bytes(out)


def emptied(tags: Tags, gone: Collection[int]) -> bytes:
    """The structure with these tags taken out of every directory of the chain, their values overwritten with zeros.

    Of the GPS tag, the whole directory that it points to goes. The length stays.

    Raises
    ------
    PublishRefused
        for values outside the file, or over image data.
    """
    out = bytearray(tags.data)
    gap = _Gap(tags, out)
    for page in tags.pages:
        leaving = [one for one in page.entries if one.tag in gone]
        if not leaving:
            continue
        for entry in leaving:
            if entry.tag == GPS:
                if entry.count != 1:
                    raise _broken(tags.where, f"tag {GPS} names {entry.count} directories")
                _blank_directory(tags, gap, tags.numbers(entry, 1)[0])
            elif entry.size > 4:
                tags.check(entry)
                gap.blank(entry.at, entry.at + entry.size)
        staying = [one for one in page.entries if one.tag not in gone]
        fresh = struct.pack(f"{tags.order}H", len(staying)) + b"".join(one.raw for one in staying)
        fresh += struct.pack(f"{tags.order}I", page.next_at)
        gap.blank(page.at, page.end)
        out[page.at : page.at + len(fresh)] = fresh
    return bytes(out)


class _Gap:
    """Overwriting with zeros what is taken out, in all never more than the file has.

    Values that lie over one another a thousand times would take as many times as long.
    """

    def __init__(self, tags: Tags, out: bytearray) -> None:
        self._where, self._out = tags.where, out
        self._images = _Taken(tags.images)
        self._left = len(out)

    def blank(self, start: int, end: int) -> None:
        if start < 8 or self._images.meets(start, end):
            raise _broken(self._where, f"what it says at byte {start} lies over its image data")
        self._left -= end - start
        if self._left < 0:
            raise _broken(self._where, "its values lie over one another")
        self._out[start:end] = b"\0" * (end - start)


def _blank_directory(tags: Tags, gap: _Gap, at: int) -> None:
    directory = _directory(tags.data, tags.order, at, tags.where)
    for entry in directory.entries:
        if entry.size > 4:
            tags.check(entry)
            gap.blank(entry.at, entry.at + entry.size)
    gap.blank(directory.at, directory.end)


def _broken(where: str, why: str) -> PublishRefused:
    return PublishRefused(
        f"{where} cannot be read: {why}.", "Export the picture again from its original.", field="file"
    )
