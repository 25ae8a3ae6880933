"""What is fuzzed: for each target how a case is made, which readers it goes through, and what it may cost.

A reader may return, or raise one of the named problems (`RefArchiveError`). Anything else is a finding: another error,
more memory or time than the target's bound, a file written outside the folder of the case, a host asked, a program
started. `parsers.py` says which reader of the package is covered by which target.
"""

# ruff: noqa: E501 (tables of hostile values)
from __future__ import annotations

import json
import random
import re
import sqlite3
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import mutations
import seeds
import workplace

from refarchive.errors import ArchiveDamaged, RefArchiveError, UnknownRecord

TOLD = {"read": 0, "refused": 0}  # how often a reader returned, and how often it refused with a sentence
WAYS: list[str] = []  # how the readers of the last case ended
Make = Callable[[random.Random], bytes]
Read = Callable[[bytes, Path], None]


@dataclass(frozen=True)
class Target:
    """`memory_mb`: how far the resident memory of the process may rise above where it stood before the first case."""

    make: Make
    read: Read
    memory_mb: int = 256
    seconds: float = 10.0  # for one case, on a busy machine; the watchdog's, never the tests'
    short: int = 60  # cases in the tests
    named: tuple[type[Exception], ...] = (RefArchiveError,)
    programs: bool = False
    door: bool = True  # whether a first refusal can be told by what is of no kind at all


def _bytes(given: Callable[[], Sequence[bytes]] | Sequence[bytes], *words: bytes) -> Make:
    return lambda rng: mutations.case(rng, given() if callable(given) else given, words)


def _mixed(given: Sequence[bytes], shaped: Callable[[random.Random, Sequence[bytes]], bytes], *words: bytes) -> Make:
    """Half of the cases with bytes changed, half well formed and wrong."""
    return lambda rng: shaped(rng, given) if rng.random() < 0.6 else mutations.case(rng, given, words)


def _each(*calls: Callable[[], Any]) -> None:
    """Make every call; a named problem of one does not spare the next."""
    for number, call in enumerate(calls):
        try:
            call()
        except RefArchiveError as error:
            said(error)
            TOLD["refused"] += 1
            WAYS.append(f"{number} {_raised(error)}")
        else:
            TOLD["read"] += 1
            WAYS.append(f"{number} read")


def _raised(error: RefArchiveError) -> str:
    """Where a refusal was raised: the innermost place in the package."""
    at = error.__traceback__
    found = ""
    while at is not None:
        name = at.tb_frame.f_code.co_filename
        if "/refarchive/" in name:
            found = f"{Path(name).name}:{at.tb_lineno}"
        at = at.tb_next
    return found


def ways(target: Target, data: bytes, folder: Path) -> set[str]:
    """How the readers of a target ended for a case: read, or refused at a line of the package."""
    WAYS.clear()
    target.read(data, folder)
    return set(WAYS)


def first_refusals(target: Target, folder: Path) -> set[str]:
    """How they end for what is of no kind at all: a case that ends so everywhere was turned away at the door."""
    rng = random.Random(0)
    found: set[str] = set()
    for data in (
        b"",
        b"\0",
        b"x",
        b"{",
        b"=",
        b"[[",
        b'"',
        b"\xff\xfe",
        *(rng.randbytes(n) for n in (2, 7, 40, 300, 5000)),
    ):
        found |= ways(target, data, folder)
    return found


def said(error: RefArchiveError) -> None:
    """A problem is a sentence that can be shown: text of a bounded length."""
    assert error.problem and isinstance(error.problem, str), error  # noqa: PT018
    assert len(str(error)) < 20_000, f"a sentence of {len(str(error)):,} characters"


def _put(folder: Path, name: str, data: bytes) -> Path:
    path = folder / name
    path.write_bytes(data)
    return path


# --- pictures -------------------------------------------------------------------------------------------------------


def read_picture(data: bytes, folder: Path, name: str = "case.jpg") -> None:
    from refarchive.records import files
    from refarchive.sources import shot
    from refarchive.sources.metadata import read_metadata

    path = _put(folder, name, data)

    def metadata() -> None:
        for told in read_metadata(path).values():
            assert len(told.value) <= 2000
            assert told.value.isprintable()
            told.value.encode()  # no half of a pair

    def opened() -> None:
        picture = files.open_picture(path, 64)
        assert picture.mode == "RGB"
        assert max(picture.size) <= 64

    _each(
        lambda: files.picture_size(path),
        opened,
        metadata,
        lambda: shot.read_shot(path),
        lambda: shot.shot_picture(path, 64),
    )


def read_raw(data: bytes, folder: Path) -> None:
    from refarchive.sources import linear

    read_picture(data, folder, "case.dng")
    _each(lambda: linear.open_linear(folder / "case.dng", 64))


def read_linear(data: bytes, folder: Path) -> None:
    from refarchive.sources import linear

    _each(lambda: linear.open_linear(_put(folder, "case.tif", data), 64))


def read_printed(data: bytes, folder: Path) -> None:
    from refarchive.paper import print_pictures, shown

    _each(
        lambda: shown.measured("case", data),
        lambda: print_pictures.ready("case", data, 100.0, 80.0),
    )


# --- sources --------------------------------------------------------------------------------------------------------


def read_sheet(data: bytes, folder: Path) -> None:
    from refarchive.records.model import Reference
    from refarchive.sources import sheet

    path = _put(folder, "sheet.csv", data)
    (folder / "a.jpg").write_bytes(b"x")

    def whole() -> None:
        found = sheet.read_sheet(path, None, {})
        for row in found.rows:
            assert row.path is None or row.path.is_relative_to(folder.resolve())
            if not row.refused:
                sheet.apply(Reference("ref-000000000000", "object", "", ""), row)

    _each(whole)


def read_firsts(data: bytes, folder: Path) -> None:
    from refarchive.sources import firsts

    path = _put(folder, firsts.OWN_TABLE, data)
    _each(lambda: firsts.read_firsts(path))


def read_filled(data: bytes, folder: Path) -> None:
    from refarchive.jobs.choosing import sittings
    from refarchive.jobs.references import filling

    path = _put(folder, "filled.csv", data)

    def moments() -> None:
        for line, row in enumerate(sittings._rows(path), 1):
            sittings._moment(row, line)

    _each(lambda: filling._rows(path), moments)


def read_described(data: bytes, folder: Path) -> None:
    from refarchive.jobs.references.bringing import not_fetched, remote_found
    from refarchive.sources import described, linked, manifest

    path = _put(folder, "case.json", data)

    def whole() -> None:
        document = described.read_json(path)
        rows: list[described.DescribedRow] = []
        if manifest.is_manifest(document):
            rows += manifest.read_manifest(path, document).rows
        if linked.is_linked(document):
            rows += linked.read_linked(path, document).rows
        for row in rows:
            assert row.path is None or row.path.is_relative_to(folder.resolve())
            if row.url:
                remote_found(row, folder), not_fetched(row)

    _each(whole)


def read_text(data: bytes, folder: Path) -> None:
    from refarchive.sources import passages

    path = _put(folder, "case.txt", data)

    def whole() -> None:
        text, _ = passages.read_text_noticed(path)
        for found, start, end in passages.split(text):
            assert text[start:end] == found
        assert len(passages.title_of(text, path.name)) <= passages.LONGEST_TITLE

    _each(whole)


def read_pdf(data: bytes, folder: Path) -> None:
    from refarchive.sources.pdf_apart import read_pdf as read

    path = _put(folder, "case.pdf", data)
    pages = folder / "pages"
    pages.mkdir(exist_ok=True)

    def whole() -> None:
        for page in read(path, pages, 20.0).pages:
            page.text.encode()

    _each(whole)


def read_address(data: bytes, folder: Path) -> None:
    from refarchive.sources import described, fetching

    text = data.decode("utf-8", "surrogatepass" if b"\xed" in data else "replace") if _is_text(data) else ""
    _each(lambda: fetching._parts(text))
    described.local_path(text, "https://example.org/m/manifest.json", folder)
    described.without_markup(text)


def _is_text(data: bytes) -> bool:
    try:
        data.decode("utf-8", "surrogatepass")
    except UnicodeDecodeError:
        return False
    return True


def _text(data: bytes) -> str:
    try:
        return data.decode("utf-8", "surrogatepass")
    except UnicodeDecodeError:
        return data.decode("latin-1")


# --- words of people ------------------------------------------------------------------------------------------------


class Known:
    """An archive that holds every reference asked for, the texts among them with all that the good plans quote."""

    def __init__(self) -> None:
        self.asked: dict[str, Any] = {}
        self.kept: dict[str, Any] = {}

    def resolve(self, name: str) -> Any:
        from refarchive.records.model import Reference

        if len(name) > 60 or "\0" in name:
            raise UnknownRecord(f"There is no reference {name[:40]!r}.", "Name another.")
        if name in self.asked:
            return self.asked[name]
        key = f"ref-{zlib.crc32(name.encode('utf-8', 'surrogatepass')):012x}"
        kind = "text" if name.endswith((".txt", ".md")) else "image"
        size = {"width": 32, "height": 24} if kind == "image" else {}
        self.asked[name] = self.asked[key] = Reference(key, kind, "The ford", name, sha256="ab" * 32, **size)
        return self.asked[name]

    def reference(self, name: str) -> Any:
        return self.asked[name]

    def detail(self, name: str) -> Any:
        return self.kept[name]

    def passage(self, name: str) -> Any:
        return self.passages(name.rpartition(".")[0])[0]

    def passages(self, reference: str | None = None) -> list[Any]:
        from refarchive.records.model import Passage

        text = "The lamp hung at the stage. " + " ".join(quotes())
        return [Passage(f"{reference}.p1", str(reference), 1, text, 0, len(text))]


@cache
def quotes() -> tuple[str, ...]:
    """What the good plans quote."""
    found = [re.findall(r'^quote = (".*")$', plan.decode(), re.MULTILINE) for plan in seeds.PLANS]
    return tuple(json.loads(one) for plan in found for one in plan)


def read_plan(data: bytes, folder: Path) -> None:
    from refarchive.jobs.planning.workable import refuse_unworkable
    from refarchive.scenes import linking, plan, writing

    text, known = _text(data), Known()

    def whole() -> None:
        read = plan.read_plan(text, known)
        refuse_unworkable(read.scene)
        known.kept = {one.id: one for one in read.details}
        again = plan.read_plan(writing.write_plan(read.scene, known), known)
        assert again.scene == read.scene
        linking.with_entry(text, ("need",), {"id": "x", "what": "y"})

    _each(whole)


def read_dates(data: bytes, folder: Path) -> None:
    from refarchive.records import dates

    text = _text(data)

    def whole() -> None:
        found = dates.understood(text)
        when = found.when
        assert when.earliest is None or when.latest is None or when.earliest <= when.latest
        assert dates.read_date(when.edtf).edtf == when.edtf  # what is kept is read again
        dates.shown(when)

    _each(whole)


def read_pasted(data: bytes, folder: Path) -> None:
    from refarchive.site.pasted import read_constituents

    _each(lambda: read_constituents(_text(data)), lambda: read_constituents(_text(data), "cm"))


_FTS: list[sqlite3.Connection] = []


def read_words(data: bytes, folder: Path) -> None:
    from refarchive.search.words import match_words

    if not _FTS:
        _FTS.append(sqlite3.connect(":memory:"))
        _FTS[0].execute("CREATE VIRTUAL TABLE t USING fts5(x, tokenize='porter unicode61')")
        _FTS[0].execute("INSERT INTO t VALUES ('the pilot boat and a lamp')")

    def asked() -> None:
        if query := match_words(_text(data)):
            _FTS[0].execute("SELECT rowid FROM t WHERE t MATCH ?", (query,)).fetchall()

    _each(asked)


def read_short(data: bytes, folder: Path) -> None:
    """A region, a colour, a chip, a day, a time, a subject, rights: whatever is typed in one line."""
    import click

    from refarchive.archive.asked import checked_region
    from refarchive.cli.answering import region_value
    from refarchive.looks import colour, munsell
    from refarchive.publish.photo_metadata import source_type
    from refarchive.records import fragments, rights
    from refarchive.records.terms import details_in, origins_in, parted
    from refarchive.site import clocks, instants
    from refarchive.subjects import stored, tree

    text = _text(data)

    def region() -> None:
        try:
            found = region_value(None, None, text)  # type: ignore[arg-type]
        except click.BadParameter:
            return
        assert found is not None
        checked_region(found)

    def fragment() -> None:
        found = fragments.region_in(text, 1000, 500)
        if found is not None:
            assert 0 <= found[0] <= 1 and 0 <= found[1] <= 1 and found[2] > 0 and found[3] > 0  # noqa: PT018

    _each(
        region, fragment, lambda: colour.hex_to_lab(text), lambda: munsell.chip_lab(text), lambda: rights.canonical_uri(text),
        lambda: instants.day_start(text), lambda: instants.seconds_of_day(text), lambda: instants.instant(text),
        lambda: clocks.zone_of(text), lambda: tree.notation(text), lambda: stored.codes_in(text), lambda: source_type(text),
        lambda: details_in(text), lambda: origins_in(text), lambda: parted(text),
    )  # fmt: skip


# --- files of our own -----------------------------------------------------------------------------------------------


def read_vectors(data: bytes, folder: Path) -> None:
    import numpy as np

    from refarchive.search import vectors
    from refarchive.search.scan import Index

    head = seeds.HEADS[0]
    place = folder / "vectors"
    place.mkdir(exist_ok=True)
    for path in place.iterdir():
        path.unlink()
    if data[:1] == b"H":
        head = data[1:]
    (place / "keys.0.txt").write_bytes(data[1:] if data[:1] == b"K" else seeds.KEYS[0])
    (place / "head.json").write_bytes(head)
    (place / "rows.0.f32").write_bytes(data[1:] if data[:1] == b"R" else np.eye(3, dtype="<f4").tobytes())

    def ours() -> None:
        file = vectors.VectorFile(place, identity={"name": "tiny", "weights_sha256": "ab"}, dimension=3)
        file.refresh()
        found = Index.over(file).search(np.ones(3, np.float32), 3)
        assert len(found) <= 3

    def anyones() -> None:
        file = vectors.opened(place)
        if file is not None:
            file.keys(), file.matrix()

    _each(ours, anyones)


def make_vectors(rng: random.Random) -> bytes:
    which = rng.randrange(5)
    if which <= 1:
        return b"H" + (mutations.json_case(rng, seeds.HEADS) if which else mutations.case(rng, seeds.HEADS))
    if which <= 3:
        lines = seeds.KEYS[0].splitlines(keepends=True)
        lines[rng.randrange(3)] = mutations.json_case(rng, (b'"x"', b'["x"]')) + b"\n"
        return b"K" + (b"".join(lines) if which == 2 else mutations.case(rng, seeds.KEYS))
    return b"R" + mutations.case(rng, (b"\0" * 36,), (b"\xff\xff\xff\xff", b"\0\0\x80\x7f"))


def read_signature(data: bytes, folder: Path) -> None:
    from refarchive.looks.signatures import Signature

    _each(lambda: Signature.from_bytes(data))


def make_signature(rng: random.Random) -> bytes:
    """Most cases carry a true checksum of the head or a body that can be unpacked, so that what lies behind is reached."""
    import struct
    import zlib

    from refarchive.looks import signatures

    size = struct.calcsize(signatures._HEAD)
    good = seeds.signatures()[0]
    which = rng.randrange(4)
    if which == 0:
        return mutations.case(rng, (good,))
    head = mutations.case(rng, (good[:size],)).ljust(size, b"\0")[:size] if which != 1 else good[:size]
    body = (
        mutations.case(rng, (zlib.decompress(good[size + 4 :]),)) if which != 2 else zlib.decompress(good[size + 4 :])
    )
    return head + struct.pack("<I", zlib.crc32(head)) + zlib.compress(body, 1)


def read_pairs(data: bytes, folder: Path) -> None:
    import zlib

    from refarchive.jobs.references import signatures

    path = folder / "pairs"
    for content in (data, b"%08x\n%s" % (zlib.crc32(data), data)):
        path.write_bytes(content)
        _each(lambda: _found_in(signatures.Pairs(path)))


def _found_in(pairs: Any) -> None:
    """Damage is no error there: it is told here as if it were, so that what was read can be counted."""
    if pairs.damaged:
        raise ArchiveDamaged("The pairs cannot be read.", "Have them made anew.")
    assert all(isinstance(one.relation.sentence, str) for one in pairs.pairs)


def make_pairs(rng: random.Random) -> bytes:
    return mutations.json_case(rng, seeds.pairs()) if rng.random() < 0.7 else mutations.case(rng, seeds.pairs())


NOW = b"<now>"  # in notes that hold for two days: what a case is must not hang on when it is made


def make_kept(rng: random.Random) -> bytes:
    """The small files that lie in an archive: which, then its content."""
    told = {"version": "0007", "last": 3, "sums": {"references": 17}}
    which = rng.choice(("tally", "shared.toml", "level.json", "preview", "lists", "verifying"))
    if which == "lists":
        made = mutations.case(rng, (seeds.lists(),))
        if rng.random() < 0.8:  # past the checksum
            body = made.partition(b"\n")[2]
            made = b"%08x\n%s" % (zlib.crc32(body), body)
    elif which == "shared.toml":
        made = mutations.toml_case(rng, (b'database = "postgresql://localhost/merrow"\nfiles = ""\n# words\n',))
    elif which == "preview":
        made = mutations.case(rng, seeds.jpegs())
    elif which == "verifying":
        begun = b"begun %s\n" % NOW
        made = mutations.line_case(rng, (begun + b"ab" * 32 + b" 17 -3\n",)) if rng.random() < 0.5 else begun
        made += mutations.case(rng, (b"cd" * 32 + b" 400 1700000000000000000\n" * 3,))
    else:
        made = mutations.json_case(rng, (json.dumps(told).encode(),))
        if which == "tally" and rng.random() < 0.8:
            made = b"%08x\n%s" % (zlib.crc32(made), made)
    return which.encode() + b"\0" + made


def read_kept(data: bytes, folder: Path) -> None:
    from refarchive.jobs.keeping import going_on
    from refarchive.jobs.references import thumbnails
    from refarchive.records import preview_sums, shared, tally
    from refarchive.search.vector_folder import LEVEL, VectorFolder

    which, _, content = data.partition(b"\0")
    names = {b"tally": tally.FILE, b"level.json": LEVEL, b"preview": "a.jpg", b"verifying": going_on.FILE}
    for name in (*names.values(), shared.POINTER):
        (folder / name).unlink(missing_ok=True)
    path = folder / names.get(which, shared.POINTER)
    path.write_bytes(content.replace(NOW, datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ").encode()))
    reader: dict[bytes, Callable[[], Any]] = {
        b"tally": lambda: tally.read(folder), b"level.json": lambda: VectorFolder(folder).level_at(),
        b"preview": lambda: (preview_sums.state(path), preview_sums.fits(path, None, 1600), thumbnails.thumbnail(path, 16)),
        b"lists": lambda: _lists_in(content), b"verifying": lambda: going_on.GoingOn(folder).holds("ab" * 32, path),
    }  # fmt: skip
    _each(reader.get(which, lambda: shared.read(folder)))


def _lists_in(content: bytes) -> None:
    """Anything but lists is a ValueError there, upon which every row is read; told here as damage, to be counted."""
    from refarchive.search.lists import Lists

    try:
        Lists.from_bytes(content)
    except ValueError as error:
        raise ArchiveDamaged(f"The lists cannot be read: {error}.", "Have them made anew.") from None


def make_linear(rng: random.Random) -> bytes:
    return mutations.tail_case(rng, seeds.linears()) if rng.random() < 0.75 else mutations.case(rng, seeds.linears())


def make_plan(rng: random.Random) -> bytes:
    which = rng.random()
    if which < 0.5:
        return mutations.mild_toml_case(rng, seeds.PLANS)
    return mutations.toml_case(rng, seeds.PLANS) if which < 0.85 else mutations.case(rng, seeds.PLANS)


def make_dates(rng: random.Random) -> bytes:
    which = rng.random()
    if which < 0.6:
        return mutations.date_case(rng, seeds.DATES)
    return mutations.line_case(rng, seeds.DATES) if which < 0.85 else mutations.case(rng, seeds.DATES)


def _through(read: Read) -> Read:
    """A reader of `workplace`, its problems counted as those of the others are."""
    return lambda data, folder: _each(lambda: read(data, folder))


# --- finished files -------------------------------------------------------------------------------------------------


def read_finished(data: bytes, folder: Path) -> None:
    from refarchive.publish.embed import embed, picture_digest

    for metadata in _metadata():

        def whole(metadata: Any = metadata) -> None:
            made = embed(data, metadata)
            assert picture_digest(made) == picture_digest(data)
            embed(made, metadata)  # what was written is read again

        _each(whole)


_KEPT: list[Any] = []


def _metadata() -> list[Any]:
    if not _KEPT:
        from refarchive.publish import photo_metadata as photo
        from refarchive.records.wall import Particulars

        told = Particulars(
            "frame-000000000000",
            title="The ford",
            creator="Nobody",
            caption="A cart – at the ford",
            created="2026-02-14",
        )
        _KEPT.extend(photo.photo_metadata(told, on="2026-05-01", private=private) for private in (True, False))
    return _KEPT


def read_blocks(data: bytes, folder: Path) -> None:
    """IIM, image resources, TIFF directories and XMP by themselves, as they lie inside a picture."""
    from refarchive.publish import iim, tiff_tags, xmp

    private = _metadata()[0]

    def sets() -> None:
        again = iim.iim(private, data)
        assert list(iim.data_sets(again))

    def resources() -> None:
        found = iim.resources(data)
        assert [one[1] for one in iim.resources(iim.written(found))] == [one[1] for one in found]

    def tags() -> None:
        read = tiff_tags.read(data, "The TIFF")
        emptied = tiff_tags.emptied(read, {tiff_tags.GPS, tiff_tags.XMP})
        assert len(emptied) == len(data)

    def packet() -> None:
        xmp.packet(private, [xmp.packet(private, [data]).standard])

    _each(sets, resources, tags, packet)


def make_blocks(rng: random.Random) -> bytes:
    return mutations.case(rng, (seeds.IIM, seeds.RESOURCES, seeds.XMP, *seeds.tiffs()[:2]), BLOCK_WORDS)


BLOCK_WORDS = (
    b"\x1c\x02\x78\x80\x04\x00\x01\x00\x00", b"\x1c\x02\x78\x80\x02\x90\x00", b"8BIM\x04\x04\0\0\0\0\0\0", b"<rdf:RDF>",
    b'xmlns:dc="http://example.org/"', b"<!DOCTYPE x [<!ENTITY a 'b'>]>", b"&a;", b"rdf:parseType='Resource'", b"xml:lang=''",
    b"encoding='utf-16'", b"xmlns=''", b"<dc:title/>", b'dc:title="x"', b"<a:b:c/>", b"x:",
)  # fmt: skip

_EXIF_WORDS = (
    b"Exif\0\0II*\0",
    b"\xff\xe1",
    b"\xff\xed",
    b"ICC_PROFILE\0",
    b"http://ns.adobe.com/xap/1.0/\0",
    b"\x1c\x02",
)

TARGETS: Mapping[str, Target] = {
    "jpeg": Target(_bytes(seeds.jpegs, *_EXIF_WORDS), read_picture, 3000),
    "png": Target(
        _bytes(seeds.pngs, b"IHDR", b"iCCP", b"zTXt", b"eXIf", b"IDAT", b"iTXtXML:com.adobe.xmp"), read_picture, 3000
    ),
    "tiff": Target(_bytes(seeds.tiffs, *_EXIF_WORDS), read_picture, 3000, seconds=20.0),
    "webp": Target(_bytes(seeds.webps, b"VP8X", b"EXIF", b"XMP "), read_picture, 3000),
    "gif": Target(_bytes(seeds.gifs, b"\x21\xf9", b"\x2c"), read_picture, 3000),
    "heic": Target(_bytes(seeds.heics, b"ftyp", b"meta", b"iloc", b"ispe", b"irot"), read_picture, 3000, short=30),
    "raw": Target(_bytes(seeds.raws), read_raw, 3000),
    "linear": Target(make_linear, read_linear, 3000, seconds=20.0),
    "printed": Target(
        _bytes(lambda: (*seeds.jpegs(), *seeds.pngs(), *seeds.tiffs()[:4], *seeds.SVGS, *seeds.SVGS)),
        read_printed,
        3000,
    ),
    "sheet": Target(_mixed(seeds.SHEETS, mutations.csv_case, b'"', b"\0", b"\r"), read_sheet),
    "firsts": Target(_mixed(seeds.FIRSTS, mutations.csv_case, b'"', b"\r"), read_firsts),
    "filled": Target(_mixed((*seeds.DEBTS, *seeds.SITTINGS), mutations.csv_case, b'"', b"\0"), read_filled),
    "manifest": Target(_mixed(seeds.MANIFESTS, mutations.json_case), read_described),
    "linked": Target(_mixed(seeds.LINKED, mutations.json_case), read_described),
    "text": Target(_bytes(seeds.TEXTS, b"\r", b"\xff\xfe", b"# ", b"\n---\n", b". "), read_text),
    "pdf": Target(_bytes(seeds.pdfs), read_pdf, 400, seconds=60.0, short=6, programs=True),
    "plan": Target(make_plan, read_plan),
    "dates": Target(make_dates, read_dates, short=300),
    "pasted": Target(_mixed(seeds.PASTED, mutations.csv_case, b";", b"\t", b","), read_pasted, short=200),
    "words": Target(_mixed(seeds.WORDS, mutations.line_case, b'"'), read_words, short=200),
    "short": Target(_mixed(seeds.SHORT, mutations.line_case), read_short, short=150, programs=True),
    "address": Target(_mixed(seeds.SHORT, mutations.line_case, b"http://", b"@", b"["), read_address, short=150),
    "vectors": Target(make_vectors, read_vectors, short=100),
    "signature": Target(make_signature, read_signature, short=100),
    "pairs": Target(make_pairs, read_pairs, short=60),
    "kept": Target(make_kept, read_kept, short=60),
    "names": Target(
        workplace.make_names, _through(workplace.read_names), 800, seconds=60.0, short=8, programs=True, door=False
    ),
    "panels": Target(
        workplace.make_message,
        _through(workplace.read_message),
        2000,
        seconds=120.0,
        short=12,
        programs=True,
        door=False,
    ),
    "pack": Target(workplace.make_pack, _through(workplace.read_pack), 400, seconds=20.0, short=40),
    "checkpoint": Target(workplace.make_checkpoint, _through(workplace.read_checkpoint), 1000, seconds=60.0, short=10),
    "finished": Target(
        _bytes(lambda: (*seeds.jpegs(), *seeds.tiffs()), *_EXIF_WORDS, *BLOCK_WORDS), read_finished, short=100
    ),
    "blocks": Target(make_blocks, read_blocks, short=150),
}


def the_case(target: str, seed: int, number: int) -> bytes:
    """Case `number` of a target under a seed; always the same."""
    return TARGETS[target].make(random.Random(f"{target}/{seed}/{number}"))
