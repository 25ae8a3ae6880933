"""Looking at frames: what viewers said, held against the scene; what the encoder reads; what carries the story."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from refarchive.frames.legibility import MISREADING, STATEMENT, machine_reading, read, what_carries
from refarchive.jobs.choosing.kept_frames import frame_picture
from refarchive.jobs.kit import Kit
from refarchive.jobs.references import index, trusting
from refarchive.records.model import Frame, Region, Scene, Viewing
from refarchive.records.store import now

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_DISTRACTORS = 200  # captions of the archive's own that are about other things
SIDE = 1600


def view(kit: Kit, frame: Frame, words: str, viewer: str, seconds: float | None, print_size: str) -> Viewing:
    """Keep what one person said of a frame. Raises RecordRefused."""
    viewing = Viewing(frame.id, now(), viewer, seconds, print_size, words)
    kit.store.looked.add_viewing(viewing)
    return viewing


def read_words(kit: Kit, scene: Scene, frame: Frame) -> dict[str, Any]:
    """What a frame's viewers said against the scene's sentences, as JSON."""
    viewings = kit.store.looked.viewings(frame.id)
    sentences, kinds = _sentences(scene)
    reading = read(
        [(v.words, v.viewer, v.print_size) for v in viewings],
        kit.sentences.encode([v.words for v in viewings]),
        kit.sentences.encode(sentences),
        kinds,
    )
    told = reading.as_dict()
    told["sentences"] = [
        {"sentence": s, "kind": k, "viewers": n} for s, k, n in zip(sentences, kinds, reading.by_sentence, strict=True)
    ]
    del told["by_sentence"]
    return {"frame": frame.id, "source_name": frame.source_name, "viewers": len(viewings), **told}


def _sentences(scene: Scene) -> tuple[list[str], list[str]]:
    sentences = [*scene.statements, *scene.misreadings]
    return sentences, [STATEMENT] * len(scene.statements) + [MISREADING] * len(scene.misreadings)


def read_by_encoder(kit: Kit, scene: Scene, frame: Frame, masks: Mapping[str, Region] | None = None) -> dict[str, Any]:
    """The encoder's reading of a frame among distractors, with its trust; and what each masked thing takes away."""
    import numpy as np
    from PIL import Image as PillowImage

    from refarchive.looks.masking import without_region

    index.bring_up_to_date(kit)
    picture = frame_picture(kit, frame, SIDE)
    masked = {name: without_region(np.asarray(picture), region) for name, region in (masks or {}).items()}
    spaces = _spaces(kit, [picture, *(PillowImage.fromarray(pixels) for pixels in masked.values())])
    sentences, kinds = _sentences(scene)
    told = kit.encoder.encode_words(sentences) if sentences else np.zeros((0, spaces.shape[1]), np.float32)
    captions = [index.caption_of(r) for r in kit.store.references() if r.kind == "image"]
    others = [caption for caption in dict.fromkeys(captions) if caption][:MOST_DISTRACTORS]
    distractors = kit.encoder.encode_words(others) if others else np.zeros((0, spaces.shape[1]), np.float32)
    reading = machine_reading(spaces[0], told, distractors, kinds, trusting.trust(kit))
    carried = what_carries(spaces[0], spaces[1:], told)
    return {
        "frame": frame.id,
        "sentence": reading.sentence,
        "trusted": reading.trusted,
        "of": reading.of,
        "sentences": [
            {"sentence": s, "kind": k, "rank": r, "score": score}
            for s, k, r, score in zip(sentences, kinds, reading.ranks, reading.scores, strict=True)
        ],
        "masked": [
            {"name": name, "lost": dict(zip(sentences, lost, strict=True))}
            for name, lost in zip(masked, carried, strict=True)
        ],
    }


def _spaces(kit: Kit, pictures: list[Image]) -> Any:
    """Word-space vectors of pictures as they would be in this archive, whose mean they are told from."""
    import numpy as np

    codes = kit.encoder.encode_pictures(pictures)
    meaning = codes.meaning if codes.meaning is not None else codes.likeness
    whole = np.concatenate([kit.meaning.matrix(), meaning])
    return kit.encoder.word_space(whole)[-len(pictures) :]
