"""The wall: frames of a shoot, work prints, what hangs where, sittings, how frames stand, and the decision."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import traitlets

from refarchive.archive import Archive
from refarchive.errors import BadQuery, SourceRefused
from refarchive.panels.base import (
    NOTHING,
    PREVIEWS,
    Answer,
    Panel,
    answers,
    drawn,
    jpeg,
    pages_of,
    script,
    sheets_of,
    style,
)  # fmt: skip

PAIR_PX = 1400  # long side of pictures in a sitting
SMALL_PX = 256
MOST_PAGES = 40
GROUND = (128, 128, 128)  # where the file of a picture is missing
ASKED = {
    "story": "Which tells the story better?",
    "gesture": "Which has the better gesture?",
    "light": "Which has the better light?",
    "series": "Which sits better in the series?",
}


class Wall(Panel):
    """The panel of the wall. `scene` is its slug."""

    _esm = script("hanging", "wall")
    _css = style("wall")
    scene = traitlets.Unicode("").tag(sync=True)

    def __init__(self, archive: Archive, scene: str = "") -> None:
        super().__init__(archive, scene=scene)

    @answers("start")
    def start(self) -> Answer:
        """The scenes, and what can be looked at in a sitting."""
        return {
            "scenes": [{"slug": one.slug, "title": one.title} for one in self.archive.scenes()],
            "criteria": [{"name": name, "words": name} for name in ASKED],
        }

    @answers("open")
    def open_scene(self, slug: str) -> Answer:
        """All there is of a scene after the shoot, with small pictures of its frames."""
        after = self.archive.after
        self.scene = slug
        scene = self.archive.scene(slug)
        document = after.shoot(slug)
        finished = after.finished(scene.series, except_for=slug)
        places: list[int | None] = []
        pictures: list[bytes] = []
        for one in [*document["frames"][:PREVIEWS], *finished[: PREVIEWS // 4]]:
            data = after.thumbnail(one["scene"], one["id"], SMALL_PX)
            places.append(len(pictures) if data else None)
            pictures += [data] if data else []
        pictured = min(len(document["frames"]), PREVIEWS)  # the others are there by name
        return {
            "story": scene.story,
            "frames": document["frames"],
            "groups": document["groups"],
            "finished": [{**one, "place": place} for one, place in zip(finished, places[pictured:], strict=False)],
            "places": places[:pictured] + [None] * (len(document["frames"]) - pictured),
            "looked": after.looked_at(slug),
            "prints": after.prints_told(slug),
            "arrangements": after.walls(slug),
            "sittings": after.sittings_told(slug),
            "heard": after.heard(slug),
            "decisions": after.decisions_told(slug),
        }, pictures

    # --- frames -------------------------------------------------------------------------------------------------

    @answers("take_in", long=True, kept="The frames taken in until then are kept. Take the same in again to go on.")
    def take_in(self, number: int, slug: str, place: str, uploads: Sequence[str]) -> Answer:
        """Take a folder of this computer, or files that came through the browser, in as frames."""
        if not place.strip() and not uploads:
            raise BadQuery("Nothing was named to be taken in.", "Give a folder on this computer, or choose files.")
        sources = [Path(place.strip())] if place.strip() else [self.taken(one) for one in uploads]
        done = self.archive.after.take(slug, *sources, progress=self.telling(number))
        return done.as_dict()

    @answers("measure", long=True, kept="What was measured until then is kept. Measure again to go on.")
    def measure(self, number: int, slug: str) -> Answer:
        """Measure the frames against each other: where they lie, how sharp they are, which are alike."""
        self.archive.after.measure(slug, progress=self.telling(number))
        return {}

    @answers("between", long=True, kept=NOTHING)
    def between(self, number: int, slug: str, one: str, other: str) -> Answer:
        """What differs between two frames, one laid over the other."""
        self.tell(number, 0, 1, "Laying one over the other")
        found = self.archive.after.between(slug, one, other)
        document = {"words": found["words"], "regions": found["regions"]}
        return document, [jpeg(picture) for picture in found["pictures"]]

    # --- prints and walls ---------------------------------------------------------------------------------------

    @answers("sizes")
    def sizes(self, slug: str, frames: Sequence[str], count: int) -> Answer:
        """How large the prints will be, and how many pixels an inch, before any is made."""
        return {"sizes": self.archive.after.print_sizes(slug, frames, count)}

    @answers("prints", long=True, kept="No sheet was made, and none is kept as printed.")
    def prints(self, number: int, slug: str, frames: Sequence[str], count: int, paper: str = "") -> Answer:
        """The sheets of work prints as PDF, to be kept by the browser."""
        self.tell(number, 0, 1, "Setting the sheets")
        given: dict[str, Any] = {"count": count, "paper": paper, "progress": self.telling(number)}
        return self._laid(slug, lambda out: self.archive.after.print_frames(slug, frames, out=out, **given))

    @answers("index", long=True, kept=NOTHING)
    def index(self, number: int, slug: str) -> Answer:
        """All frames small, in their groups, as PDF."""
        self.tell(number, 0, 1, "Setting the sheets")
        progress = self.telling(number)
        return self._laid(slug, lambda out: self.archive.after.print_index(slug, out=out, progress=progress))

    def _laid(self, slug: str, write: Callable[[Path], Any]) -> Answer:
        """Sheets as PDF and as they look, with what was printed of the scene by then."""
        document, pdf = sheets_of(write)
        return {**document, "prints": self.archive.after.prints_told(slug)}, [pdf, *pages_of(pdf, MOST_PAGES)]

    @answers("hang")
    def hang(
        self,
        slug: str,
        wall: str,
        width_mm: float,
        height_mm: float,
        light: str,
        note: str,
        hung: Sequence[Mapping[str, Any]],
        photograph: str = "",
    ) -> Answer:
        """Keep what hangs where, beside what hung before."""
        self.archive.after.hang(
            slug,
            wall=wall,
            width_mm=width_mm,
            height_mm=height_mm,
            hung=hung,
            light=light,
            note=note,
            photograph=self.taken(photograph) if photograph else None,
        )
        return {}

    @answers("wall_page", long=True, kept=NOTHING)
    def wall_page(self, number: int, slug: str, which: int = 0) -> Answer:
        """A wall to scale on a page, as PDF."""
        self.tell(number, 0, 1, "Setting the page")
        document, pdf = sheets_of(lambda out: self.archive.after.print_wall(slug, number=which or None, out=out))
        return document, [pdf]

    @answers("photograph")
    def photograph(self, slug: str, which: int) -> Answer:
        """The photograph that was kept with an arrangement."""
        return {}, [jpeg(self.archive.after.wall_photograph(slug, which, PAIR_PX))]

    # --- sittings -----------------------------------------------------------------------------------------------

    @answers("sit")
    def sit(self, slug: str, criterion: str, viewer: str, light: str, frames: Sequence[str]) -> Answer:
        """Begin a sitting, with its first pair."""
        sitting = self.archive.after.sit(slug, criterion, viewer=viewer, light=light, frames=frames)
        document, pictures = self._next(sitting.id)
        return {"sitting": sitting.id, "asked": ASKED[criterion], **document}, pictures

    @answers("say")
    def say(self, sitting: str, left: str, right: str, says: str, reason: str = "") -> Answer:
        """Keep what was said of a pair, and show the next."""
        self.archive.after.say(sitting, left, right, says, reason)
        return self._next(sitting)

    def _next(self, sitting: str) -> tuple[dict[str, Any], list[bytes]]:
        from PIL import Image

        found = self.archive.after.next_pair(sitting)
        pair = found["pair"]
        if pair is None:
            return {"pair": None, "words": found["words"]}, []
        pictures, words = [], [found["words"]]
        for name in pair:
            try:
                pictures.append(jpeg(self.archive.frame_work.picture(found["scene"], name, PAIR_PX)))
            except SourceRefused as error:  # what was said is kept already; the sitting goes on
                pictures.append(jpeg(Image.new("RGB", (PAIR_PX, PAIR_PX), GROUND)))
                words.append(f"{error.problem} {error.next_step} It can be left at neither yet.")
        return {"pair": {"left": pair[0], "right": pair[1]}, "words": " ".join(words)}, pictures

    @answers("hear")
    def hear(self, slug: str, frame: str, words: str, viewer: str) -> Answer:
        """Keep what somebody from outside said of a frame."""
        self.archive.frame_work.view(slug, frame, words, viewer=viewer)
        return {}

    @answers("standing", long=True, kept=NOTHING)
    def standing(self, number: int, slug: str, criterion: str) -> Answer:
        """How the frames stand by a criterion, drawn and in words."""
        self.tell(number, 0, 1, "Working it out")
        found = self.archive.after.standing(slug, criterion)
        keys = ("words", "alt", "ahead", "open", "apart", "cycles", "drift", "consistency", "reasons", "others", "how")
        document = {key: found[key] for key in keys}
        return document, [drawn(self.archive.after.standing_figure(slug, criterion))] if found["strengths"] else []

    @answers("decide")
    def decide(self, slug: str, frame: str, sentence: str, turned_down: Mapping[str, str]) -> Answer:
        """Keep the sentence that decides, with what was turned down and why."""
        if not frame:
            raise BadQuery("No frame was chosen.", "Choose the frame that the sentence is about.")
        self.archive.after.decide(slug, frame, sentence, turned_down=turned_down)
        return {}
