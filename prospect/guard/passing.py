"""Passes Python objects between two processes of ours; large arrays travel as they lie in memory, without a copy."""

from __future__ import annotations

import io
from multiprocessing.connection import Connection
from multiprocessing.reduction import ForkingPickler
from typing import Any

_BUFFERS_APART = 5
"""Protocol of PEP 574, which leaves large buffers out of the stream."""


def send(way: Connection, content: Any) -> None:
    """Send an object; `receive` on the other side returns its like."""
    buffers: list[Any] = []
    stream = io.BytesIO()
    ForkingPickler(stream, _BUFFERS_APART, True, buffers.append).dump(content)
    views = [buffer.raw() for buffer in buffers]
    way.send((stream.getbuffer().nbytes, [view.nbytes for view in views]))
    way.send_bytes(stream.getbuffer())
    for view in views:
        if view.nbytes:
            way.send_bytes(view)


def receive(way: Connection) -> Any:
    """Return what `send` sent.

    Raises
    ------
    EOFError, OSError
        When the other side is gone.
    """
    length, sizes = way.recv()
    stream = way.recv_bytes(length)
    buffers = []
    for size in sizes:
        # Arrays on a bytearray can be written to, as those that were sent.
        buffer = bytearray(size)
        if size:
            way.recv_bytes_into(buffer)
        buffers.append(buffer)
    return ForkingPickler.loads(stream, buffers=buffers)
