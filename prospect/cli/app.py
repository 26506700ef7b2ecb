"""The command that opens the app, and the server it starts."""

from __future__ import annotations

import contextlib
import socket
import subprocess
import sys
import time
from pathlib import Path

import click

from prospect.cli.printing import note
from prospect.errors import GroundError
from prospect.store import Ground

FIRST_PORT = 8501
START_TRIES = 240
START_PAUSE_S = 0.5


@click.command(short_help="Open the app on this machine.")
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=Path))
@click.option(
    "--port", type=click.IntRange(1024, 65535), help="Port; default 8501 or the next one that is free."
)
def app(folder: Path | None, port: int | None) -> None:
    """Open the app in the browser; it listens on this machine only."""
    sys.exit(open_app(folder, port))


COMMANDS = (app,)


def open_app(folder: Path | None, port: int | None) -> int:
    """Start the app's server, bound to this machine, and wait until it ends; return its exit code."""
    if folder is not None:
        Ground.open(folder)
    chosen = port or _free_port()
    address = f"http://127.0.0.1:{chosen}"
    note(f"The app is at {address}, on this machine only. Press Ctrl+C here to close it.")
    command = [sys.executable, "-m", "prospect.ui", "--port", str(chosen)]
    with subprocess.Popen(command if folder is None else [*command, str(folder)]) as server:
        try:
            if _answers(chosen, server):
                click.launch(address)
            return server.wait()
        except KeyboardInterrupt:
            server.terminate()
            return 0


def _answers(port: int, server: subprocess.Popen[bytes]) -> bool:
    """Wait until the server takes a connection; False when it ended or stayed silent."""
    for _ in range(START_TRIES):
        if server.poll() is not None:
            return False
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1):
            return True
        time.sleep(START_PAUSE_S)
    return False


def _free_port() -> int:
    for port in (*range(FIRST_PORT, FIRST_PORT + 20), 0):
        with contextlib.suppress(OSError), socket.socket() as door:
            door.bind(("127.0.0.1", port))
            return int(door.getsockname()[1])
    raise GroundError("No port of this machine is free; close some programs.")
