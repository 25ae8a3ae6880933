"""Checking a frame: taking it in, gathering what it is measured against, and writing the report."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refarchive.errors import BadQuery, SourceRefused, UnknownRecord
from refarchive.frames import check as measuring
from refarchive.frames import marked
from refarchive.frames.parts import part_lines
from refarchive.frames.studied import Studied, study_frame
from refarchive.jobs.choosing.kept_frames import keep_frame
from refarchive.jobs.kit import Kit
from refarchive.jobs.planning.dossier import cut, open_reference, prepare, write_whole
from refarchive.jobs.references import index
from refarchive.records.files import open_picture
from refarchive.records.model import PRESENCE, Frame, FrameNote, Reference, Region, Scene
from refarchive.records.store import now
from refarchive.sources.linear import open_linear
from refarchive.sources.shot import read_shot, shot_picture

if TYPE_CHECKING:
    from PIL.Image import Image

MARK = "mark:"  # before a mark's name, as the subject of a note on a frame
STUDY_PX = 900  # about the long side, in whole steps, to which value studies are enlarged for a report
SIDE = 1600  # pixels, long side, at which pictures are measured and shown


@dataclass(frozen=True)
class Checked:
    """A frame with its lines, what it is like by itself, and the report where one was written."""

    frame: Frame
    lines: tuple[measuring.Line, ...]
    report: Path | None
    studied: Studied

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {
            "frame": {"id": self.frame.id, "source_name": self.frame.source_name, "scene": self.frame.scene},
            "lines": [line.as_dict() for line in self.lines],
            "report": str(self.report) if self.report else None,
            **self.studied.as_dict(),
        }


def check(
    kit: Kit,
    scene: Scene,
    path: Path,
    needs: Mapping[str, str],
    departures: Mapping[str, str],
    out: Path | None,
    regions: Mapping[str, Region] | None = None,
    linear: Path | None = None,
) -> Checked:
    """Keep a frame, keep what the person says of it, measure it, and write the report where `out` is given: a PDF where
    that ends in .pdf, else HTML.

    `regions` are marked to be measured (see `frames.marked`); they are kept with the frame and stand until marked anew.
    `linear` is the raw file or linear TIFF of the frame, from which stops are told.
    Told through `kit.progress`; stopped, the frame and what was said of it are kept, and no check of it.

    Raises SourceRefused for a frame that cannot be read, BadQuery and UnknownRecord for words about needs and measures
    that there are none of; nothing is kept then.
    """
    import numpy as np

    said = _notes(scene, needs, departures)
    said += [
        (f"{MARK}{name}", ",".join(f"{v:.6g}" for v in region), "") for name, region in checked_regions(regions).items()
    ]
    if not path.exists():
        raise SourceRefused(f"There is no file at {str(path)!r}.", "Name the frame's picture file.")
    light = open_linear(linear, SIDE) if linear is not None else None
    shot = read_shot(path)
    picture = shot_picture(path, SIDE)
    frame = keep_frame(kit, scene, path, shot)
    kit.store.note_frames([FrameNote(frame.id, subject, says, note) for subject, says, note in said])
    notes = kit.store.frame_notes(frame.id)
    seen = _marked(notes, picture, light)
    compared = _compared(kit, scene)
    steps = len(compared) + (4 if out is not None else 3)
    lines, looks = _measure(kit, scene, compared, notes, picture, seen, steps)
    kit.tell(len(compared) + 2, steps, "studying the frame")
    studied = study_frame(np.asarray(picture), figures=seen.figures if seen else None, linear=light)
    report = None
    if out is not None:
        kit.tell(len(compared) + 3, steps, "setting the report")
        page = _report(kit, scene, frame, lines, looks, studied, picture, pdf=_is_pdf(out))
    kit.tell(steps, steps, "keeping the check")
    kit.store.looked.add_check(frame.id, now(), [line.as_dict() for line in lines])
    if out is not None:
        report = write_whole(out, page)
    return Checked(frame, lines, report, studied)


def _is_pdf(out: Path) -> bool:
    return out.suffix.lower() == ".pdf"


def _notes(scene: Scene, needs: Mapping[str, str], departures: Mapping[str, str]) -> list[tuple[str, str, str]]:
    slugs = [need.slug for need in scene.needs]
    said = []
    for name, word in needs.items():
        if name not in slugs:
            raise _unknown(name, slugs, "need")
        if word not in PRESENCE:
            raise BadQuery(f"{name!r} cannot be {word!r}.", f"Say one of: {', '.join(PRESENCE)}.")
        said.append((f"need:{name}", word, ""))
    for name, reason in departures.items():
        if name in measuring.MEASURES and name != "need":
            said.append((f"measure:{name}", measuring.DEPARTURE, reason))
        elif name in slugs:
            said.append((f"need:{name}", measuring.DEPARTURE, reason))
        else:
            raise _unknown(name, [*(m for m in measuring.MEASURES if m != "need"), *slugs], "measure or need")
    return said


def _unknown(name: str, known: Sequence[str], what: str) -> UnknownRecord:
    near = difflib.get_close_matches(name, known, 3) or list(known)[:12]
    return UnknownRecord(f"The scene has no {what} {name!r}.", f"Did you mean {', '.join(near)}?")


def checked_regions(regions: Mapping[str, Region] | None) -> dict[str, Region]:
    """The regions a person marked, each inside the picture. Raises BadQuery."""
    return marked.checked(regions or {})


def _marked(notes: Sequence[FrameNote], picture: Image, linear: Any) -> marked.Marked | None:
    """What was marked of a frame, and the light to measure it on: the file's own where it is scene-linear."""
    import numpy as np

    from refarchive.looks import colour

    regions: dict[str, Region] = {}
    for note in notes:
        if note.subject.startswith(MARK):
            x, y, width, height = (float(part) for part in note.says.split(","))
            regions[note.subject.removeprefix(MARK)] = (x, y, width, height)
    if not regions:
        return None
    if linear is not None:
        return marked.Marked(regions, linear @ colour.LUMINANCE, scene_linear=True)
    return marked.Marked(regions, colour.linear(np.asarray(picture)) @ colour.LUMINANCE)


def _measure(
    kit: Kit,
    scene: Scene,
    compared: Sequence[Reference],
    notes: Sequence[FrameNote],
    picture: Image,
    seen: marked.Marked | None,
    steps: int,
) -> tuple[tuple[measuring.Line, ...], list[measuring.ReferenceLook]]:
    import numpy as np

    kit.tell(0, steps, "encoding the frame")
    vector = kit.encoder.encode_pictures([picture]).likeness[0]
    keys = [key for key in kit.likeness.keys() if key.endswith("#0")]  # noqa: SIM118
    rows = kit.likeness.rows(keys)
    likeness = dict(zip((key.partition("#")[0] for key in keys), (rows @ vector).tolist(), strict=True))
    population = np.asarray(list(likeness.values()), dtype=np.float64)
    looks = []
    for number, reference in enumerate(compared, start=1):
        kit.tell(number, steps, f"opening {reference.title[:40]}")
        pixels = None
        with suppress(SourceRefused):
            pixels = np.asarray(open_reference(kit, reference, longest=SIDE))
        whole = reference.id in (*scene.intent.like, scene.key_reference)
        looks.append(measuring.ReferenceLook(reference, pixels, likeness.get(reference.id), population, whole))
    kit.tell(len(compared) + 1, steps, "measuring")
    lines = measuring.check_frame(
        frame_picture=np.asarray(picture),
        intent=scene.intent,
        needs=scene.needs,
        notes=notes,
        references=looks,
        marked=seen,
    )
    return lines, looks


def compare_regions(
    kit: Kit, scene: Scene, path: Path, region: Region, reference: Reference, detail: Region | None
) -> tuple[measuring.Line, ...]:
    """A region of a frame against a reference or a region of it: a sleeve against a sleeve. Nothing is kept.

    Likeness stands among that of all whole pictures and tiles of the archive. Raises SourceRefused, BadQuery.
    """
    import numpy as np

    if not path.exists():
        raise SourceRefused(f"There is no file at {str(path)!r}.", "Name the frame's picture file.")
    if reference.kind != "image":
        raise BadQuery(f"{reference.title!r} has no picture.", "Name a picture reference.")
    _inside(region)
    part = cut(open_picture(path, longest=2 * SIDE), region)
    picture = open_reference(kit, reference, longest=2 * SIDE)
    other = cut(picture, _inside(detail)) if detail is not None else picture
    index.bring_up_to_date(kit)
    own, theirs = kit.encoder.encode_pictures([part, other]).likeness
    population = kit.likeness.matrix() @ own
    look = measuring.ReferenceLook(reference, np.asarray(other), float(own @ theirs), population, whole=True)
    lines = measuring.check_frame(
        frame_picture=np.asarray(part), intent=replace(scene.intent, **NOTHING), needs=(), notes=(), references=[look]
    )
    return (*lines, *part_lines(np.asarray(part), measuring.Looked.at(look), scene.intent))


# An intent's targets for whole frames mean nothing for a part of one; its tolerances do.
NOTHING: dict[str, Any] = {
    "palette": (), "key": None, "contrast": None, "light_from": "", "light_tilt_deg": None, "lit_to_shadow": None,
    "warmth_k": None, "horizon": None, "blown_most": None, "blocked_most": None, "layout_least": None, "like": (),
}  # fmt: skip


def _inside(region: Region) -> Region:
    x, y, width, height = region
    if not (0 <= x < 1 and 0 <= y < 1 and width > 0 and height > 0 and x + width <= 1.0001 and y + height <= 1.0001):
        raise BadQuery("The region lies outside the picture.", "Give fractions x, y, width, height within 0–1.")
    return region


def _compared(kit: Kit, scene: Scene) -> list[Reference]:
    """Picture references a frame is held against: those the intent names, the key reference, then the evidence."""
    named = [*scene.intent.like, scene.key_reference, *(e.reference for n in scene.needs for e in n.evidence)]
    found = kit.store.references([name for name in dict.fromkeys(named) if name])
    return [reference for reference in found if reference.kind == "image" or reference.id in scene.intent.like]


def _report(
    kit: Kit,
    scene: Scene,
    frame: Frame,
    lines: Sequence[measuring.Line],
    looks: Sequence[measuring.ReferenceLook],
    studied: Studied,
    picture: Image,
    *,
    pdf: bool,
) -> bytes:
    from PIL import Image as Images

    from refarchive.looks.munsell import notation
    from refarchive.paper.html import write_html
    from refarchive.paper.pdf import write_pdf
    from refarchive.paper.report import check_report

    references = {look.reference.id: look.reference for look in looks}
    laid = _laid_over(picture, looks)
    document, requests = check_report(
        scene,
        frame,
        [line.as_dict() for line in lines],
        references=references,
        date=date.today().isoformat(),
        facts=[(one.name, one.words) for one in studied.told],
        colours=[
            {
                "hex": one.hex,
                "lab": "L* {:.0f}  a* {:+.0f}  b* {:+.0f}".format(*one.lab).replace("-", "−"),
                "name": f"{100 * one.share:.0f} %, {one.where}",
                "note": notation(one.lab).sentence,
            }
            for one in studied.colours
        ],
        studies=[(name, words) for name, (_, words) in studied.studies.items()],
        beside={look.reference.id for look in looks if look.whole},
        overlays={name: (over is not None, words) for name, (over, words) in laid.items()},
    )
    shown = {frame.id: picture}
    for name, (study, _) in studied.studies.items():
        scale = max(1, STUDY_PX // max(study.shape[:2]))
        shown[f"study:{name}"] = Images.fromarray(study).resize(
            (study.shape[1] * scale, study.shape[0] * scale), Images.Resampling.NEAREST
        )
    shown |= {f"overlay:{name}": over for name, (over, _) in laid.items() if over is not None}
    pictures = prepare(kit, requests, references, shown)
    return write_pdf(document, pictures) if pdf else write_html(document, pictures).encode("utf-8")


def lay_over(picture: Image, reference: Image) -> tuple[Image | None, str]:
    """One picture half over another, aligned, or None where they cannot be; and the sentence to it."""
    import numpy as np
    from PIL import Image as Images

    from refarchive.looks import overlay

    aligned = overlay.align(np.asarray(picture), np.asarray(reference))
    return (None if aligned.warped is None else Images.fromarray(overlay.mixed(aligned))), aligned.sentence


def _laid_over(picture: Image, looks: Sequence[measuring.ReferenceLook]) -> dict[str, tuple[Image | None, str]]:
    """The frame laid half over each reference it is held against as a whole."""
    from PIL import Image as Images

    return {
        look.reference.id: lay_over(picture, Images.fromarray(look.picture))
        for look in looks
        if look.whole and look.picture is not None
    }
