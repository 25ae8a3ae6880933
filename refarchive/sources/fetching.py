"""Fetching one picture from an address, and only where a person asked for it.

Bounded in size and time; http and https only, redirects included; never from an address inside the machine or its
network, whatever a name in somebody's document says.
"""

from __future__ import annotations

import ipaddress
import socket
import tempfile
import urllib.error
import urllib.request
from pathlib import Path
from typing import IO, Any
from urllib.parse import urlsplit

from refarchive.errors import SourceRefused
from refarchive.sources.folder import shown_name

LARGEST = 200_000_000  # bytes
TIMEOUT_S = 30.0
_CHUNK = 1 << 16
_AGENT = "refarchive (a person's own archive; asked for by hand)"


def fetch(address: str, folder: Path) -> Path:
    """Fetch a picture into the folder; returns its file, complete or not there.

    Raises
    ------
    SourceRefused
        where it cannot be had: another kind of address, one inside the network, no answer, too large.
    """
    shown = shown_name(address, 120)
    _refuse_unless_public(address)
    request = urllib.request.Request(address, headers={"User-Agent": _AGENT})  # noqa: S310 (checked above)
    opener = urllib.request.build_opener(_Careful)
    handle = tempfile.NamedTemporaryFile(dir=folder, prefix="fetched-", delete=False)  # noqa: SIM115
    goal = Path(handle.name)
    try:
        with handle, opener.open(request, timeout=TIMEOUT_S) as answer:
            size = 0
            while chunk := answer.read(_CHUNK):
                size += len(chunk)
                if size > LARGEST:
                    raise SourceRefused(f"{shown} is larger than {LARGEST / 1e6:.0f} MB.", "Fetch it by hand.")
                handle.write(chunk)
    except SourceRefused:
        goal.unlink(missing_ok=True)
        raise
    except (OSError, ValueError, urllib.error.URLError) as error:
        goal.unlink(missing_ok=True)
        reason = (
            f"HTTP {error.code}" if isinstance(error, urllib.error.HTTPError) else str(getattr(error, "reason", error))
        )
        raise SourceRefused(f"{shown} could not be fetched: {shown_name(reason, 120)}.", "Try again later.") from None
    return goal


class _Careful(urllib.request.HTTPRedirectHandler):
    """Follows a redirect only to where one might go in the first place."""

    def redirect_request(
        self, req: urllib.request.Request, fp: IO[bytes], code: int, msg: str, headers: Any, newurl: str
    ) -> urllib.request.Request | None:
        _refuse_unless_public(newurl)
        return super().redirect_request(req, fp, code, msg, headers, newurl)


def _refuse_unless_public(address: str) -> None:
    parts = urlsplit(address)
    shown = shown_name(address, 120)
    if parts.scheme not in ("http", "https") or not parts.hostname:
        raise SourceRefused(f"{shown} is no address that pictures are fetched from.", "Fetch it by hand.")
    try:
        port = parts.port or (443 if parts.scheme == "https" else 80)
        found = {entry[4][0] for entry in socket.getaddrinfo(parts.hostname, port, proto=socket.IPPROTO_TCP)}
    except (OSError, ValueError, UnicodeError):
        raise SourceRefused(f"{shown} could not be fetched: the name leads nowhere.", "Is there a network?") from None
    if not all(_public(str(one)) for one in found):
        raise SourceRefused(f"{shown} lies inside this machine or its network.", "Fetch it by hand, if you trust it.")


def _public(number: str) -> bool:
    return ipaddress.ip_address(number.partition("%")[0]).is_global
