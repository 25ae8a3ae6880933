# ruff: noqa: E501 (options)
"""Fuzzing that follows where the code branches: libFuzzer through atheris, over the same targets as `fuzz.py`.

python tests/hostile/guided.py dates --runs 200000 [--seed 1] [--corpus FOLDER] [--seconds 600]

atheris is no dependency of this project or its tests; install it first: pip install atheris==3.0.0
It begins with the target's good seeds and cases of `fuzz.py`, changes their bytes, and keeps in the corpus (a folder
that goes again, unless one is named) what took a new branch in the modules of the package that the target uses. What
ends otherwise than read or refused with a named problem stops it with a trace; the bytes then stand in
`crash-…` in the folder where the command was given. A case may take the target's seconds; memory is bounded by libFuzzer (`-rss_limit_mb`).
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from contextlib import suppress
from importlib.util import find_spec
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]
FIRST_CASES = 200  # of `fuzz.py`, to begin with
ROOM_MB = 2_000  # above a target's own bound: what the libraries take by themselves


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("target", help="a name in targets.py")
    parser.add_argument("--runs", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=int, default=0, help="stop after so many; 0: never")
    parser.add_argument("--corpus", type=Path, help="a folder to go on with")
    parser.add_argument("--apart", type=Path, help=argparse.SUPPRESS)
    told = parser.parse_args()
    if find_spec("atheris") is None:
        print("atheris is not installed. Install it: pip install atheris==3.0.0", file=sys.stderr)
        return 1
    if told.apart:
        run(told, told.apart)
        return 0
    with tempfile.TemporaryDirectory(prefix="refarchive-guided-") as made:  # libFuzzer ends its process by itself
        environment = os.environ | {"TMPDIR": made, "MPLCONFIGDIR": made}
        return subprocess.run([sys.executable, *sys.argv, "--apart", made], env=environment).returncode


def run(told: argparse.Namespace, made: Path) -> None:
    """Fuzz in this process, which ends with it; what is made lies in the folder `made`."""
    import atheris

    with atheris.instrument_imports(include=["refarchive"]):
        from targets import TARGETS, the_case

        if told.target not in TARGETS:
            sys.exit(f"There is no target {told.target!r}; there are: {', '.join(TARGETS)}")
        target = TARGETS[told.target]
        corpus = told.corpus or made / "corpus"
        corpus.mkdir(parents=True, exist_ok=True)
        folder = made / "case"
        folder.mkdir()
        for number in range(FIRST_CASES):
            case = the_case(told.target, told.seed, number)
            (corpus / f"first-{number}").write_bytes(case)
            if number < 3:  # modules that are imported late are instrumented here
                target.read(case, folder)

    def one(data: bytes) -> None:
        with suppress(*target.named):
            target.read(data, folder)

    options = [
        sys.argv[0], f"-runs={told.runs}", f"-seed={told.seed}", f"-max_total_time={told.seconds}", "-max_len=300000",
        f"-timeout={int(target.seconds)}", f"-rss_limit_mb={target.memory_mb + ROOM_MB}", "-print_final_stats=1", str(corpus),
    ]  # fmt: skip
    atheris.Setup(options, one)
    atheris.Fuzz()


if __name__ == "__main__":
    sys.exit(main())
