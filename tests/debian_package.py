"""Open data for tests, from Debian's archive: fetched when a test runs, never kept in the repository."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest


def unpack(package: str, folder: Path) -> Path:
    """Download a Debian package and unpack it into `folder`; apt's lists are fetched first where it has none, or old
    ones. Where it cannot be had the test fails, and says why.
    """
    os.chmod(folder, 0o755)  # apt downloads as another user where it can
    download = ["apt-get", "download", "-q", "-o", "APT::Sandbox::User=root", package]
    said = _run(download, folder)
    if said:
        updated = _run(["apt-get", "update", "-q"], folder)
        said = _run(download, folder)
        if said:
            pytest.fail(
                f"This test needs the Debian package {package}: a Debian system that reaches its archive, and root"
                f" where apt has no lists yet.\napt-get download: {said}\napt-get update: {updated or 'went well'}",
                pytrace=False,
            )
    (file,) = folder.glob(f"{package}_*.deb")
    if said := _run(["dpkg", "-x", str(file), str(folder)], folder):
        pytest.fail(f"The Debian package {package} cannot be unpacked: {said}", pytrace=False)
    file.unlink()
    return folder


def _run(command: list[str], folder: Path) -> str:
    """What went wrong, "" where nothing did."""
    try:
        done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    except OSError as error:
        return str(error)
    return "" if done.returncode == 0 else done.stderr.strip()[-2000:] or f"exit {done.returncode}"
