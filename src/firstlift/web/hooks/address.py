"""Where web-hooks may go: public addresses over TLS, and networks of one's own that whoever runs the app has named.

A name is looked up once and the connection goes to the very address that was looked at: a name that leads elsewhere the
next time gains nothing.
"""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from urllib.parse import urlsplit

from firstlift.core.errors import FirstliftError, Problem, UsageError

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
Network = ipaddress.IPv4Network | ipaddress.IPv6Network
# addresses that carry an IPv4 address in their last 32 bits, translated on the way (RFC 6052)
_TRANSLATED = (ipaddress.IPv6Network("64:ff9b::/96"), ipaddress.IPv6Network("64:ff9b:1::/48"))
_LONGEST = 2000


@dataclass(frozen=True, slots=True)
class Target:
    """Where a message goes: to ``address``, for the name ``host``; ``path`` with its query."""

    secure: bool
    host: str
    address: str
    port: int
    path: str


def networks_of(texts: Iterable[str]) -> tuple[Network, ...]:
    """Read networks.

    Parameters
    ----------
    texts : iterable of str
        As "10.1.0.0/16".

    Returns
    -------
    tuple of network

    Raises
    ------
    UsageError
        WEB-014 one is none.
    """
    found: list[Network] = []
    for text in texts:
        try:
            found.append(ipaddress.ip_network(text))
        except ValueError as error:
            raise UsageError(
                Problem("WEB-014", f"'{text[:60]}' is no network", "--hooks-to", "one as 10.1.0.0/16")
            ) from error
    return tuple(found)


def may_go_to(address: Address, networks: Sequence[Network]) -> bool:
    """Say whether messages may go to an address.

    Parameters
    ----------
    address : IPv4Address or IPv6Address
    networks : sequence of network
        Named by whoever runs the app.

    Returns
    -------
    bool
    """
    meant = _meant(address)
    if any(meant.version == network.version and meant in network for network in networks):
        return True
    return meant.is_global and not meant.is_multicast


def _meant(address: Address) -> Address:
    """Give the address that is reached in the end."""
    if isinstance(address, ipaddress.IPv6Address):
        if any(address in network for network in _TRANSLATED):
            return ipaddress.IPv4Address(int(address) & 0xFFFFFFFF)
        inner = address.ipv4_mapped or address.sixtofour or (address.teredo or (None, None))[1]
        if inner is not None:
            return inner
    return address


def check_url(url: str, networks: Sequence[Network]) -> Target:
    """Look at where a web-hook is to go, and look its name up.

    Parameters
    ----------
    url : str
    networks : sequence of network

    Returns
    -------
    Target

    Raises
    ------
    FirstliftError
        WEB-014 messages may not go there.
    """
    try:
        parts = urlsplit(url)
        host, port = parts.hostname or "", parts.port
    except ValueError as error:
        raise _refusal("it is no address") from error
    plain = url.isascii() and url.isprintable() and " " not in url and "\\" not in url and len(url) <= _LONGEST
    if not plain or parts.scheme not in ("https", "http") or not host or "@" in parts.netloc or parts.fragment:
        raise _refusal("it is no plain address of the web")
    secure = parts.scheme == "https"
    port = port or (443 if secure else 80)
    addresses = _looked_up(host, port)
    own = all(any(_meant(one) in network for network in networks) for one in addresses)
    if not secure and not own:
        raise _refusal("it is not encrypted")
    if not all(may_go_to(one, networks) for one in addresses):
        raise _refusal("it does not lead to a public address")
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    return Target(secure, host, str(addresses[0]), port, path)


def _looked_up(host: str, port: int) -> list[Address]:
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
        return [ipaddress.ip_address(str(one[4][0]).partition("%")[0]) for one in found]
    except (OSError, UnicodeError, ValueError, OverflowError) as error:
        raise _refusal("its name is not found") from error


def _refusal(why: str) -> FirstliftError:
    return FirstliftError(
        Problem(
            "WEB-014",
            f"messages may not go there: {why}",
            "url",
            "an https address on the public network, or in a network that whoever runs the app allows",
            "Ask whoever runs the app",
        )
    )
