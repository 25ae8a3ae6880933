"""What all panels share: a widget whose browser side asks, and whose Python side answers through the archive.

The browser sends `{"ask": verb, "number": n, "with": {…}}`. A method marked `@answers(verb)` takes the values by
keyword and returns a document that JSON can hold, or a document and a list of bytes (pictures). It comes back as
`{"number": n, "answer": …}`, a problem as `{"number": n, "problem": {"sentence": …, "step": …}}`.

Nothing is worked out in the kernel's own thread, in which cells run: questions are answered one after the other in a
thread of the panel, and long work (marked so) in another, so that a sitting goes on while frames are measured. It
tells `{"number": n, "progress": {"done", "of", "words", "pace"}}`, and stops between two steps when the browser asks
`stop`.

Nothing that goes wrong ends as a trace on the screen, or as nothing: a named problem is its own sentence, and any other
is said to be one of the tool's own, with the trace in Python's log.
"""

from __future__ import annotations

import inspect
import io
import logging
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from importlib.resources import files
from pathlib import Path
from types import UnionType
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar, Union, get_args, get_origin, get_type_hints

import anywidget

from refarchive import leftovers
from refarchive.archive import Archive
from refarchive.archive.pace import Pacing, counted
from refarchive.archive.telling import file_name
from refarchive.errors import BadQuery, RefArchiveError

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from PIL.Image import Image

    from refarchive.records.model import Reference, Region

LOG = logging.getLogger("refarchive.panels")
MOST_UPLOAD = 512 * 1024 * 1024  # bytes of one file that comes through the browser
PREVIEWS = 200  # pictures in one answer
LARGE_PX = 900  # long side of a picture to mark a part on
TELL_EVERY_S = 0.1  # progress that comes sooner is not sent
KEPT = "What was done until then is kept; the same again goes on."
NOTHING = "Nothing was made or kept."

Answer = dict[str, Any] | tuple[dict[str, Any], list[bytes]]
Method = TypeVar("Method", bound=Callable[..., Answer])


class Stopped(RefArchiveError):
    """Long work was stopped by the person."""


def answers(verb: str, *, long: bool = False, kept: str = KEPT) -> Callable[[Method], Method]:
    """Mark a method as what answers a verb; `long` where it takes more than a moment; `kept`: what is, if stopped."""

    def mark(method: Method) -> Method:
        method.answers = (verb, long, kept)  # type: ignore[attr-defined]
        return method

    return mark


def jpeg(picture: Image) -> bytes:
    """A picture (PIL, mode RGB) as JPEG for the screen."""
    data = io.BytesIO()
    picture.convert("RGB").save(data, "JPEG", quality=88)
    return data.getvalue()


def drawn(figure: Figure) -> bytes:
    """A matplotlib figure as PNG for the screen."""
    data = io.BytesIO()
    figure.savefig(data, format="png", dpi=130)
    return data.getvalue()


def pages_of(pdf: bytes, most: int, longest: int = 900) -> Iterator[bytes]:
    """The sheets of a PDF as PNG, at most so many, to be looked at."""
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    try:
        for number in range(min(len(document), most)):
            page = document[number]
            picture = page.render(scale=longest / max(page.get_size())).to_pil()
            data = io.BytesIO()
            picture.convert("RGB").save(data, "PNG")
            yield data.getvalue()
    finally:
        document.close()


def sheets_of(write: Callable[[Path], Any]) -> tuple[dict[str, Any], bytes]:
    """A PDF that the browser is to keep: its name and, in words, what stands in it; and its bytes.

    `write` makes it in the folder that it is given, as the archive's `print_…` do.
    """
    with leftovers.temporary("panel") as folder:
        made = write(Path(folder))
        return {"name": made.pdf.name, "words": made.words}, made.pdf.read_bytes()


def checked_region(region: Sequence[float] | None) -> Region | None:
    """A region as the browser gives it, None for none. Raises BadQuery for what is no four numbers."""
    if region is None:
        return None
    try:
        x, y, width, height = (float(part) for part in region)
    except (TypeError, ValueError):
        raise BadQuery("The region is no four numbers.", "Mark it again.") from None
    return x, y, width, height


def fits(value: Any, kind: Any) -> bool:
    """Whether a value from the browser is of the kind that a method says it takes."""
    origin, parts = get_origin(kind), get_args(kind)
    if kind is Any:
        return True
    if origin in (Union, UnionType):
        return any(fits(value, part) for part in parts)
    if origin in (list, Sequence):
        return isinstance(value, list) and all(fits(one, parts[0]) for one in value)
    if origin is Mapping:
        return isinstance(value, dict) and all(isinstance(k, str) and fits(v, parts[1]) for k, v in value.items())
    if kind is float:
        return isinstance(value, int | float) and not isinstance(value, bool)
    return isinstance(value, kind) and (kind is bool or not isinstance(value, bool))


def script(*names: str) -> str:
    """The script of a panel in its parts, what all share before them."""
    room = files("refarchive.panels")
    return "".join(room.joinpath(f"{name}.js").read_text("utf-8") for name in ("shared", *names))


def style(name: str) -> str:
    """The style of a panel, what all share before it."""
    room = files("refarchive.panels")
    own = room.joinpath(f"{name}.css")
    return room.joinpath("shared.css").read_text("utf-8") + (own.read_text("utf-8") if own.is_file() else "")


class Panel(anywidget.AnyWidget):
    """One panel over an archive. Subclasses set `_esm` and `_css` and mark methods with `answers`."""

    _verbs: ClassVar[dict[str, tuple[str, bool, str]]] = {}

    def __init_subclass__(cls, **more: Any) -> None:
        super().__init_subclass__(**more)
        for one in reversed(cls.__mro__):
            for name, method in vars(one).items():
                if isinstance(marked := getattr(method, "answers", None), tuple):
                    cls._verbs = cls._verbs | {marked[0]: (name, *marked[1:])}

    def __init__(self, archive: Archive, **more: Any) -> None:
        super().__init__(**more)
        self.archive = archive
        self._stop: set[int] = set()
        self._working: threading.Thread | None = None
        self._pace: dict[int, tuple[Pacing, float]] = {}  # by the question's number, with when it was told last
        self._answering = ThreadPoolExecutor(1, thread_name_prefix="refarchive-panel")
        self._uploads = leftovers.temporary("panel")
        self.on_msg(self._received)

    def close(self) -> None:
        """Take the panel away, with what was uploaded to it."""
        self._answering.shutdown(wait=False, cancel_futures=True)
        self._uploads.cleanup()
        super().close()

    def wait(self, seconds: float | None = None) -> None:
        """Wait until all that was asked is answered, for tests and for code that goes on with it."""
        self._answering.submit(bool).result(seconds)
        if self._working is not None:
            self._working.join(seconds)

    # --- asked and answered -------------------------------------------------------------------------------------

    def _received(self, _: Any, content: Any, buffers: Sequence[Any]) -> None:
        asked = content if isinstance(content, Mapping) else {}
        number, verb, given = asked.get("number"), asked.get("ask"), asked.get("with", {})
        if verb == "stop" and isinstance(given, Mapping) and isinstance(given.get("number"), int):
            if self._working is not None and self._working.is_alive():
                self._stop.add(given["number"])
            return
        name, long, kept = self._verbs.get(str(verb), ("", False, ""))
        if not name or not isinstance(number, int) or not isinstance(given, Mapping):
            self._tell_problem(number, "The panel asked for what this version does not know.", RESTART)
            return
        method = getattr(self, name)
        wanted = inspect.signature(method).parameters
        values = dict(given)
        if "buffers" in wanted:
            values["buffers"] = [bytes(one) for one in buffers]
        if "number" in wanted:
            values["number"] = number
        kinds = get_type_hints(method)
        if (
            set(values) - set(wanted)
            or any(p.default is p.empty and n not in values for n, p in wanted.items())
            or not all(fits(value, kinds[name]) for name, value in values.items())
        ):
            self._tell_problem(number, f"The panel asked for {verb} with what this version does not know.", RESTART)
            return
        if not long:
            self._answering.submit(self._answer, number, method, values)
        elif self._working is not None and self._working.is_alive():
            self._tell_problem(number, "Other work of this panel is still going on.", "Wait for it, or stop it.")
        else:
            self._working = threading.Thread(target=self._answer, args=(number, method, values, kept), daemon=True)
            self._working.start()

    def _answer(self, number: int, method: Callable[..., Answer], values: dict[str, Any], kept: str = "") -> None:
        try:
            answer = method(**values)
        except Stopped as stop:
            self._tell_problem(number, stop.problem, kept)
        except RefArchiveError as error:
            self._tell_problem(number, error.problem, error.next_step)
        except Exception as error:
            LOG.exception("A panel could not answer.")
            said = f"Something went wrong inside the tool ({type(error).__name__})."
            self._tell_problem(number, said, "Nothing was lost; the details stand in the log. Try again, or report it.")
        else:
            document, pictures = answer if isinstance(answer, tuple) else (answer, [])
            self.send({"number": number, "answer": document}, pictures)
        finally:
            self._stop.discard(number)
            self._pace.pop(number, None)

    def _tell_problem(self, number: Any, sentence: str, step: str) -> None:
        self.send({"number": number, "problem": {"sentence": sentence, "step": step}})

    def tell(self, number: int, done: int, of: int, words: str) -> None:
        """Tell progress of long work. Raises Stopped where the person has asked to stop."""
        if number in self._stop:
            raise Stopped("Stopped.")
        pacing, last = self._pace.get(number) or (Pacing(), 0.0)
        pace, now = pacing.told(done, of), time.monotonic()
        if 0 < done < of and now - last < TELL_EVERY_S:
            now = last
        else:
            told = ", ".join(part for part in (counted(done, of), pace.words) if part)
            self.send({"number": number, "progress": {"done": done, "of": of, "words": words, "pace": told}})
        self._pace[number] = pacing, now

    def telling(self, number: int) -> Callable[[int, int, str], None]:
        """What long work is to be given as its progress: tells it, and raises Stopped where that was asked for."""
        return lambda done, of, words: self.tell(number, done, of, words)

    # --- files from the browser ---------------------------------------------------------------------------------

    @answers("take")
    def take(self, name: str, at: int, size: int, buffers: list[bytes]) -> Answer:
        """Take a piece of a file that the browser reads, in order; its place on this machine with the last one."""
        path = Path(self._uploads.name) / file_name(name)
        have = path.stat().st_size if path.is_file() and at else 0
        if not 0 < size <= MOST_UPLOAD or not buffers or at != have or at + len(buffers[0]) > size:
            raise BadQuery(
                f"{path.name} cannot be taken in through the browser.",
                f"Choose it again; above {MOST_UPLOAD // 2**20} MB, give its place on this computer instead.",
            )
        with path.open("ab" if at else "wb") as file:
            file.write(buffers[0])
        return {"have": at + len(buffers[0]), "path": str(path)}

    def taken(self, path: str) -> Path:
        """A file that was taken in, and no other. Raises BadQuery."""
        missing = BadQuery("There is no such file with this panel.", "Choose the file again.")
        try:
            found = Path(self._uploads.name) / Path(path).name
            if not found.is_file():
                raise missing
        except OSError:  # a name longer than any file has
            raise missing from None
        return found

    # --- pictures and dates -------------------------------------------------------------------------------------

    @answers("picture")
    def picture(self, name: str) -> Answer:
        """A reference's picture, large enough to mark a part of it."""
        return {"title": self.archive.reference(name).title}, [jpeg(self.archive.picture(name, LARGE_PX))]

    @answers("understand")
    def understand(self, date: str) -> Answer:
        """What a date or a period in words is understood as."""
        return {"words": self.archive.evidence.understand(date).sentence if date.strip() else ""}

    def previews(self, names: Sequence[str | Reference]) -> tuple[list[int | None], list[bytes]]:
        """Small pictures of references: for each its place among them, None where it has none, and the JPEGs."""
        places: list[int | None] = []
        pictures: list[bytes] = []
        for name in names[:PREVIEWS]:
            try:
                data = self.archive.thumbnail(name)
            except (RefArchiveError, OSError):
                places.append(None)
                continue
            places.append(len(pictures))
            pictures.append(data)
        return places, pictures


RESTART = "Restart the kernel and run the cell again."
