"""The app as a user starts it and ends it: one command, a browser on this machine, nothing left running behind."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

playwright_api = pytest.importorskip("playwright.sync_api", reason="the Python package playwright is missing")

pytestmark = [pytest.mark.e2e, pytest.mark.skipif(sys.platform != "linux", reason="xdg-open is of Linux")]


def _chromium() -> str:
    found = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if not found:
        pytest.skip("no Chromium on this machine")
    return found


START = "from prospect.cli import main; main()"


def _port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@contextlib.contextmanager
def _started(folder: Path, tmp_path: Path, port: int) -> Iterator[subprocess.Popen[str]]:
    """Start the command, wait until it has sent the browser to the app, and end what is left of it."""
    asked_for = tmp_path / "asked for"
    opener = tmp_path / "bin" / "xdg-open"
    opener.parent.mkdir(exist_ok=True)
    opener.write_text(f"#!/bin/sh\nprintf %s \"$1\" > '{asked_for}'\n")
    opener.chmod(0o755)
    path = f"{opener.parent}{os.pathsep}{os.environ['PATH']}"
    environment = {**os.environ, "PATH": path, "DISPLAY": ":0"}
    command = [sys.executable, "-c", START, "app", str(folder), "--port", str(port)]
    with subprocess.Popen(
        command, env=environment, stderr=subprocess.PIPE, text=True, start_new_session=True
    ) as program:
        try:
            end = time.monotonic() + 120
            while not asked_for.exists() and time.monotonic() < end and program.poll() is None:
                time.sleep(0.1)
            assert asked_for.read_text() == f"http://127.0.0.1:{port}"
            yield program
        finally:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(program.pid, signal.SIGKILL)


def _is_open(port: int) -> bool:
    with socket.socket() as door:
        return door.connect_ex(("127.0.0.1", port)) == 0


def _kin(program: subprocess.Popen[str]) -> list[int]:
    """Return the processes of the session that the command began, itself and those that have ended left out."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            state, _, _, session = path.read_text().rpartition(")")[2].split()[:4]
            if int(session) == program.pid and state != "Z" and path.parent.name != str(program.pid):
                found.append(int(path.parent.name))
    return found


def _nobody_is_left(program: subprocess.Popen[str], port: int) -> None:
    end = time.monotonic() + 30
    while (_kin(program) or _is_open(port)) and time.monotonic() < end:
        time.sleep(0.1)
    assert _kin(program) == []
    assert not _is_open(port), "nothing listens any more"


def test_one_command_opens_the_app_and_ctrl_c_closes_it(small_ground: Path, tmp_path: Path) -> None:
    port = _port()
    with _started(small_ground, tmp_path, port) as program:
        _looks_like_ours(f"http://127.0.0.1:{port}")
        os.killpg(program.pid, signal.SIGINT)
        assert program.wait(30) == 0
        _nobody_is_left(program, port)
        said = program.stderr.read() if program.stderr else ""
    assert "Traceback" not in said
    assert said.count("\n") == 1, said


@pytest.mark.parametrize("wish", [signal.SIGTERM, signal.SIGHUP, signal.SIGKILL])
def test_however_it_is_ended_no_server_stays_behind(small_ground: Path, tmp_path: Path, wish: int) -> None:
    # Each is sent to the command alone, as a window or a system does it; SIGKILL leaves it no moment to clean up.
    port = _port()
    folder = tmp_path / "ground"
    shutil.copytree(small_ground, folder)
    with _started(folder, tmp_path, port) as program:
        assert _kin(program)
        program.send_signal(wish)
        assert program.wait(30) == (-9 if wish == signal.SIGKILL else 0)
        _nobody_is_left(program, port)
        said = program.stderr.read() if program.stderr else ""
    assert said.count("\n") == 1, said
    assert not list(folder.glob("*lock*")), "and the ground is free for others"


def test_a_server_that_is_ended_ends_the_command(small_ground: Path, tmp_path: Path) -> None:
    port = _port()
    with _started(small_ground, tmp_path, port) as program:
        for number in _kin(program):
            with contextlib.suppress(ProcessLookupError):
                os.kill(number, signal.SIGTERM)
        assert program.wait(30) == 0
        _nobody_is_left(program, port)
        said = program.stderr.read() if program.stderr else ""
    assert said.count("\n") == 1, said


def test_a_port_that_is_taken_is_said_and_another_found_unasked(small_ground: Path, tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        taken = other.getsockname()[1]
        command = [sys.executable, "-c", START, "app", str(small_ground), "--port", str(taken)]
        done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
        assert done.returncode == 4
        assert f"Port {taken} of this machine is taken" in done.stderr
        assert "Traceback" not in done.stderr
        direct = [sys.executable, "-m", "prospect.ui", str(small_ground), "--port", str(taken)]
        done = subprocess.run(direct, capture_output=True, text=True, timeout=60, check=False)
        assert done.returncode == 4
        assert "cannot be used" in done.stderr
        assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    "more", [["--passphrase", "short", "--phone"], ["--passphrase", "long enough words"], ["--phone-owners"]]
)
def test_half_an_opening_is_refused(small_ground: Path, more: list[str]) -> None:
    command = [sys.executable, "-c", START, "app", str(small_ground), *more]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert "passphrase" in done.stderr


def test_a_folder_without_a_ground_is_refused(tmp_path: Path) -> None:
    command = [sys.executable, "-c", START, "app", str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 4
    assert "Traceback" not in done.stderr


def test_a_damaged_ground_is_shown_with_its_reason_and_the_way_back(
    small_ground: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "ground"
    shutil.copytree(small_ground, folder)
    records = folder / "records.gpkg"
    content = bytearray(records.read_bytes())
    content[4096 : len(content) - 4096] = os.urandom(len(content) - 8192)
    records.write_bytes(content)
    port = _port()
    with _started(folder, tmp_path, port) as program:
        text = _read(f"http://127.0.0.1:{port}", "damaged")
        program.terminate()
        assert program.wait(30) == 0
        said = program.stderr.read() if program.stderr else ""
    for words in (text, said):
        assert "damaged" in words
        assert "backup" in words
        assert "Traceback" not in words


def _read(address: str, word: str) -> str:
    """Return what stands on a page once a word is there."""
    with playwright_api.sync_playwright() as machinery:
        browser = machinery.chromium.launch(
            executable_path=_chromium(), args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto(address)
        page.get_by_text(word).first.wait_for(timeout=90_000)
        if named := os.environ.get("CLAYWALK_TEST_PICTURES"):
            page.screenshot(path=str(Path(named) / f"{word}.png"))
        text = page.locator("body").inner_text()
        browser.close()
    return str(text)


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
