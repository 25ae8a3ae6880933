"""`python -m refarchive` is the command `refarchive`."""

from __future__ import annotations

from refarchive.cli import main

if __name__ == "__main__":
    main()
