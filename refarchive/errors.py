"""Every named problem of the package.

Each error is a sentence that says what is wrong, and a second one that says what to do next. The command line prints
both and exits with 1; panels show both. Records that the problem concerns travel along as ids, so that a caller never
has to read the message text to find out what it was about.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

LONGEST = 4_000  # characters of a sentence that says what is wrong


class RefArchiveError(Exception):
    """Root of all named problems.

    Parameters
    ----------
    problem
        One sentence: what is wrong, naming the thing as the person knows it; of a very long one both ends.
    next_step
        One sentence: what to do about it. May be empty where nothing can be done.
    records
        Ids of the records concerned, in the order the sentence mentions them.
    """

    def __init__(self, problem: str, next_step: str = "", *, records: Sequence[str] = ()) -> None:
        if len(problem) > LONGEST:  # a value that was given is repeated in it
            problem = f"{problem[: LONGEST // 2]} … {problem[-LONGEST // 2 :]}"
        super().__init__(f"{problem} {next_step}".strip())
        self.problem = problem
        self.next_step = next_step
        self.records = tuple(records)


class ArchiveMissing(RefArchiveError, FileNotFoundError):
    """No archive lies at the folder named."""


class ArchiveInTheWay(RefArchiveError, FileExistsError):
    """A new archive, or the file of a pack, was asked for where something already lies."""


class ArchiveDamaged(RefArchiveError, ValueError):
    """The archive's own files contradict each other or cannot be read."""


class ArchiveTooNew(RefArchiveError, ValueError):
    """The archive was written by a later version than the one installed."""


class ArchiveUnwritable(RefArchiveError, OSError):
    """The archive's folder cannot be written: a full disk, or no permission."""


class PackRefused(RefArchiveError, ValueError):
    """An archive cannot be packed as it is, or a file is no pack that can be unpacked whole."""


class ArchiveBusy(RefArchiveError, TimeoutError):
    """Another program has been writing to the archive for longer than is waited for."""


class ArchiveAway(RefArchiveError, ConnectionError):
    """The server that keeps a shared archive cannot be reached, or does not let the person in."""


class ChangedMeanwhile(RefArchiveError, ValueError):
    """A record was changed by somebody else after it was read, and would have been overwritten."""


class RecordRefused(RefArchiveError, ValueError):
    """A record cannot be stored as it was given."""


class UnknownRecord(RefArchiveError, LookupError):
    """A reference, detail, passage, scene, need or frame was named that the archive does not hold."""


class AmbiguousName(RefArchiveError, LookupError):
    """A file name was used to name a reference, and several references carry it."""


class SourceRefused(RefArchiveError, ValueError):
    """One thing to be gathered cannot be: unreadable, too large, outside its folder, or of an unknown kind."""


class SheetRefused(RefArchiveError, ValueError):
    """A CSV sheet cannot be read as a whole."""


class BadDate(RefArchiveError, ValueError):
    """A date is neither EDTF nor anything the archive understands."""


class BadQuery(RefArchiveError, ValueError):
    """A search was asked for with values that cannot be used."""


class PlanRefused(RefArchiveError, ValueError):
    """A scene plan has a mistake; `line` (1-based, or None) and `field` say where."""

    def __init__(
        self,
        problem: str,
        next_step: str = "",
        *,
        line: int | None = None,
        field: str = "",
        records: Sequence[str] = (),
    ) -> None:
        super().__init__(problem, next_step, records=records)
        self.line = line
        self.field = field


class LightingRefused(RefArchiveError, ValueError):
    """A light, a battery, a stand or a load-in was given with a value that cannot be used; `field` says which."""

    def __init__(self, problem: str, next_step: str = "", *, field: str, records: Sequence[str] = ()) -> None:
        super().__init__(problem, next_step, records=records)
        self.field = field


class UnknownEncoder(RefArchiveError, LookupError):
    """No encoder of that name is registered."""


class EncoderMismatch(RefArchiveError, ValueError):
    """Vectors made by one encoder were met by another."""


class WeightsUnavailable(RefArchiveError, OSError):
    """An encoder's weights are not on this machine and could not be fetched."""


class SiteRefused(RefArchiveError, ValueError):
    """A place, day, time or clock cannot be reckoned with; `field` names the value that was wrong."""

    def __init__(self, problem: str, next_step: str = "", *, field: str = "", records: Sequence[str] = ()) -> None:
        super().__init__(problem, next_step, records=records)
        self.field = field


class EphemerisUnavailable(RefArchiveError, OSError):
    """The table of the moon's places is not on this machine, or cannot be read."""


class CannotMeasure(RefArchiveError, ValueError):
    """A measure was asked of something that cannot carry it; the reason is the sentence."""


class CannotPrint(RefArchiveError, ValueError):
    """A page could not be set; the sentence says which and why."""


class SubjectsUnavailable(RefArchiveError, OSError):
    """The data of Iconclass are not on this machine, or cannot be read."""


class RightsRefused(RefArchiveError, ValueError):
    """References were to leave the archive for publication, and something is lacking on which they could.

    `lacking` maps the id of each reference to what must be recorded first.
    """

    def __init__(self, problem: str, next_step: str = "", *, lacking: Mapping[str, Sequence[str]]) -> None:
        super().__init__(problem, next_step, records=tuple(lacking))
        self.lacking = {reference: tuple(wanted) for reference, wanted in lacking.items()}


class PublishRefused(RefArchiveError, ValueError):
    """A finished picture cannot go out as it was given: its file, or a value that goes with it; `field` says which."""

    def __init__(self, problem: str, next_step: str = "", *, field: str = "", records: Sequence[str] = ()) -> None:
        super().__init__(problem, next_step, records=records)
        self.field = field


class InUse(RefArchiveError, ValueError):
    """A record cannot be removed because others stand on it."""
