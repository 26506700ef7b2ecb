"""`python -m prospect.ui GROUND [--port N]`: serves the app on this machine until it is stopped."""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
import threading
from pathlib import Path

from prospect.guard.worker import get_ready
from prospect.ui.open_ground import GROUND_VARIABLE

HOME = "127.0.0.1"
NOTHING_TO_DO_IT_WITH = 4


def main() -> None:
    """Read the arguments and serve."""
    asked = _arguments()
    if asked.ground is not None:
        os.environ[GROUND_VARIABLE] = str(asked.ground.resolve())
    passphrase = sys.stdin.buffer.readline().decode().rstrip("\r\n") if asked.held else ""
    sys.argv = sys.argv[:1]
    # The first upload need not wait for the readers then.
    get_ready()
    import streamlit as st  # heavy, and the ground must be named before the routes are made

    from prospect.ui.listening import listen, serve
    from prospect.ui.serving import app_parts, server_settings
    from prospect.ui.visitor import Opening, open_to_network

    opening = None
    if asked.phone_at:
        addresses = tuple(f"http://{address}:{asked.port}" for address in asked.phone_at)
        opening = Opening(addresses, owners=asked.phone_owners)
        open_to_network(opening)
    parts = app_parts(opening, passphrase)
    try:
        doors = listen((HOME, *asked.phone_at), asked.port)
    except OSError as error:
        sys.stderr.write(f"Port {asked.port} cannot be used ({error.strerror}); give another with --port.\n")
        sys.exit(NOTHING_TO_DO_IT_WITH)
    threading.Thread(target=_warm, name="warming", daemon=True).start()
    serve(st.App(**parts), doors, server_settings(asked.port), held=asked.held)


def _warm() -> None:
    """Have the compiled loops ready by the time somebody asks for the map."""
    # A fault here meets whoever asks for the map, with a word of its own.
    with contextlib.suppress(Exception):
        from prospect.pipeline.warming import warm_up  # heavy, and not before the app answers

        warm_up()


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="claywalk app", description="Serves the app on this machine.")
    parser.add_argument("ground", nargs="?", type=Path, default=None, help="folder of the ground")
    parser.add_argument("--port", type=int, default=8501, help="port on this machine")
    parser.add_argument(
        "--held",
        action="store_true",
        help="the first line of standard input is the passphrase, its end means stop",
    )
    parser.add_argument(
        "--phone-at",
        action="append",
        default=[],
        metavar="ADDRESS",
        help="address of this machine at which other devices may come in by the passphrase",
    )
    parser.add_argument("--phone-owners", action="store_true", help="those devices see owners' names too")
    asked = parser.parse_args()
    if asked.phone_at and not asked.held:
        parser.error("--phone-at needs a passphrase, on standard input with --held")
    return asked


if __name__ == "__main__":
    main()
