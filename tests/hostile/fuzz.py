"""Fuzzing by hand, for as many cases as wanted; the tests run a short form of it.

python tests/hostile/fuzz.py --target sheet --cases 200000 [--seed 1] [--from 0]
python tests/hostile/fuzz.py --target all --cases 5000
python tests/hostile/fuzz.py --target sheet --seed 1 --show 4711 > case.bin        the bytes of one case

A case follows from target, seed and number alone: `--from` goes on where an earlier run stopped. Cases run in a process
apart, which is ended where one takes longer than the target's bound, and started again behind it. It watches memory
(resident, above where it stood before the first case), writes outside the folder of the case, the network, programs
started and pickles read. Every distinct finding is printed with the number of its first case; exit 1 where there are any.
"""  # noqa: E501

from __future__ import annotations

import argparse
import faulthandler
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
import traceback
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]
ADDRESS_SPACE = 12_000_000_000  # bytes: the hard stop, far above every target's bound


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--target", default="all", help="a name in targets.py, several parted by commas, or all")
    parser.add_argument("--cases", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--from", dest="first", type=int, default=0, metavar="N")
    parser.add_argument("--show", type=int, metavar="N", help="write the bytes of one case and stop")
    parser.add_argument("--apart", metavar="FILE", help=argparse.SUPPRESS)
    told = parser.parse_args()
    if told.show is not None:
        from targets import the_case

        sys.stdout.buffer.write(the_case(told.target, told.seed, told.show))
        return 0
    if told.apart:
        run(told.target, told.seed, told.first, told.cases, Path(told.apart))
        return 0
    from targets import TARGETS

    names = list(TARGETS) if told.target == "all" else told.target.split(",")
    return max(watched(name, told.seed, told.first, told.cases) for name in names)


# --- the process that watches ---------------------------------------------------------------------------------------


def watched(name: str, seed: int, first: int, cases: int) -> int:
    """Run the cases of a target in processes apart; 1 where something was found."""
    began = time.monotonic()
    found: dict[str, dict[str, Any]] = {}
    total = {"cases": 0, "read": 0, "refused": 0, "inside": 0, "peak_mb": 0.0}
    at, end = first, first + cases
    with tempfile.TemporaryDirectory(prefix="refarchive-fuzz-") as folder:
        notes = Path(folder) / "notes"
        while at < end:
            notes.write_bytes(b"")
            (Path(folder) / "cases").mkdir(exist_ok=True)
            command = [
                sys.executable, __file__, "--target", name, "--seed", str(seed), "--from", str(at),
                "--cases", str(end - at), "--apart", str(notes),
            ]  # fmt: skip
            place = str(Path(folder) / "cases")
            environment = os.environ | {"TMPDIR": place, "MPLCONFIGDIR": place, "PYTHONDONTWRITEBYTECODE": "1"}
            process = subprocess.run(command, capture_output=True, text=True, errors="replace", env=environment)
            lines = [
                json.loads(line) for line in notes.read_text("utf-8", "replace").splitlines() if line.endswith("}")
            ]
            for one in lines:
                if "finding" in one:
                    found.setdefault(one["finding"], one)
                elif "done" in one:
                    total["cases"] += one["done"]
                    total["read"] += one["read"]
                    total["refused"] += one["refused"]
                    total["inside"] += one["inside"]
                    total["peak_mb"] = max(total["peak_mb"], one["peak_mb"])
            if not lines:
                found["the process did not begin"] = {
                    "finding": "the process did not begin",
                    "case": at,
                    "trace": process.stderr,
                }
                break
            now = next((one["now"] for one in reversed(lines) if "now" in one), at)
            ended = next((one for one in reversed(lines) if "done" in one), None)
            if ended is not None and process.returncode == 0:
                break
            how = _how(process)
            found.setdefault(how, {"finding": how, "case": now, "trace": process.stderr[-1500:]})
            total["cases"] += now - at + 1
            at = now + 1
    for one in found.values():
        print(f"  {name} seed {seed} case {one['case']}: {one['finding']}\n{one.get('trace', '')}", flush=True)
    print(
        f"{name}: {total['cases']:,} cases, {total['inside']:,} of them past the first refusal, "
        f"{total['read']:,} readings and {total['refused']:,} refusals, "
        f"{len(found)} findings, at most {total['peak_mb']:.0f} MB above the start, {time.monotonic() - began:.0f} s",
        flush=True,
    )
    return int(bool(found))


def _how(process: subprocess.CompletedProcess[str]) -> str:
    if "Timeout (" in process.stderr:
        at = [line.strip() for line in process.stderr.splitlines() if "refarchive/" in line]
        return f"took too long: {at[0] if at else 'in a library'}"
    return f"the process ended with {process.returncode}: {process.stderr.strip().splitlines()[-1:]}"


# --- the process apart ----------------------------------------------------------------------------------------------


def run(name: str, seed: int, first: int, cases: int, notes: Path) -> None:
    """Every case in turn; what there is to say goes line by line into `notes`."""
    from targets import TARGETS, TOLD, WAYS, first_refusals, the_case
    from watched import Watch

    target = TARGETS[name]
    home = Path(os.environ["TMPDIR"])
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    with open(notes, "a", encoding="utf-8", buffering=1) as out:
        folder = Path(tempfile.mkdtemp(dir=home))
        for number in range(3):  # so that libraries are loaded before anything is measured
            outcome(target, the_case(name, -1, number), folder)
        door = first_refusals(target, folder) if target.door else set()
        TOLD.update(read=0, refused=0)
        inside = 0
        watch = Watch(home, programs=target.programs)
        resource.setrlimit(resource.RLIMIT_AS, (ADDRESS_SPACE, ADDRESS_SPACE))
        start = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        peak, known = 0.0, set()
        for number in range(first, first + cases):
            data = the_case(name, seed, number)
            out.write(json.dumps({"now": number}) + "\n")
            faulthandler.dump_traceback_later(target.seconds, exit=True)
            WAYS.clear()
            with watch.noting() as seen:
                problem, trace = outcome(target, data, folder)
            inside += not door.issuperset(WAYS)
            faulthandler.cancel_dump_traceback_later()
            above = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024 - start
            if above > max(peak, target.memory_mb):
                problem, trace = f"{problem} needed {above:.0f} MB, {target.memory_mb} are allowed", ""
            peak = max(peak, above)
            for each in (*seen, *([problem] if problem else [])):
                if each not in known:
                    known.add(each)
                    out.write(json.dumps({"finding": each[:600], "case": number, "trace": trace[-2500:]}) + "\n")
            if number % 200 == 0:
                for path in folder.iterdir():
                    if path.is_file():
                        path.unlink()
        out.write(json.dumps({"done": cases, **TOLD, "inside": inside, "peak_mb": peak}) + "\n")


def outcome(target: Any, data: bytes, folder: Path) -> tuple[str, str]:
    """ "" where it was read, or refused with a sentence; else what was wrong, and the trace."""
    try:
        target.read(data, folder)
    except target.named:
        return "", ""
    except Exception as error:
        frames = traceback.extract_tb(error.__traceback__)
        ours = [one for one in frames if "/refarchive/" in one.filename]
        at = f"{Path(ours[-1].filename).name}:{ours[-1].name}" if ours else "the target itself"
        kind = f"{type(error).__name__} in {at}"
        if isinstance(error, AssertionError):
            kind += f" {str(error)[:80]}"
        return kind, "".join(traceback.format_exception(error)[-6:])
    return "", ""


if __name__ == "__main__":
    sys.exit(main())
