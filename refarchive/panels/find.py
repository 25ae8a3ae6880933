"""Find references by words, by a picture or a part of it, by a colour, within a period; and use what is found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import traitlets

from refarchive.archive import Archive
from refarchive.errors import BadQuery, UnknownRecord
from refarchive.panels.base import NOTHING, PREVIEWS, Answer, Panel, answers, checked_region, script, style
from refarchive.records.model import RELATIONS, Witness

KEY, LIKE = "is the key picture of the scene", "is what the frame should be like"

MOST_PAGES = 1_000
SUBJECTS = 12  # offered at a time


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
            "relations": [*(f"{one} it" for one in RELATIONS), KEY, LIKE],
            "scenes": [
                {
                    "slug": scene.slug,
                    "title": scene.title,
                    "needs": [{"slug": need.slug, "name": f"{need.name} ({need.department})"} for need in scene.needs],
                }
                for scene in self.archive.scenes()
            ],
        }

    @answers("subjects", long=True, kept=NOTHING)
    def subjects(self, number: int, words: str) -> Answer:
        """Notations of Iconclass for words, or what stands at and below a notation, to narrow by."""
        self.tell(number, 0, 1, "Looking up subjects")
        evidence = self.archive.evidence
        found: Sequence[Mapping[str, Any]]
        if not words.strip():
            found = evidence.browse()
        else:
            try:
                found = [evidence.subject(words.strip()), *evidence.browse(words.strip())][:SUBJECTS]
            except (BadQuery, UnknownRecord):
                found = evidence.suggest_subjects(words, top=SUBJECTS)
        return {"subjects": [{"code": one["code"], "text": one["text"]} for one in found]}

    @answers("find", long=True, kept=NOTHING)
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
        subject: str = "",
        wider: int = 0,
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
            like=self.taken(upload) if upload else self.archive.reference(like).id if like else None,
            region=checked_region(region),
            colour=colour or None,
            when=when.strip() or None,
            kind=kind,
            witness=witness,
            place=place,
            rights=rights,
            subject=subject.strip(),
            wider=wider,
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
        """Use a reference as evidence for a need, as a scene's key picture, or as what its frame should be like."""
        if scene and relation in (KEY, LIKE):
            return self._stands(scene, reference, relation)
        if not scene or not need:
            raise BadQuery("Nothing is chosen that it could be evidence for.", "Choose a scene and a need above.")
        saved = self.archive.evidence.link(
            scene, need, reference, relation.removesuffix(" it"), region=checked_region(region), note=note.strip()
        )
        kept = next(one for one in saved.needs if one.slug == need)
        count = f"{len(kept.evidence)} {'piece' if len(kept.evidence) == 1 else 'pieces'} of evidence"
        return {"words": f"It {relation.removesuffix(' it')} “{kept.name}”, which now has {count}."}

    def _stands(self, scene: str, reference: str, relation: str) -> Answer:
        planned, found = self.archive.scene(scene), self.archive.reference(reference)
        if relation == KEY:
            self.archive.planning.change(scene, scene={"key_reference": found.id}, expected=planned.revision)
            return {"words": f"It is the key picture of “{planned.title}” now."}
        like = list(dict.fromkeys([*planned.intent.like, found.id]))
        self.archive.planning.change(scene, intent={"like": like}, expected=planned.revision)
        return {"words": f"The frame of “{planned.title}” should be like it: {len(like)} so far."}
