"""Killing the program at moments of its work, and looking at what is left: python -m tests.faults.kills --kills 200.

Each run is a process of its own (forked from one that has loaded the package, which saves a second each) that is ended
by SIGKILL: every other time at a moment drawn over the measured length of an unkilled run, every other time right
before or right after the n-th step that reaches the disk (fsync, rename, link, unlink, commit). Then the archive is
opened, verified, mended, and the same work is done again to its end; see `look_at`. Killing the process loses
nothing that the system holds in memory: for power loss see `test_power_loss.py`.
"""

from __future__ import annotations

import argparse
import os
import random
import select
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest.mock import patch

from sqlalchemy.engine.default import DefaultDialect

import refarchive
from refarchive.archive import packs
from refarchive.jobs.references import listing
from refarchive.records.files import hash_of
from refarchive.records.store import DATABASE, Store
from tests.faults import quick

OLD = Path(__file__).parents[1] / "records" / "version_0001.sql"
SILENT_S = 300  # work that says nothing for so long hangs
STEPS = ("fsync", "replace", "rename", "link", "unlink")


@dataclass(frozen=True)
class Kind:
    """One kind of work: what is there before, what is done, and what a person would then find in `out`."""

    name: str
    prepare: Callable[[Path], None]  # makes `archive/`, and `scans/` where it needs them, in a folder
    work: Callable[[Path], None]  # in that folder
    mended: bool = False  # whether what the work makes is complete only once verify has mended it
    finished: Callable[[Path], None] = lambda folder: None  # raises where what can be met in `out/` is not whole


def _gather(folder: Path) -> None:
    with patch.object(listing, "LARGE", 1), refarchive.open(folder / "archive") as archive:
        archive.gather(folder / "scans")


def _before_gather(folder: Path) -> None:
    quick.scans(folder / "scans")
    refarchive.create(folder / "archive", "quick").close()


def _before(folder: Path) -> None:
    quick.made(folder / "archive", quick.scans(folder / "scans"), scene=True)


def _reencode(folder: Path) -> None:
    with patch.object(listing, "LARGE", 1), refarchive.open(folder / "archive") as archive:
        archive.reencode("quick:other")


def _before_migrate(folder: Path) -> None:
    (folder / "archive").mkdir()
    with closing(sqlite3.connect(folder / "archive" / DATABASE)) as connection:
        connection.executescript(OLD.read_text(encoding="utf-8").replace('"built-in"', '"quick"'))


def _migrate(folder: Path) -> None:
    refarchive.open(folder / "archive").close()


def _dossier(folder: Path) -> None:
    with refarchive.open(folder / "archive") as archive:
        archive.dossier("ford", out=folder / "out")


def _dossier_whole(folder: Path) -> None:
    for path in (folder / "out").glob("[!.]*"):
        content = path.read_bytes()
        whole = content.rstrip().endswith(b"%%EOF") if path.suffix == ".pdf" else content.rstrip().endswith(b"</html>")
        assert whole, f"{path.name} is half-written"


def _scene(folder: Path) -> None:
    with refarchive.open(folder / "archive") as archive:
        for number in range(3):
            quick.plan(archive, f"At the ford, {number}")


def _pack(folder: Path) -> None:
    if not (folder / "one.tar").exists():
        packs.pack(folder / "archive", folder / "one.tar")


def _pack_whole(folder: Path) -> None:
    if (folder / "one.tar").exists():
        packs.look_into(folder / "one.tar")


def _before_unpack(folder: Path) -> None:
    _before(folder)
    packs.pack(folder / "archive", folder / "one.tar")


def _unpack(folder: Path) -> None:
    if not (folder / "elsewhere").exists():
        packs.unpack(folder / "one.tar", folder / "elsewhere")


def _unpack_whole(folder: Path) -> None:
    if (folder / "elsewhere").exists():
        with refarchive.open(folder / "elsewhere") as archive:
            assert not archive.verify().problems


KINDS = (
    Kind("gather", _before_gather, _gather),
    Kind("reencode", _before, _reencode),
    Kind("migrate", _before_migrate, _migrate, mended=True),
    Kind("dossier", _before, _dossier, finished=_dossier_whole),
    Kind("scene", _before, _scene),
    Kind("pack", _before, _pack, finished=_pack_whole),
    Kind("unpack", _before_unpack, _unpack, finished=_unpack_whole),
)


def run(kind: Kind, folder: Path, *, step: int = 0, after_s: float = 0.0) -> tuple[int, list[str], float]:
    """Do the work in a process of its own; killed at a step (counted from 1) or after some seconds, where given.

    Returns how many steps it told of, the ids that were told to be kept, and the seconds that it ran.
    """
    reading, writing = os.pipe()
    began = time.monotonic()
    child = os.fork()
    if not child:
        os.close(reading)
        try:
            _hook(writing, step)
            os.write(writing, b"go\n")
            kind.work(folder)
            os._exit(0)
        except BaseException as error:
            os.write(writing, f"failed {type(error).__name__}: {error}\n".encode())
            os._exit(1)
    os.close(writing)
    told = b""
    if after_s:
        time.sleep(after_s)
        os.kill(child, signal.SIGKILL)
    while True:
        if not select.select([reading], [], [], SILENT_S)[0]:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            raise TimeoutError(f"{kind.name} did no step for {SILENT_S} s.")
        if not (part := os.read(reading, 65536)):
            break
        told += part
    os.close(reading)
    _, status = os.waitpid(child, 0)
    lines = told.decode(errors="replace").splitlines()
    failed = [line for line in lines if line.startswith("failed")]
    assert not failed, failed
    assert os.WIFSIGNALED(status) or os.waitstatus_to_exitcode(status) == 0
    kept = [one for line in lines if line.startswith("kept ") for one in line.split()[1:]]
    return lines.count("step"), kept, time.monotonic() - began


def _hook(writing: int, stop_at: int) -> None:
    """Count the steps that reach the disk, tell of them, and end the process at one of them."""
    count = 0

    def step() -> None:
        nonlocal count
        count += 1
        if count == stop_at:
            os.kill(os.getpid(), signal.SIGKILL)
        os.write(writing, b"step\n")

    def around(real: Callable[..., Any]) -> Callable[..., Any]:
        def stepped(*args: Any, **named: Any) -> Any:
            step()
            done = real(*args, **named)
            step()
            return done

        return stepped

    for name in STEPS:
        setattr(os, name, around(getattr(os, name)))
    DefaultDialect.do_commit = around(DefaultDialect.do_commit)  # type: ignore[method-assign]
    real = Store.add_references

    def told(self: Store, new: Any) -> None:
        real(self, new)
        os.write(writing, ("kept " + " ".join(item.reference.id for item in new) + "\n").encode())

    Store.add_references = told  # type: ignore[method-assign]


def state(folder: Path, mended: bool) -> dict[str, Any]:
    """What an archive says and holds, but for the moments at which it was told."""
    with refarchive.open(folder / "archive") as archive:
        kit = archive._kit
        if mended:
            archive.verify(repair=True)
        return {
            "references": {r.id: r.sha256 for r in archive.references()},
            "scenes": [(s.slug, s.title) for s in archive.scenes()],
            "encoder": archive.encoder_name,
            "keys": {
                name: sorted(getattr(kit, name).keys()) for name in ("likeness", "captions", "passages", "colours")
            },
            "problems": [p.split(" (")[0] for p in archive.verify().problems],
        }


def look_at(kind: Kind, folder: Path, kept: list[str], whole: dict[str, Any]) -> list[str]:
    """Everything that is wrong after a kill, as sentences; nothing where all held."""
    wrong = []
    place = folder / "archive"
    kind.finished(folder)
    with refarchive.open(place) as archive:
        held = {r.id: r for r in archive.references()}
        for one in kept:
            if one not in held:
                wrong.append(f"{one} was told to be kept and is gone")
            elif held[one].sha256:
                path = archive._kit.files.original(held[one].sha256, held[one].suffix)
                if not path.is_file() or hash_of(path) != held[one].sha256:
                    wrong.append(f"the original of {one} is not there or not whole")
        archive.verify(repair=True)
        rest = [p.split(" (")[0] for p in archive.verify().problems]
        wrong += [f"not mended: {p}" for p in rest if p not in whole["problems"]]
    # The same again, to its end; not in this process, where the threads that typesetting starts would be missing from
    # every process forked later, which would wait for them for ever.
    run(kind, folder)
    kind.finished(folder)
    if (now := state(folder, kind.mended)) != whole:
        wrong.append(f"done again, it is not what an unkilled run made: {[k for k in now if now[k] != whole[k]]}")
    left = [
        p for p in folder.rglob("*") if p.name.startswith((".taking-", ".making-", ".writing-")) or "part" in p.suffix
    ]
    wrong += [f"{path.name} is left behind" for path in left]
    return wrong


def kill(kind: Kind, count: int, seed: int, place: Path) -> tuple[Counter[str], list[str]]:
    """Kill one kind of work `count` times; outcomes counted, and what was wrong."""
    drawn = random.Random(f"{kind.name} {seed}")
    ready, outcomes, wrong = place / "ready", Counter[str](), []
    ready.mkdir(parents=True)
    kind.prepare(ready)
    shutil.copytree(ready, place / "whole")
    steps, _, length = run(kind, place / "whole")
    whole = state(place / "whole", kind.mended)
    for number in range(count):
        folder = place / f"run{number}"
        shutil.copytree(ready, folder)
        by_step = number % 2 == 0
        step, after_s = (drawn.randint(1, steps), 0.0) if by_step else (0, drawn.uniform(0.001, length))
        _, kept, _ = run(kind, folder, step=step, after_s=after_s)
        found = look_at(kind, folder, kept, whole)
        outcomes["held" if not found else "wrong"] += 1
        moment = f"step {step} of {steps}" if by_step else f"after {after_s:.3f} s of {length:.3f} s"
        wrong += [f"{kind.name}, killed at {moment}: {one}" for one in found]
        shutil.rmtree(folder)
    outcomes["steps"] = steps
    return outcomes, wrong


Harm = Callable[[Kind, int, int, Path], tuple[Counter[str], list[str]]]  # kind, how often, seed, an empty folder


def command(harm: Harm, counted: str, often: int, kinds: Sequence[Kind], description: str | None) -> int:
    """The command that does harm to each kind of work, so often over all, and tells; 1 where anything was wrong."""
    parser = argparse.ArgumentParser(description=description, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument(
        f"--{counted}", dest="often", type=int, default=often, metavar=counted.upper(), help="over all kinds"
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kind", action="append", choices=[kind.name for kind in kinds])
    asked = parser.parse_args()
    quick.install()
    wanted = [kind for kind in kinds if not asked.kind or kind.name in asked.kind]
    failed = False
    for kind in wanted:
        with tempfile.TemporaryDirectory() as place:
            outcomes, wrong = harm(kind, -(-asked.often // len(wanted)), asked.seed, Path(place))
        print(f"{kind.name}: {dict(outcomes)}", flush=True)
        for one in wrong:
            print(f"  {one}")
        failed |= bool(wrong)
    return int(failed)


if __name__ == "__main__":
    sys.exit(command(kill, "kills", 200, KINDS, __doc__))
