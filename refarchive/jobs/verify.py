"""Verifying: originals against their digests, caches against the records; and making caches anew."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from refarchive.errors import EncoderMismatch, RefArchiveError, SourceRefused
from refarchive.jobs import index, signatures
from refarchive.jobs.dossier import open_reference
from refarchive.jobs.kit import Kit
from refarchive.records.files import hash_of


@dataclass
class Verified:
    """What was looked at and what was wrong; `problems` are sentences."""

    originals: int = 0
    previews_made: int = 0
    vectors_made: int = 0
    problems: list[str] = field(default_factory=list)

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return dict(vars(self))


def verify(kit: Kit, *, repair: bool) -> Verified:
    """Rehash every original; with `repair`, make missing previews and all vectors that are missing or unreadable."""
    done = Verified()
    references = [r for r in kit.store.references() if r.sha256]
    others = list(_beside_references(kit))
    for number, reference in enumerate(references, start=1):
        done.originals += 1
        path = kit.files.original(reference.sha256, reference.suffix)
        try:
            if not path.is_file():
                done.problems.append(f"The original of {reference.title!r} ({reference.id}) is missing.")
            elif hash_of(path) != reference.sha256:
                done.problems.append(f"The original of {reference.title!r} ({reference.id}) is damaged.")
            elif reference.kind == "image" and not kit.files.preview(reference.sha256).is_file():
                if repair:
                    kit.files.write_preview(reference.sha256, open_reference(kit, reference))
                    done.previews_made += 1
                else:
                    done.problems.append(f"The preview of {reference.title!r} ({reference.id}) is missing.")
        except SourceRefused as error:
            done.problems.append(error.problem)
        if kit.progress is not None:
            kit.progress(number, len(references) + len(others), reference.title[:40])
    for number, (what, sha256, suffix) in enumerate(others, start=len(references) + 1):
        done.originals += 1
        path = kit.files.original(sha256, suffix)
        if not path.is_file():
            done.problems.append(f"The file of {what} is missing.")
        elif hash_of(path) != sha256:
            done.problems.append(f"The file of {what} is damaged.")
        if kit.progress is not None:
            kit.progress(number, len(references) + len(others), what[:40])
    spoilt = signatures.damaged(kit, remove=repair)  # they are made anew when copies are next looked for
    if repair:
        done.vectors_made = _mend_vectors(kit)
    else:
        done.problems += _vector_problems(kit)
        if spoilt:
            done.problems.append(f"{spoilt} of the files kept to find copies cannot be read.")
    return done


def _beside_references(kit: Kit) -> Iterator[tuple[str, str, str]]:
    """Originals that are no references: frames, and photographs of walls; what each is, its SHA-256 and suffix."""
    for scene in kit.store.scenes():
        for frame in kit.store.frames(scene.slug):
            yield f"the frame {frame.source_name!r} of {scene.slug!r} ({frame.id})", frame.sha256, frame.suffix
        for one in kit.store.after.arrangements(scene.slug):
            if one.photograph:
                yield f"the photograph of the wall {one.wall!r} ({one.at[:10]})", one.photograph, one.suffix


def _files(kit: Kit) -> list[str]:
    return [
        "likeness",
        *(["meaning"] if kit.encoder.identity.meaning_dimension else []),
        "captions",
        "passages",
        "colours",
    ]


def _vector_problems(kit: Kit) -> list[str]:
    problems = []
    for name in _files(kit):
        try:
            getattr(kit, name)
        except RefArchiveError as error:
            problems.append(error.problem)
    if not problems and (missing := index.count_missing(kit)):
        problems.append(f"{missing} vectors are missing.")
    return problems


def _mend_vectors(kit: Kit) -> int:
    for name in _files(kit):
        try:
            getattr(kit, name)
        except EncoderMismatch:
            raise
        except RefArchiveError:
            kit.vectors.forget(name)
    return index.bring_up_to_date(kit)
