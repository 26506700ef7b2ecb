"""Reads a foreign file in a process of its own, so that a library's crash, hang or hunger costs one message."""

from __future__ import annotations

import contextlib
import multiprocessing
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from functools import partial
from multiprocessing.connection import Connection
from types import ModuleType
from typing import Any, TypeVar

from prospect.errors import ProspectError
from prospect.guard.refusal import refuse_file
from prospect.issues import IssueLog

try:
    import resource
except ImportError:  # not there on Windows: the time limit holds all the same
    resource = None  # type: ignore[assignment]

Result = TypeVar("Result")
_STARTING = threading.Lock()


def run_guarded(
    function: Callable[..., Result],
    *args: Any,
    log: IssueLog,
    seconds: float = 120.0,
    memory_mb: int = 8_000,
    preload: tuple[str, ...] = (),
    **named: Any,
) -> Result:
    """Return what `function` returns, run in a child process with limits.

    Parameters
    ----------
    function
        A function at the top level of a module; its arguments and result travel by pickle between our own two
        processes, never through a file.
    log
        Names the file and the kind in the refusal when the child does not come back.
    seconds
        Longest time, wall clock.
    memory_mb
        Most address space of the child, where the system can limit it; the libraries alone take about 1.5 GB.
    preload
        Modules that the children's parent imports once, so that later children start at once.

    Raises
    ------
    InputRefused
        When the child crashes, hangs or runs out of memory.
    ProspectError
        Whatever of ours the function raises, passed on.
    """
    context: Any = multiprocessing.get_context(_method())
    if _method() == "forkserver":
        context.set_forkserver_preload(list(preload))
    with tempfile.TemporaryDirectory(prefix="claywalk-", ignore_cleanup_errors=True) as scratch:
        task = partial(_run, memory_mb=memory_mb, scratch=scratch)
        return _passed_on(_answer(context, task, partial(function, *args, **named), log, seconds), log)


def _answer(
    context: Any, task: Callable[..., None], work: Callable[[], Any], log: IssueLog, seconds: float
) -> tuple[str, Any]:
    ours, theirs = context.Pipe(duplex=False)
    child = context.Process(target=task, args=(theirs, work), daemon=True)
    with _no_main_script():
        child.start()
    theirs.close()
    try:
        if not ours.poll(seconds):
            found = f"reading took longer than {seconds:.0f} s"
            refuse_file(log, found, "a file that can be read in that time", "Cut out the part you need.")
        answer: tuple[str, Any] = ours.recv()
    except (EOFError, OSError):
        action = "Export it again, perhaps in another form; nothing of yours was touched."
        refuse_file(log, "the reading library crashed", "a whole, undamaged file", action)
    finally:
        ours.close()
        if child.is_alive():
            child.join(0.5)
        if child.is_alive():
            child.kill()
        child.join()
    return answer


@contextlib.contextmanager
def _no_main_script() -> Iterator[None]:
    """Hide the main script: a child runs it anew, which in a server would draw a screen for nobody."""
    with _STARTING:
        script, nothing = sys.modules["__main__"], ModuleType("__main__")
        sys.modules["__main__"] = nothing
        try:
            yield
        finally:
            if sys.modules["__main__"] is nothing:
                sys.modules["__main__"] = script


def _passed_on(answer: tuple[str, Any], log: IssueLog) -> Any:
    kind, content = answer
    if kind == "memory":
        action = "Cut out the part around your ground and give that."
        refuse_file(log, "more than fits into memory", "a file of a size that can be read", action)
    if kind == "error":
        raise content
    return content


def _run(answer: Connection, work: Callable[[], Any], memory_mb: int, scratch: str) -> None:
    tempfile.tempdir = scratch  # what a killed reader leaves behind goes with it
    if resource is not None:
        most = memory_mb * 1_000_000
        hard = resource.getrlimit(resource.RLIMIT_AS)[1]
        resource.setrlimit(resource.RLIMIT_AS, (most, hard))
        resource.setrlimit(resource.RLIMIT_CORE, (0, resource.getrlimit(resource.RLIMIT_CORE)[1]))
    try:
        answer.send(("result", work()))
    except MemoryError:
        answer.send(("memory", None))
    except ProspectError as error:
        answer.send(("error", error))
    finally:
        answer.close()


def _method() -> str:
    return "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
