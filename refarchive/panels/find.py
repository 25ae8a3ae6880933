"""Find references by words, by a picture or a part of it, by a colour, within a period; and use what is found."""

from __future__ import annotations

from collections.abc import Sequence

import traitlets

from refarchive.archive import Archive
from refarchive.errors import BadQuery
from refarchive.panels.base import PREVIEWS, Answer, Panel, answers, checked_region, jpeg, script, style
from refarchive.records.model import RELATIONS, Witness

LARGE_PX = 900  # long side of a picture to mark a part on
MOST_PAGES = 1_000


class Find(Panel):
    """The panel of finding. `scene` and `need` say what findings are used for at first; `found` holds the last ids."""

    _esm = script("find")
    _css = style("find")
    scene = traitlets.Unicode("").tag(sync=True)
    need = traitlets.Unicode("").tag(sync=True)
    found = traitlets.List(trait=traitlets.Unicode()).tag(sync=True)

    def __init__(self, archive: Archive, scene: str = "", need: str = "") -> None:
        super().__init__(archive, scene=scene, need=need)

    @answers("start")
    def start(self) -> Answer:
        """What there is to choose from."""
        return {
            "references": len(self.archive),
            "encoder": self.archive.encoder_name,
            "witnesses": [one.value for one in Witness],
            "relations": list(RELATIONS),
            "scenes": [
                {
                    "slug": scene.slug,
                    "title": scene.title,
                    "needs": [{"slug": need.slug, "name": f"{need.name} ({need.department})"} for need in scene.needs],
                }
                for scene in self.archive.scenes()
            ],
        }

    @answers("understand")
    def understand(self, date: str) -> Answer:
        """What a period in words is understood as."""
        return {"words": self.archive.evidence.understand(date).sentence if date.strip() else ""}

    @answers("picture")
    def picture(self, name: str) -> Answer:
        """A reference's picture, large enough to mark a part of it."""
        return {"title": self.archive.reference(name).title}, [jpeg(self.archive.picture(name, LARGE_PX))]

    @answers("find", long=True)
    def find(
        self,
        number: int,
        words: str = "",
        upload: str = "",
        like: str = "",
        region: list[float] | None = None,
        colour: str = "",
        when: str = "",
        kind: str = "",
        witness: str = "",
        place: str = "",
        rights: str = "",
        scene: str = "",
        more: Sequence[str] = (),
        less: Sequence[str] = (),
        beyond_period: bool = False,
        page: int = 0,
    ) -> Answer:
        """One page of what `Archive.find` finds, with previews and reasons."""
        self.tell(number, 0, 1, "Looking")
        if not isinstance(page, int) or not 0 <= page < MOST_PAGES:
            raise BadQuery("There is no such page.", "Go back to the first page.")
        top = PREVIEWS * (page + 1)
        found = self.archive.find(
            words,
            like=self.taken(upload) if upload else like or None,
            region=checked_region(region),
            colour=colour or None,
            when=when.strip() or None,
            kind=kind,
            witness=witness,
            place=place,
            rights=rights,
            scene=scene,
            more=more,
            less=less,
            beyond_period=beyond_period,
            top=top + 1,
        )
        first = top - PREVIEWS
        document = self.archive.findings_document(found, first=first, count=PREVIEWS)
        hits = document["hits"]
        places, pictures = self.previews([hit.reference for hit in found.hits[first:top]])
        for hit, place_ in zip(hits, places, strict=True):
            hit["picture"] = place_
        self.found = [hit["reference"] for hit in hits]
        told = {"hits": hits, "notes": document["notes"], "page": page, "first": first, "more": len(found.hits) > top}
        return told, pictures

    @answers("link")
    def link(
        self, scene: str, need: str, reference: str, relation: str, note: str = "", region: list[float] | None = None
    ) -> Answer:
        """Use a reference as evidence for a need."""
        if not scene or not need:
            raise BadQuery("Nothing is chosen that it could be evidence for.", "Choose a scene and a need above.")
        saved = self.archive.evidence.link(
            scene, need, reference, relation, region=checked_region(region), note=note.strip()
        )
        kept = next(one for one in saved.needs if one.slug == need)
        return {"need": kept.name, "evidence": len(kept.evidence), "revision": saved.revision}
