"""The process that has the readers loaded: each file gets a copy of it, with limits, that is cleared away after."""

from __future__ import annotations

import contextlib
import ctypes
import gc
import importlib
import json
import math
import os
import shutil
import signal
import sys
import tempfile
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing import reduction
from multiprocessing.connection import Connection, wait
from typing import Any, NoReturn

from prospect.errors import ProspectError, causes_of
from prospect.guard.passing import receive, send

try:
    import resource
except ImportError:  # not there on Windows, where the time limit holds all the same
    resource = None  # type: ignore[assignment]

_PARENT_DEATH_SIGNAL = 1
"""PR_SET_PDEATHSIG of the Linux call prctl(2)."""


@dataclass(frozen=True, slots=True)
class Ended:
    """How a copy of the process ended.

    Attributes
    ----------
    signal
        Number of the signal that ended it; 0 when it ended by itself.
    peak_mb
        Most memory that it had resident at a time, loaded libraries included, MB.
    cpu_s
        Processor time, s.
    """

    signal: int
    peak_mb: float
    cpu_s: float


@dataclass(frozen=True, slots=True)
class _Job:
    line: Connection
    scratch: str


def serve(control_number: int, prepare: str) -> NoReturn:
    """Load the readers, then start a copy for each job that comes, until the program we serve is gone.

    Parameters
    ----------
    control_number
        File descriptor over which jobs come: each is two sockets, one to talk with the copy and one `line` on which
        we say how it ended. When the other side closes the line, the copy is killed.
    prepare
        `module:function`, called once after loading; it returns what makes reading unsafe here, or ''.
    """
    control = Connection(control_number)
    fault = _prepared(prepare)
    gc.collect()
    gc.freeze()  # so that the copies share this memory for as long as they can
    woken = _woken_by_ended_children()
    jobs: dict[int, _Job] = {}
    while True:
        owners: dict[Any, int] = {job.line: process for process, job in jobs.items()}
        for ready in wait([control, woken, *owners]):
            if ready is control:
                try:
                    talk, line = (Connection(reduction.recv_handle(control)) for _ in range(2))
                except (EOFError, OSError):
                    _leave(jobs)
                _start(talk, line, jobs, (control, woken), fault)
            elif ready == woken:
                os.read(woken, 4096)
                _see_off(jobs)
            elif owners[ready] in jobs:
                os.kill(owners[ready], signal.SIGKILL)
                _see_off(jobs, owners[ready])


def answer_to(work: Callable[[], Any]) -> tuple[str, Any]:
    """Return how some work went: `result`, `refusal` (ours), `memory` or `fault` (an error nobody expected)."""
    try:
        return "result", work()
    except ProspectError as error:
        return "refusal", (error, causes_of(error))
    except MemoryError:
        return "memory", None
    except Exception as error:
        return "fault", (type(error).__qualname__, traceback.format_exc())


def limit_memory(memory_mb: float) -> None:
    """Limit this process's address space, where the system can (Linux), and write no core files."""
    if resource is not None and sys.platform == "linux":
        for what, most in ((resource.RLIMIT_AS, int(memory_mb * 1e6)), (resource.RLIMIT_CORE, 0)):
            hard = resource.getrlimit(what)[1]
            resource.setrlimit(what, (most if hard == resource.RLIM_INFINITY else min(most, hard), hard))


def _prepared(prepare: str) -> str:
    module, _, name = prepare.partition(":")
    if not module:
        return ""
    try:
        return str(getattr(importlib.import_module(module), name)())
    except Exception as error:
        return f"the readers could not be loaded ({type(error).__name__}: {error})"


def _woken_by_ended_children() -> int:
    woken, wake = os.pipe()
    os.set_blocking(wake, False)
    signal.set_wakeup_fd(wake, warn_on_full_buffer=False)
    signal.signal(signal.SIGCHLD, lambda *_: None)
    return woken


def _start(
    talk: Connection, line: Connection, jobs: dict[int, _Job], ours: tuple[Connection, int], fault: str
) -> None:
    try:
        place, seconds, memory_mb = line.recv()
        scratch = tempfile.mkdtemp(prefix="claywalk-", dir=place)
        line.send(scratch)
    except (EOFError, OSError):
        talk.close()
        line.close()
        return
    server = os.getpid()
    process = os.fork()
    if process == 0:
        with contextlib.suppress(BaseException):
            signal.set_wakeup_fd(-1)
            signal.signal(signal.SIGCHLD, signal.SIG_DFL)
            for held in (ours[0], line, *(job.line for job in jobs.values())):
                held.close()
            os.close(ours[1])
            _read(talk, server, scratch, seconds, memory_mb, fault)
        os._exit(1)
    talk.close()
    jobs[process] = _Job(line, scratch)


def _read(
    talk: Connection, server: int, scratch: str, seconds: float, memory_mb: float, fault: str
) -> NoReturn:
    """Do one job in the copy: limits first, then whatever the file brings."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(_PARENT_DEATH_SIGNAL, signal.SIGKILL)
    if os.getppid() != server:
        os._exit(1)
    limit_memory(memory_mb)
    if resource is not None:
        # A second net under the wall clock, should nobody be left to look at it.
        most = math.ceil(seconds) + 5
        resource.setrlimit(resource.RLIMIT_CPU, (most, most))
    tempfile.tempdir = scratch
    send(talk, "began")
    search_path, folder = receive(talk)
    sys.path[:] = json.loads(search_path)
    if folder:
        os.chdir(folder)
    answer = ("unsafe", fault) if fault else answer_to(lambda: receive(talk)())
    try:
        send(talk, answer)
    except MemoryError:
        send(talk, ("memory", None))
    except Exception as error:
        send(talk, ("fault", (type(error).__qualname__, traceback.format_exc())))
    os._exit(0)


def _see_off(jobs: dict[int, _Job], waited_for: int = 0) -> None:
    """Take leave of the copies that ended (of one that was killed for certain), and clear up after them."""
    for process in [waited_for] if waited_for else list(jobs):
        ended, status, usage = os.wait4(process, 0 if waited_for else os.WNOHANG)
        if not ended:
            continue
        job = jobs.pop(process)
        shutil.rmtree(job.scratch, ignore_errors=True)
        scale = 1 if sys.platform == "darwin" else 1024
        end = Ended(
            os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0,
            usage.ru_maxrss * scale / 1e6,
            usage.ru_utime + usage.ru_stime,
        )
        with contextlib.suppress(OSError):
            job.line.send(end)
        job.line.close()


def _leave(jobs: dict[int, _Job]) -> NoReturn:
    for process in list(jobs):
        os.kill(process, signal.SIGKILL)
        _see_off(jobs, process)
    os._exit(0)
