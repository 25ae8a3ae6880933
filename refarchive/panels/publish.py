"""Putting a picture out: series, caption and note, what rests on what, permissions, editions, and the final file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import traitlets

from refarchive import leftovers
from refarchive.archive import Archive
from refarchive.errors import BadQuery, SourceRefused
from refarchive.panels.base import LARGE_PX, NOTHING, Answer, Panel, answers, drawn, jpeg, script, sheets_of, style

TYPES = {".jpg": "image/jpeg", ".tif": "image/tiff", ".pdf": "application/pdf"}


class Publish(Panel):
    """The panel of putting out. `scene` is its slug."""

    _esm = script("editing", "publish")
    _css = style("publish")
    scene = traitlets.Unicode("").tag(sync=True)

    def __init__(self, archive: Archive, scene: str = "") -> None:
        super().__init__(archive, scene=scene)

    @answers("start")
    def start(self) -> Answer:
        """The scenes that have a frame, and the words that values may take."""
        scenes = [one for one in self.archive.scenes() if self.archive.frames(one.slug)]
        return {"scenes": [{"slug": one.slug, "title": one.title} for one in scenes], **self.archive.publishing.words()}

    @answers("open")
    def open_scene(self, slug: str, frame: str = "") -> Answer:
        """All that is said of a frame: the one named, the one decided for, or the first."""
        self.scene = slug
        frames = self.archive.frames(slug)
        decided = self.archive.publishing.frame(slug)
        name = frame or decided or (frames[0].id if frames else "")
        if not name:
            raise BadQuery("This scene has no frame yet.", "Take the shoot in first, in the panel of the wall.")
        document = self.archive.publishing.document(slug, name)
        scene = self.archive.scene(slug)
        document["frames"] = [
            {"id": one.id, "words": f"{one.source_name}{', decided for' if one.id == decided else ''}"}
            for one in frames
        ]
        document["needs"] = [{"slug": one.slug, "name": one.name} for one in scene.needs]
        document["series"] = self._in_order(scene.series)
        try:
            return document, [jpeg(self.archive.frame_work.picture(slug, name, LARGE_PX))]
        except SourceRefused as error:
            document["missing"].insert(0, f"{error.problem} {error.next_step}")
            return document, []

    def _in_order(self, series: str) -> dict[str, Any]:
        if not series:
            return {"pictures": [], "measures": [], "told": ["The plan of this scene names no series."]}
        return self.archive.series.in_order(series)

    @answers("keep")
    def keep(self, slug: str, frame: str, revision: int, values: Mapping[str, Any]) -> Answer:
        """Keep what was changed of what goes out with a picture."""
        self.archive.publishing.say(slug, frame, values, expected=revision)
        return self.open_scene(slug, frame)

    # --- the series ---------------------------------------------------------------------------------------------

    @answers("series", long=True, kept=NOTHING)
    def series(self, number: int, slug: str, frame: str) -> Answer:
        """The series drawn, its neighbours in words, and how the frame would sit at each place."""
        self.tell(number, 0, 1, "Measuring the series")
        name = self.archive.scene(slug).series
        if not name or not self.archive.series.in_order(name)["pictures"]:
            return {"alt": "", "neighbours": [], "rhythm": [], "tried": "", "seats": []}, []
        progress = self.telling(number)
        document = self.archive.series.document(name, progress=progress)
        figures, words = self.archive.series.figures(name, progress=progress)
        tried = self.archive.series.sit(slug, frame, progress=progress)
        seats = []
        for seat in tried["seats"]:
            beside = [_pair(seat[side]) for side in ("before", "after") if side in seat]
            seats.append({"where": f"{seat['where'][:1].upper()}{seat['where'][1:]}", "beside": beside})
        return {
            "alt": words,
            "neighbours": [_pair(one) for one in document["neighbours"]],
            "rhythm": [f"{one['measure'].capitalize()}: {one['told']}" for one in document["rhythm"]],
            "tried": tried["words"],
            "seats": seats,
        }, [drawn(one) for one in figures]

    @answers("order")
    def order(self, slug: str, frame: str, frames: Sequence[str], note: str) -> Answer:
        """Keep an order of the series."""
        self.archive.series.keep_order(self.archive.scene(slug).series, frames, note)
        return self.open_scene(slug, frame)

    @answers("propose", long=True, kept=NOTHING)
    def propose(self, number: int, slug: str, arrangement: str, measure: str) -> Answer:
        """Another order by one criterion, as figures."""
        self.tell(number, 0, 1, "Working it out")
        series = self.archive.scene(slug).series
        found = self.archive.series.propose(series, arrangement, measure, progress=self.telling(number))
        return {"words": found["words"], "frames": found["frames"]}

    @answers("series_page", long=True, kept=NOTHING)
    def series_page(self, number: int, slug: str, frame: str) -> Answer:
        """The series on paper, with the frame tried at each place."""
        self.tell(number, 0, 1, "Setting the pages")
        name = self.archive.scene(slug).series
        given: dict[str, Any] = {"candidate": (slug, frame), "progress": self.telling(number)}
        return _sheets(lambda out: self.archive.series.print_page(name, out=out, **given))

    # --- files --------------------------------------------------------------------------------------------------

    @answers("statement", long=True, kept=NOTHING)
    def statement(self, number: int, slug: str, frame: str) -> Answer:
        """What rests on what, by region, on one page."""
        self.tell(number, 0, 1, "Setting the page")
        progress = self.telling(number)
        return _sheets(lambda out: self.archive.publishing.print_statement(slug, frame, out=out, progress=progress))

    @answers("pages", long=True, kept=NOTHING)
    def pages(self, number: int, slug: str, frame: str) -> Answer:
        """Caption, note with its evidence, and the statement."""
        self.tell(number, 0, 1, "Setting the pages")
        progress = self.telling(number)
        return _sheets(lambda out: self.archive.publishing.print_pages(slug, frame, out=out, progress=progress))

    @answers("file", long=True, kept=NOTHING)
    def file(self, number: int, slug: str, frame: str, public: bool) -> Answer:
        """A copy of the final file with its metadata."""
        self.tell(number, 0, 1, "Writing the file")
        with leftovers.temporary("panel") as folder:
            progress = self.telling(number)
            done = self.archive.publishing.write(slug, frame, public=public, out=folder, progress=progress)
            document = {"name": done.file.name, "type": TYPES[done.file.suffix], "words": done.words}
            return document, [done.file.read_bytes()]


def _pair(pair: Mapping[str, Any]) -> dict[str, Any]:
    """Two pictures side by side: who they are, what stands out, and what repeats, a line each."""
    parts = []
    for word in ("far", "near", "cannot tell"):
        told = [
            one["measure"] if word == "cannot tell" else f"{one['measure']} ({one['shown']})"
            for one in pair["differences"]
            if one["word"] == word
        ]
        parts += [f"{word.capitalize()}{':' if word == 'cannot tell' else ' in'} {', '.join(told)}."] if told else []
    repeats = [f"{one['kind']} {one['what']}, {one['how']}" for one in pair["repeats"]]
    return {
        "pair": f"{pair['first']} | {pair['second']}",
        "words": " ".join([*parts, pair["shapes"]]),
        "repeats": repeats,
    }


def _sheets(write: Callable[[Path], Any]) -> Answer:
    document, pdf = sheets_of(write)
    return {**document, "type": TYPES[".pdf"]}, [pdf]
