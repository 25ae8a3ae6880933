"""Making the vectors of all pictures anew with another encoder, while those there are stay in use.

They are made beside the old ones, a batch at a time, so that a run that was stopped goes on. When all are there, one
word in the database says that they are the archive's; only then are they put in the place of the old ones. A program
that ends between the word and the deed leaves the deed to the next that opens the archive (`finish`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from refarchive.errors import ArchiveDamaged, ArchiveTooNew, EncoderMismatch
from refarchive.jobs.kit import Kit
from refarchive.jobs.references import index, listing
from refarchive.records.model import Reference

if TYPE_CHECKING:
    from refarchive.search.vector_folder import VectorFolder
    from refarchive.search.vectors import VectorFile

SETTING = "encoder"
BESIDE = "beside"  # in that setting: the vectors of this encoder are whole, and still lie beside the old ones
FILES = ("meaning", "likeness")  # in the order in which they are put in place: by the last it is known to be done


def reencode(kit: Kit, why: str) -> dict[str, Any]:
    """Make the vectors of all pictures with the kit's encoder, and make it the archive's, saying why.

    Told through `kit.progress`. The encoder is loaded first, so that one that cannot be had leaves everything as it
    was. Raises UnknownEncoder, WeightsUnavailable, ArchiveBusy while another program does the same.
    """
    identity = kit.encoder.identity
    beside = kit.vectors.beside()
    with beside.alone():
        likeness, meaning = _begun(kit, beside)
        made = _fill(kit, likeness, meaning)
        with kit.vectors.alone():
            made += _fill(kit, likeness, meaning)  # what somebody gathered meanwhile
            whole = len(likeness) > 0
            told = {"name": kit.encoder_name, "why": why}
            kit.store.set_setting(SETTING, {**told, BESIDE: True} if whole else told)
            if whole:
                _put_in_place(kit, told)
            else:
                for name in FILES:
                    kit.vectors.forget(name)
    made += index.bring_up_to_date(kit)
    listing.bring_up_to_date(kit)
    pictures = sum(r.kind == "image" for r in kit.store.references())
    return {"encoder": identity.as_dict(), "pictures": pictures, "made": made}


def finish(kit: Kit) -> None:
    """Put vectors in place that were made and not put there yet, if there are any."""
    if not _waits(kit):
        return
    with kit.vectors.alone():
        if _waits(kit):  # nobody has done it meanwhile
            told = dict(kit.store.setting(SETTING))
            del told[BESIDE]
            _put_in_place(kit, told)


def begun(kit: Kit) -> str:
    """The name of the encoder whose vectors are half made beside those in use, "" where none are."""
    try:
        file = kit.vectors.beside().opened("likeness")
    except (ArchiveDamaged, ArchiveTooNew):
        return "another encoder"
    return "" if file is None else str(file.identity.get("name", "another encoder"))


def _waits(kit: Kit) -> bool:
    setting = kit.store.setting(SETTING)
    return isinstance(setting, dict) and bool(setting.get(BESIDE))


def _put_in_place(kit: Kit, told: dict[str, Any]) -> None:
    kit.vectors.adopt(FILES)
    kit.store.set_setting(SETTING, told)


def _begun(kit: Kit, beside: VectorFolder) -> tuple[VectorFile, VectorFile]:
    """The files beside, for likeness and for meaning (one file where there is one space for both), to be gone on with;
    what another encoder began there is thrown away, and so are rows that a power failure left without a checksum.
    """
    identity = kit.encoder.identity
    try:
        found = _opened(beside, identity)
    except (EncoderMismatch, ArchiveDamaged, ArchiveTooNew):
        for name in FILES:
            beside.forget(name)
        return _opened(beside, identity)
    for file in found:
        file.drop([*file.damaged(), *file.unvouched()])
    return found


def _opened(beside: VectorFolder, identity: Any) -> tuple[VectorFile, VectorFile]:
    likeness = beside.file("likeness", identity.as_dict(), identity.likeness_dimension)
    if not identity.meaning_dimension:
        return likeness, likeness
    return likeness, beside.file("meaning", identity.as_dict(), identity.meaning_dimension)


def _fill(kit: Kit, likeness: VectorFile, meaning: VectorFile) -> int:
    """Add what is missing, and drop what is no longer in the archive; how many pictures were encoded."""
    from refarchive.search.vectors import TILES, picture_key

    references = [r for r in kit.store.references() if r.kind == "image"]
    keys = {r.id: [picture_key(r.id, n) for n in range(len(TILES))] for r in references}
    wanted = {key for group in keys.values() for key in group}
    for file in (likeness, meaning):
        file.drop([key for key in file.keys() if key not in wanted])  # noqa: SIM118 (a method of the file)
    short = {key.partition("#")[0] for file in (likeness, meaning) for key in file.missing(sorted(wanted))}
    todo = [r for r in references if r.id in short]
    done = 0
    for start in range(0, len(todo), index.BATCH):
        kit.tell(len(references) - len(todo) + start, len(references), "encoding")
        done += _encode(kit, todo[start : start + index.BATCH], likeness, meaning)
    return done


def _encode(kit: Kit, references: Sequence[Reference], likeness: VectorFile, meaning: VectorFile) -> int:
    pictures = dict(index.opened(kit, references))
    if pictures:
        index.put_codes(list(pictures), index.codes_of(kit.encoder, list(pictures.values())), likeness, meaning)
    return len(pictures)
