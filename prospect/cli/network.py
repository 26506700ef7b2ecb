"""Finds this machine's own addresses on the local network without asking anybody: no packet leaves."""

from __future__ import annotations

import contextlib
import ipaddress
import socket
import struct
import sys
from collections.abc import Iterable

# One address of each block that local networks use (RFC 1918, RFC 3927, RFC 6598, RFC 5737). Choosing a way to one of
# them sends nothing: a datagram socket that is connected has only been told where its datagrams would go.
_TOWARDS = (
    "192.168.255.254",
    "10.255.255.254",
    "172.31.255.254",
    "169.254.255.254",
    "100.127.255.254",
    "192.0.2.254",
)
# SIOCGIFADDR, from the systems' own headers.
_ASK_ADDRESS = {"linux": 0x8915, "darwin": 0xC0206921}


def local_addresses() -> tuple[str, ...]:
    """Return the IPv4 addresses by which devices on the same network reach this machine, in order.

    Addresses of the open internet are left out: the app is never opened there.
    """
    return local_only([*_of_interfaces(), *_of_ways()])


def local_only(addresses: Iterable[str]) -> tuple[str, ...]:
    """Return the addresses that only a local network can reach, each once."""
    placed = {ipaddress.IPv4Address(address) for address in addresses}
    return tuple(str(address) for address in sorted(placed) if _is_local(address))


def is_free(address: str, port: int) -> bool:
    """Whether nothing of this machine listens at an address and port."""
    with contextlib.suppress(OSError), socket.socket() as door:
        if sys.platform != "win32":
            door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        door.bind((address, port))
        return True
    return False


def _is_local(address: ipaddress.IPv4Address) -> bool:
    apart = address.is_loopback or address.is_multicast or address.is_unspecified or address.is_reserved
    return not address.is_global and not apart


def _of_interfaces() -> list[str]:
    """Ask the system for the address of each network interface, where it can be asked."""
    command = _ASK_ADDRESS.get(sys.platform)
    if command is None or sys.platform == "win32":
        return []
    import fcntl  # not on every system

    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        for _, name in socket.if_nameindex():
            with contextlib.suppress(OSError):
                answer = fcntl.ioctl(asking.fileno(), command, struct.pack("256s", name.encode()[:15]))
                found.append(socket.inet_ntoa(answer[20:24]))
    return found


def _of_ways() -> list[str]:
    """Ask the system from which of its addresses it would speak to each kind of local network."""
    found = []
    for there in _TOWARDS:
        with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
            asking.connect((there, 9))
            found.append(asking.getsockname()[0])
    return found
