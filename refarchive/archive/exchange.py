"""References out of the archive and in again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from refarchive.archive import Archive, PathLike
    from refarchive.encoders.base import Progress
    from refarchive.jobs.references.leaving import Left
    from refarchive.jobs.references.press import Published
    from refarchive.records.model import Filter, Reference


class ExchangeDesk:
    """Reached as `archive.exchange`; holds nothing of its own."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive
        self._kit = archive._kit

    # --- out of the archive -----------------------------------------------------------------------------------------

    def write(
        self,
        out: PathLike,
        *,
        filter: Filter | None = None,  # noqa: A002 (the word that the rest of the archive has for it)
        scene: str | None = None,
        originals: bool = True,
        progress: bool | Progress = False,
    ) -> Left:
        """Write references into the new folder `out`, for another archive: CSV, JSON-LD, a IIIF manifest, and files.

        All of them, those that pass a filter, or those that are evidence in a scene. `originals=False` writes previews
        of the pictures instead. Gather the folder, or any one of the three files, to take them in; a sheet with
        `sheet=`. For pictures that go out into the world see `publish_references`.

        Raises UnknownRecord, BadQuery, ArchiveDamaged, SourceRefused, CannotPrint; nothing is written then.
        """
        from refarchive.jobs.references.leaving import leave
        from refarchive.records.model import Filter

        archive = self._archive
        narrowed = filter or Filter()
        label = archive.folder.name
        if scene is not None:
            narrowed, label = replace(narrowed, scene=scene), archive.scene(scene).title
        with archive._progress(progress, "writing") as kit:
            return leave(kit, archive.references(narrowed), Path(out), label=label, originals=originals)

    # --- rights ---------------------------------------------------------------------------------------------------

    def rights(self, name: str) -> dict[str, Any]:
        """What is recorded of the rights in a reference, and what it may be used for on that record, as JSON."""
        from refarchive.records.uses import standing

        reference = self._archive.reference(name)
        return {"reference": reference.id, "title": reference.title, **standing(reference).as_dict()}

    def set_rights(
        self,
        names: Iterable[str],
        *,
        rights: str | None = None,
        basis: str | None = None,
        evidence: str | None = None,
        credit: str | None = None,
    ) -> list[Reference]:
        """Record rights of references; what is None stays, "" takes a value away.

        `rights` that name a published statement ("CC BY 4.0", "in copyright", any form of its URI) are kept as its URI,
        all other words as they are; the credit line is kept as given.

        Raises UnknownRecord or AmbiguousName; nothing is changed then.
        """
        from refarchive.records.rights import canonical_uri

        given = {"basis": basis, "basis_evidence": evidence, "credit": credit}
        said = {field: value for field, value in given.items() if value is not None}
        if rights is not None:
            said["rights"] = canonical_uri(rights) or rights
        found = {self._archive.reference(name).id: None for name in names}
        return [self._archive.describe(one, **said) for one in found]

    def publish_references(
        self, what: str | Iterable[str], out: PathLike, *, leave_out: bool = False, progress: bool | Progress = False
    ) -> Published:
        """Write pictures that have a basis to be published on into the new folder `out`, with captions and credits.

        `what` is the slug of a scene, or names of references. A reference that lacks a basis, evidence of it, or the
        credit line its licence asks for is refused by name; `leave_out` leaves it out instead, and says so.

        Raises RightsRefused, SourceRefused, CannotPrint, UnknownRecord; nothing is written then.
        """
        from refarchive.jobs.references.press import publish

        chosen = self._archive.scene(what) if isinstance(what, str) else [self._archive.reference(one) for one in what]
        with self._archive._progress(progress, "writing") as kit:
            return publish(kit, chosen, Path(out), leave_out=leave_out)
