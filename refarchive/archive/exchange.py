"""References out of the archive and in again."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from refarchive.archive import Archive, PathLike
    from refarchive.encoders.base import Progress
    from refarchive.jobs.leaving import Left
    from refarchive.jobs.publishing import Published
    from refarchive.records.model import Reference


class ExchangeDesk:
    """Reached as `archive.exchange`; holds nothing of its own."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive
        self._kit = archive._kit

    # --- out and in -------------------------------------------------------------------------------------------------

    def write(
        self, out: PathLike, *, scene: str = "", base: str = "", title: str = "", progress: bool | Progress = False
    ) -> Left:
        """Write references with originals and details into the new folder `out`: as CSV, JSON-LD and IIIF manifest.

        All of them, or those a scene uses. Each document can be gathered again. `base` is the address at which the
        folder will lie, if it will. Raises UnknownRecord or CannotPrint; nothing is left half-written.
        """
        from refarchive.jobs.leaving import leave
        from refarchive.jobs.publishing import references_of
        from refarchive.publish.manifest import NOWHERE

        address = base if base.endswith("/") or not base else f"{base}/"
        with self._archive._progress(progress, "writing") as kit:
            plan = self._archive.scene(scene) if scene else None
            references = references_of(kit, plan) if plan is not None else kit.store.references()
            named = title or (plan.title if plan is not None else self._archive.folder.name)
            return leave(kit, references, Path(out), title=named, base=address or NOWHERE)

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
        from refarchive.jobs.publishing import publish

        chosen = self._archive.scene(what) if isinstance(what, str) else [self._archive.reference(one) for one in what]
        with self._archive._progress(progress, "writing") as kit:
            return publish(kit, chosen, Path(out), leave_out=leave_out)
