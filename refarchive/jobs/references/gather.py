"""Gathering: folders, files and a sheet into the archive, in batches that are each complete or not there at all.

Files are kept and decoded ahead in threads, and the encoder has a thread of its own, which gets pictures a few at a
time as they are collected: while it works on one batch, the next is collected and stored, and what it made of the last
is written. A batch is stored in one transaction; vectors follow, and what an interruption left without vectors is made
up for at the end of the next run (`index.bring_up_to_date`). A place that has not changed since it was last seen (size
and time of change) is not opened again.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, TypeVar

from refarchive import __version__, leftovers
from refarchive.errors import ArchiveUnwritable, RefArchiveError, SourceRefused
from refarchive.jobs.kit import Kit
from refarchive.jobs.references import bringing, index, listing, side_by_side
from refarchive.jobs.references.index import Coded, Pictured
from refarchive.records import ids
from refarchive.records.files import PREVIEW_SIDE, SUFFIXES, hash_of, open_picture, picture_size, sniff
from refarchive.records.model import NewReference, Passage, Reference, SourceMark
from refarchive.records.store import now
from refarchive.sources import passages as texts
from refarchive.sources import pdf_apart, pdf_pages
from refarchive.sources.described import DescribedRow
from refarchive.sources.folder import Found, Refusal, root_key, shown_name, walk
from refarchive.sources.metadata import read_metadata
from refarchive.sources.sheet import SheetRow, apply, read_sheet

COLUMNS_SAID = "sheet columns"  # setting: by the key of a sheet's columns, what a person said that they hold
PDF = "application/pdf"
OF_THE_WHOLE = {"title", "identifier", "reference", "source_name"}  # columns that do not hold for a page
_Row = TypeVar("_Row", bound=SheetRow)
OF_PAGE = "#page="  # stands before the number of a page, behind the name of its PDF
ASKED = 500  # places whose references are read at once
BATCH = 16  # references stored in one transaction
TOGETHER = 4  # pictures given to the encoder at a time: with a whole batch it would have to wait for all of the first
AHEAD = 24  # files prepared ahead of what is collected
TEXT_SUFFIXES = {".txt": "text/plain", ".text": "text/plain", ".md": "text/markdown", ".markdown": "text/markdown"}


@dataclass
class GatherReport:
    """What a run did. `duplicates` and `refused` are lists of plain dicts, ready for JSON."""

    added: int = 0
    unchanged: int = 0
    revised: int = 0
    details: int = 0  # marked
    duplicates: list[dict[str, str]] = field(default_factory=list)
    refused: list[dict[str, str]] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)

    def as_dict(self) -> dict[str, Any]:
        """The report as JSON."""
        return dict(vars(self))


@dataclass(frozen=True)
class _Place:
    """One file to look at, with where it was found and what the sheet says of it."""

    found: Found
    root: str
    rows: tuple[SheetRow, ...] = ()  # in the order in which they are applied
    remote: DescribedRow | None = None  # whose picture is still to be fetched


@dataclass(frozen=True)
class _Prepared:
    """A file ready to be stored: kept, decoded, its reference filled in."""

    place: _Place
    reference: Reference
    mark: SourceMark | None  # None for what comes with another reference of the same file
    passages: tuple[Passage, ...]
    pictured: Pictured | None
    notice: str = ""


@dataclass(frozen=True)
class _Looked:
    """A file that was read: its digest, and what is to be stored; nothing of a file that the archive holds."""

    digest: str
    prepared: tuple[_Prepared, ...] = ()


def gather(
    kit: Kit,
    sources: Sequence[Path],
    sheet: Path | None = None,
    columns: Mapping[str, str] | None = None,
    fetch: bool | Collection[str] = False,
) -> GatherReport:
    """Take everything at `sources`, and what `sheet` names, into the archive.

    `fetch` says whether pictures that a manifest has on the web are fetched: not, from public addresses, or from the
    hosts named too, though they be on a private network.
    `columns` says what columns of other names hold; it is remembered for the archive's next sheets
    with the same columns.

    Raises
    ------
    SheetRefused
        where the sheet as a whole cannot be read; nothing is gathered then.
    """
    report = GatherReport()
    with leftovers.temporary("fetched") as fetched:
        run = _Run(kit, report, fetch, Path(fetched))
        rows = run.read_sheet(sheet, columns or {}) if sheet is not None else {}
        places = run.places(sources, rows)
        run.take(places)
    run.take_objects()
    run.take_details(places)
    index.bring_up_to_date(kit)
    listing.bring_up_to_date(kit)
    return report


class _Run:
    def __init__(self, kit: Kit, report: GatherReport, fetch: bool | Collection[str], fetched: Path) -> None:
        self.kit = kit
        self.report = report
        self.fetch = fetch
        self.fetched = fetched  # folder for what is fetched in this run
        self.batch: list[_Prepared] = []
        self.taken: set[str] = set()  # digests of the originals that this run brought, stored yet or not
        self.encoding = ThreadPoolExecutor(1, thread_name_prefix="encode")  # begun with the first batch
        self.pictures: list[Pictured] = []  # of the batch, not given to the encoder yet
        self.coding: list[Future[Coded]] = []  # of the batch
        self.coded: list[Future[Coded]] = []  # of the batch stored last
        self.marks: dict[str, dict[str, SourceMark]] = {}
        self.read: dict[str, Reference] = {}  # some of those that rows speak of, as they now are
        self.objects: list[SheetRow] = []
        self.sheet_root = ""
        self.done = 0

    # --- what there is to look at -------------------------------------------------------------------------------

    def read_sheet(self, path: Path, columns: Mapping[str, str]) -> dict[Path, SheetRow]:
        remembered = dict(self.kit.store.setting(COLUMNS_SAID) or {})
        sheet = read_sheet(path, columns, remembered)
        if columns and remembered.get(sheet.key) != (said := dict(sheet.said)):
            self.kit.store.set_setting(COLUMNS_SAID, remembered | {sheet.key: said})
        self.report.notices.extend(sheet.notices)
        self.sheet_root = root_key(path)
        rows: dict[Path, SheetRow] = {}
        for row in self._standing(sheet.rows):
            if row.path is None:
                self.objects.append(row)
            else:
                rows[row.path] = row
        return rows

    def _standing(self, rows: Iterable[_Row]) -> Iterator[_Row]:
        """The rows that are not refused; what is wrong with any is reported."""
        for row in rows:
            for problem in row.problems:
                self.refuse(problem.source, problem.problem, problem.next_step)
            if not row.refused:
                yield row

    def read_described(self, found: Found) -> list[DescribedRow]:
        """The rows of a manifest or a JSON-LD file; objects without a file are put by."""
        try:
            described = bringing.read_described(found.path)
        except SourceRefused as error:
            self.refuse(shown_name(found.relative), error.problem, error.next_step)
            return []
        self.report.notices.extend(described.notices)
        rows: list[DescribedRow] = []
        for row in self._standing(described.rows):
            if row.path is None and not row.url:
                self.objects.append(row)
            else:
                rows.append(row)
        return rows

    def places(self, sources: Sequence[Path], rows: dict[Path, SheetRow]) -> list[_Place]:
        """Everything to look at, each file once: first what manifests and JSON-LD tell of, in their order."""
        walked: dict[Path, tuple[Found, str]] = {}
        told: list[DescribedRow] = []
        for source in sources:
            key = root_key(source)
            for one in walk(source):
                if isinstance(one, Refusal):
                    self.refuse(one.source, one.problem, one.next_step)
                elif one.path not in walked:
                    walked[one.path] = (one, key)
                    if bringing.is_described(one.path):
                        told.extend(self.read_described(one))
        found: list[_Place] = []
        by_path: dict[Path, list[SheetRow]] = {}
        for row in told:
            if row.path is None:
                found.append(_Place(bringing.remote_found(row, self.fetched), root_key(row.sheet), (row,), row))
            else:
                by_path.setdefault(row.path, []).append(row)
        for path, of_sheet in rows.items():
            by_path.setdefault(path, []).append(of_sheet)
        for path, said in by_path.items():
            if path not in walked:
                status = path.stat()
                one = Found(path, said[0].file, status.st_size, status.st_mtime_ns)
                walked[path] = (one, self.sheet_root if path in rows and len(said) == 1 else root_key(said[0].sheet))
        for path in dict.fromkeys((*(row.path for row in told if row.path is not None), *walked)):
            if not bringing.is_described(path):
                found.append(_Place(*walked[path], tuple(by_path.get(path, ()))))
        return found

    # --- looking ------------------------------------------------------------------------------------------------

    def take(self, places: Sequence[_Place]) -> None:
        total = len(places)
        with side_by_side.workers("decode") as pool, self.encoding:
            waiting: deque[tuple[_Place, Future[_Looked]]] = deque()
            fresh: Iterator[_Place] = iter(self._changed(places, total))
            try:
                while True:
                    while len(waiting) < AHEAD and (place := next(fresh, None)) is not None:
                        waiting.append((place, pool.submit(self._look, place)))
                    if not waiting:
                        break
                    place, future = waiting.popleft()
                    self._collect(place, future)
                    self._tick(total, place.found.relative)
                self._store()
                self._keep_vectors(self.coded)
            finally:
                for _, future in waiting:
                    future.cancel()
                self.encoding.shutdown(cancel_futures=True)

    def _changed(self, places: Sequence[_Place], total: int) -> Iterator[_Place]:
        """Those places that must be opened; the rest is answered from what was noted last time."""
        for number, place in enumerate(places):
            if number % ASKED == 0:
                self._read_ahead(places[number : number + ASKED])
            mark = self._seen(place)
            same = mark is not None and (mark.size, mark.mtime_ns) == (place.found.size, place.found.mtime_ns)
            if mark is None or not same or (mark.reference is None and mark.version != __version__):
                if place.remote is not None and not self.fetch:
                    self.refuse(shown_name(place.found.relative), *bringing.not_fetched(place.remote))
                else:
                    yield place
                continue
            if mark.reference is None:
                self.refuse(shown_name(place.found.relative), mark.problem, mark.next_step)
            else:
                self._known(mark.reference, place)
            self._tick(total, place.found.relative)

    def _seen(self, place: _Place) -> SourceMark | None:
        """What was noted of a place before this run."""
        if place.root not in self.marks:
            self.marks[place.root] = self.kit.store.marks(place.root)
        return self.marks[place.root].get(place.found.relative)

    def _read_ahead(self, places: Sequence[_Place]) -> None:
        """The references that something is said of, all at once; where nothing is, none need be read."""
        marks = [self._seen(place) for place in places if place.rows]
        wanted = [mark.reference for mark in marks if mark is not None and mark.reference is not None]
        self.read = {one.id: one for one in self.kit.store.references(wanted)} if wanted else {}

    def _known(self, reference: str, place: _Place) -> None:
        self.report.unchanged += 1
        self._say(reference, place)

    def _say(self, reference: str, place: _Place) -> None:
        """What the sheet says of a file whose bytes the archive holds, said of their reference."""
        if not place.rows:
            return  # nothing is said of it: it need not be read
        before = self.read.get(reference) or self.kit.store.reference(reference)
        for row in place.rows:
            after = bringing.said_of(before, row)
            self._revise(before, after)
            if before.media_type == PDF and not row.fields.get("reference"):  # an archive's own pages have own rows
                self._revise_pages(before, after, row)
            before = after

    def _revise_pages(self, before: Reference, after: Reference, row: SheetRow) -> None:
        """What a sheet says of a PDF, said of its pages too; each keeps its own name and number."""
        said = replace(row, fields={k: v for k, v in row.fields.items() if k not in OF_THE_WHOLE})
        start = f"{before.source_name}{OF_PAGE}"
        for page in self.kit.store.references_named(start, beginning=True):
            number = page.source_name.removeprefix(start)
            own = page.title != f"{before.title}, page {number}"
            title = page.title if own else f"{after.title}, page {number}"
            self._revise(page, replace(apply(page, said), title=title))

    def _revise(self, before: Reference, after: Reference) -> None:
        if after != before:
            changes = {k: v for k, v in vars(after).items() if v != getattr(before, k)}
            self.read[before.id] = self.kit.store.change_reference(before.id, **changes)
            self.report.revised += 1

    def _look(self, place: _Place) -> _Looked:
        """In a thread: keep, decode and describe one file, unless the archive holds the same bytes already."""
        if place.remote is not None:
            bringing.fetch_picture(place.remote, place.found.path, self.fetch)
        digest = hash_of(place.found.path)
        if self.kit.store.reference_by_sha256(digest) is not None or self._written_as(place) is not None:
            return _Looked(digest)
        return _Looked(digest, tuple(self._prepare(place)))

    def _prepare(self, place: _Place) -> list[_Prepared]:
        found = place.found
        media_type = sniff(found.path)
        if media_type:
            return [self._picture(place, media_type)]
        suffix = found.path.suffix.lower()
        if suffix in TEXT_SUFFIXES:
            return [self._text(place, TEXT_SUFFIXES[suffix])]
        if suffix == ".pdf" or pdf_pages.is_pdf(found.path):
            return self._pdf(place)
        name = shown_name(found.path.name)
        if found.size == 0:
            raise SourceRefused(f"{name} is empty.", "Copy the file again from where it came.")
        if suffix == ".csv":
            raise SourceRefused(f"{name} is a sheet, not a reference.", f"Give it with: --sheet {name}")
        raise SourceRefused(
            f"{name} is neither a picture nor a text of a kind that is gathered.",
            "Pictures: JPEG, PNG, TIFF, WebP, GIF, HEIC. Texts: .txt, .md. Both: PDF. Convert it, or leave it out.",
        )

    def _picture(self, place: _Place, media_type: str) -> _Prepared:
        path = place.found.path
        width, height, _ = picture_size(path)
        picture = open_picture(path, longest=PREVIEW_SIDE)  # refuses what is damaged, before anything is kept
        kept = self.kit.files.keep(path, media_type)
        self.kit.files.write_preview(kept.sha256, picture)
        told = read_metadata(path)
        values: dict[str, Any] = {field: one.value for field, one in told.items()}
        if "subjects" in values:
            values["subjects"] = tuple(dict.fromkeys(filter(None, map(str.strip, values["subjects"].split(";")))))
        values.setdefault("title", index.title_from_name(place.found.relative))
        reference = Reference(
            id=ids.reference_id(kept.sha256),
            kind="image",
            source_name=place.found.relative,
            **values,
            origins=tuple((field, one.origin) for field, one in told.items()),
            sha256=kept.sha256,
            suffix=kept.suffix,
            media_type=media_type,
            width=width,
            height=height,
            added_at=now(),
        )
        return self._prepared(place, reference, kept.sha256, pictured=Pictured.of(reference.id, picture))

    def _text(self, place: _Place, media_type: str) -> _Prepared:
        path = place.found.path
        text, notice = texts.read_text_noticed(path)
        cut = texts.split(text)
        if not cut:
            raise SourceRefused(f"{shown_name(path.name)} holds no text.", "Leave it out.")
        kept = self.kit.files.keep(path, media_type)
        one = ids.reference_id(kept.sha256)
        reference = Reference(
            id=one,
            kind="text",
            title=texts.title_of(text, path.name),
            source_name=place.found.relative,
            sha256=kept.sha256,
            suffix=SUFFIXES[media_type],
            media_type=media_type,
            added_at=now(),
        )
        return self._prepared(place, reference, kept.sha256, passages=_passages(one, cut), notice=notice)

    def _pdf(self, place: _Place) -> list[_Prepared]:
        """The file as a whole, and each page with its picture and its text; blank pages are left out."""
        path = place.found.path
        name = shown_name(place.found.relative)
        with self.kit.files.aside() as folder:
            pdf = pdf_apart.read_pdf(path, folder)  # all of it, before anything is kept
            if not pdf.pages:
                raise SourceRefused(f"{name} has only blank pages.", "Leave it out.")
            kept = self.kit.files.keep(path, PDF)
            whole = Reference(
                id=ids.reference_id(kept.sha256),
                kind="text",
                title=pdf.title or index.title_from_name(place.found.relative),
                source_name=place.found.relative,
                sha256=kept.sha256,
                suffix=kept.suffix,
                media_type=PDF,
                added_at=now(),
                origins=(("title", "PDF Title"),) if pdf.title else (),
            )
            for row in place.rows:
                whole = bringing.said_of(whole, row, fresh=True)
            pages: dict[str, _Prepared] = {}
            for one in pdf.pages:
                page = self._page(whole, one.number, one.picture)
                if page.sha256 not in pages and self.kit.store.reference_by_sha256(page.sha256) is None:
                    told = _passages(page.id, texts.split(one.text))
                    pages[page.sha256] = _Prepared(place, page, None, told, None)
        wordless = not any(one.text for one in pdf.pages)
        notice = f"{name} has no text in it: its pages were taken as pictures only." if wordless else ""
        mark = _mark(place, kept.sha256, whole.id)
        return [_Prepared(place, whole, mark, (), None, notice), *pages.values()]

    def _page(self, whole: Reference, number: int, file: Path) -> Reference:
        """One page: its picture kept as PNG, with what is known of the whole said of it too."""
        width, height, _ = picture_size(file)
        kept = self.kit.files.keep(file, "image/png")
        self.kit.files.write_preview(kept.sha256, open_picture(file, longest=PREVIEW_SIDE))
        return replace(
            whole,
            id=ids.reference_id(kept.sha256),
            kind="image",
            title=f"{whole.title}, page {number}",
            source_name=f"{whole.source_name}{OF_PAGE}{number}",
            identifier="",
            sha256=kept.sha256,
            suffix=kept.suffix,
            media_type="image/png",
            width=width,
            height=height,
        )

    def _prepared(
        self,
        place: _Place,
        reference: Reference,
        digest: str,
        *,
        passages: tuple[Passage, ...] = (),
        pictured: Pictured | None = None,
        notice: str = "",
    ) -> _Prepared:
        for row in place.rows:
            reference = bringing.said_of(reference, row, fresh=True)
        return _Prepared(place, reference, _mark(place, digest, reference.id), passages, pictured, notice)

    # --- storing ------------------------------------------------------------------------------------------------

    def _collect(self, place: _Place, future: Future[_Looked]) -> None:
        try:
            looked = future.result()
        except ArchiveUnwritable:  # nothing is wrong with the file: it is not to be noted as refused, nor passed over
            raise
        except RefArchiveError as error:
            self.refuse(shown_name(place.found.relative), error.problem, error.next_step)
            if place.remote is None:  # what could not be fetched may be there the next time
                mark = replace(_mark(place, "", None), problem=error.problem, next_step=error.next_step)
                self.kit.store.put_marks([mark])
            return
        if not looked.prepared:
            self._same_bytes(place, looked.digest)
        elif (digest := looked.prepared[0].reference.sha256) in self.taken:  # another place brought it in the meantime
            self._same_bytes(place, digest)
        else:
            new = [one for one in looked.prepared if one.reference.sha256 not in self.taken]
            self.batch += new
            self.taken |= {one.reference.sha256 for one in new}
            self.report.notices += [one.notice for one in new if one.notice]
            self.pictures += [one.pictured for one in new if one.pictured is not None]
            self._encode(TOGETHER)
            if len(self.batch) >= BATCH:
                self._store()
        if place.remote is not None:
            place.found.path.unlink(missing_ok=True)

    def _written_as(self, place: _Place) -> Reference | None:
        """The reference that an archive's own row names, if it is here: the file is then another picture of it."""
        named = [row.fields["reference"] for row in place.rows if row.fields.get("reference")]
        return next(iter(self.kit.store.references(named)), None) if named else None

    def _same_bytes(self, place: _Place, digest: str) -> None:
        """A file whose bytes the archive holds: the same place seen again, or an exact duplicate."""
        self._store()
        known = self.kit.store.reference_by_sha256(digest)
        if known is None and (known := self._written_as(place)) is not None:
            self.report.notices.append(
                f"{shown_name(place.found.relative)} is not the original of {known.id}: what is said of it was taken, "
                "the file was not."
            )
        if known is None:  # removed between the two looks: the next run takes it
            self.report.notices.append(
                f"{shown_name(place.found.relative)} was changed while it was gathered; run again."
            )
            return
        self.kit.store.put_marks([_mark(place, digest, known.id)])
        written = self._written_as(place)
        if known.source_name == place.found.relative or (written is not None and written.id == known.id):
            self._known(known.id, place)
        else:
            self.report.duplicates.append(
                {"source": shown_name(place.found.relative), "reference": known.id, "title": known.title}
            )
            self._say(known.id, place)  # now, as it would be when the same is gathered again

    def _store(self) -> None:
        if not self.batch:
            return
        batch, self.batch = self.batch, []
        self.kit.store.add_references(
            [NewReference(p.reference, p.passages, (p.mark,) if p.mark is not None else ()) for p in batch]
        )
        self.report.added += len(batch)
        self._encode(1)
        before, self.coded, self.coding = self.coded, self.coding, []
        self._keep_vectors(before)

    def _encode(self, least: int) -> None:
        """Give the encoder the pictures that wait, in parts of `TOGETHER`, as long as there are so many."""
        while len(self.pictures) >= least:
            part, self.pictures = self.pictures[:TOGETHER], self.pictures[TOGETHER:]
            self.coding.append(self.encoding.submit(index.encode, self.kit.encoder, part))

    def _keep_vectors(self, coded: Sequence[Future[Coded]]) -> None:
        if coded:
            index.keep(self.kit, [part.result() for part in coded])

    def take_objects(self) -> None:
        """Object records: rows of the sheet without a file."""
        new: dict[str, NewReference] = {}
        for row in self.objects:
            own = row.fields.get("reference", "")
            blank = Reference(
                id=own or ids.object_id([row.identity]), kind="object", title="", source_name="", added_at=now()
            )
            known = self.kit.store.references([blank.id])
            if known:
                self.report.unchanged += 1
                self._revise(known[0], replace(bringing.said_of(known[0], row), kind=known[0].kind))
            elif own and row.fields.get("kind") != "object":
                source = f"{shown_name(row.sheet.name)}, {row.where.lower()}"
                self.refuse(source, f"{row.where} names no file, and {own} is not here.", "Put its file there.")
            elif blank.id not in new:
                new[blank.id] = NewReference(bringing.said_of(blank, row, fresh=True))
        self.kit.store.add_references(list(new.values()))
        self.report.added += len(new)

    def take_details(self, places: Sequence[_Place]) -> None:
        """Details that rows tell of, once what they are marked on is stored."""
        told: dict[str, list[SheetRow]] = {}
        marks: dict[str, dict[str, SourceMark]] = {}
        for place in places:
            if any(row.details for row in place.rows):
                if place.root not in marks:
                    marks[place.root] = self.kit.store.marks(place.root)
                mark = marks[place.root].get(place.found.relative)
                if mark is not None and mark.reference is not None:
                    told.setdefault(mark.reference, []).extend(place.rows)
        for row in self.objects:
            if row.details:
                told.setdefault(row.fields.get("reference") or ids.object_id([row.identity]), []).append(row)
        for reference in self.kit.store.references(list(told)):
            self.report.details += bringing.add_details(self.kit, reference, told[reference.id])

    def refuse(self, source: str, problem: str, next_step: str) -> None:
        self.report.refused.append({"source": source, "problem": problem, "next_step": next_step})

    def _tick(self, total: int, name: str) -> None:
        self.done += 1
        if self.kit.progress is not None:
            self.kit.progress(self.done, total, shown_name(name, 40))


def _passages(reference: str, cut: Sequence[tuple[str, int, int]]) -> tuple[Passage, ...]:
    return tuple(
        Passage(ids.passage_id(reference, n), reference, n, stretch, start, end)
        for n, (stretch, start, end) in enumerate(cut, start=1)
    )


def _mark(place: _Place, digest: str, reference: str | None) -> SourceMark:
    found = place.found
    return SourceMark(place.root, found.relative, found.size, found.mtime_ns, digest, reference, version=__version__)
