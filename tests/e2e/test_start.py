"""The app as a user starts it: one command, the browser sent to this machine, nothing but ours on the page."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

playwright_api = pytest.importorskip("playwright.sync_api", reason="the Python package playwright is missing")

pytestmark = [pytest.mark.e2e, pytest.mark.skipif(sys.platform != "linux", reason="xdg-open is of Linux")]


def _chromium() -> str:
    found = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if not found:
        pytest.skip("no Chromium on this machine")
    return found


def test_one_command_opens_the_app_and_ctrl_c_closes_it(small_ground: Path, tmp_path: Path) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    asked_for = tmp_path / "asked for"
    opener = tmp_path / "bin" / "xdg-open"
    opener.parent.mkdir()
    opener.write_text(f"#!/bin/sh\nprintf %s \"$1\" > '{asked_for}'\n")
    opener.chmod(0o755)
    environment = {**os.environ, "PATH": f"{opener.parent}{os.pathsep}{os.environ['PATH']}"}
    start = "from prospect.cli import main; main()"
    command = [sys.executable, "-c", start, "app", str(small_ground), "--port", str(port)]
    with subprocess.Popen(command, env=environment, start_new_session=True) as program:
        try:
            address = f"http://127.0.0.1:{port}"
            end = time.monotonic() + 120
            while not asked_for.exists() and time.monotonic() < end:
                time.sleep(0.2)
            assert asked_for.read_text() == address
            _looks_like_ours(address)
        finally:
            os.killpg(program.pid, signal.SIGINT)
        assert program.wait(30) == 0
    with socket.socket() as door:
        assert door.connect_ex(("127.0.0.1", port)) != 0, "nothing listens any more"


def _looks_like_ours(address: str) -> None:
    with playwright_api.sync_playwright() as machinery:
        browser = machinery.chromium.launch(
            executable_path=_chromium(), args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto(address)
        page.get_by_text("Where to look first").wait_for(timeout=90_000)
        page.wait_for_timeout(3000)
        text = page.locator("body").inner_text()
        browser.close()
    for foreign in ("Streamlit", "Install", "Deploy", "agents"):
        assert foreign not in text, f"'{foreign}' is not ours"
