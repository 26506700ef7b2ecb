"""How a phone would reach this machine, and the words it is asked for."""

import math
import socket
from collections import Counter

import pytest

from prospect.cli import network, passphrase
from prospect.cli.app import _free_port
from prospect.cli.network import is_free, local_addresses, local_only
from prospect.errors import GroundError


def test_only_addresses_that_the_open_internet_cannot_reach():
    # IANA IPv4 Special-Purpose Address Registry (RFC 6890): private use, link-local, shared, documentation.
    local = ["10.1.2.3", "172.16.0.9", "192.168.178.20", "169.254.7.7", "192.0.2.2"]
    apart = [
        "8.8.8.8",
        "127.0.0.1",
        "127.0.1.1",
        "0.0.0.0",
        "224.0.0.1",
        "255.255.255.255",
        "240.0.0.1",
        "172.32.0.1",
    ]
    assert set(local_only([*local, *apart, *local])) == set(local)


def test_the_addresses_are_of_this_machine_and_no_packet_is_sent(monkeypatch):
    sent = []
    for name in ("send", "sendto", "sendall", "sendmsg"):
        monkeypatch.setattr(socket.socket, name, lambda *_: sent.append(True), raising=False)
    asked = []
    monkeypatch.setattr(socket, "getaddrinfo", lambda *_: asked.append(True))
    monkeypatch.setattr(socket, "gethostbyname_ex", lambda *_: asked.append(True))
    found = local_addresses()
    assert (sent, asked) == ([], [])
    for address in found:
        assert is_free(address, 0), "only an own address can be listened at"


def test_a_machine_without_a_network_has_none(monkeypatch):
    monkeypatch.setattr(network, "_of_interfaces", lambda: ["127.0.0.1"])
    monkeypatch.setattr(network, "_of_ways", list)
    assert local_addresses() == ()


def test_a_port_must_be_free_everywhere():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(GroundError, match=f"Port {port} .* taken"):
            _free_port(port, ("127.0.0.1",))
        assert _free_port(None, ("127.0.0.1",)) != port
    assert _free_port(port, ("127.0.0.1",)) == port


def test_a_passphrase_has_over_forty_bits_and_is_made_anew():
    words = passphrase.WORDS
    assert len(set(words)) == len(words)
    # Shannon: log2 of the number of equally likely results.
    numbers = passphrase.HIGHEST_NUMBER - passphrase.LOWEST_NUMBER + 1
    assert math.log2(len(words) ** passphrase.WORDS_SAID * numbers) > 43
    assert all(word.isascii() and word.isalpha() and word.islower() and 3 <= len(word) <= 8 for word in words)
    made = [passphrase.make_passphrase() for _ in range(2000)]
    assert len(set(made)) == len(made)
    assert all(len(text) >= 12 for text in made)
    used = Counter(word for text in made for word in text.split()[:4])
    # 8,000 draws from 581 words: 13.8 each; a word drawn over 45 times has a chance below 1e-9 (Poisson).
    assert max(used.values()) < 45
    assert len(used) > 0.98 * len(words)
