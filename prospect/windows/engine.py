"""Who does the work: the tasks of a stage go to dask, to its threads here or to a cluster that is given."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import Any

from prospect.errors import ProspectError, Stopped, WrongUsage

Progress = Callable[[str, int, int], None]
"""Called with the name of a stage, how many of its windows are done, and of how many."""

Jobs = Mapping[int, tuple[Any, ...]]


@dataclass(frozen=True, slots=True)
class Engine:
    """How the work is done.

    Attributes
    ----------
    threads
        Windows worked on at once; memory grows with it.
    scheduler
        Address of a dask scheduler (`tcp://…`) whose workers see the same folders; None = threads of this process.
    progress
        Called after every window.
    stopped
        Asked after every window; once it says True the work ends with `Stopped`.
    """

    threads: int = 2
    scheduler: str | None = None
    progress: Progress | None = None
    stopped: Callable[[], bool] | None = None

    def __post_init__(self) -> None:
        if self.threads < 1:
            raise WrongUsage(f"Invalid number of threads {self.threads}. It must be at least 1.")

    def run(
        self, function: Callable[..., Any], jobs: Jobs, finished: Callable[[int, Any], None] | None = None
    ) -> None:
        """Call a function once for each job, in any order.

        Parameters
        ----------
        function
            Of a module, so that it can be sent to another machine.
        jobs
            Its arguments by number.
        finished
            Called in this thread with the number and what came out, as soon as it is there.

        Raises
        ------
        Stopped
            When `stopped` said so; what was under way has ended by then.
        ProspectError
            When a scheduler is given and cannot be used.
        """
        if not jobs:
            return
        tasks = {number: partial(function, *arguments) for number, arguments in jobs.items()}
        done = partial(self._done, finished)
        if self.scheduler is None:
            _on_threads(tasks, self.threads, done)
        else:
            _on_cluster(tasks, self.scheduler, done)

    def tell(self, stage: str, done: int, of: int) -> None:
        """Tell whoever watches how far a stage is."""
        if self.progress is not None:
            self.progress(stage, done, of)

    def _done(self, finished: Callable[[int, Any], None] | None, number: int, result: Any) -> None:
        if finished is not None:
            finished(number, result)
        if self.stopped is not None and self.stopped():
            raise Stopped("Stopped as asked. What is done is kept; the same call goes on from there.")


def _on_threads(tasks: dict[int, partial[Any]], threads: int, done: Callable[[int, Any], None]) -> None:
    # Loaded here, because most grounds are small and never need it.
    from dask.base import compute
    from dask.callbacks import Callback
    from dask.delayed import delayed

    calls = {number: delayed(task, pure=False, traverse=False)() for number, task in tasks.items()}
    number_of = {call.key: number for number, call in calls.items()}

    def after(key: Any, result: Any, *_: Any) -> None:
        done(number_of[key], result)

    # Leaving the pool waits for what is under way, so that nothing writes after an error or a stop was reported.
    with ThreadPoolExecutor(threads) as pool, Callback(posttask=after):
        compute(*calls.values(), scheduler="threads", pool=pool, num_workers=threads, optimize_graph=False)


def _on_cluster(tasks: dict[int, partial[Any]], address: str, done: Callable[[int, Any], None]) -> None:
    try:
        from distributed import Client, as_completed
    except ImportError as error:
        raise ProspectError(
            "Working on a cluster needs the package 'distributed': pip install 'claywalk[cluster]'"
        ) from error
    try:
        client = Client(address, timeout="10s", set_as_default=False)
    except (OSError, ValueError) as error:
        raise ProspectError(f"There is no scheduler to be reached at {address}.") from error
    with client:
        number_of = {client.submit(task, pure=False): number for number, task in tasks.items()}
        try:
            for future in as_completed(number_of, loop=client.loop):
                done(number_of[future], future.result())
                future.release()
        finally:
            client.cancel(list(number_of))
