"""The command that opens the app, and the server it starts."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

import click

from prospect.cli.network import is_free, local_addresses
from prospect.cli.passphrase import make_passphrase
from prospect.cli.printing import note
from prospect.errors import GroundError, WrongUsage
from prospect.store import Ground

HOME = "127.0.0.1"
FIRST_PORT = 8501
START_TRIES = 240
START_PAUSE_S = 0.5
LONGEST_CLOSE_S = 15
SHORTEST_PASSPHRASE = 12


@dataclass(frozen=True, slots=True)
class Phone:
    """How other devices come in.

    Attributes
    ----------
    addresses
        This machine's own on the local network.
    passphrase
        What they are asked for.
    owners
        Whether they see owners' names too.
    """

    addresses: tuple[str, ...]
    passphrase: str
    owners: bool


@click.command(short_help="Open the app on this machine.")
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=Path))
@click.option(
    "--port", type=click.IntRange(1024, 65535), help="Port; default 8501 or the next one that is free."
)
@click.option("--phone", is_flag=True, help="Also open it to the local network, behind a passphrase.")
@click.option(
    "--passphrase",
    metavar="WORDS",
    help=f"Your own passphrase for --phone, at least {SHORTEST_PASSPHRASE} characters; "
    "otherwise one is made anew at each start.",
)
@click.option("--phone-owners", is_flag=True, help="With --phone: let those devices see owners' names too.")
def app(
    folder: Path | None, port: int | None, phone: bool, passphrase: str | None, phone_owners: bool
) -> None:
    """Open the app in the browser; it listens on this machine only, unless --phone is given."""
    if not phone and (passphrase is not None or phone_owners):
        raise WrongUsage("--passphrase and --phone-owners say how --phone opens the app; add --phone.")
    sys.exit(open_app(folder, port, _phone(passphrase, phone_owners) if phone else None))


COMMANDS = (app,)


def open_app(folder: Path | None, port: int | None, phone: Phone | None = None) -> int:
    """Start the app's server, bound to this machine, and wait until it ends; return its exit code.

    A ground that cannot be opened is told of, and shown with its reason by the app.

    Raises
    ------
    GroundError
        When the folder holds no ground, or no port is free.
    """
    if folder is not None:
        _say_what_is_wrong(folder)
    listening = (HOME, *(phone.addresses if phone else ()))
    chosen = _free_port(port, listening)
    address = f"http://{HOME}:{chosen}"
    if phone is None:
        note(f"The app is at {address}, on this machine only. Press Ctrl+C here to close it.")
    else:
        _tell(phone, chosen, address)
    command = [sys.executable, "-m", "prospect.ui", "--port", str(chosen), "--held"]
    if phone is not None:
        command += [word for place in phone.addresses for word in ("--phone-at", place)]
        command += ["--phone-owners"] if phone.owners else []
    if folder is not None:
        command.append(str(folder))
    with _stopped_alike(), subprocess.Popen(command, stdin=subprocess.PIPE) as server:
        try:
            _hand_over(server, phone)
            if _answers(chosen, server) and _has_a_screen():
                click.launch(address)
            return server.wait()
        except KeyboardInterrupt:
            return 0
        finally:
            _close(server)


def _phone(passphrase: str | None, owners: bool) -> Phone:
    if passphrase is not None:
        passphrase = " ".join(passphrase.split())
        if len(passphrase) < SHORTEST_PASSPHRASE or not passphrase.isprintable():
            raise WrongUsage(
                f"A passphrase needs at least {SHORTEST_PASSPHRASE} characters that can be typed, and is best made "
                "of several words; leave --passphrase out to have one made."
            )
    addresses = local_addresses()
    if not addresses:
        raise GroundError(
            "This machine is on no local network that a phone could reach it by: join one, or start without --phone."
        )
    return Phone(addresses, passphrase or make_passphrase(), owners)


def _tell(phone: Phone, port: int, address: str) -> None:
    """Say plainly how to come in, and what it means that others can try."""
    places = " or ".join(f"http://{place}:{port}" for place in phone.addresses)
    names = "see owners' names too" if phone.owners else "do not see owners' names"
    note(f"The app is at {address} on this machine.")
    note("")
    note(f"On the phone, type   {places}")
    note(f"The passphrase is    {phone.passphrase}")
    note("")
    note(
        "While this runs, everybody on this network can try to come in. The connection is not encrypted: whoever can "
        "listen on the network can read what is shown, and the passphrase. Use it only on a network you trust."
    )
    note(f"Other devices {names}; files are read in only on this machine. Press Ctrl+C here to close it.")


def _say_what_is_wrong(folder: Path) -> None:
    try:
        Ground.open(folder)
    except GroundError as error:
        if not Ground.is_ground(folder):
            raise
        note(str(error))


def _hand_over(server: subprocess.Popen[bytes], phone: Phone | None) -> None:
    """Give the passphrase by a way that no list of programs shows; the way stays open for as long as we run."""
    if server.stdin is not None:
        with contextlib.suppress(OSError):
            server.stdin.write(f"{phone.passphrase if phone else ''}\n".encode())
            server.stdin.flush()


def _close(server: subprocess.Popen[bytes]) -> None:
    """End the server, gently first."""
    if server.poll() is not None:
        return
    server.terminate()
    try:
        server.wait(LONGEST_CLOSE_S)
    except (subprocess.TimeoutExpired, KeyboardInterrupt):
        server.kill()


@contextlib.contextmanager
def _stopped_alike() -> Iterator[None]:
    """Let a wish to end, or a window that is closed, be the same as Ctrl+C."""

    def stop(_number: int, _frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    wishes = [signal.SIGTERM] + ([signal.SIGHUP] if sys.platform != "win32" else [])
    before = {wish: signal.signal(wish, stop) for wish in wishes}
    try:
        yield
    finally:
        for wish, handler in before.items():
            signal.signal(wish, handler)


def _answers(port: int, server: subprocess.Popen[bytes]) -> bool:
    """Wait until the server takes a connection; False when it ended or stayed silent."""
    for _ in range(START_TRIES):
        if server.poll() is not None:
            return False
        with contextlib.suppress(OSError), socket.create_connection((HOME, port), timeout=1):
            return True
        time.sleep(START_PAUSE_S)
    return False


def _has_a_screen() -> bool:
    """Whether a browser can show itself: without a desktop, opening one ends in a list of programs not found."""
    named = ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER")
    return sys.platform in ("win32", "darwin") or any(os.environ.get(name) for name in named)


def _free_port(wanted: int | None, addresses: tuple[str, ...]) -> int:
    """Return the wanted port, or the first one, that is free at every address."""
    if wanted is not None:
        if not all(is_free(address, wanted) for address in addresses):
            raise GroundError(
                f"Port {wanted} of this machine is taken, perhaps by the app itself in another window. Give another "
                "with --port, or none to have one chosen."
            )
        return wanted
    for port in range(FIRST_PORT, FIRST_PORT + 200):
        if all(is_free(address, port) for address in addresses):
            return port
    raise GroundError("No port of this machine is free; close some programs.")
