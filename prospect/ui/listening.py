"""Listens at addresses of this machine and serves the app there until it is told to stop."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import sys
import threading
import time
from collections.abc import Mapping, Sequence
from types import FrameType
from typing import Any

import uvicorn
from streamlit.web import bootstrap

LONGEST_CLOSE_S = 5
_WAITING_CALLS = 2048


def listen(addresses: Sequence[str], port: int) -> list[socket.socket]:
    """Return sockets that listen at each address, all at one port.

    Raises
    ------
    OSError
        When one of them is taken or is not this machine's.
    """
    with contextlib.ExitStack() as closing:
        doors = []
        for address in addresses:
            door = closing.enter_context(socket.socket())
            if sys.platform != "win32":  # there it would let two programs listen at one port
                door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            door.bind((address, port))
            door.listen(_WAITING_CALLS)
            door.setblocking(False)
            doors.append(door)
        closing.pop_all()
    return doors


def serve(app: Any, doors: list[socket.socket], settings: Mapping[str, object], *, held: bool) -> None:
    """Serve the app until a signal comes, or until whoever started this program is gone.

    Parameters
    ----------
    app
        The app (ASGI 3.0).
    doors
        What to listen at.
    settings
        The app library's settings.
    held
        Whether standard input is held open by the program that started this one: its end means stop.

    Notes
    -----
    Headers in which a forwarding program says for whom it asks are not read (`proxy_headers`): anybody can write them.
    """
    bootstrap.load_config_options(dict(settings))
    server = uvicorn.Server(
        uvicorn.Config(
            app,
            ws_ping_interval=30,
            ws_ping_timeout=30,
            ws_per_message_deflate=False,
            proxy_headers=False,
            server_header=False,
            access_log=False,
            log_level="warning",
            use_colors=False,
            timeout_graceful_shutdown=LONGEST_CLOSE_S,
        )
    )
    if held:
        threading.Thread(target=_stop_when_let_go, args=(server,), daemon=True).start()
    _end_in_order(server)
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=doors)


def _end_in_order(server: uvicorn.Server) -> None:
    """Let a wish to end close the server and then leave by the front door, so that whatever is held is let go."""

    def leave(_number: int, _frame: FrameType | None) -> None:
        sys.exit(0)  # the server hands the wish back once it has closed

    def close(_number: int, _frame: FrameType | None) -> None:
        server.should_exit = True

    signal.signal(signal.SIGTERM, leave)
    if sys.platform != "win32":
        signal.signal(signal.SIGHUP, close)


def _stop_when_let_go(server: uvicorn.Server) -> None:
    with contextlib.suppress(OSError, ValueError):
        while os.read(
            sys.stdin.fileno(), 4096
        ):  # not through its buffer, whose lock would outlive the interpreter
            pass
    server.should_exit = True
    time.sleep(2 * LONGEST_CLOSE_S)
    os._exit(0)
