"""Watches what an input makes the program do: addresses asked, programs started, files written, memory, time."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

_ASKS = ("socket.connect", "socket.getaddrinfo", "socket.gethostbyname", "socket.sendto", "socket.bind")
_STARTS = (
    "subprocess.Popen",
    "os.system",
    "os.exec",
    "os.posix_spawn",
    "os.spawn",
    "os.startfile",
    "pty.spawn",
    "import.pickle",
    "pickle.find_class",
    "ctypes.dlopen",
    "webbrowser.open",
)
# Which of the arguments is changed; what is deleted shows in the names that are there afterwards.
_CHANGES = {"os.mkdir": (0,), "os.rename": (0, 1), "os.link": (1,), "os.symlink": (1,), "os.truncate": (0,)}
_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND


@dataclass
class Seen:
    """What happened while an input was read."""

    asked: list[str] = field(default_factory=list)
    started: list[str] = field(default_factory=list)
    written: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    grown_mb: float = 0.0
    cpu_s: float = 0.0
    wall_s: float = 0.0


_now: Seen | None = None
_thread = 0


def _hook(event: str, arguments: tuple[object, ...]) -> None:
    seen = _now
    if seen is None or threading.get_ident() != _thread:
        return
    if event in _ASKS:
        seen.asked.append(f"{event} {arguments[1:]}")
    elif event in _STARTS:
        seen.started.append(f"{event} {arguments[:2]}")
    elif event == "open":
        path, mode, flags = arguments
        writes = isinstance(mode, str) and any(sign in mode for sign in "wax+")
        if writes or (mode is None and isinstance(flags, int) and flags & _WRITING):
            seen.written.append(os.fsdecode(path) if isinstance(path, (str, bytes, os.PathLike)) else "")
    elif event in _CHANGES:
        seen.written.extend(os.fsdecode(str(arguments[place])) for place in _CHANGES[event])


sys.addaudithook(_hook)


LONGEST_SECONDS = 30.0


def _hangs(*_: object) -> None:
    raise AssertionError(f"an input held the program for {LONGEST_SECONDS:.0f} s")


def _resident(name: str) -> float:
    with open("/proc/self/status", encoding="ascii") as status:  # noqa: PTH123
        for line in status:
            if line.startswith(name):
                return int(line.split()[1]) / 1000
    return 0.0


def _names(folder: Path) -> set[str]:
    return {str(path) for path in folder.rglob("*")}


@contextlib.contextmanager
def watched(beside: Path) -> Iterator[Seen]:
    """Give what is seen during the block; Linux measures the peak of the memory, elsewhere it stays 0.

    Parameters
    ----------
    beside
        Folder whose content must be the same afterwards.
    """
    global _now, _thread
    seen, before = Seen(), _names(beside)
    measured = Path("/proc/self/clear_refs").exists()
    resting = 0.0
    if measured:
        with contextlib.suppress(OSError):
            Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
        resting = _resident("VmRSS")
    if hasattr(signal, "setitimer"):
        signal.signal(signal.SIGALRM, _hangs)
        signal.setitimer(signal.ITIMER_REAL, LONGEST_SECONDS)
    began, cpu = time.perf_counter(), time.process_time()
    _now, _thread = seen, threading.get_ident()
    try:
        yield seen
    finally:
        _now = None
        if hasattr(signal, "setitimer"):
            signal.setitimer(signal.ITIMER_REAL, 0)
        seen.wall_s, seen.cpu_s = time.perf_counter() - began, time.process_time() - cpu
        if measured:
            seen.grown_mb = max(0.0, _resident("VmHWM") - resting)
        seen.left = sorted(_names(beside) ^ before)
        ours = os.path.join(tempfile.gettempdir(), "claywalk-")  # noqa: PTH118
        seen.written = [name for name in seen.written if not name.startswith(ours) and name != os.devnull]


class Listener:
    """Listens on a port of this machine that the hostile files name, and counts who comes."""

    def __init__(self) -> None:
        self._socket = socket.socket()
        self._socket.bind(("127.0.0.1", 0))
        self._socket.listen()
        self.port = self._socket.getsockname()[1]
        self.callers = 0
        threading.Thread(target=self._answer, daemon=True).start()

    def _answer(self) -> None:
        while True:
            try:
                caller, _ = self._socket.accept()
            except OSError:
                return
            self.callers += 1
            caller.close()

    def close(self) -> None:
        self._socket.close()
