"""Looks at an address of the network before anything asks there: encrypted, a public host name, no tricks."""

from __future__ import annotations

import ipaddress
import re
from urllib.parse import urlsplit

MOST_CHARACTERS = 2_000
HTTPS_PORT = 443

_LABEL = re.compile(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?")
# Names that never leave a machine or a house: RFC 6761, RFC 6762, RFC 8375, RFC 2606, and common practice.
_LOCAL_ENDINGS = (
    "localhost",
    "local",
    "localdomain",
    "internal",
    "intranet",
    "lan",
    "home",
    "corp",
    "private",
)
_NOBODYS_ENDINGS = ("test", "invalid", "example", "onion", "arpa")


def address_fault(text: str) -> str:
    """Return what is wrong with an address, or '' when it may be asked.

    Parameters
    ----------
    text
        An address as a catalogue or a person gives it; it may hold `{name}` where a request fills something in
        after the host.

    Notes
    -----
    Pure: nothing is looked up. Whoever asks there must still hold the numbers that the name stands for to the
    public ones at that moment (`is_public`), because a name can be pointed anywhere.
    """
    if not text or len(text) > MOST_CHARACTERS:
        return f"an address of 1 to {MOST_CHARACTERS:,} characters"
    if not text.isascii() or not text.isprintable() or " " in text or "\\" in text:
        return "an address in plain letters, without blanks"
    try:
        parts = urlsplit(text)
        port = parts.port
    except ValueError:
        return "a whole address such as https://data.publisher.org/layer"
    if parts.scheme != "https" or not text.lower().startswith("https://"):
        return "an address that begins with https://"
    if "@" in parts.netloc or parts.username is not None or parts.password is not None:
        return "an address without a user name or password"
    if port not in (None, HTTPS_PORT) or parts.netloc.endswith(":"):
        return f"no port, or {HTTPS_PORT}"
    return host_fault(parts.hostname or "")


def host_fault(host: str) -> str:
    """Return what is wrong with a host's name, or '' when it is that of a public host."""
    name = host.lower()
    if not name or name.startswith("[") or ":" in name or _is_number(name):
        return "the name of a host, not a number"
    labels = name.removesuffix(".").split(".")
    if len(name) > 253 or len(labels) < 2 or not all(_LABEL.fullmatch(label) for label in labels):
        return "the name of a public host, such as data.publisher.org"
    # Letters of other alphabets can look like the ones of a host that is trusted (UTS #39).
    if any(label.startswith("xn--") for label in labels):
        return "a host name in plain Latin letters"
    if labels[-1] in (*_LOCAL_ENDINGS, *_NOBODYS_ENDINGS) or not labels[-1].isalpha():
        return "the name of a public host, not of this machine or network"
    return ""


def is_public(number: str) -> bool:
    """Whether the number that a host's name stands for is one of the open network (`ipaddress.is_global`)."""
    try:
        found = ipaddress.ip_address(number.partition("%")[0])
    except ValueError:
        return False
    if isinstance(found, ipaddress.IPv6Address):
        inner = found.ipv4_mapped or found.sixtofour or (found.teredo[1] if found.teredo else None)
        if inner is not None:
            return inner.is_global and not inner.is_multicast and found.ipv4_mapped is not None
        # 64:ff9b::/96 carries an IPv4 address in its last four bytes (RFC 6052).
        if found in ipaddress.ip_network("64:ff9b::/96"):
            return ipaddress.IPv4Address(int(found) & 0xFFFFFFFF).is_global
    return found.is_global and not found.is_multicast


def _is_number(name: str) -> bool:
    """Whether a name is an address of IPv4 in any of the forms that old resolvers take: decimal, octal, hexadecimal."""
    labels = name.removesuffix(".").split(".")
    return bool(re.fullmatch(r"0x[0-9a-f]*|[0-9]+", labels[-1]))
