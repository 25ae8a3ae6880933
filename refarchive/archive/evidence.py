"""What scenes rest on: the part of an archive that deals with dates, families, coverage and first dates."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refarchive.errors import BadQuery, CannotPrint, UnknownRecord
from refarchive.records.model import Family, FamilyMember, Reference, Region, Scene

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from refarchive.archive import Archive, PathLike
    from refarchive.encoders.base import Progress
    from refarchive.jobs.references.relating import Proposed
    from refarchive.records.dates import Understood


class EvidenceDesk:
    """Reached as `archive.evidence`; holds nothing of its own."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive
        self._kit = archive._kit

    def coverage(self, slug: str) -> dict[str, Any]:
        """What each need of a scene rests on, as JSON: independent witnesses by kind and time, gaps with the nearest
        references that could fill them, contradictions, what would change it, and questions from first dates.
        """
        from refarchive.jobs.planning.covering import document

        return document(self._kit, self._archive.scene(slug))

    def coverage_figure(self, slug: str) -> Figure:
        """Coverage as a matplotlib figure: needs against time, one mark for each independent witness."""
        from refarchive.jobs.planning.covering import cover
        from refarchive.paper.figures import coverage_figure

        scene = self._archive.scene(slug)
        return coverage_figure(scene.title, scene.when, cover(self._kit, scene))

    def draw_coverage(self, slug: str, out: PathLike) -> Path:
        """Write the figure of coverage to a file: .png, .svg or .pdf. Raises CannotPrint."""
        from refarchive.jobs.planning.dossier import write_whole
        from refarchive.paper.figures import FILES, as_file

        path = Path(out)
        if path.suffix.lower() not in FILES:
            raise CannotPrint(
                f"A figure cannot be written as {path.suffix or 'a file without a suffix'!r}.",
                f"Name it {', '.join(FILES)}.",
            )
        return write_whole(path, as_file(self.coverage_figure(slug), path.suffix))

    def timeline_figure(self, slug: str) -> Figure:
        """The references that a scene stands on as a matplotlib figure: each over the time it may be from."""
        from refarchive.paper.plots import timeline_figure

        scene = self._archive.scene(slug)
        cited = dict.fromkeys(one.reference for need in scene.needs for one in need.evidence)
        return timeline_figure(scene, [self._archive.reference(name) for name in cited])

    def first_dates(self, words: str = "") -> dict[str, Any]:
        """First dates as JSON: the rows of the shipped table and of not_before.csv in the archive's folder that mention
        every one of the words, each with its source, and what is wrong with the own table.
        """
        from refarchive.jobs.planning.asking import first_dates_document

        return first_dates_document(self._kit, words)

    # --- dates and changes ----------------------------------------------------------------------------------------

    def understand(self, date: str) -> Understood:
        """What a date in words or EDTF is understood as; nothing is kept. Raises BadDate for what cannot be read."""
        from refarchive.records.dates import understood

        return understood(date)

    def preview(self, name: str, **said: Any) -> dict[str, Any]:
        """What `describe` would do with the same words, as JSON: what was understood, and every need that would stand
        otherwise, before and after. Nothing is kept. Raises as `describe`.
        """
        from refarchive.jobs.planning.claims import effects_of
        from refarchive.jobs.references.describing import read_changes

        reference = self._archive.reference(name)
        changes, understood = read_changes(reference, said)
        return {
            "reference": reference.id,
            "title": reference.title,
            "understood": understood,
            "effects": effects_of(self._kit, reference, changes),
        }

    # --- claims, both ways ----------------------------------------------------------------------------------------

    def uses(self, name: str) -> dict[str, Any]:
        """Where a reference, its details, its passages and its family are used, with the numbers of the dossiers."""
        from refarchive.jobs.planning.claims import uses_of

        return uses_of(self._kit, self._archive.reference(name))

    def claim(self, slug: str, need: str) -> dict[str, Any]:
        """What a need of a scene stands on, down to the region of a picture or the words of a text."""
        from refarchive.jobs.planning.claims import claim_of

        return claim_of(self._kit, self._archive.scene(slug), need)

    def link(
        self,
        slug: str,
        need: str,
        reference: str,
        relation: str = "shows",
        *,
        region: Region | None = None,
        quote: str = "",
        note: str = "",
        fit: Mapping[str, str] | None = None,
    ) -> Scene:
        """Add evidence to a need and save the scene: a reference, a region of a picture, or words of a text.

        `fit` says how place, rank, occupation and occasion fit the scene: exact, near, far or unknown. The plan keeps
        its comments and its order. Raises UnknownRecord, or PlanRefused with what is wrong; nothing is changed then.
        """
        from refarchive.archive.planning import place_of
        from refarchive.scenes.linking import with_entry

        found = self._archive.reference(reference)
        values: dict[str, Any] = {
            "reference": found.id, "relation": relation, "region": list(region) if region else None, "quote": quote,
            "note": note, "fit": dict(fit or {}),
        }  # fmt: skip
        scene = self._archive.scene(slug)
        text = with_entry(self._archive.plan_text(slug), ("need", place_of(scene, "need", need), "evidence"), values)
        return self._archive.plan(text, expected=scene.revision)

    def unlink(self, slug: str, need: str, reference: str) -> Scene:
        """Take every piece of evidence that names a reference from a need, and save the scene. Raises UnknownRecord."""
        from refarchive.archive.planning import place_of
        from refarchive.scenes.linking import without_entry

        scene = self._archive.scene(slug)
        found, place = self._archive.reference(reference), place_of(scene, "need", need)
        at = [n for n, e in enumerate(scene.needs[place].evidence) if e.reference == found.id]
        if not at:
            raise UnknownRecord(f"{found.title!r} is no evidence for {need!r}.", "See what is: refarchive claim.")
        text = self._archive.plan_text(slug)
        for one in reversed(at):
            text = without_entry(text, ("need", place, "evidence"), one)
        return self._archive.plan(text, expected=scene.revision)

    # --- debts ----------------------------------------------------------------------------------------------------

    def debts(self) -> list[dict[str, Any]]:
        """What is missing of each reference, those first that most stands on."""
        from refarchive.jobs.planning.claims import debts_of

        return debts_of(self._kit)

    def write_debts(self, path: PathLike) -> int:
        """Write the debts as a CSV to be filled in and given to `fill`; returns how many rows. Raises CannotPrint."""
        from refarchive.jobs.references.filling import write_debts

        return write_debts(self._kit, Path(path))

    def fill(self, path: PathLike) -> dict[str, Any]:
        """Take in what a person wrote into a CSV of debts: all rows that can be read, each refused one named.

        Raises SheetRefused where the file as a whole cannot be read; nothing is changed then.
        """
        from refarchive.jobs.references.filling import fill

        return fill(self._kit, Path(path))

    # --- subjects -------------------------------------------------------------------------------------------------

    def subject(self, code: str) -> dict[str, Any]:
        """A notation of Iconclass as JSON: its words, keywords, what is above and below, and the references that hold
        it or anything beneath it. Raises BadQuery, or UnknownRecord with the nearest notation there is.
        """
        from refarchive.jobs.references.subjects import subject_document

        return subject_document(self._kit, code)

    def browse(self, code: str = "") -> list[dict[str, Any]]:
        """The notations one step below (the ten main classes where none is named), each with how many references of
        the archive it finds. Raises as `subject`.
        """
        from refarchive.jobs.references.subjects import browse_document

        return browse_document(self._kit, code)

    def suggest_subjects(self, words: str = "", *, of: str = "", top: int = 10) -> list[dict[str, Any]]:
        """Notations of Iconclass for words, or for what is said of a reference (`of`), best first, each with a reason.

        They are proposals by keyword and likeness of meaning; nothing is kept. None come where no word is known.
        Raises UnknownRecord, AmbiguousName, and BadQuery where neither or both are given.
        """
        from refarchive.jobs.references import subjects

        if bool(words.strip()) == bool(of):
            raise BadQuery("Suggestions are made from words or from a reference.", "Give the one or the other.")
        return subjects.suggestions(self._kit, subjects.words_of(self._archive.reference(of)) if of else words, top)

    def assign_subject(self, name: str, code: str) -> Reference:
        """Give a reference a notation of Iconclass as a subject, kept as "25F72 molluscs"; again changes nothing.

        Raises UnknownRecord, AmbiguousName, and BadQuery for what is no notation, or one that waits for a name.
        """
        from refarchive.jobs.references.subjects import with_subject

        reference = self._archive.reference(name)
        subjects = with_subject(reference, code)
        return reference if subjects == reference.subjects else self._archive.describe(reference.id, subjects=subjects)

    # --- families -------------------------------------------------------------------------------------------------

    def families(self) -> list[Family]:
        """Families of references that were confirmed as descending from one original."""
        return self._kit.store.families.all()

    def family_documents(self) -> list[dict[str, Any]]:
        """The confirmed families as JSON, with the titles of their members."""
        found = self.families()
        ids = [m.reference for family in found for m in family.members]
        titles = {r.id: r.title for r in self._kit.store.references(ids)} if ids else {}
        return [
            {
                "family": family.id,
                "note": family.note,
                "members": [
                    {"reference": m.reference, "title": titles.get(m.reference, ""), "descent": m.descent,
                     "after": m.after, "note": m.note}
                    for m in family.members
                ],
            }
            for family in found
        ]  # fmt: skip

    def confirm_family(self, members: Mapping[str, str], *, after: Mapping[str, str] | None = None) -> Family:
        """Confirm that references are one family, and so one witness.

        `members` gives each reference's descent ({"portrait.jpg": "original", "copy.jpg": "mirrored"}), `after` which
        member it came from. Raises RecordRefused, UnknownRecord or AmbiguousName; nothing is changed then.
        """
        ids = {name: self._archive.reference(name).id for name in members}
        came = {name: self._archive.reference(other).id for name, other in (after or {}).items()}
        return self._kit.store.families.confirm(
            [FamilyMember(ids[name], descent, came.get(name, "")) for name, descent in members.items()]
        )

    def propose_families(self, progress: bool | Progress = False, *, only_new: bool = False) -> Proposed:
        """Pictures that may descend from one original, as pairs and as the groups they form; nothing is confirmed.

        Left out is what was confirmed or turned down. `only_new` gives only what touches pictures not looked at in an
        earlier call. Safe to stop and to call again. What is never found: `jobs.references.relating` says. Raises
        ArchiveUnwritable.
        """
        from refarchive.jobs.references.relating import propose

        with self._archive._progress(progress, "looking for copies") as kit:
            return propose(kit, only_new)

    def turn_down_family(self, one: str, other: str, note: str = "") -> None:
        """Say that two references are not of one family, so that the pair is not proposed again.

        Raises RecordRefused where they are confirmed as one, UnknownRecord or AmbiguousName.
        """
        ids = (self._archive.reference(one).id, self._archive.reference(other).id)
        self._kit.store.families.turn_down(*ids, note)

    def leave_family(self, name: str) -> None:
        """Take a reference out of its family. Raises UnknownRecord or AmbiguousName; nothing is changed then."""
        self._kit.store.families.leave(self._archive.reference(name).id)

    # --- taking out -------------------------------------------------------------------------------------------------

    def take_out(self, *names: str) -> list[dict[str, str]]:
        """Take references out, with their details, passages and vectors; their originals stay on the disk.

        The history keeps what was said of them. Gathered again, they come in anew. Returns `id` and `title` of each.
        Raises UnknownRecord, AmbiguousName, or InUse where a scene or a family stands on one; nothing is changed then.
        """
        from refarchive.jobs.references import index

        gone = {one.id: one for one in map(self._archive.reference, names)}
        self._kit.store.remove_reference(*gone)
        index.bring_up_to_date(self._kit)
        return [{"id": one.id, "title": one.title} for one in gone.values()]

    def take_out_detail(self, *details: str) -> list[dict[str, str]]:
        """Take marked details out, by their ids. Raises UnknownRecord, or InUse where a scene has one as evidence;
        nothing is changed then.
        """
        gone = {one.id: one for one in map(self._kit.store.detail, details)}
        self._kit.store.remove_detail(*gone)
        return [{"id": one.id, "title": one.note} for one in gone.values()]

    def take_out_scene(self, *slugs: str) -> list[dict[str, str]]:
        """Take scenes out; their plans stay in the history. Raises UnknownRecord, or InUse where frames were shot;
        nothing is changed then.
        """
        gone = {one.slug: one for one in map(self._archive.scene, slugs)}
        self._kit.store.remove_scene(*gone)
        return [{"id": one.slug, "title": one.title} for one in gone.values()]
