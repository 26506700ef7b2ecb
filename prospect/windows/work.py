"""A folder that work on windows is kept in, so that a run that was cut is gone on with where it was."""

from __future__ import annotations

import json
import os
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import DTypeLike, NDArray

from prospect.errors import InputRefused
from prospect.windows.engine import Engine, Jobs
from prospect.windows.files import create_array, open_array, settle, told_plainly

Result = dict[str, NDArray[Any]]

MANIFEST = "manifest.json"
PARTS = "parts"
SETTLED_AT_ONCE = 16
"""Windows of a stage that are noted as done together: what is noted is on disk, and waiting for the disk takes time."""


def keep(path: Path, arrays: Result) -> None:
    """Write small arrays to a file and wait until they are on disk."""
    with told_plainly(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        _write_arrays(path, arrays)


def _write_arrays(path: Path, arrays: Result) -> None:
    with path.open("wb") as handle:
        np.savez(handle, **arrays)  # type: ignore[arg-type]
        handle.flush()
        os.fsync(handle.fileno())


def kept(path: Path) -> Result:
    """Return what `keep` wrote.

    Raises
    ------
    InputRefused
        When the file is gone or damaged.
    """
    try:
        with np.load(path, allow_pickle=False) as archive:
            return {name: archive[name] for name in archive.files}
    except (OSError, ValueError, EOFError, KeyError, zipfile.BadZipFile) as error:
        raise InputRefused(
            f"Unfinished work was changed: {path} is gone or damaged. Delete the folder that holds it and begin anew."
        ) from error


class WorkFolder:
    """Arrays of a whole grid, and a note of which windows of which stage are done.

    Parameters
    ----------
    folder
        Made when needed. What another input or other settings left there is deleted.
    key
        Changes with the content of the input and with the settings.
    engine
        Who does the work.
    """

    def __init__(self, folder: Path, key: str, engine: Engine) -> None:
        self.folder = folder
        self._key = key
        self._engine = engine
        self._arrays: dict[str, tuple[tuple[int, int], str]] = {}
        self._done: dict[str, set[int]] = {}
        self._take_up()

    def path(self, name: str) -> Path:
        """Return the file of an array."""
        return self.folder / f"{name}.npy"

    @property
    def paths(self) -> dict[str, Path]:
        """The files of all arrays by name."""
        return {name: self.path(name) for name in self._arrays}

    def scratch(self, name: str) -> Path:
        """Return a file that a stage may keep something in until the work is finished; written by `keep`."""
        return self.folder / PARTS / f"{name}.npz"

    def array(self, name: str, shape: tuple[int, int], dtype: DTypeLike) -> Path:
        """Return the file of an array, made new unless an earlier run has it."""
        wanted = (shape, np.dtype(dtype).str)
        if self._arrays.get(name) != wanted:
            create_array(self.path(name), shape, dtype)
            self._arrays[name] = wanted
        return self.path(name)

    def stage(self, name: str, function: Callable[..., Result | None], jobs: Jobs) -> dict[int, Result]:
        """Call a function for each window that is not done yet; return what came out of all of them, earlier ones too.

        Parameters
        ----------
        name
            A name of its own for each stage, good for a file.
        function
            Returns small arrays by name, or None. It may write into arrays of this folder, and must write the same
            when it is called again.
        jobs
            Its arguments by number of the window.
        """
        done = self._done.setdefault(name, set())
        results = {number: kept(self._part(name, number)) for number in sorted(done & set(jobs))}
        left = {number: arguments for number, arguments in jobs.items() if number not in done}
        waiting: list[int] = []
        self._engine.tell(name, len(results), len(jobs))

        def finished(number: int, result: Result | None) -> None:
            results[number] = result or {}
            keep(self._part(name, number), results[number])
            waiting.append(number)
            if len(waiting) >= SETTLED_AT_ONCE:
                self._note(name, waiting)
            self._engine.tell(name, len(results), len(jobs))

        try:
            self._engine.run(function, left, finished)
        finally:
            self._note(name, waiting)
        return results

    def finish(self) -> None:
        """Delete what only a run that goes on needs; the arrays stay."""
        self._done = {"all": {0}}
        self._write()
        shutil.rmtree(self.folder / PARTS, ignore_errors=True)

    @property
    def is_finished(self) -> bool:
        """Whether an earlier run with the same key came to its end."""
        return "all" in self._done

    def _take_up(self) -> None:
        """Take up what an earlier run with the same key noted; else begin with an empty folder."""
        with told_plainly(self.folder):
            self.folder.mkdir(parents=True, exist_ok=True)
        try:
            noted = json.loads((self.folder / MANIFEST).read_text(encoding="utf-8"))
            arrays = {name: ((rows, cols), kind) for name, ((rows, cols), kind) in noted["arrays"].items()}
            done = {name: set(numbers) for name, numbers in noted["done"].items()}
            whole = noted["key"] == self._key and all(
                self._is_there(name, *it) for name, it in arrays.items()
            )
        except (InputRefused, OSError, ValueError, KeyError, TypeError, AttributeError):
            whole = False
        if whole:
            self._arrays, self._done = arrays, done
            return
        for path in self.folder.glob("*.npy"):
            path.unlink()
        shutil.rmtree(self.folder / PARTS, ignore_errors=True)
        self._write()

    def _is_there(self, name: str, shape: tuple[int, int], kind: str) -> bool:
        array = open_array(self.path(name))
        return array.shape == shape and array.dtype.str == kind

    def _part(self, stage: str, number: int) -> Path:
        return self.folder / PARTS / stage / f"{number}.npz"

    def _note(self, stage: str, waiting: list[int]) -> None:
        """Note windows as done once everything they wrote is on disk."""
        if not waiting:
            return
        for name in self._arrays:
            settle(self.path(name))
        self._done[stage] |= set(waiting)
        self._write()
        waiting.clear()

    def _write(self) -> None:
        words = {
            "key": self._key,
            "arrays": self._arrays,
            "done": {name: sorted(numbers) for name, numbers in self._done.items()},
        }
        part = self.folder / f".{MANIFEST}.part"
        with told_plainly(part):
            part.write_text(json.dumps(words), encoding="utf-8")
            settle(part)
            part.replace(self.folder / MANIFEST)
