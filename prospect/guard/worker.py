"""Reads a foreign file in a process of its own, so that a library's crash, hang or hunger costs one message."""

from __future__ import annotations

import atexit
import contextlib
import json
import multiprocessing
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from multiprocessing import reduction
from multiprocessing.connection import Connection
from pathlib import Path
from types import ModuleType
from typing import Any, TypeVar

from prospect.errors import GroundError, ReaderFault
from prospect.guard.drivers import reading_environment
from prospect.guard.passing import receive, send
from prospect.guard.preloaded import Ended, answer_to, limit_memory
from prospect.guard.refusal import refuse_file, refuse_for_fault
from prospect.issues import IssueLog

Result = TypeVar("Result")

READERS = "prospect.sources.self_test:unsafe_here"
"""What the process that reads files loads, and calls before it takes the first; by name, as it lies rooms above."""

_STARTS_WITHIN_S = 120.0
"""The readers load in a second; a machine that is busy with other things may take many."""

_SERVE = (
    "import json, sys; sys.path[:] = json.loads(sys.argv[1]); "
    "from prospect.guard.preloaded import serve; serve(int(sys.argv[2]), sys.argv[3])"
)
_RAN_TOO_LONG = ("SIGXCPU",)
_WAS_STOPPED = ("SIGKILL", "SIGTERM")


@dataclass(frozen=True, slots=True)
class Limits:
    """What reading one file may take.

    Attributes
    ----------
    seconds
        Longest time, wall clock.
    memory_mb
        Most address space, MB, where the system can limit it (Linux); the libraries alone take 700 MB of it.
    otherwise
        What a user can do when a file needs more; follows "Cut out the part around your ground and give that".
    """

    seconds: float = 30.0
    memory_mb: float = 2_000.0
    otherwise: str = ""


@dataclass(frozen=True, slots=True)
class Trial:
    """What came of a piece of work in a process of its own.

    Attributes
    ----------
    how
        `result`, `refusal`, `fault`, `unsafe`, `memory`, `hang` or `crash`.
    content
        What belongs to it: the result, the error, the words.
    ended
        How the process ended and what it took; None where the system cannot say.
    """

    how: str
    content: Any = None
    ended: Ended | None = None


@dataclass(slots=True)
class _Room:
    """The process that has the readers loaded, and the socket over which jobs go there."""

    process: subprocess.Popen[bytes]
    control: Connection
    owner: int

    @property
    def open(self) -> bool:
        return self.owner == os.getpid() and self.process.poll() is None


_ONE_AT_A_TIME = threading.Lock()
_ROOMS: dict[str, _Room] = {}


def run_guarded(
    function: Callable[..., Result],
    *args: Any,
    log: IssueLog,
    limits: Limits | None = None,
    prepare: str = READERS,
    **named: Any,
) -> Result:
    """Return what `function` returns, run in a process of its own with limits.

    Parameters
    ----------
    function
        A function at the top level of a module; its arguments and result travel by pickle between our own two
        processes, never through a file.
    log
        Names the file and the kind in the refusal when nothing comes back.
    limits
        What it may take.
    prepare
        As for `get_ready`.

    Raises
    ------
    InputRefused
        When the process crashes, takes too long or runs out of memory; the next file gets a new one.
    ReaderFault
        When the function raises anything that is not ours.
    GroundError
        When foreign files cannot be read safely here.
    ProspectError
        Whatever of ours the function raises, passed on.
    """
    limits = limits or Limits()
    trial = try_out(partial(function, *args, **named), limits, prepare)
    if trial.how == "result":
        result: Result = trial.content
        return result
    _refuse(trial, limits, log)
    raise AssertionError(trial.how)


def try_out(work: Callable[[], Any], limits: Limits, prepare: str = READERS) -> Trial:
    """Run some work in a process of its own and return what came of it; see `run_guarded`."""
    if not hasattr(os, "fork"):
        return _spawned(work, limits)
    talk, theirs = multiprocessing.Pipe()
    line, their_line = multiprocessing.Pipe()
    with contextlib.ExitStack() as held:
        for end in (talk, line, theirs, their_line):
            held.callback(end.close)
        line.send((tempfile.gettempdir(), limits.seconds, limits.memory_mb))
        try:
            _hand_over((theirs, their_line), prepare)
        except OSError as error:
            reason = error.strerror or type(error).__name__
            return Trial("unsafe", f"the process that reads them could not be started ({reason})")
        theirs.close()
        their_line.close()
        scratch, how, content = "", "crash", None
        try:
            if line.poll(_STARTS_WITHIN_S):
                scratch = line.recv()
                send(talk, (_search_path(), _here()))
                send(talk, work)
                began = receive(talk)
                how, content = receive(talk) if began and talk.poll(limits.seconds) else ("hang", None)
            else:
                how, content = "unsafe", "the process that reads them did not start"
        except (EOFError, OSError):
            how = "crash"
        finally:
            talk.close()
            ended = _end(line, scratch, patience_s=0.0 if how == "hang" else 0.5)
    if how == "crash" and ended is not None:
        how, content = _what_killed(ended, limits)
    if how == "unsafe":
        _dismiss(prepare)
    return Trial(how, content, ended)


def get_ready(prepare: str = READERS) -> None:
    """Start loading the readers in the background, so that the first file need not wait for them.

    Parameters
    ----------
    prepare
        `module:function`. Importing the module loads what is needed; the function returns what makes reading unsafe
        here, or ''.
    """
    if hasattr(os, "fork"):
        with _ONE_AT_A_TIME:
            _room(prepare)


def _hand_over(ends: tuple[Connection, ...], prepare: str) -> None:
    with _ONE_AT_A_TIME:
        try:
            _send(_room(prepare), ends)
        except OSError:
            # It went away since we looked.
            gone = _ROOMS.pop(prepare, None)
            if gone is not None:
                gone.process.wait()
            _send(_room(prepare), ends)


def _dismiss(prepare: str) -> None:
    """Let the process with the readers go, so that the next file finds a new one."""
    with _ONE_AT_A_TIME:
        room = _ROOMS.pop(prepare, None)
        if room is not None:
            room.control.close()
            room.process.kill()
            room.process.wait()


@atexit.register
def _dismiss_all() -> None:
    """Let them all go; each ends at once when its socket closes, and clears up before."""
    rooms = [room for room in _ROOMS.values() if room.owner == os.getpid()]
    _ROOMS.clear()
    for room in rooms:
        room.control.close()
    for room in rooms:
        try:
            room.process.wait(5)
        except subprocess.TimeoutExpired:
            room.process.kill()


def _send(room: _Room, ends: tuple[Connection, ...]) -> None:
    for end in ends:
        reduction.send_handle(room.control, end.fileno(), room.process.pid)


def _room(prepare: str) -> _Room:
    room = _ROOMS.get(prepare)
    if room is None or not room.open:
        control, theirs = multiprocessing.Pipe()
        arguments = [sys.executable, "-I", "-c", _SERVE, _search_path(), str(theirs.fileno()), prepare]
        process = subprocess.Popen(
            arguments,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            env=reading_environment(),
            pass_fds=(theirs.fileno(),),
            # Ctrl+C is for the program; it then ends what it started.
            start_new_session=True,
        )
        theirs.close()
        room = _ROOMS[prepare] = _Room(process, control, os.getpid())
    return room


def _search_path() -> str:
    # The folder that one happens to be in is no place for modules, where files come from strangers.
    return json.dumps([str(place) for place in sys.path if str(place) not in ("", ".")])


def _here() -> str:
    try:
        return str(Path.cwd())
    except OSError:  # the folder was deleted under us
        return ""


def _end(line: Connection, scratch: str, patience_s: float) -> Ended | None:
    """Let the copy end, by force where it lingers, and return how it did."""
    ended: Ended | None = None
    with contextlib.suppress(EOFError, OSError):
        if not line.poll(patience_s):
            line.send("end")
        if line.poll(10.0):
            ended = line.recv()
    if ended is None and scratch:
        shutil.rmtree(scratch, ignore_errors=True)
    return ended


def _what_killed(ended: Ended, limits: Limits) -> tuple[str, Any]:
    name = signal.Signals(ended.signal).name if ended.signal else ""
    if name in _RAN_TOO_LONG:
        return "hang", None
    # Many a library ends its process when it is given no more memory.
    if name in _WAS_STOPPED or ended.peak_mb > limits.memory_mb / 2:
        return "memory", None
    return "crash", name


def _refuse(trial: Trial, limits: Limits, log: IssueLog) -> None:
    smaller = f"Cut out the part around your ground and give that{limits.otherwise}."
    match trial.how:
        case "refusal":
            error, error.causes = trial.content
            raise error
        case "unsafe":
            raise GroundError(
                f"{log.file} was not opened, because foreign files cannot be read safely here: {trial.content}. "
                "Run `claywalk doctor`; installing the program again in an environment of its own mends it."
            )
        case "memory":
            most = f"a file that can be read in {limits.memory_mb:,.0f} MB of memory"
            refuse_file(log, "more than fits into the memory it may take", most, smaller)
        case "hang":
            found = f"reading took longer than {limits.seconds:.0f} s"
            refuse_file(log, found, "a file that can be read in that time", smaller)
        case "fault":
            name, trace = trial.content
            try:
                refuse_for_fault(log, name, trace)
            except ReaderFault as fault:
                raise fault from _Elsewhere(trace)
        case _:
            found = f"the library that reads it crashed{f' ({trial.content})' if trial.content else ''}"
            action = "Export it again, perhaps in another form; nothing of yours was changed."
            refuse_file(log, found, "a whole, undamaged file", action)


class _Elsewhere(Exception):
    pass


def _spawned(work: Callable[[], Any], limits: Limits) -> Trial:
    """Run the work in a process that starts anew, where the system cannot copy one."""
    ours, theirs = multiprocessing.Pipe(duplex=False)
    context = multiprocessing.get_context("spawn")
    with tempfile.TemporaryDirectory(prefix="claywalk-", ignore_cleanup_errors=True) as scratch:
        child = context.Process(target=_alone, args=(theirs, work, limits.memory_mb, scratch), daemon=True)
        with _no_main_script():
            child.start()
        theirs.close()
        try:
            if not ours.poll(_STARTS_WITHIN_S) or (ours.recv() and not ours.poll(limits.seconds)):
                return Trial("hang")
            how, content = ours.recv()
        except (EOFError, OSError):
            return Trial("crash")
        finally:
            ours.close()
            child.join(0.5)
            child.kill()
            child.join()
    return Trial(how, content)


@contextlib.contextmanager
def _no_main_script() -> Iterator[None]:
    """Hide the main script: a new process runs it anew, which in a server would draw a screen for nobody."""
    with _ONE_AT_A_TIME:
        script, nothing = sys.modules["__main__"], ModuleType("__main__")
        sys.modules["__main__"] = nothing
        try:
            yield
        finally:
            if sys.modules["__main__"] is nothing:
                sys.modules["__main__"] = script


def _alone(answer: Connection, work: Callable[[], Any], memory_mb: float, scratch: str) -> None:
    limit_memory(memory_mb)
    tempfile.tempdir = scratch  # what a killed reader leaves behind goes with it
    answer.send("began")
    answer.send(answer_to(work))
