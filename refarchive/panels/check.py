"""Check a frame: beside its references, line by line against the intent, and with the words of those who saw it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import traitlets
from PIL import Image

from refarchive import leftovers
from refarchive.archive import Archive
from refarchive.archive.telling import file_name
from refarchive.errors import BadQuery
from refarchive.panels.base import NOTHING, Answer, Panel, answers, checked_region, drawn, jpeg, script, style
from refarchive.records.model import PRESENCE

SHOWN_PX = 1400  # long side of pictures to compare
STUDY_PX = 700
FRAME_KEPT = "The frame and what you said of it are kept, once it was read. No check of it is."
MOST_BESIDE = 3  # references beside the frame


class Check(Panel):
    """The panel of checking. `scene` and `frame` say what is shown; `frame` is an id of a kept frame."""

    _esm = script("check")
    _css = style("check")
    scene = traitlets.Unicode("").tag(sync=True)
    frame = traitlets.Unicode("").tag(sync=True)

    def __init__(self, archive: Archive, scene: str = "", frame: str = "") -> None:
        super().__init__(archive, scene=scene, frame=frame)

    @answers("start")
    def start(self) -> Answer:
        """The scenes, their frames, and the references a frame may be looked at beside."""
        return {"scenes": [self._scene(scene.slug) for scene in self.archive.scenes()], "presence": list(PRESENCE)}

    def _scene(self, slug: str) -> dict[str, Any]:
        scene = self.archive.scene(slug)
        named = [*scene.intent.like, scene.key_reference, *(e.reference for n in scene.needs for e in n.evidence)]
        references = [self.archive.reference(name) for name in dict.fromkeys(named) if name]
        return {
            "slug": slug,
            "title": scene.title,
            "words": scene.intent.words,
            "needs": [{"slug": need.slug, "name": need.name} for need in scene.needs],
            "frames": [{"id": one.id, "name": one.source_name} for one in self.archive.frames(slug)],
            "references": [{"id": one.id, "title": one.title} for one in references if one.kind == "image"],
        }

    @answers("check", long=True, kept=FRAME_KEPT)
    def check(
        self,
        number: int,
        scene: str,
        frame: str = "",
        upload: str = "",
        linear: str = "",
        marks: Mapping[str, Sequence[float]] | None = None,
        departures: Mapping[str, str] | None = None,
        needs: Mapping[str, str] | None = None,
    ) -> Answer:
        """Check a frame from the browser, or a kept one again, and show all there is to see of it."""
        self.tell(number, 0, 1, "Measuring")
        if not upload and not frame:
            raise BadQuery("No frame was chosen.", "Choose a kept one, or a picture file.")
        path = self.taken(upload) if upload else self.archive.frame_work.original(scene, frame)
        regions = {name: part for name, one in (marks or {}).items() if (part := checked_region(one)) is not None}
        checked = self.archive.check(
            scene,
            path,
            regions=regions,
            departures=departures or {},
            needs=needs or {},
            linear=self.taken(linear) if linear else None,
            progress=self.telling(number),
        )
        self.frame, self.scene = checked.frame.id, scene
        studied = checked.studied
        pictures = [jpeg(self.archive.frame_work.picture(scene, checked.frame.id, SHOWN_PX))]
        pictures += [_enlarged(study) for study, _ in studied.studies.values()]
        against = {line.against for line in checked.lines} - {"intent"}
        titles = {name: self.archive.reference(name).title for name in against}
        document = {
            **checked.as_dict(),
            "titles": titles,
            "scene": self._scene(scene),
            "earlier": len(self.archive.frame_work.earlier(scene, checked.frame.id)),
            "viewings": self._viewings(scene, checked.frame.id),
        }
        return document, pictures

    @answers("references")
    def references(self, names: Sequence[str]) -> Answer:
        """Pictures of references to be looked at beside the frame."""
        titles = [self.archive.reference(name).title for name in names[:MOST_BESIDE]]
        return {"titles": titles}, [jpeg(self.archive.picture(name, SHOWN_PX)) for name in names[:MOST_BESIDE]]

    @answers("draw", long=True, kept=NOTHING)
    def draw(self, number: int, scene: str, frame: str, name: str = "") -> Answer:
        """Tones and palettes of the frame, of what was meant, and of a reference, drawn."""
        self.tell(number, 0, 1, "Drawing")
        return {}, [drawn(self.archive.frame_work.look_figure(scene, frame, *([name] if name else [])))]

    @answers("overlay", long=True, kept=NOTHING)
    def overlay(self, number: int, scene: str, frame: str, name: str) -> Answer:
        """The frame half over a reference, aligned, or the reason why not."""
        self.tell(number, 0, 1, "Aligning")
        mixed, words = self.archive.frame_work.laid_over(scene, frame, name)
        return {"words": words, "aligned": mixed is not None}, [] if mixed is None else [jpeg(mixed)]

    @answers("view")
    def view(
        self, scene: str, frame: str, words: str, seconds: str = "", print_size: str = "", viewer: str = ""
    ) -> Answer:
        """Keep what somebody said who saw the frame for a few seconds without a word beside it."""
        try:
            looked = float(seconds) if seconds.strip() else None
        except ValueError:
            raise BadQuery(f"{seconds!r} is no number of seconds.", "Write a number, such as 5.") from None
        self.archive.frame_work.view(scene, frame, words, viewer=viewer, seconds=looked, print_size=print_size)
        return {"viewings": self._viewings(scene, frame)}

    def _viewings(self, scene: str, frame: str) -> dict[str, Any]:
        found = self.archive.frame_work.viewings(scene, frame)
        return {key: found[key] for key in ("viewers", "understood", "misread", "neither", "sentences", "said")}

    @answers("report", long=True, kept="No report was made, and no check was added.")
    def report(self, number: int, scene: str, frame: str) -> Answer:
        """The report of the check as PDF, to be kept by the browser."""
        self.tell(number, 0, 1, "Setting the pages")
        with leftovers.temporary("panel") as folder:
            out = Path(folder) / "check.pdf"
            path = self.archive.frame_work.original(scene, frame)
            checked = self.archive.check(scene, path, out=out, progress=self.telling(number))
            return {"name": f"{Path(file_name(checked.frame.source_name)).stem}-check.pdf"}, [out.read_bytes()]


def _enlarged(study: Any) -> bytes:
    """A study in whole steps of its pixels, as PNG: flat values stay flat."""
    import io

    scale = max(1, STUDY_PX // max(study.shape[:2]))
    data = io.BytesIO()
    Image.fromarray(np.repeat(np.repeat(study, scale, axis=0), scale, axis=1)).save(data, "PNG")
    return data.getvalue()
