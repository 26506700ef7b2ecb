"""What holds for every hostile input: no network; a listener counts who comes all the same."""

from __future__ import annotations

import socket
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from watch import Listener


@pytest.fixture(scope="session")
def listener() -> Iterator[Listener]:
    """Give what listens where the hostile files point to, so that a call made below Python is counted, too."""
    listening = Listener()
    yield listening
    listening.close()


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*args: object, **kwargs: object) -> None:
        raise AssertionError("an input made the program reach for the network")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "create_connection", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
