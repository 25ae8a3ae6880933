"""The archive: the one thing that notebooks, panels and the command line hold.

archive = refarchive.create("merrow")
archive.gather("scans", sheet="scans/references.csv")
for hit in archive.find("woman with a basket", when="1868/1874").hits:
print(hit.rank, hit.reference.title)
archive.read_scene("first-light.toml")
archive.dossier("first-light", out="print")
archive.check("first-light", "frame.jpg", out="print/check.html")
"""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager, nullcontext
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

from refarchive.archive.asked import checked_region, shared_at
from refarchive.errors import (
    BadDate,
    BadQuery,
    PlanRefused,
    RefArchiveError,
    UnknownRecord,
)
from refarchive.records import ids
from refarchive.records.model import (
    Change,
    Detail,
    Filter,
    Frame,
    Passage,
    Reference,
    Region,
    Scene,
)

if TYPE_CHECKING:
    from PIL.Image import Image

    from refarchive.archive.evidence import EvidenceDesk
    from refarchive.archive.exchange import ExchangeDesk
    from refarchive.archive.frames import FrameDesk
    from refarchive.archive.onsite import OnSiteDesk
    from refarchive.archive.planning import PlanDesk
    from refarchive.archive.publishing import PublishDesk
    from refarchive.archive.series import SeriesDesk
    from refarchive.archive.wall import WallDesk
    from refarchive.encoders.base import Progress
    from refarchive.frames.check import Line
    from refarchive.jobs.choosing.checking import Checked
    from refarchive.jobs.keeping.verify import Verified
    from refarchive.jobs.kit import Kit
    from refarchive.jobs.planning.dossier import Written
    from refarchive.jobs.references.gather import GatherReport
    from refarchive.search.finding import Findings
    from refarchive.search.trust import Trust

PathLike = str | os.PathLike[str]


class Archive:
    """One archive folder, open. Use `refarchive.create` or `refarchive.open`; close it, or use it in a `with`."""

    def __init__(self, kit: Kit) -> None:
        self._kit = kit

    @property
    def evidence(self) -> EvidenceDesk:
        """What scenes rest on: dates, families, coverage, first dates, subjects, debts."""
        from refarchive.archive.evidence import EvidenceDesk

        return EvidenceDesk(self)

    @property
    def frame_work(self) -> FrameDesk:
        """Frames over time: several at once, earlier checks, regions against details, viewers' words."""
        from refarchive.archive.frames import FrameDesk

        return FrameDesk(self)

    @property
    def planning(self) -> PlanDesk:
        """Scenes begun and changed without an editor: values, needs, sourcing."""
        from refarchive.archive.planning import PlanDesk

        return PlanDesk(self)

    @property
    def onsite(self) -> OnSiteDesk:
        """Place and light of a scene: sun, tide and window, the rig and what it needs."""
        from refarchive.archive.onsite import OnSiteDesk

        return OnSiteDesk(self)

    @property
    def after(self) -> WallDesk:
        """After the shoot: frames, prints, walls, sittings, how frames stand, the decision."""
        from refarchive.archive.wall import WallDesk

        return WallDesk(self)

    @property
    def series(self) -> SeriesDesk:
        """The finished pictures of a series, in order, and how another would sit among them."""
        from refarchive.archive.series import SeriesDesk

        return SeriesDesk(self)

    @property
    def publishing(self) -> PublishDesk:
        """What goes out with a finished picture: caption, note, metadata, permissions, editions."""
        from refarchive.archive.publishing import PublishDesk

        return PublishDesk(self)

    @property
    def exchange(self) -> ExchangeDesk:
        """References out of the archive and in again: CSV, JSON-LD, IIIF manifests, and what may be published."""
        from refarchive.archive.exchange import ExchangeDesk

        return ExchangeDesk(self)

    # --- opening and closing ------------------------------------------------------------------------------------

    @classmethod
    def create(
        cls, folder: PathLike, encoder: str = "auto", *, who: str = "", database: str = "", files: PathLike = ""
    ) -> Archive:
        """Make an archive in a folder that is empty or not there yet; see `refarchive.create`."""
        from refarchive.jobs.keeping import opening

        opening.make(Path(folder), encoder, who, shared_at(database, files))
        return cls.open(folder, who=who)

    @classmethod
    def join(cls, folder: PathLike, database: str, *, files: PathLike = "", who: str = "") -> Archive:
        """Make a folder of one's own for an archive that others share already; see `refarchive.join`."""
        from refarchive.jobs.keeping import opening

        if (shared := shared_at(database, files)) is None:
            raise BadQuery("No database is named.", "Give its address: postgresql://HOST/DATABASE.")
        opening.join(Path(folder), who, shared)
        return cls.open(folder, who=who)

    @classmethod
    def open(cls, folder: PathLike, *, who: str = "") -> Archive:
        """Open the archive in a folder; see `refarchive.open`."""
        from refarchive.jobs.keeping import opening

        return cls(opening.opened(Path(folder), who))

    def close(self) -> None:
        """Close the database. Nothing is lost by forgetting to: every change is on the disk when its call returns."""
        self._kit.store.close()

    def __enter__(self) -> Archive:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def __repr__(self) -> str:
        return f"<refarchive archive {str(self.folder)!r}: {len(self)} references, encoder {self.encoder_name}>"

    def __len__(self) -> int:
        return self._kit.store.count()

    @property
    def folder(self) -> Path:
        """Where the archive lies."""
        return self._kit.folder

    @property
    def encoder_name(self) -> str:
        """The encoder whose vectors this archive holds."""
        return self._kit.encoder_name

    @property
    def encoder_why(self) -> str:
        """Why that one was taken, in one sentence."""
        return str(self._kit.store.setting("encoder", {}).get("why", ""))

    # --- references ---------------------------------------------------------------------------------------------

    def gather(
        self,
        *sources: PathLike,
        sheet: PathLike | None = None,
        columns: Mapping[str, str] | None = None,
        fetch: bool | Collection[str] = False,
        progress: bool | Progress = False,
    ) -> GatherReport:
        """Take folders, files and what a CSV sheet names into the archive.

        Safe to interrupt and to run again: what is unchanged is not opened, what was missing is made up for.
        `columns` says what the sheet's columns hold where their names do not ({"Artist": "creator"}), "" for one to
        leave out; it is remembered for sheets with the same columns.
        `fetch=True` fetches pictures that a IIIF manifest has on the web, from public addresses; hosts named instead
        ("museum.local:8080") may be on a private network.
        `progress=True` draws a bar on standard error.

        Raises SheetRefused where the sheet as a whole cannot be read, and the named problems of the encoder. What is
        wrong with single files stands in the report's `refused`.
        """
        from refarchive.jobs.references.gather import gather

        with self._progress(progress, "gathering", fetch=True) as kit:
            path = Path(sheet) if sheet is not None else None
            return gather(kit, [Path(source) for source in sources], path, columns, fetch)

    def forget_columns(self) -> None:
        """Forget what was said that columns of other names hold."""
        from refarchive.jobs.references.gather import COLUMNS_SAID

        self._kit.store.set_setting(COLUMNS_SAID, {})

    def references(self, narrowed: Filter | None = None) -> list[Reference]:
        """All references in the order they were gathered, or those that pass a filter."""
        store = self._kit.store
        return store.references(None if narrowed is None else store.select(narrowed))

    def reference(self, name: str) -> Reference:
        """One reference by id or by file name as gathered. Raises UnknownRecord or AmbiguousName."""
        return self._kit.store.resolve(name)

    def describe(self, name: str, **said: Any) -> Reference:
        """Change what is said of a reference: `title`, `creator`, `date` and `depicts` (text), `place`, `witness` …

        See `evidence.preview` for what was understood, and what it would change, before it is kept.

        Raises BadDate, BadQuery for a field there is none of, UnknownRecord.
        """
        from refarchive.jobs.references import index
        from refarchive.jobs.references.describing import read_changes

        reference = self.reference(name)
        changes, _ = read_changes(reference, said)
        after = self._kit.store.change_reference(reference.id, **changes)
        index.bring_up_to_date(self._kit)
        return after

    def picture(self, name: str, longest: int | None = 1600) -> Image:
        """The picture of a reference, upright sRGB, its long side at most `longest` pixels (None: as it is)."""
        from refarchive.jobs.planning.dossier import open_reference

        return open_reference(self._kit, self.reference(name), longest)

    def preview(self, name: str | Reference) -> Path:
        """The preview file of a picture reference, made anew where missing; one at hand is not looked up again."""
        reference = name if isinstance(name, Reference) else self.reference(name)
        path = self._kit.files.preview(reference.sha256)
        if not path.is_file():
            self._kit.files.write_preview(reference.sha256, self.picture(reference.id))
        return path

    def thumbnail(self, name: str | Reference, longest: int = 256) -> bytes:
        """A picture reference as a small JPEG, its long side at most `longest` pixels. Raises as `preview` does."""
        from refarchive.jobs.references.thumbnails import thumbnail

        return thumbnail(self.preview(name), longest)

    def mark(self, name: str, region: Region, note: str = "") -> Detail:
        """Mark a detail of a picture: a region as fractions, with a note. The same region again takes the new note."""
        reference = self.reference(name)
        checked = checked_region(region)
        if reference.kind == "text":
            raise BadQuery(
                f"{reference.title!r} is a text.", "Mark details on pictures; passages are found by their words."
            )
        detail = Detail(ids.detail_id(reference.id, checked), reference.id, checked, note)
        self._kit.store.add_details([detail])
        return self._kit.store.detail(detail.id)

    def details(self, name: str | None = None) -> list[Detail]:
        """Marked details, of one reference where named."""
        return self._kit.store.details(None if name is None else self.reference(name).id)

    def passages(self, name: str) -> list[Passage]:
        """The passages of a text reference, in reading order."""
        return self._kit.store.passages(self.reference(name).id)

    def summary(self, reference: Reference) -> dict[str, Any]:
        """A reference as JSON, with the cautions that its medium carries and what it may be used for."""
        from refarchive.jobs.references.describing import summary

        return summary(reference)

    def history(self, record: str | None = None, limit: int = 1000) -> list[Change]:
        """Who changed what, when, newest first; of one record ("reference:<id>", "scene:<slug>") where named."""
        return self._kit.store.history(record, limit)

    # --- finding ------------------------------------------------------------------------------------------------

    def find(
        self,
        words: str = "",
        *,
        like: PathLike | None = None,
        region: Region | None = None,
        colour: str | None = None,
        when: str | None = None,
        kind: str = "",
        witness: str = "",
        place: str = "",
        rights: str = "",
        subject: str = "",
        wider: int = 0,
        scene: str = "",
        more: Iterable[str] = (),
        less: Iterable[str] = (),
        beyond_period: bool = False,
        top: int = 20,
    ) -> Findings:
        """Find references by words, by likeness to a picture or a region of it, by a colour, within a period.

        `like` is a reference (id or file name) or a picture file; `more` and `less` are references to steer by. Filters
        are applied before anything is cut to `top`; `beyond_period` shows what lies outside the period too, after
        everything inside, and says how far. A `subject` that is a notation of Iconclass finds all beneath it too, and
        `wider` asks for what stands so many levels above. Every hit says why it is there. A question without words,
        picture or colour lists what passes the filters.

        Raises BadQuery, BadDate, UnknownRecord, SourceRefused, EncoderMismatch.
        """
        from refarchive.jobs.references import finding
        from refarchive.jobs.references import subjects as subject_jobs
        from refarchive.jobs.references.describing import witness as witness_named
        from refarchive.search.finding import Query

        if scene:
            self._kit.store.scene(scene)  # a scene there is none of is refused, not answered with nothing
        asked_subject, understood = subject_jobs.widened(subject, wider) if subject or wider else ("", ())
        narrowed = Filter(
            kinds=(kind,) if kind else (),
            witnesses=(witness_named(witness).value,) if witness else (),
            places=(place,) if place else (),
            rights=(rights,) if rights else (),
            subjects=(asked_subject,) if asked_subject else (),
            scene=scene,
        )
        if when:
            from refarchive.records.dates import read_date

            period = read_date(when)
            narrowed = replace(narrowed, earliest=period.earliest, latest=period.latest)
        vector = None
        like_reference = ""
        if like is not None:
            vector, like_reference = self._likeness_of(like, region)
        elif region is not None:
            raise BadQuery("A region was given without a picture.", "Say of which picture with `like`.")
        query = Query(
            words=words,
            like=vector,
            like_reference=like_reference,
            colour=finding.asked_colour(colour) if colour else None,
            filter=narrowed,
            period=when or "",
            beyond_period=beyond_period,
            more=tuple(self.reference(name).id for name in more),
            less=tuple(self.reference(name).id for name in less),
            top=top,
        )
        return subject_jobs.with_notes(finding.find(self._kit, query), understood)

    def _likeness_of(self, like: PathLike, region: Region | None) -> tuple[Any, str]:
        """Likeness vector of a reference or a picture file, and the reference's id ("" for a file)."""
        from refarchive.jobs.planning.dossier import cut
        from refarchive.records.files import open_picture

        checked = checked_region(region) if region is not None else None
        try:
            reference = self.reference(str(like))
        except UnknownRecord:
            if not Path(like).exists():
                raise
            picture, known = open_picture(Path(like), longest=1600), ""
        else:
            if reference.kind != "image":
                raise BadQuery(f"{reference.title!r} has no picture.", "Name a picture reference or a picture file.")
            picture, known = self.picture(reference.id, None if checked else 1600), reference.id
        vector = self._kit.encoder.encode_pictures([cut(picture, checked)]).likeness[0]
        return vector, known

    def findings_document(self, found: Findings, *, first: int = 0, count: int | None = None) -> dict[str, Any]:
        """What was found, as JSON; of its hits those from place `first` (from 0) on, at most `count`."""
        from refarchive.jobs.references.finding import document

        return document(found, first, count)

    def print_findings(self, found: Findings, out: PathLike, *, question: str = "") -> Path:
        """Write what was found as one HTML file, pictures and reasons. Raises CannotPrint."""
        from refarchive.jobs.planning.dossier import write_findings

        return write_findings(self._kit, found, Path(out), question)

    # --- scenes -------------------------------------------------------------------------------------------------

    def read_scene(self, plan: PathLike) -> Scene:
        """Add the scene planned in a TOML file, or revise it. Raises PlanRefused with the line and the field."""
        from refarchive.records.bounded import read_bounded
        from refarchive.scenes.plan import PLAN_LIMIT

        path = Path(plan)
        try:
            text = read_bounded(path, 4 * PLAN_LIMIT).decode("utf-8-sig")
        except UnicodeDecodeError:
            raise PlanRefused(f"{path.name} is not UTF-8 text.", "Save the plan as UTF-8.") from None
        except OSError as error:
            raise PlanRefused(f"{path.name} cannot be read: {error.strerror}.", "Check the file's name.") from None
        return self.plan(text)

    def plan(self, toml: str, *, expected: int | None = None) -> Scene:
        """Add or revise a scene from the text of its plan, made on the revision `expected` where given.

        Raises PlanRefused, or ChangedMeanwhile where there is another revision by now; nothing is changed then.
        """
        from refarchive.jobs.planning import workable
        from refarchive.scenes.plan import read_plan

        read = read_plan(toml, self._kit.store)
        workable.refuse_unworkable(read.scene)
        return self._kit.store.save_scene(read.scene, details=read.details, toml=toml, expected=expected)

    def save_scene(self, scene: Scene, *, expected: int | None = None) -> Scene:
        """Add or revise a scene made in Python (see `records.model.Scene`). Its plan is written out as TOML.

        Raises PlanRefused for values that a plan could not hold, UnknownRecord for records there are none of,
        ChangedMeanwhile where the archive holds another revision than `expected`.
        """
        from refarchive.jobs.planning import workable
        from refarchive.scenes.plan import read_plan
        from refarchive.scenes.writing import write_plan

        store = self._kit.store
        text = write_plan(scene, store)
        read = read_plan(text, store)  # the same checks as for a plan written by hand
        workable.refuse_unworkable(read.scene)
        return store.save_scene(read.scene, details=read.details, toml=text, expected=expected)

    def scene(self, slug: str) -> Scene:
        """One scene. Raises UnknownRecord, naming those there are."""
        return self._kit.store.scene(slug)

    def scenes(self) -> list[Scene]:
        """All scenes, in the order they were added."""
        return self._kit.store.scenes()

    def plan_text(self, slug: str) -> str:
        """The plan of a scene as TOML: as it was written, or written out from the scene."""
        from refarchive.scenes.writing import write_plan

        scene = self.scene(slug)
        return self._kit.store.scene_toml(slug) or write_plan(scene, self._kit.store)

    def scene_summary(self, scene: Scene) -> dict[str, Any]:
        """A scene in brief, as JSON."""
        return {
            "slug": scene.slug,
            "title": scene.title,
            "series": scene.series,
            "event": scene.event,
            "date": scene.when.edtf if scene.when else None,
            "place": scene.place,
            "story": scene.story,
            "revision": scene.revision,
            "figures": len(scene.figures),
            "needs": len(scene.needs),
            "without_evidence": sum(not any(e.relation != "contradicts" for e in n.evidence) for n in scene.needs),
        }

    # --- paper and frames ---------------------------------------------------------------------------------------

    def dossier(
        self,
        slug: str,
        *,
        department: str | None = None,
        out: PathLike | None = None,
        progress: bool | Progress = False,
    ) -> Written:
        """Write a scene's dossier, whole or one department's copy, as PDF and HTML into the folder `out` (or here).

        Raises UnknownRecord or CannotPrint.
        """
        from refarchive.jobs.planning.dossier import write_dossier

        scene = self.scene(slug)
        with self._progress(progress, "dossier") as kit:
            return write_dossier(kit, scene, department, Path(out) if out is not None else Path())

    def check(
        self,
        slug: str,
        frame: PathLike,
        *,
        needs: Mapping[str, str] | None = None,
        departures: Mapping[str, str] | None = None,
        regions: Mapping[str, Region] | None = None,
        linear: PathLike | None = None,
        out: PathLike | None = None,
        progress: bool | Progress = False,
    ) -> Checked:
        """Check a frame against the intent and the references of its scene; the frame is kept in the archive.

        `needs` says what you see ({"agnes-kerchief": "present"}), `departures` what was departed from on purpose and
        why ({"key": "fog came in, and it stays"}); both are kept with the frame. `regions` are what you mark to have it
        measured: "light" a rounded thing, "lit" and "shadow" both sides of one surface, "edge" one shadow's edge,
        "figure:NAME" a figure.
        `linear` is the frame's raw file or linear TIFF, from which stops are told. `out` names a report to write, as
        PDF where it ends in .pdf, else as HTML.

        Raises SourceRefused, UnknownRecord, BadQuery, CannotPrint.
        """
        from refarchive.jobs.choosing.checking import check

        place = Path(out) if out is not None else None
        light = Path(linear) if linear is not None else None
        scene = self.scene(slug)
        with self._progress(progress, "checking") as kit:
            return check(kit, scene, Path(frame), needs or {}, departures or {}, place, regions, light)

    def line_words(self, line: Line) -> str:
        """One line of a check as a sentence for a terminal."""
        from refarchive.frames.saying import for_a_terminal

        return for_a_terminal(line)

    def frames(self, slug: str) -> list[Frame]:
        """The frames kept for a scene."""
        return self._kit.store.frames(self.scene(slug).slug)

    # --- upkeep and the encoder ---------------------------------------------------------------------------------

    def reencode(self, encoder: str, *, progress: bool | Progress = False) -> dict[str, Any]:
        """Make all vectors anew with another encoder. Records are not touched.

        The old vectors stay in use until all new ones are made; stopped, the same call goes on. Raises
        UnknownEncoder or WeightsUnavailable; the archive stays as it was then.
        """
        from refarchive import encoders
        from refarchive.jobs.kit import Kit
        from refarchive.jobs.references.reencoding import reencode

        name, why = encoders.choose(encoder)
        with self._progress(progress, "encoding", fetch=True) as kit:
            fresh = Kit(kit.store, kit.files, kit.folder, name)
            fresh.progress, fresh.may_fetch = kit.progress, kit.may_fetch
            done = reencode(fresh, why)
        fresh.progress, fresh.may_fetch = None, False
        self._kit = fresh
        return done

    def trust(self, *, progress: bool | Progress = False) -> Trust:
        """How far this archive's encoder can be trusted on its own references; measured anew when they change."""
        from refarchive.jobs.references.trusting import trust

        with self._progress(progress, "measuring trust") as kit:
            return trust(kit)

    def verify(
        self, *, repair: bool = False, sources: Iterable[PathLike] = (), progress: bool | Progress = False
    ) -> Verified:
        """Look whether all that is kept is what was kept: originals, database, previews, vectors.

        `repair` makes anew what can be made, and puts an original back of which a copy with the same digest lies in
        one of the folders `sources`. The rest is named, with where a copy might be.
        """
        from refarchive.jobs.keeping.verify import verify

        with self._progress(progress, "verifying") as kit:
            return verify(kit, repair=repair, sources=[Path(source) for source in sources])

    @contextmanager
    def _progress(self, progress: bool | Progress, what: str, *, fetch: bool = False) -> Iterator[Kit]:
        """The kit with progress told to the caller, or drawn as a bar on standard error.

        `fetch` lets weights be fetched that are not on this machine: only for work that a person who named the encoder
        asked for, since all long work is told of.
        """
        from refarchive.archive.pace import bar

        kit = self._kit
        before = kit.progress, kit.may_fetch
        with bar(what) if progress is True else nullcontext(progress or None) as tell:
            kit.progress, kit.may_fetch = tell, fetch and tell is not None
            try:
                yield kit
            finally:
                kit.progress, kit.may_fetch = before


__all__ = ["Archive", "BadDate", "RefArchiveError"]
