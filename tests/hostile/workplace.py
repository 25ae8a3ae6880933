"""Targets that need an archive to work in, or a whole pack or checkpoint: names, panels, packs and weights."""

# ruff: noqa: E501 (tables of hostile values)
from __future__ import annotations

import io
import json
import logging
import os
import random
import shutil
import sqlite3
import tempfile
import zipfile
from collections.abc import Mapping, Sequence
from contextlib import closing
from functools import cache
from pathlib import Path
from types import UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

import mutations
import seeds

SOME_CASES = 150  # that one archive lives through, so that it grows no further


class Place:
    """An archive with pictures, texts and one scene, made anew now and then."""

    def __init__(self) -> None:
        self._archive: Any = None
        self._left = 0
        self._folder: Path | None = None

    def archive(self) -> Any:
        """The archive, which earlier cases have changed."""
        import refarchive
        from tests.faults import quick

        quick.install()  # each time, for a test that ended may have taken the light encoders away
        if self._left <= 0:
            self.close()
            self._folder = Path(tempfile.mkdtemp())
            sources = quick.scans(self._folder / "scans", 4)
            quick.made(self._folder / "archive", sources, scene=True)
            self._archive = refarchive.open(self._folder / "archive", who="tester")
            self._archive.after.take("ford", *(self._folder / "scans" / f"p{n}.jpg" for n in (1, 2)))
            self._left = SOME_CASES
        self._left -= 1
        return self._archive

    def close(self) -> None:
        """Take it away."""
        if self._archive is not None:
            self._archive.close()
            shutil.rmtree(self._folder, ignore_errors=True)
        self._archive = None


NAMES_PLACE, PANELS_PLACE = Place(), Place()


# --- names of files and folders -------------------------------------------------------------------------------------


def make_names(rng: random.Random) -> bytes:
    """Names, one a line, as bytes: what follows a tab is what lies there."""
    endings = (".jpg", ".txt", ".md", ".pdf", ".dng", ".json", ".csv", "", ".JPG", ".tif", "/", ".jpg/x.txt")
    lines = []
    for _ in range(rng.choice((1, 2, 4))):
        text = rng.choice(mutations.HOSTILE_TEXTS) if rng.random() < 0.6 else rng.choice(("ford", "α", "a b", "letter"))
        name = (text[: rng.choice((40, 80, 250))] + rng.choice(endings)).encode("utf-8", "replace")
        if rng.random() < 0.3:
            at = rng.randrange(len(name) + 1)
            name = name[:at] + rng.choice((b"\xff", b"\xc3", b"\x80\x81", b"\xed\xa0\x80", b"\n", b"\r")) + name[at:]
        lines.append(name.replace(b"\t", b" ") + b"\t" + rng.choice((b"picture", b"text", b"link", b"pipe", b"empty")))
    return b"\0".join(lines)


def read_names(data: bytes, folder: Path) -> None:
    """What has such names is gathered, or refused with a sentence; the same again changes nothing."""
    inside = folder / "names"
    shutil.rmtree(inside, ignore_errors=True)
    inside.mkdir()
    for line in data.split(b"\0"):
        name, _, kind = line.partition(b"\t")
        _lay(os.fsencode(inside), name, kind)
    archive = NAMES_PLACE.archive()
    first = archive.gather(inside).as_dict()
    json.dumps(first).encode()
    for refused in first["refused"]:
        assert refused["problem"].isprintable() and len(refused["problem"]) < 2_000, refused  # noqa: PT018
    for reference in archive.references():
        (reference.title + reference.source_name).encode()
    assert archive.gather(inside).as_dict()["added"] == 0, "the same folder again"


def _lay(inside: bytes, name: bytes, kind: bytes) -> None:
    parts = [part[:250] for part in name.split(b"/") if part not in (b"", b".", b"..")]
    if not parts:
        return
    path = os.path.join(inside, *parts)
    try:
        os.makedirs(os.path.dirname(path), exist_ok=True)
        if name.endswith(b"/"):
            os.makedirs(path, exist_ok=True)
        elif kind == b"link":
            os.symlink(b"/etc/passwd", path)
        elif kind == b"pipe":
            os.mkfifo(path)
        else:
            content = {b"picture": seeds.saved("JPEG", "L"), b"text": b"The lamp hung at the stage."}.get(kind, b"")
            with open(path, "wb") as file:
                file.write(content)
    except OSError:  # no file can have that name, or it is there already
        return


# --- packs ----------------------------------------------------------------------------------------------------------


def packed(files: Sequence[tuple[str, bytes]], head: bytes | None = None) -> bytes:
    """A pack of these files, its list of digests true."""
    from refarchive.records import migrate, pack

    out = io.BytesIO()
    writer = pack.Writer(out)
    told = head if head is not None else pack.head_text(migrate.head(), True, "0")
    writer.add(pack.HEAD, len(told), [told])
    about = pack.ABOUT_TEXT.encode()
    writer.add(pack.ABOUT, len(about), [about])
    for name, content in files:
        writer.add(pack.INSIDE + name, len(content), [content])
    writer.finish()
    return out.getvalue()


@cache
def files_of_a_pack() -> tuple[tuple[str, bytes], ...]:
    """What an archive would hold, the database no more than its version."""
    from refarchive.records import migrate

    with closing(sqlite3.connect(":memory:")) as made:
        made.execute("CREATE TABLE alembic_version (version_num TEXT)")
        for table in ("reference", "history"):
            made.execute(f"CREATE TABLE {table} (id TEXT)")
        made.execute("INSERT INTO alembic_version VALUES (?)", (migrate.head(),))
        made.commit()
        database = made.serialize()
    return (
        ("archive.sqlite", database),
        ("originals/ab/" + "ab" * 32 + ".txt", b"The lamp"),
        ("note.txt", b"x" * 600),
    )


PACK_NAMES = (
    "../x", "/etc/x", "a/../../x", "originals/../../x", "archive.sqlite-wal", "a\\b", "a//b", "./a", "a/.", "con", "NUL.txt",
    "previews", "originals", "archive.sqlite", "ARCHIVE.SQLITE", "ä" * 120, "x" * 300, "a" + "/b" * 100, "..", ".", "a ", "a.",
    "C:x", "vectors/x/head.json", "writing.lock", "e\u0301.txt", "é.txt", "a\nb", "a\x7fb", "\u202ea", "a:b", "a?b", "archive.sqlite/x",
)  # fmt: skip


def make_pack(rng: random.Random) -> bytes:
    """A third with bytes changed, a third with names and contents that are others, a third with heads that are."""
    which = rng.randrange(3)
    if which == 0:
        return mutations.case(
            rng, (packed(files_of_a_pack()),), (b"../../x", b"ustar", b"2", b"5", b"77777777777\0", b"\x80")
        )
    files = list(files_of_a_pack())
    head = None
    if which == 1:
        for _ in range(rng.choice((1, 1, 2))):
            entry = (rng.choice(PACK_NAMES), rng.randbytes(rng.choice((0, 1, 511, 512, 513, 4000))))
            files.insert(rng.randrange(len(files) + 1), entry)
        if rng.random() < 0.3:
            del files[rng.randrange(len(files))]
    else:
        from refarchive.records import migrate, pack

        head = mutations.json_case(rng, (pack.head_text(migrate.head(), True, "0"),))
    try:
        return packed(files, head)
    except Exception:  # the writer itself refuses it: the bytes of another case then
        return mutations.case(rng, (packed(files_of_a_pack()),))


def read_pack(data: bytes, folder: Path) -> None:
    """Unpacked whole, or refused with nothing left behind."""
    from refarchive.errors import RefArchiveError
    from refarchive.jobs.keeping import unpacking

    place = folder / "unpacking"
    shutil.rmtree(place, ignore_errors=True)
    place.mkdir()
    (place / "in.pack").write_bytes(data)
    try:
        unpacking.unpacked(place / "in.pack", place / "goal")
    except RefArchiveError:
        left = sorted(path.name for path in place.rglob("*"))
        assert [name for name in left if name != "in.pack" and not name.endswith(".lock")] in (
            [],
            [".goal.unpacking"],
        ), left
        raise
    for path in (place / "goal").rglob("*"):
        assert path.resolve().is_relative_to(place.resolve())
        assert not path.is_symlink()


# --- weights --------------------------------------------------------------------------------------------------------

MODEL = "refarchive-fuzz"
_CONFIG = {
    "embed_dim": 8,
    "vision_cfg": {"image_size": 16, "layers": 1, "width": 16, "head_width": 8, "patch_size": 8},
    "text_cfg": {"context_length": 8, "vocab_size": 49408, "width": 8, "heads": 1, "layers": 1},
}


@cache
def _model() -> Any:
    import open_clip
    from open_clip import factory

    factory._MODEL_CONFIGS[MODEL] = _CONFIG
    return open_clip.create_model(MODEL, pretrained=None)


@cache
def checkpoints() -> tuple[bytes, ...]:
    """Weights of a very small model, as torch and as safetensors write them."""
    import torch
    from safetensors.torch import save

    state = {name: value.contiguous() for name, value in _model().state_dict().items()}
    whole, old, wrapped = io.BytesIO(), io.BytesIO(), io.BytesIO()
    torch.save(state, whole)
    torch.save(state, old, _use_new_zipfile_serialization=False)
    torch.save({"state_dict": {f"module.{name}": value for name, value in state.items()}, "epoch": 3}, wrapped)
    return (b"P" + whole.getvalue(), b"P" + old.getvalue(), b"P" + wrapped.getvalue(), b"S" + save(state))


def trapped(data: bytes, trap: bytes) -> bytes:
    """A checkpoint as torch writes it, with another pickle in it."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(out, "w") as target:
        for one in source.infolist():
            target.writestr(one.filename, trap if one.filename.endswith("data.pkl") else source.read(one))
    return out.getvalue()


def make_checkpoint(rng: random.Random) -> bytes:
    """Bytes changed; or a pickle in place of the weights that would write a file, bare, in a zip, or a little broken."""
    which = rng.randrange(3)
    if which == 0:
        whole = bytearray(rng.choice(checkpoints()))
        head = mutations.case(rng, (bytes(whole[1:3000]),)) if rng.random() < 0.7 else bytes(whole[1:3000])
        tail = mutations.case(rng, (bytes(whole[-3000:]),)) if rng.random() < 0.5 else bytes(whole[-3000:])
        return bytes(whole[:1]) + head + bytes(whole[3000:-3000]) + tail
    trap = seeds.trap(Path("trap-mark"))
    if rng.random() < 0.4:
        trap = rng.choice((b"\x80\x02", b"\x80\x04", b"")) + rng.choice((
            b"cos\nsystem\n(Vtouch trap-mark\ntR.", b"cbuiltins\neval\n(V__import__('os').mkdir('trap-mark')\ntR.",
            b"c_codecs\nencode\n(Vx\nVrot13\ntR.", b"ctorch._utils\n_rebuild_tensor_v2\n(tR.", b"]" * 3000 + b".",
            b"\x8c\x02os\x8c\x06system\x93\x8c\x0ftouch trap-mark\x85R.", b"ctorch\nload\n(Vtrap\ntR.",
        ))  # fmt: skip
    if rng.random() < 0.3:
        trap = mutations.case(rng, (trap,))
    return b"P" + (trap if which == 1 else trapped(checkpoints()[rng.choice((0, 2))][1:], trap))


def read_checkpoint(data: bytes, folder: Path) -> None:
    """The weights are loaded, or refused; no pickle of theirs runs."""
    from refarchive.encoders import openclip

    _model()
    path = folder / ("case.safetensors" if data[:1] == b"S" else "case.pt")
    path.write_bytes(data[1:])
    before = os.getcwd()
    os.chdir(folder)
    try:
        openclip.load(f"openclip:{MODEL}:{path}")
    finally:
        os.chdir(before)
        assert not (folder / "trap-mark").exists(), "a pickle was executed"


# --- panels ---------------------------------------------------------------------------------------------------------


@cache
def verbs() -> tuple[tuple[str, str, Mapping[str, Any]], ...]:
    """Panel, verb and what its method takes, of every panel."""
    from refarchive import panels

    found = []
    for name in panels.__all__:
        kind = getattr(panels, name)
        for verb, (method, *_) in sorted(kind._verbs.items()):
            hints = get_type_hints(getattr(kind, method))
            hints.pop("return", None)
            found.append((name, verb, hints))
    return tuple(found)


_KNOWN = (
    "ford", "p0.jpg", "p1.jpg", "letter0.txt", "Lantern", "lantern", "props", "need", "figure", "scene", "shows", "own",
    "1871", "2027-03-01", "c. 1870", "lamp", "key", "tells the story", "image", "title", "date", "the pilot", "light",
)  # fmt: skip


# What stands under a name, where the archive is to know it: without that a message ends at its first word.
_NAMED: dict[str, tuple[Any, ...]] = {
    "slug": ("ford",), "scene": ("ford",), "name": ("p0.jpg", "p3.jpg", "letter0.txt"), "reference": ("p0.jpg", "p3.jpg"),
    "names": (["p0.jpg", "p3.jpg"], ["letter1.txt"]), "frame": ("p1.jpg", "p2.jpg"), "frames": (["p1.jpg", "p2.jpg"], []),
    "one": ("p1.jpg",), "other": ("p2.jpg",), "left": ("p1.jpg",), "right": ("p2.jpg",), "need": ("lantern", "Lantern"),
    "revision": (1, 2), "kind": ("need", "figure"), "criterion": ("tells the story", "the story", "light"), "evidence": (0, 1),
    "region": ([0.1, 0.1, 0.3, 0.3], None), "day": ("2027-03-01",), "words": ("lamp", "the pilot"), "date": ("1871", "c. 1870"),
    "offset": (0, 60), "minute": (600, 0), "which": (0, 1), "measure": ("key", "contrast"), "place": ("", "p1.jpg"),
}  # fmt: skip


def _fitting(rng: random.Random, kind: Any, depth: int = 0) -> Any:
    origin, parts = get_origin(kind), get_args(kind)
    if rng.random() < 0.06:
        return mutations.hostile_value(rng)
    if origin in (Union, UnionType):
        return _fitting(rng, rng.choice(parts), depth)
    if kind is type(None):
        return None
    if kind is str:
        return rng.choice(_KNOWN) if rng.random() < 0.65 else rng.choice(mutations.HOSTILE_TEXTS)
    if kind is bool:
        return rng.random() < 0.5
    if kind is int:
        return rng.choice((0, 1, 2, 3, -1, 12, 2**31, 10**30))
    if kind is float:
        return rng.choice((0.0, 0.1, 0.5, 1.0, -1.0, 1e308, 3, 1e-320))
    if origin in (list, Sequence):
        return [_fitting(rng, parts[0], depth + 1) for _ in range(rng.choice((0, 1, 2, 4, 4, 40)))]
    if origin is Mapping:
        return {rng.choice(_KNOWN): _fitting(rng, parts[1], depth + 1) for _ in range(rng.choice((0, 1, 2)))}
    return mutations.hostile_value(rng) if depth < 3 else rng.choice(_KNOWN)


def make_message(rng: random.Random) -> bytes:
    """A message of any kind to any panel, mostly of a shape that gets through to the method."""
    panel, verb, hints = rng.choice(verbs())
    given = {}
    for name, kind in hints.items():
        if name not in ("buffers", "number"):
            known = name in _NAMED and rng.random() < 0.85
            given[name] = rng.choice(_NAMED[name]) if known else _fitting(rng, kind)
    if rng.random() < 0.08 and given:
        del given[rng.choice(sorted(given))]
    message: Any = {"ask": verb, "number": 1, "with": given}
    if rng.random() < 0.12:
        message = mutations.changed(rng, {**message, "ask": rng.choice((verb, "stop"))})
    try:
        return json.dumps({"panel": panel, "message": message}).encode("utf-8", "surrogatepass")
    except (RecursionError, ValueError):
        return json.dumps({"panel": panel, "message": None}).encode()


class _Kept(logging.Handler):
    def __init__(self) -> None:
        super().__init__()
        self.error: BaseException | None = None

    def emit(self, record: logging.LogRecord) -> None:
        if record.exc_info and record.exc_info[1] is not None:
            self.error = record.exc_info[1]


_OPEN: dict[int, dict[str, Any]] = {}


def read_message(data: bytes, folder: Path) -> None:
    """Answered, or told in a sentence; what a panel has to call a fault of its own is one."""
    from refarchive import panels
    from refarchive.panels import base

    asked = json.loads(data)
    archive = PANELS_PLACE.archive()
    if id(archive) not in _OPEN:
        for one in [panel for kept in _OPEN.values() for panel in kept.values()]:
            one.close()
        _OPEN.clear()
        _OPEN[id(archive)] = {name: getattr(panels, name)(archive) for name in panels.__all__}
    panel = _OPEN[id(archive)][asked["panel"]]
    told: list[Any] = []
    panel.send = lambda content, buffers=None: told.append(content)
    kept = _Kept()
    base.LOG.addHandler(kept)
    base.LOG.propagate = False
    before = os.getcwd()
    empty = folder / "empty"
    empty.mkdir(exist_ok=True)
    os.environ["HOME"] = str(empty)
    os.chdir(empty)  # a place that is named by half a path is looked for here
    try:
        panel._received(None, asked["message"], [b"abc"])
        panel.wait()
    finally:
        os.chdir(before)
        base.LOG.removeHandler(kept)
    if kept.error is not None:
        raise kept.error
    message = asked["message"]
    stopped = isinstance(message, dict) and message.get("ask") == "stop"
    assert told or stopped, "nothing was answered"
    for one in told:
        json.dumps(one)
    problem = told[-1].get("problem") if told else None
    if problem is not None:
        assert len(problem["sentence"]) + len(problem["step"]) < 20_000
        from refarchive.errors import BadQuery

        raise BadQuery(problem["sentence"], problem["step"])
