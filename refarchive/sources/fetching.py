"""Fetching one picture from the web, because a person asked for it: bounded in size, time and redirects.

The addresses come out of files that others wrote, so they may try to make this machine ask its own network for things.
Only `http` and `https` are spoken, and only with addresses that are public, looked up once and connected to as they
were checked (what a name means cannot change in between). A host on a private network is asked only where the person
named that very host. Proxies from the environment are not used: they would look names up again by themselves.
"""

from __future__ import annotations

import http.client
import ipaddress
import socket
import ssl
import threading
import time
from collections.abc import Collection
from contextlib import suppress
from pathlib import Path
from urllib.parse import quote, urljoin, urlsplit

from refarchive import __version__
from refarchive.errors import SourceRefused
from refarchive.sources.folder import shown_name

LARGEST_FETCHED = 200_000_000  # bytes
LONGEST_S = 120.0  # for one picture, redirects and all
SILENCE_S = 20.0  # longest wait for the other side to say anything
MOST_REDIRECTS = 5
LONGEST_ADDRESS = 2_000  # characters
_CHUNK = 1 << 16
_NAT64 = ipaddress.ip_network("64:ff9b::/96")

_AGAIN = "Gather again with --fetch, or save the picture beside the manifest yourself."
_YOURSELF = "Save the picture beside the manifest yourself."


def fetch(
    address: str,
    into: Path,
    *,
    hosts: Collection[str] = (),
    largest: int = LARGEST_FETCHED,
    longest_s: float = LONGEST_S,
) -> None:
    """Write what lies at `address` to the file `into`, complete or not at all.

    `hosts` are hosts ("name" or "name:port") that may be asked although they are on a private network.

    Raises
    ------
    SourceRefused
        where it is no web address, not public, too large, too slow, redirected too often, or not there.
    """
    deadline = time.monotonic() + longest_s
    here = address
    for _ in range(MOST_REDIRECTS + 1):
        onward = _one_request(here, into, hosts, largest, deadline)
        if onward is None:
            return
        if here.lower().startswith("https:") and not onward.lower().startswith("https:"):
            raise SourceRefused(f"{_shown(address)} leads on to an address without encryption.", _YOURSELF)
        here = onward
    raise SourceRefused(f"{_shown(address)} leads on more than {MOST_REDIRECTS} times.", _YOURSELF)


def _one_request(address: str, into: Path, hosts: Collection[str], largest: int, deadline: float) -> str | None:
    """Ask once. Returns the address it leads on to, or None where the file is written."""
    scheme, host, port, path = _parts(address)
    place = _checked_place(address, host, port, hosts)
    connection: _Pinned | None = None
    timer: threading.Timer | None = None
    done = False
    try:
        connection = _Pinned(host, port, place, encrypted=scheme == "https", timeout=min(SILENCE_S, _left(deadline)))
        connection.connect()
        timer = threading.Timer(_left(deadline), _hang_up, [connection.sock])  # also for one who sends byte by byte
        timer.daemon = True
        timer.start()
        headers = {
            "Accept": "image/*, */*;q=0.1",
            "Accept-Encoding": "identity",
            "User-Agent": f"refarchive/{__version__}",
        }
        connection.request("GET", path, headers=headers)
        answer = connection.getresponse()
        if answer.status in (301, 302, 303, 307, 308) and (onward := answer.getheader("Location")):
            return urljoin(address, onward[:LONGEST_ADDRESS])
        if answer.status != 200:
            raise SourceRefused(
                f"{_shown(address)} answers {answer.status} {_reason(answer)}.".replace(" .", "."), _AGAIN
            )
        if (answer.getheader("Content-Encoding") or "identity").lower() != "identity":
            raise SourceRefused(f"{_shown(address)} answers in a packed form that was not asked for.", _YOURSELF)
        _write(answer, into, address, largest, deadline)
        done = True
        return None
    except SourceRefused:
        raise
    except ssl.SSLError as error:
        raise SourceRefused(
            f"{_shown(address)} cannot show that it is who it says: {error.reason or 'its certificate fails'}.",
            _YOURSELF,
        ) from None
    except TimeoutError:
        raise _too_slow(address) from None
    except (OSError, http.client.HTTPException, ValueError) as error:
        if time.monotonic() >= deadline:
            raise _too_slow(address) from None
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "its answer cannot be understood"
        raise SourceRefused(f"{_shown(address)} cannot be fetched: {reason}.", _AGAIN) from None
    finally:
        if timer is not None:
            timer.cancel()
        if connection is not None:
            connection.close()
        if not done:
            into.unlink(missing_ok=True)


def _write(answer: http.client.HTTPResponse, into: Path, address: str, largest: int, deadline: float) -> None:
    told = answer.length
    if told is not None and told > largest:
        raise _too_large(address, largest)
    size = 0
    with open(into, "wb") as file:
        while chunk := answer.read(_CHUNK):
            size += len(chunk)
            if size > largest:
                raise _too_large(address, largest)
            if time.monotonic() >= deadline:
                raise _too_slow(address)
            file.write(chunk)
    if time.monotonic() >= deadline:  # hung up on: what came may be cut short
        raise _too_slow(address)
    if told is not None and size != told:
        raise SourceRefused(f"{_shown(address)} broke off after {size:,} of {told:,} bytes.", _AGAIN)
    if not size:
        raise SourceRefused(f"There is nothing at {_shown(address)}.", _YOURSELF)


class _Pinned(http.client.HTTPConnection):
    """A connection to an address that was checked, under the name that was asked for."""

    def __init__(self, host: str, port: int, place: str, *, encrypted: bool, timeout: float) -> None:
        super().__init__(host, port, timeout=timeout)
        self.place = place
        self.encrypted = encrypted
        self.default_port = 443 if encrypted else 80

    def connect(self) -> None:
        self.sock = socket.create_connection((self.place, self.port), self.timeout)
        if self.encrypted:
            self.sock = ssl.create_default_context().wrap_socket(self.sock, server_hostname=self.host)


def _hang_up(sock: socket.socket) -> None:
    with suppress(OSError):
        sock.shutdown(socket.SHUT_RDWR)


def _parts(address: str) -> tuple[str, str, int, str]:
    """Scheme, host, port, and path with query, all fit to be sent."""
    wrong = SourceRefused(f"{_shown(address)} is no web address that is fetched from.", _YOURSELF)
    if len(address) > LONGEST_ADDRESS:
        raise wrong
    try:
        parts = urlsplit(address)
        port = parts.port
        host = (parts.hostname or "").encode("idna").decode("ascii") if parts.hostname else ""
        address.encode()  # half a character pair cannot be sent
    except (ValueError, UnicodeError):
        raise wrong from None
    scheme = parts.scheme.lower()
    if scheme not in ("http", "https") or not host or parts.username is not None or port == 0:
        raise wrong
    path = quote(parts.path or "/", safe="/%:@!$&'()*+,;=~-._")
    query = f"?{quote(parts.query, safe='/%:@!$&()*+,;=~-._?')}" if parts.query else ""
    return scheme, host, port or (443 if scheme == "https" else 80), path + query


def _checked_place(address: str, host: str, port: int, hosts: Collection[str]) -> str:
    """The IP address to connect to: the first of the host's, if all of them are public or the host was named."""
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError):
        raise SourceRefused(f"There is no host {shown_name(host, 100)}, or no way to it from here.", _AGAIN) from None
    places = [str(entry[4][0]) for entry in found]
    if not places:
        raise SourceRefused(f"There is no host {shown_name(host, 100)}, or no way to it from here.", _AGAIN)
    named = {one.lower().strip() for one in hosts}
    if not named & {host.lower(), f"{host.lower()}:{port}"} and not all(map(is_public, places)):
        raise SourceRefused(
            f"{_shown(address)} is on this machine or a private network.",
            f"Where you know it and want it: --fetch-from {shown_name(host, 100)}:{port}",
        )
    return places[0]


def is_public(place: str) -> bool:
    """Whether an IP address is one of the public internet (IANA's special-purpose registries, as `ipaddress` has them).

    An IPv6 address that stands for an IPv4 one (mapped, 6to4, Teredo, NAT64) is as public as that.

    >>> is_public("93.184.215.14"), is_public("127.0.0.1"), is_public("::ffff:10.0.0.1")
    (True, False, False)
    """
    try:
        one = ipaddress.ip_address(place.partition("%")[0])
    except ValueError:
        return False
    if isinstance(one, ipaddress.IPv6Address):
        inner = [one.ipv4_mapped, one.sixtofour, *(one.teredo or ())]
        if one in _NAT64:
            inner.append(ipaddress.IPv4Address(int(one) & 0xFFFFFFFF))
        if any(not is_public(str(v4)) for v4 in inner if v4 is not None):
            return False
        if one.ipv4_mapped is not None:
            return True
    return one.is_global and not one.is_multicast and not one.is_reserved


def _left(deadline: float) -> float:
    left = deadline - time.monotonic()
    if left <= 0:
        raise TimeoutError
    return left


def _shown(address: str) -> str:
    return shown_name(address, 200)


def _reason(answer: http.client.HTTPResponse) -> str:
    return shown_name(answer.reason or "", 60)


def _too_large(address: str, largest: int) -> SourceRefused:
    return SourceRefused(f"{_shown(address)} is larger than {largest:,} bytes.", _YOURSELF)


def _too_slow(address: str) -> SourceRefused:
    return SourceRefused(f"{_shown(address)} takes too long to answer.", _AGAIN)
