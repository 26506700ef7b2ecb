"""The app opened to the local network: another device, a browser on it, a passphrase, no owners."""

from __future__ import annotations

import http.client
import os
import queue
import re
import shutil
import signal
import socket
import subprocess
import sys
import threading
import urllib.parse
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from prospect.cli.network import local_addresses
from prospect.records import Permission
from prospect.store import Ground

pytestmark = [pytest.mark.e2e, pytest.mark.skipif(sys.platform == "win32", reason="the signals are of POSIX")]

LONG_MS = 90_000
OWNERS = ("Mirel Ashdown", "Tov Brandle", "Orsa Quill")
PERSON = "Vessa Thornquist"
ROOMS = ("Permissions", "What was done", "Samples", "Before you dig")


@dataclass
class Running:
    """An app started by the command with `--phone`."""

    program: subprocess.Popen[str]
    port: int
    passphrase: str = ""
    places: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    @property
    def there(self) -> str:
        return self.places[0]

    @property
    def here(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def ask(
        self, place: str, path: str, method: str = "GET", body: str = "", **headers: str
    ) -> tuple[int, dict[str, str], str]:
        """Ask like a plain program; a socket is asked for by the headers of RFC 6455 §4.1."""
        parts = urllib.parse.urlsplit(place)
        line = http.client.HTTPConnection(parts.hostname or "", parts.port, timeout=60)
        try:
            named = {name.replace("_", "-"): value for name, value in headers.items()}
            line.request(method, path, body.encode() or None, named)
            answer = line.getresponse()
            text = "" if answer.status == 101 else answer.read().decode("utf-8", "replace")
            return answer.status, {name.lower(): value for name, value in answer.getheaders()}, text
        finally:
            line.close()

    def tell(self, words: str) -> tuple[int, dict[str, str], str]:
        body = urllib.parse.urlencode({"words": words})
        form = {"Content_Type": "application/x-www-form-urlencoded", "Origin": self.there}
        return self.ask(self.there, "/let-me-in", "POST", body, **form)


SOCKET = {
    "Connection": "Upgrade",
    "Upgrade": "websocket",
    "Sec_WebSocket_Version": "13",
    "Sec_WebSocket_Key": "AAAAAAAAAAAAAAAAAAAAAA==",
}


def start(folder: Path, *more: str) -> Running:
    """Start the command and read what it tells the one who started it."""
    if not local_addresses():
        pytest.skip("this machine is on no local network, so no other device can be played")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    code = "from prospect.cli import main; main()"
    quiet = folder.parent / "no browser"
    quiet.mkdir(exist_ok=True)
    for name in ("xdg-open", "open"):
        (quiet / name).write_text("#!/bin/sh\n")
        (quiet / name).chmod(0o755)
    environment = {
        **os.environ,
        "PATH": f"{quiet}{os.pathsep}{os.environ['PATH']}",
        "FORWARDED_ALLOW_IPS": "*",
    }
    command = [sys.executable, "-c", code, "app", str(folder), "--port", str(port), "--phone", *more]
    program = subprocess.Popen(
        command, env=environment, stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    running = Running(program, port)
    lines: queue.Queue[str] = queue.Queue()

    def read() -> None:
        assert program.stderr is not None
        for line in program.stderr:
            running.said.append(line)
            lines.put(line)
        lines.put("")

    threading.Thread(target=read, daemon=True).start()
    while "Press Ctrl+C" not in "".join(running.said):
        if not lines.get(timeout=60):
            pytest.fail("".join(running.said))
    told = "".join(running.said)
    running.places = re.findall(r"http://(?!127\.)[0-9.]+:\d+", told)
    running.passphrase = re.search(r"The passphrase is +(.+)", told).group(1)  # type: ignore[union-attr]
    for _ in range(240):
        try:
            if running.ask(running.here, "/_stcore/health")[0] == 200:
                return running
        except OSError:
            threading.Event().wait(0.5)
        if program.poll() is not None:
            break
    program.kill()
    pytest.fail("".join(["the app did not come up\n", *running.said]))


def stop(running: Running) -> None:
    running.program.send_signal(signal.SIGTERM)
    try:
        assert running.program.wait(30) == 0
    finally:
        if running.program.poll() is None:
            running.program.kill()


@pytest.fixture(scope="module")
def opened(small_ground: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    folder = tmp_path_factory.mktemp("grounds") / "phone"
    shutil.copytree(small_ground, folder)
    said = Permission(
        "001", "granted", "auger", person=PERSON, conditions=f"Ring {PERSON} at eight", note=PERSON
    )
    Ground.open(folder).permit(said)
    running = start(folder)
    yield running
    stop(running)


def test_the_one_who_starts_it_is_told_plainly(opened: Running) -> None:
    told = "".join(opened.said)
    assert opened.places == [f"http://{address}:{opened.port}" for address in local_addresses()]
    assert re.fullmatch(r"[a-z]+ [a-z]+ [a-z]+ [a-z]+ \d\d", opened.passphrase)
    for word in ("everybody on this network can try", "not encrypted", "only on a network you trust"):
        assert word in told


def test_the_passphrase_stands_in_no_list_of_programs(opened: Running) -> None:
    if sys.platform != "linux":
        pytest.skip("/proc is of Linux")
    mine = opened.passphrase.encode()
    for path in Path("/proc").glob("[0-9]*"):
        for name in ("cmdline", "environ"):
            try:
                assert mine not in (path / name).read_bytes()
            except OSError:
                continue


def test_it_listens_at_the_addresses_told_and_nowhere_else(opened: Running) -> None:
    # 127.0.0.2 is this machine too on Linux; an app bound to every address would answer there.
    with socket.socket() as door:
        assert door.connect_ex(("127.0.0.2", opened.port)) != 0
    if socket.has_ipv6:
        with socket.socket(socket.AF_INET6) as door:
            assert door.connect_ex(("::1", opened.port)) != 0


@pytest.mark.parametrize(
    "path",
    ["/", "/layers", "/_stcore/health", "/assets/claywalk/map.js", "/data/parcels.geojson?bbox=0,0,1,1&z=3"],
)
def test_a_stranger_gets_only_the_question(opened: Running, path: str) -> None:
    # The address of the request is not believed from a header, even where the server's own variable allows it.
    for headers in ({}, {"X_Forwarded_For": "127.0.0.1", "X_Forwarded_Host": "localhost"}):
        status, named, text = opened.ask(opened.there, path, **headers)
        assert status == 401
        assert "set-cookie" not in named
        assert "server" not in named
        assert not any(owner in text for owner in OWNERS)


def test_a_strangers_socket_is_refused(opened: Running) -> None:
    for headers in ({}, {"Origin": opened.there}, {"Origin": "http://evil.example"}):
        status, _, _ = opened.ask(opened.there, "/_stcore/stream", **SOCKET, **headers)
        assert status in (400, 403)
    assert opened.ask(opened.here, "/_stcore/stream", **SOCKET, Origin=opened.here)[0] == 101
    assert opened.ask(opened.here, "/_stcore/stream", **SOCKET, Origin="http://evil.example")[0] == 403


def test_words_open_and_other_words_do_not(opened: Running) -> None:
    assert opened.tell("some other words")[0] == 401
    status, named, _ = opened.tell(opened.passphrase)
    assert status == 303
    mine = {"Cookie": named["set-cookie"].split(";")[0]}
    assert opened.ask(opened.there, "/_stcore/health", **mine)[0] == 200
    assert opened.ask(opened.there, "/_stcore/stream", **SOCKET, **mine, Origin=opened.there)[0] == 101
    assert opened.ask(opened.there, "/_stcore/stream", **SOCKET, **mine)[0] in (400, 403)
    assert (
        opened.ask(opened.there, "/_stcore/upload_file/a/b", "PUT", "x", **mine, Origin=opened.there)[0]
        == 403
    )
    assert opened.ask(opened.there, "/", **mine, Host="evil.example")[0] == 400


def _visit(browser, place: str, pictures: Path | None, name: str):  # type: ignore[no-untyped-def]
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, color_scheme="light", has_touch=True
    )
    page = context.new_page()
    page.set_default_timeout(LONG_MS)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    frames: list[bytes | str] = []
    page.on("websocket", lambda line: line.on("framereceived", lambda frame: frames.append(frame)))
    page.goto(place)
    return context, page, asked, frames


def _look_around(page, asked) -> tuple[str, str]:  # type: ignore[no-untyped-def]
    """Read a spot with parcel lines on; return the page and all data that the map asked for."""
    page.get_by_text("Where to look first").first.wait_for()
    page.get_by_role("button", name="What the map shows").click()
    page.get_by_text("Parcel lines").click()
    page.keyboard.press("Escape")
    frame = page.frame_locator('iframe[title*="folium"]')
    frame.locator("img.leaflet-tile-loaded").first.wait_for()
    with page.expect_response(lambda answer: "/data/parcels" in answer.url):  # drawn from zoom 12 on
        page.get_by_role("button", name="Read site 1", exact=True).press("Enter")
    page.get_by_text("parcel 00").first.wait_for()
    page.wait_for_timeout(2500)
    return page.content(), "".join(
        page.request.get(url).text() for url in {url for url in asked if "/data/" in url}
    )


@pytest.fixture
def pictures() -> Path | None:
    """Where to leave pictures for somebody to look at; nowhere unless asked."""
    named = os.environ.get("CLAYWALK_TEST_PICTURES")
    return Path(named) if named else None


def _picture(page, pictures: Path | None, name: str) -> None:  # type: ignore[no-untyped-def]
    if pictures is not None:
        page.screenshot(path=str(pictures / f"{name}.png"))


def test_a_phone_comes_in_and_sees_no_owner(opened: Running, browser, pictures: Path | None) -> None:  # type: ignore[no-untyped-def]
    context, page, asked, frames = _visit(browser, opened.there, pictures, "phone")
    page.get_by_label("Passphrase").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    _picture(page, pictures, "passphrase")
    page.get_by_label("Passphrase").fill("not the words at all")
    page.get_by_role("button", name="Let me in").click()
    page.get_by_role("alert").wait_for()
    _picture(page, pictures, "passphrase-wrong")
    page.get_by_label("Passphrase").fill(opened.passphrase.title())
    page.get_by_role("button", name="Let me in").click()
    seen, data = _look_around(page, asked)
    _picture(page, pictures, "phone-reading")
    line = page.get_by_text("Open to this network")
    line.wait_for()
    assert 0 <= line.bounding_box()["y"] < 200, "the line stays in sight when the page was scrolled"
    assert '"001"' in data, "the parcels came, without their owners"
    for name in (*OWNERS, PERSON):
        assert name not in seen + data
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.get_by_role("link", name="Ground map").click()
    page.get_by_text("Open to this network").wait_for()
    page.wait_for_timeout(1500)
    _picture(page, pictures, "phone-ground")
    for room in ROOMS:
        page.get_by_role("link", name=room).click()
        page.locator("h1, h2").filter(visible=True).first.wait_for()
        page.wait_for_timeout(700)
        assert PERSON not in page.content()
        if room == "Permissions":
            page.get_by_role("button", name="Open parcel 1 of the list").press("Enter")
            page.get_by_text("All that was said").wait_for()
            page.get_by_text("at eight").first.wait_for()
            assert PERSON not in page.content()
            assert page.get_by_text("Letter (PDF)").count() == 0
            _picture(page, pictures, "phone-permissions")
    for name in (*OWNERS, PERSON):
        assert not any(name.encode() in (f if isinstance(f, bytes) else f.encode()) for f in frames)
    page.get_by_role("link", name="Layers").click()
    page.get_by_text("Files are read in only on the machine").wait_for()
    assert page.locator('input[type="file"]').count() == 0
    assert page.get_by_text("Open to this network").is_visible()
    _picture(page, pictures, "phone-layers")
    assert [url for url in asked if not url.startswith((opened.there, "data:", "blob:"))] == []
    assert context.cookies()[0]["httpOnly"] or any(cookie["httpOnly"] for cookie in context.cookies())
    context.close()


def test_the_machine_itself_sees_owners_and_that_it_is_open(
    opened: Running, browser, pictures: Path | None
) -> None:  # type: ignore[no-untyped-def]
    context, page, asked, frames = _visit(browser, opened.here, pictures, "own")
    _, data = _look_around(page, asked)
    assert any(owner in page.locator("body").text_content() for owner in OWNERS)
    assert any(owner in data for owner in OWNERS)
    assert opened.there in page.get_by_text("Open to this network").text_content()
    _picture(page, pictures, "own-machine")
    for room in ("Layers", *ROOMS):
        page.get_by_role("link", name=room).click()
        page.get_by_text("Open to this network").wait_for()
    page.get_by_role("link", name="Permissions").click()
    page.get_by_text(PERSON).first.wait_for()
    assert any(PERSON.encode() in frame for frame in frames if isinstance(frame, bytes)), "they can be read"
    context.close()


def test_owners_are_shown_when_that_was_allowed(
    opened: Running, small_ground: Path, tmp_path: Path, browser
) -> None:  # type: ignore[no-untyped-def]
    folder = tmp_path / "ground"
    shutil.copytree(small_ground, folder)
    running = start(folder, "--phone-owners", "--passphrase", "words of my own choosing")
    try:
        assert running.passphrase == "words of my own choosing"
        assert "see owners' names too" in "".join(running.said)
        context, page, asked, _ = _visit(browser, running.there, None, "owners")
        page.get_by_label("Passphrase").fill("words of my own choosing")
        page.get_by_role("button", name="Let me in").click()
        _, data = _look_around(page, asked)
        assert any(owner in data for owner in OWNERS)
        context.close()
    finally:
        stop(running)
