"""Verifying: originals against their digests, the database against itself, caches against the records; and mending.

What can be made anew from something sound is mended where asked: previews, vectors, signatures, the words tables, and
an original of which a copy with the same digest still lies where it came from. The rest is named, with where a copy
might be. Nothing that a person may want is ever deleted.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

from refarchive import leftovers
from refarchive.errors import ArchiveUnwritable, RefArchiveError, SourceRefused
from refarchive.jobs.keeping.going_on import GoingOn
from refarchive.jobs.kit import Kit
from refarchive.jobs.planning.dossier import open_reference
from refarchive.jobs.references import index, listing, reencoding, signatures
from refarchive.records import preview_sums, soundness
from refarchive.records.files import PREVIEW_SIDE, hash_of
from refarchive.records.model import Reference
from refarchive.records.preview_sums import State


@dataclass
class Verified:
    """What was looked at and what was wrong; `problems` are sentences, and so are `notices`, of which none is one."""

    originals: int = 0
    originals_restored: int = 0
    previews_made: int = 0
    vectors_made: int = 0
    previews_vouched: int = 0  # that had no checksum, and were given one as they are
    vectors_vouched: int = 0
    problems: list[str] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return dict(vars(self))


@dataclass(frozen=True)
class _Original:
    """One file in `originals/` that a record names."""

    what: str  # as the person knows it
    file: str  # "original" or "file"
    sha256: str
    suffix: str
    source_name: str
    reference: Reference | None = None


def verify(kit: Kit, *, repair: bool, sources: Sequence[Path] = ()) -> Verified:
    """Look at all that is kept; with `repair`, make anew what can be.

    `sources` are folders in which copies of damaged or missing originals are looked for. Raises EncoderMismatch where
    the archive was encoded anew since it was opened: what another made is not to be taken for damage.
    """
    kit.check_encoder()
    done = Verified()
    done.problems += soundness.problems(kit.store, repair=repair)
    try:
        wanted = list(_originals(kit))
    except RefArchiveError as error:
        done.problems.append(error.problem)
        return done
    except Exception as error:  # a row that is no longer what it was, as was told above
        done.problems.append(f"The rest was not looked at, for a row cannot be read ({type(error).__name__}).")
        return done
    copies = _Copies(sources)
    unvouched: list[str] = []  # digests of previews
    sound = GoingOn(kit.folder)
    try:
        for number, one in enumerate(wanted, start=1):
            done.originals += 1
            try:
                _look_at(kit, one, done, repair, copies, unvouched, sound)
            except (SourceRefused, ArchiveUnwritable) as error:
                done.problems.append(error.problem)
            if kit.progress is not None:
                kit.progress(number, len(wanted), one.what[:40])
        sound.end()
    finally:
        sound.pause()
    if sound.before:
        done.notices.append(
            f"This went on where a verification was stopped, begun {sound.begun}: it had read {sound.before} of the "
            "originals, and those whose size and time of change are the same were not read again."
        )
    _strangers(kit, wanted, done)
    _previews(kit, wanted, done, repair, unvouched)
    spoilt = signatures.damaged(kit, remove=repair)  # they are made anew when copies are next looked for
    if name := reencoding.begun(kit):
        done.notices.append(
            f"Vectors of {name} are half made beside those in use. To go on: refarchive reencode ARCHIVE --encoder "
            f"{name}"
        )
    if repair:
        kit.files.sweep()
        signatures.sweep(kit)
        done.vectors_made, done.vectors_vouched = _mend_vectors(kit)
        done.notices += _vouched_told(done)
    else:
        wrong, without = _vector_problems(kit)
        done.problems += [*wrong, *_unvouched_told(len(unvouched), without)]
        if listing.damaged(kit):
            done.problems.append("The lists of the pictures' vectors cannot be read, so every vector is.")
        if spoilt:
            done.problems.append(f"{spoilt} of the files kept to find copies cannot be read.")
    return done


def _originals(kit: Kit) -> Iterator[_Original]:
    for r in kit.store.references():
        if r.sha256:
            yield _Original(f"{r.title!r} ({r.id})", "original", r.sha256, r.suffix, r.source_name, r)
    for scene in kit.store.scenes():
        for frame in kit.store.frames(scene.slug):
            what = f"the frame {frame.source_name!r} of {scene.slug!r} ({frame.id})"
            yield _Original(what, "file", frame.sha256, frame.suffix, frame.source_name)
        for one in kit.store.after.arrangements(scene.slug):
            if one.photograph:
                what = f"the photograph of the wall {one.wall!r} ({one.at[:10]})"
                yield _Original(what, "file", one.photograph, one.suffix, "")


def _look_at(
    kit: Kit, one: _Original, done: Verified, repair: bool, copies: _Copies, unvouched: list[str], sound: GoingOn
) -> None:
    path = kit.files.original(one.sha256, one.suffix)
    known = sound.holds(one.sha256, path)
    wrong = "" if known or _holds(path, one.sha256) else "damaged" if path.is_file() else "missing"
    if not wrong and not known:
        sound.note(one.sha256, path)
    if wrong:
        copy = copies.find(one)
        if copy is None:
            where = f" as {shown!r}" if (shown := PurePosixPath(one.source_name).name) else ""
            done.problems.append(
                f"The {one.file} of {one.what} is {wrong}. A copy may lie where it came from{where}, in a backup or in "
                "a packed archive: refarchive verify ARCHIVE --repair --from FOLDER"
            )
            return
        if not repair:
            done.problems.append(f"The {one.file} of {one.what} is {wrong}. A sound copy lies at {str(copy)!r}.")
            return
        kit.files.put_back(copy, one.sha256, one.suffix)
        done.originals_restored += 1
    if one.reference is not None and one.reference.kind == "image":
        _look_at_preview(kit, one, one.reference, done, repair, unvouched)


def _look_at_preview(
    kit: Kit, one: _Original, reference: Reference, done: Verified, repair: bool, unvouched: list[str]
) -> None:
    preview = kit.files.preview(one.sha256)
    state = preview_sums.state(preview)
    size = (reference.width, reference.height) if reference.width and reference.height else None
    if state is State.NO_CHECKSUM:
        state = State.NO_CHECKSUM if preview_sums.fits(preview, size, PREVIEW_SIDE) else State.DAMAGED
    if state is State.SOUND:
        return
    if state is State.NO_CHECKSUM:
        _vouch_for_preview(kit, one.sha256, done, repair, unvouched)
    elif repair:
        kit.files.write_preview(one.sha256, open_reference(kit, reference))
        done.previews_made += 1
    else:
        done.problems.append(f"The preview of {one.what} is {state.value}.")


def _vouch_for_preview(kit: Kit, sha256: str, done: Verified, repair: bool, unvouched: list[str]) -> None:
    if repair:
        kit.files.vouch_for_preview(sha256)
        done.previews_vouched += 1
    else:
        unvouched.append(sha256)


def _holds(path: Path, sha256: str) -> bool:
    try:
        return path.is_file() and hash_of(path) == sha256
    except SourceRefused:  # a disk that gives no answer
        return False


class _Copies:
    """Files in some folders, looked through by name first and then by digest, each read once at most."""

    def __init__(self, folders: Sequence[Path]) -> None:
        self._by_name: dict[str, list[Path]] = {}
        for folder in folders:
            for place, _, names in os.walk(folder):
                for name in names:
                    self._by_name.setdefault(name.lower(), []).append(Path(place) / name)
        self._by_digest: dict[str, Path] | None = None

    def find(self, one: _Original) -> Path | None:
        names = (PurePosixPath(one.source_name).name.lower(), f"{one.sha256}{one.suffix}")
        for path in (path for name in names for path in self._by_name.get(name, ())):
            if _holds(path, one.sha256):
                return path
        if self._by_digest is None:
            self._by_digest = {}
            for path in (path for paths in self._by_name.values() for path in paths):
                with suppress(SourceRefused):
                    self._by_digest.setdefault(hash_of(path), path)
        return self._by_digest.get(one.sha256)


def _strangers(kit: Kit, wanted: Sequence[_Original], done: Verified) -> None:
    strangers = kit.files.strangers({(one.sha256, one.suffix) for one in wanted})
    if strangers:
        names = ", ".join(path.name for path in strangers[:3]) + (" …" if len(strangers) > 3 else "")
        done.notices.append(
            f"No record names {len(strangers)} of the files in originals/ ({names}): of references taken out, or kept "
            "by a run that was stopped. They are left as they are."
        )
    damaged = [p for p in strangers if len(p.stem) == 64 and not _holds(p, p.stem)]
    done.problems += [
        f"{path.name} in originals/, which no record names, is not what its name says." for path in damaged
    ]


def _previews(kit: Kit, wanted: Sequence[_Original], done: Verified, repair: bool, unvouched: list[str]) -> None:
    """Previews of what is no reference (frames), which are made again when they are next looked at."""
    references = {one.sha256 for one in wanted if one.reference is not None}
    for path in sorted((kit.files.root / "previews").glob("*/*.jpg")):
        if path.stem in references or (state := preview_sums.state(path)) is State.SOUND:
            continue
        if state is State.NO_CHECKSUM and preview_sums.fits(path, None, PREVIEW_SIDE):
            _vouch_for_preview(kit, path.stem, done, repair, unvouched)
        elif repair:
            path.unlink(missing_ok=True)
        else:
            done.problems.append(f"The preview {path.name} is damaged.")


def _unvouched_told(previews: int, vectors: int) -> Iterator[str]:
    """What is in order as far as can be seen, and would not be missed if it changed."""
    told = [f"{count} {what}" for count, what in ((previews, "previews"), (vectors, "vectors")) if count]
    if told:
        yield (
            f"{' and '.join(told)} carry no checksum yet. refarchive verify ARCHIVE --repair writes them for what is "
            "there now, and makes nothing anew."
        )


def _files(kit: Kit) -> list[str]:
    return [
        "likeness",
        *(["meaning"] if kit.encoder.identity.meaning_dimension else []),
        "captions",
        "passages",
        "colours",
    ]


def _vouched_told(done: Verified) -> Iterator[str]:
    if done.previews_vouched or done.vectors_vouched:
        yield (
            f"{done.previews_vouched} previews and {done.vectors_vouched} vectors had no checksum and were given one "
            "as they are. That vouches for them from now on: it cannot say whether they changed before."
        )


def _vector_problems(kit: Kit) -> tuple[list[str], int]:
    """Sentences, and how many vectors carry no checksum."""
    problems, without = [], 0
    for name in _files(kit):
        try:
            file = getattr(kit, name)
            file.refresh()
            if spoilt := file.damaged():
                problems.append(f"{len(spoilt)} of the vectors in {name} are damaged.")
            without += len(file.unvouched())
        except RefArchiveError as error:
            problems.append(error.problem)
    if not problems and (missing := index.count_missing(kit)):
        problems.append(f"{missing} vectors are missing.")
    if not problems and not index.level(kit):
        problems.append("There are vectors of what is no longer in the archive.")
    return problems, without


def _mend_vectors(kit: Kit) -> tuple[int, int]:
    """How many vectors were made anew, and how many vouched for."""
    vouched = 0
    for name in _files(kit):
        try:
            file = getattr(kit, name)
        except RefArchiveError:
            # Of another encoder too: the archive says which is its own, and a run that was to make them anew with it
            # may have been stopped between that word and the deed.
            kit.vectors.forget(name)
            continue
        with index.alone(kit):
            file.drop(file.damaged())
            vouched += file.vouch()
            leftovers.sweep(file.strays(), older_than_s=-1.0)
    made = index.bring_up_to_date(kit)
    listing.bring_up_to_date(kit)
    return made, vouched
