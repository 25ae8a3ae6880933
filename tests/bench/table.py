"""What every bench returns, and the table that all of them end in.

A bench is a module of this folder with a function `rows(*sizes)` that yields `Row`s: how long ours takes, and how long
the bare library takes for the same work in the same run. It prints nothing on standard output but what a person reads
while waiting.
"""

from __future__ import annotations

import os
import platform
import re
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

PLACE = Path(__file__).resolve().parent
README = PLACE / "README.md"
HEADINGS = ("what", "size", "ours", "bare", "ratio", "goal", "bare is")


@dataclass(frozen=True)
class Row:
    """One line of the table.

    what: the work in a few words. size: how much of it, with the unit. ours, bare: how long (or how much memory) ours
    and the bare library take, in `unit`; bare is None where there is nothing to compare with. goal: as text, such as
    "at most 1.5 times" or "under 0.3 s". against: what the bare side is, in a few words.
    """

    what: str
    size: str
    ours: float
    bare: float | None = None
    goal: str = ""
    unit: str = "s"  # "s", "MB", or "" for a share from 0 to 1
    against: str = ""

    @property
    def cells(self) -> tuple[str, ...]:
        """The line as text, in the order of HEADINGS."""
        ratio = "" if not self.bare else f"{self.ours / self.bare:.2f}"
        return self.what, self.size, _told(self.ours, self.unit), _told(self.bare, self.unit), ratio, self.goal, (
            self.against
        )  # fmt: skip


def best(work: Callable[[], object], rounds: int = 5) -> float:
    """The shortest of a few rounds, in seconds: what is in the way of the others is not the work."""
    found = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return min(found)


def least_work(work: Callable[[], object], rounds: int = 5) -> float:
    """As `best`, in seconds of processor time, all threads together: what `best` cannot tell on a busy machine."""
    found = []
    for _ in range(rounds):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return min(found)


def memory_mb(kind: str = "VmRSS") -> float:
    """What this process holds now (VmRSS), or has held at most (VmHWM); Linux only."""
    line = next(line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith(kind))
    return int(line.split()[1]) / 1024


def benches() -> list[str]:
    """Names of the modules here that have `rows`."""
    return sorted(p.stem for p in PLACE.glob("*.py") if re.search(r"^def rows\(", p.read_text("utf-8"), re.MULTILINE))


def machine() -> str:
    """The processor, how many of its cores this process may use, and Python, in one line."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    model = platform.processor() or platform.machine()
    cpuinfo = Path("/proc/cpuinfo")
    if cpuinfo.is_file():
        found = re.search(r"^model name\s*: (.+)$", cpuinfo.read_text(), re.MULTILINE)
        model = found[1] if found else model
    threads = os.environ.get("OMP_NUM_THREADS")
    limited = f", OMP_NUM_THREADS={threads}" if threads else ""
    return f"{model}, {cores} cores{limited}, Python {platform.python_version()}"


def text(rows: Iterable[Row]) -> str:
    """Rows as a table in Markdown, columns lined up."""
    lines = [HEADINGS, *(row.cells for row in rows)]
    widths = [max(len(line[n]) for line in lines) for n in range(len(HEADINGS))]
    told = ["| " + " | ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)) + " |"
            for line in lines]  # fmt: skip
    told.insert(1, "| " + " | ".join("-" * width for width in widths) + " |")
    return "\n".join(told)


def keep(name: str, rows: Iterable[Row], path: Path = README) -> None:
    """Put a bench's table into the README, in place of what it held of that bench, with machine and date."""
    block = f"### {name}\n\n{datetime.now(UTC):%Y-%m-%d}, {machine()}\n\n{text(rows)}\n"
    held = path.read_text("utf-8")
    old = re.compile(rf"^### {re.escape(name)}\n.*?(?=^##|\Z)", re.MULTILINE | re.DOTALL)
    if old.search(held):
        held = old.sub(lambda found: block + ("" if found.end() == len(held) else "\n"), held, count=1)
    else:
        held = held.rstrip("\n") + f"\n\n{block}"
    path.write_text(held, "utf-8")


def _told(value: float | None, unit: str) -> str:
    if value is None:
        return ""
    if unit == "s" and value < 1:
        return f"{1000 * value:.3g} ms"
    return f"{value:,.0f} {unit}" if value >= 1000 else f"{value:.3g} {unit}".rstrip()
