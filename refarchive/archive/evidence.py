"""What scenes rest on: the part of an archive that deals with dates, families, coverage and first dates."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from refarchive.records.model import Family, FamilyMember

if TYPE_CHECKING:
    from refarchive.archive import Archive


class EvidenceDesk:
    """Reached as `archive.evidence`; holds nothing of its own."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive
        self._kit = archive._kit

    def coverage(self, slug: str) -> dict[str, Any]:
        """What each need of a scene rests on, as JSON: independent witnesses by kind and time, gaps with the nearest
        references that could fill them, contradictions, and what would change it.
        """
        from refarchive.jobs.covering import document

        return document(self._kit, self._archive.scene(slug))

    def families(self) -> list[Family]:
        """Families of references that were confirmed as descending from one original."""
        return self._kit.store.families.all()

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
