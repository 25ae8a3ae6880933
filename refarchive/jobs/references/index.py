"""Keeping the vector files level with the records: adding, making up for what is missing, making all of it anew."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any

from refarchive.encoders.base import Encoder, PictureCodes, encode_parts
from refarchive.errors import SourceRefused
from refarchive.jobs.kit import Kit
from refarchive.jobs.references import palettes
from refarchive.records.files import PREVIEW_SIDE, open_picture
from refarchive.records.model import Reference
from refarchive.sources.folder import shown_name

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from PIL.Image import Image

    from refarchive.search.vectors import VectorFile

BATCH = 16  # pictures encoded at a time
SENTENCES = 256  # captions or passages encoded, and then kept, at a time
FILES = {"likeness", "meaning", "colours", "captions", "passages"}


@contextmanager
def alone(kit: Kit) -> Iterator[None]:
    """Keep all other programs and threads from writing vector files meanwhile, and know what they wrote before.

    Raises ArchiveBusy where another goes on writing for longer than is waited for.
    """
    with kit.vectors.alone():
        with kit.with_its_encoder():
            for name in FILES & vars(kit).keys():  # those that were opened
                getattr(kit, name).refresh()
        yield


def title_from_name(source_name: str) -> str:
    """A title for a picture that has none: its file name without suffix, hyphens and underscores as spaces."""
    stem = PurePosixPath(source_name).stem
    return shown_name(stem.replace("_", " ").replace("-", " ").strip() or source_name, 200)


def caption_of(reference: Reference) -> str:
    """What is encoded as a reference's caption: its title and description.

    A title that is only the file name says nothing ("IMG 2041"): without a description there is then no caption, so
    that file names do not compete with what is seen in pictures. Words search still finds them.
    """
    title, description = reference.title.strip(), reference.description.strip()
    if not description and title == title_from_name(reference.source_name):
        return ""
    return ". ".join(part for part in (title, description) if part)


def caption_key(reference: Reference) -> str:
    """Key of a caption's vector: another caption has another key, so that no stale vector is ever used."""
    return f"{reference.id}@{hashlib.sha256(caption_of(reference).encode('utf-8', 'replace')).hexdigest()[:12]}"


def captions_of(references: list[Reference]) -> dict[str, str]:
    """Captions by key, of those that have one."""
    return {caption_key(r): caption for r in references if (caption := caption_of(r))}


@dataclass(frozen=True)
class Pictured:
    """A picture to be encoded: upright sRGB, and its palette as `palettes.palette_row` gives it."""

    reference: str
    picture: Image
    palette: NDArray[np.float32]

    @classmethod
    def of(cls, reference: str, picture: Image) -> Pictured:
        """A picture with its palette taken."""
        import numpy as np

        return cls(reference, picture, palettes.palette_row(np.asarray(picture)))


@dataclass(frozen=True)
class Coded:
    """What the vector files are to hold of some pictures; `codes` has a row for the whole and for each tile."""

    references: tuple[str, ...]
    palettes: NDArray[np.float32]
    codes: PictureCodes


def encode(encoder: Encoder, pictures: Sequence[Pictured]) -> Coded:
    """Encode pictures, one at least, with their tiles. Nothing is written, and nothing of the archive is looked at."""
    import numpy as np

    return Coded(
        references=tuple(one.reference for one in pictures),
        palettes=np.stack([one.palette for one in pictures]),
        codes=codes_of(encoder, [one.picture for one in pictures]),
    )


def codes_of(encoder: Encoder, pictures: Sequence[Image]) -> PictureCodes:
    """Upright sRGB pictures with their tiles, encoded: a row for the whole and for each tile, picture after picture."""
    from refarchive.search.vectors import boxes

    return encode_parts(encoder, pictures, [boxes(picture.size) for picture in pictures])


def opened(kit: Kit, references: Sequence[Reference]) -> Iterator[tuple[str, Image]]:
    """Ids of picture references with their pictures, at the size of previews; a damaged original is left out."""
    for reference in references:
        try:
            picture = open_picture(kit.files.original(reference.sha256, reference.suffix), longest=PREVIEW_SIDE)
        except SourceRefused:
            continue  # verify names it, and the rest goes on
        yield reference.id, picture


def keep(kit: Kit, coded: Sequence[Coded]) -> None:
    """Append what was encoded, one part at least, to the vector files. Raises as `alone`."""
    with alone(kit):
        _keep(kit, _joined(coded))


def _joined(coded: Sequence[Coded]) -> Coded:
    import numpy as np

    meaning = [one.codes.meaning for one in coded if one.codes.meaning is not None]
    return Coded(
        references=tuple(reference for one in coded for reference in one.references),
        palettes=np.concatenate([one.palettes for one in coded]),
        codes=PictureCodes(
            np.concatenate([one.codes.likeness for one in coded]), np.concatenate(meaning) if meaning else None
        ),
    )


def _keep(kit: Kit, coded: Coded) -> None:
    put_codes(coded.references, coded.codes, kit.likeness, kit.meaning)
    _put(kit.colours, coded.references, coded.palettes)


def put_codes(references: Sequence[str], codes: PictureCodes, likeness: VectorFile, meaning: VectorFile) -> None:
    """Append codes of pictures with their tiles, meaning and then likeness, which may be one file."""
    from refarchive.search.vectors import TILES, picture_key

    keys = [picture_key(reference, tile) for reference in references for tile in range(len(TILES))]
    if codes.meaning is not None:
        _put(meaning, keys, codes.meaning)
    _put(likeness, keys, codes.likeness)


def _put(file: VectorFile, keys: Sequence[str], rows: Any) -> None:
    """Append, in place of what a reference that was taken out and gathered again left behind."""
    file.drop([key for key in keys if key in file])
    file.append(keys, rows)


def _wanted(kit: Kit, references: list[Reference]) -> dict[str, list[str]]:
    """Keys that each vector file is to hold; `meaning` stands in for both picture files."""
    from refarchive.search.vectors import TILES, picture_key

    pictures = [r.id for r in references if r.kind == "image"]
    tiles = [picture_key(one, n) for one in pictures for n in range(len(TILES))]
    return {
        "likeness": tiles,
        "meaning": tiles,
        "colours": pictures,
        "captions": list(captions_of(references)),
        "passages": [p.id for p in kit.store.passages()],
    }


def level(kit: Kit) -> bool:
    """Whether the vector files hold exactly what the records ask for; loads no encoder."""
    wanted = _wanted(kit, kit.store.references())
    for name, keys in wanted.items():
        file = kit.vectors.opened(name)
        if name == "likeness" and file is not None:
            if file.identity.get("name") != kit.encoder_name:
                return False
            if not file.identity.get("meaning_dimension"):
                wanted = wanted | {"meaning": []}
        if name == "meaning" and not wanted["meaning"]:
            continue
        if set(file.keys() if file is not None else ()) != set(keys):
            return False
    return True


def count_missing(kit: Kit) -> int:
    """How many vectors the records ask for that are not there."""
    wanted = _wanted(kit, kit.store.references())
    if kit.meaning is kit.likeness:
        del wanted["meaning"]
    return sum(len(getattr(kit, name).missing(keys)) for name, keys in wanted.items())


def bring_up_to_date(kit: Kit) -> int:
    """Make the vectors that are missing, and drop those of records that are gone. Returns how many were made.

    Where nothing was told in the history and no vector file was touched since they were found level, that is known
    without reading either.
    """
    stamp = [kit.encoder_name, *kit.store.last_change(), kit.vectors.states(sorted(FILES))]
    if kit.vectors.level_at() == stamp:
        return 0
    with kit.with_its_encoder():
        is_level = level(kit)
    if is_level:
        kit.vectors.keep_level(stamp)
        return 0
    kit.check_encoder()
    with alone(kit):
        return _bring_up_to_date(kit)


def _bring_up_to_date(kit: Kit) -> int:
    references = kit.store.references()
    made = _pictures(kit, [r for r in references if r.kind == "image"]) if references else 0
    made += _sentences(kit, "captions", captions_of(references))
    made += _sentences(kit, "passages", {p.id: p.text for p in kit.store.passages()})
    return made


def _pictures(kit: Kit, references: list[Reference]) -> int:
    if not references and not any(kit.vectors.holds(name) for name in ("likeness", "meaning", "colours")):
        return 0
    from refarchive.search.vectors import TILES, picture_key

    whole = {r.id: [picture_key(r.id, n) for n in range(len(TILES))] for r in references}
    keys = [key for group in whole.values() for key in group]
    files = [kit.likeness] if kit.meaning is kit.likeness else [kit.likeness, kit.meaning]
    short = {key.partition("#")[0] for file in files for key in file.missing(keys)}
    short |= set(kit.colours.missing(list(whole)))
    todo = [r for r in references if r.id in short]
    for file, wanted in [*((file, set(keys)) for file in files), (kit.colours, set(whole))]:
        file.drop([key for key in file.keys() if key not in wanted or key.partition("#")[0] in short])  # noqa: SIM118
    done = 0
    for start in range(0, len(todo), BATCH):
        pictures = [Pictured.of(*one) for one in opened(kit, todo[start : start + BATCH])]
        if pictures:
            _keep(kit, encode(kit.encoder, pictures))
        done += len(pictures)
        if kit.progress is not None:
            kit.progress(min(start + BATCH, len(todo)), len(todo), "encoding")
    return done


def _sentences(kit: Kit, name: str, wanted: dict[str, str]) -> int:
    if not wanted and not kit.vectors.holds(name):
        return 0
    file = getattr(kit, name)
    file.drop([key for key in file.keys() if key not in wanted])  # noqa: SIM118 (a method of the file)
    todo = file.missing(list(wanted))
    for start in range(0, len(todo), SENTENCES):
        part = todo[start : start + SENTENCES]
        texts = list(dict.fromkeys(wanted[key] for key in part))  # the same words need encoding only once
        place = {text: n for n, text in enumerate(texts)}
        vectors = kit.sentences.encode(texts)
        file.append(part, vectors[[place[wanted[key]] for key in part]])
        if kit.progress is not None and len(todo) > SENTENCES:
            kit.progress(min(start + SENTENCES, len(todo)), len(todo), name)
    return len(todo)
