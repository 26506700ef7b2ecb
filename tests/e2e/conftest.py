"""What the browser tests share: one browser for each file of tests, and a way to serve a ground to it."""

from __future__ import annotations

import contextlib
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
UP_WITHIN_S = 90


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Return a browser; skips with a word where there is none."""
    api = pytest.importorskip("playwright.sync_api", reason="the Python package playwright is missing")
    path = os.environ.get("CHROMIUM") or next(
        filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
    )
    if path is None:
        pytest.skip("no browser on this machine (set CHROMIUM to one)")
    with api.sync_playwright() as machinery:
        chromium = machinery.chromium.launch(executable_path=path, args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def serve() -> Callable[[Path, Path], contextlib.AbstractContextManager[str]]:
    """Return a function from a ground's folder and a file for what the app says to the address of the app."""

    @contextlib.contextmanager
    def running(folder: Path, output: Path) -> Iterator[str]:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        command = [sys.executable, "-m", "prospect.ui", str(folder), "--port", str(port)]
        with (
            output.open("wb") as sink,
            subprocess.Popen(command, stdout=sink, stderr=subprocess.STDOUT) as server,
        ):
            try:
                _wait_until_up(server, port, output)
                yield f"http://127.0.0.1:{port}"
            finally:
                server.terminate()

    return running


def _wait_until_up(server: subprocess.Popen[bytes], port: int, output: Path) -> None:
    end = time.monotonic() + UP_WITHIN_S
    while time.monotonic() < end:
        if server.poll() is not None:
            pytest.fail(f"the app ended at once:\n{output.read_text(encoding='utf-8', errors='replace')}")
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health", timeout=2):
                return
        except OSError:
            time.sleep(0.3)
    pytest.fail(f"the app did not come up in {UP_WITHIN_S} s")
