"""All benches by one command, run by hand, never by the tests.

python tests/bench                       every bench at its own sizes
python tests/bench find check_frame      those named
python tests/bench find:1000,100000      at other sizes
python tests/bench --list                what there is

Each runs in a process of its own, so that none profits from what another has loaded. One table of all comes at the end;
README.md beside this file keeps the latest of each bench, with machine and date (--dry keeps it as it is).
"""

from __future__ import annotations

import argparse
import importlib
import json
import subprocess
import sys
import tempfile
from dataclasses import asdict
from pathlib import Path

import table


def one(name: str, sizes: list[int], into: Path) -> None:
    """Run one bench in this process and write its rows, one JSON object a line, as they come."""
    with open(into, "w", encoding="utf-8") as file:
        for row in importlib.import_module(name).rows(*sizes):
            file.write(json.dumps(asdict(row)) + "\n")
            file.flush()
            print(f"{name}: {', '.join(filter(None, row.cells))}", flush=True)


def main() -> int:
    """Run what was asked for; 1 where a bench failed."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", nargs="*", help="NAME or NAME:SIZE,SIZE…")
    parser.add_argument("--list", action="store_true", help="name the benches")
    parser.add_argument("--dry", action="store_true", help="leave README.md as it is")
    parser.add_argument("--into", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    known = table.benches()
    if asked.list:
        print(*known, sep="\n")
        return 0
    wanted = [(name, sizes) for name, _, sizes in (what.partition(":") for what in asked.what or known)]
    if unknown := [name for name, _ in wanted if name not in known]:
        parser.error(f"There is no bench {', '.join(unknown)}. There are: {', '.join(known)}.")
    if asked.into is not None:
        name, sizes = wanted[0]
        one(name, [int(size) for size in sizes.split(",") if size], asked.into)
        return 0
    everything: list[table.Row] = []
    failed = []
    with tempfile.TemporaryDirectory() as place:
        for number, (name, sizes) in enumerate(wanted):
            into = Path(place) / f"{number}.jsonl"
            command = [sys.executable, str(table.PLACE), f"{name}:{sizes}", "--into", str(into)]
            if subprocess.run(command, check=False).returncode:
                failed.append(name)
            lines = into.read_text("utf-8").splitlines() if into.exists() else []
            rows = [table.Row(**json.loads(line)) for line in lines]
            everything += rows
            if rows and name not in failed and not asked.dry:
                table.keep(name, rows)
    print("\n" + table.text(everything))
    if failed:
        print(f"Failed: {', '.join(failed)}.", file=sys.stderr)
    return int(bool(failed))


if __name__ == "__main__":
    sys.exit(main())
