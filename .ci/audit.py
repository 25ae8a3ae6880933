"""Hold what is installed against what was reviewed.

python .ci/audit.py            names every package that is other than in .ci/reviewed.txt; exit 1 where there is one
python .ci/audit.py --write    writes .ci/reviewed.txt anew, after the changes were looked at

The packages are those that refarchive[dev,shared] needs here, and all that they need in turn. The digest is over the
names and SHA-256 of the files that the wheel brought, as its RECORD in the environment tells them; it differs between
platforms and versions of Python, so the first line of reviewed.txt says which were reviewed. Nothing is fetched.
"""

from __future__ import annotations

import hashlib
import sys
import sysconfig
from collections.abc import Iterable
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

REVIEWED = Path(__file__).with_name("reviewed.txt")
OWN = "refarchive"
EXTRAS = ("dev", "shared")
PLATFORM = f"# {sysconfig.get_platform()}, Python {sys.version_info.major}.{sys.version_info.minor}"
# What the installer writes itself, and programs, whose first line names this environment's Python.
NOT_OF_THE_WHEEL = ("INSTALLER", "REQUESTED", "RECORD", "direct_url.json")


def digest(package: Distribution) -> str:
    """SHA-256 over the wheel's own files, "none" where the environment keeps no record of them."""
    lines = sorted(
        f"{file} {file.hash.value}"
        for file in package.files or ()
        if file.hash and ".." not in file.parts and file.name not in NOT_OF_THE_WHEEL
    )
    return hashlib.sha256("\n".join(lines).encode()).hexdigest() if lines else "none"


def needed(requirements: Iterable[str]) -> dict[str, Distribution]:
    """The packages that these requirements bring here, by name. What is not installed is left out."""
    found: dict[str, Distribution] = {}
    done: set[tuple[str, str]] = set()
    waiting = [Requirement(one) for one in requirements]
    while waiting:
        requirement = waiting.pop()
        name = canonicalize_name(requirement.name)
        for extra in ("", *sorted(requirement.extras)):
            if (name, extra) in done:
                continue
            done.add((name, extra))
            try:
                package = found[name] = distribution(name)
            except PackageNotFoundError:
                continue
            inner = map(Requirement, package.requires or ())
            waiting += [one for one in inner if one.marker is None or one.marker.evaluate({"extra": extra})]
    return found


def lines_of(packages: dict[str, Distribution]) -> list[str]:
    """One line a package: name, version, digest."""
    return [f"{name}=={one.version} sha256:{digest(one)}" for name, one in sorted(packages.items()) if name != OWN]


def drift(reviewed: Iterable[str], installed: Iterable[str]) -> list[str]:
    """What differs, a sentence each."""
    before, now = (dict(line.split("==", 1) for line in lines) for lines in (reviewed, installed))
    told = [f"{name} {now[name].split()[0]} was never reviewed." for name in sorted(now.keys() - before.keys())]
    told += [f"{name} {before[name].split()[0]} is not installed." for name in sorted(before.keys() - now.keys())]
    for name in sorted(before.keys() & now.keys()):
        (was, mark), (version, other) = before[name].split(), now[name].split()
        if was != version:
            told.append(f"{name} is {version}; {was} was reviewed.")
        elif mark != other:
            told.append(f"{name} {version} holds other files than those reviewed.")
    return told


def main() -> int:
    """Compare, or write."""
    installed = lines_of(needed([f"{OWN}[{','.join(EXTRAS)}]"]))
    if "--write" in sys.argv[1:]:
        REVIEWED.write_text("\n".join([PLATFORM, *installed]) + "\n", "ascii")
        print(f"{len(installed)} packages written to {REVIEWED}.")
        return 0
    first, *reviewed = REVIEWED.read_text("ascii").splitlines()
    if first != PLATFORM:
        print(f"Reviewed on {first[2:]}, and this is {PLATFORM[2:]}: digests are expected to differ.")
    told = drift(reviewed, installed)
    print("\n".join(told) or f"All {len(installed)} packages are as reviewed.")
    return int(bool(told))


if __name__ == "__main__":
    sys.exit(main())
