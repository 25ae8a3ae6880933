"""References out of the archive and in again."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from refarchive.archive import Archive


class ExchangeDesk:
    """Reached as `archive.exchange`; holds nothing of its own."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive
        self._kit = archive._kit
