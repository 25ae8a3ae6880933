"""The main job, from gathering to unpacking, in a process that is refused every socket and every name's address."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from drawn import draw

HERE = Path(__file__).parent
PROGRAM = """
import json, sys
seen = []
sys.path.insert(0, sys.argv[1])
from watched import _NETWORK

def refuse(event, args):
    if event in _NETWORK or event == "socket.__new__":
        seen.append(event)
        raise OSError("There is no network here.")

sys.addaudithook(refuse)
from pathlib import Path
import refarchive
from refarchive.archive.packs import pack, unpack

place = Path(sys.argv[2])
done = []
with refarchive.create(place / "archive", "built-in") as archive:
    done.append(archive.gather(place / "in").added)
    archive.plan((place / "plan.toml").read_text("utf-8"))
    done.append(len(archive.find("a lamp at the stage", top=3).hits))
    done.append(len(archive.find(like="a.jpg", top=3).hits))
    done.append(archive.dossier("lamp", out=place / "out").pages)
    done.append(len(archive.check("lamp", place / "frame.jpg", out=place / "out" / "check.html").lines))
    archive.exchange.set_rights(["a.jpg"], rights="CC0 1.0", basis="ours", evidence="drawn here", credit="Nobody")
    done.append(len(archive.exchange.publish_references(["a.jpg"], place / "published").pictures))
    done.append(len(archive.exchange.write(place / "left").files))
    done.append(not archive.verify().problems)
pack(place / "archive", place / "all.refpack")
unpack(place / "all.refpack", place / "again")
with refarchive.open(place / "again") as archive:
    done.append(len(archive.references()))
print(json.dumps({"seen": seen, "done": done}))
"""
PLAN = """[scene]
title = "A lamp at the stage"
slug = "lamp"
[[need]]
name = "Tin lamp"
department = "props"
[[need.evidence]]
reference = "a.jpg"
relation = "shows"
"""


def test_the_main_job_needs_no_network(tmp_path: Path) -> None:
    draw(tmp_path / "in" / "a.jpg", 1)
    draw(tmp_path / "in" / "b.png", 2)
    (tmp_path / "in" / "letter.txt").write_text("A lamp hung at the stage.\n", "utf-8")
    (tmp_path / "plan.toml").write_text(PLAN, "utf-8")
    draw(tmp_path / "frame.jpg", 3, (300, 200))
    environment = {"PATH": "/usr/bin:/bin", "HOME": str(tmp_path), "PYTHONPATH": ":".join(filter(None, sys.path))}
    told = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(HERE), str(tmp_path)],
        capture_output=True, text=True, check=False, env=environment,
    )  # fmt: skip
    assert told.returncode == 0, told.stderr
    said = json.loads(told.stdout)
    assert said["seen"] == []  # not even one that was tried and given up
    assert all(said["done"]), said["done"]
    assert (said["done"][0], said["done"][-1]) == (3, 3)


def test_the_watch_sees_who_asks(tmp_path: Path) -> None:
    """Without this, a hook that never fires would pass the test above."""
    program = PROGRAM[: PROGRAM.index("from pathlib")] + (
        "import socket, urllib.request\n"
        "for ask in (lambda: socket.socket(), lambda: socket.getaddrinfo('localhost', 1),"
        " lambda: urllib.request.urlopen('http://127.0.0.1:9/')):\n"
        "    try: ask()\n"
        "    except OSError: pass\n"
        "print(json.dumps(seen))"
    )
    told = subprocess.run(
        [sys.executable, "-c", program, str(HERE)], capture_output=True, text=True, check=True, cwd=tmp_path
    )
    assert json.loads(told.stdout)[:2] == ["socket.__new__", "socket.getaddrinfo"]
    assert len(json.loads(told.stdout)) == 3
