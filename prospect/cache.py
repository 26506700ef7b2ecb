"""Derived arrays kept under the name of what they came from; safe to delete at any time."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Arrays = dict[str, NDArray[np.generic]]


def file_key(path: Path) -> str:
    """Return a hash of a file's content."""
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, lambda: hashlib.blake2b(digest_size=16)).hexdigest()


def content_key(*parts: object) -> str:
    """Return a short hash of plain values (numbers, text, lists, mappings), the same on every machine."""
    text = json.dumps(parts, sort_keys=True, default=str, ensure_ascii=False)
    return hashlib.blake2b(text.encode(), digest_size=10).hexdigest()


@dataclass(frozen=True, slots=True)
class ArrayCache:
    """A folder of arrays by content key.

    Attributes
    ----------
    folder
        Where they are kept; made when needed.
    """

    folder: Path

    def load(self, name: str, key: str) -> Arrays | None:
        """Return the arrays kept under name and key; None when there are none or the file is damaged."""
        path = self._path(name, key)
        try:
            with np.load(path, allow_pickle=False) as archive:
                return {item: archive[item] for item in archive.files}
        except FileNotFoundError:
            return None
        except (OSError, ValueError, EOFError, KeyError, zipfile.BadZipFile):
            path.unlink(missing_ok=True)
            return None

    def save(self, name: str, key: str, arrays: Mapping[str, NDArray[np.generic]]) -> None:
        """Keep arrays under name and key in one step and delete older ones of that name."""
        self.folder.mkdir(parents=True, exist_ok=True)
        path = self._path(name, key)
        part = path.with_name(f".{path.name}.{os.getpid()}.part")
        try:
            with part.open("wb") as handle:
                np.savez(handle, **arrays)  # type: ignore[arg-type]
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)
        for old in self.folder.glob(f"{name}-*.npz"):
            if old != path:
                with contextlib.suppress(OSError):
                    old.unlink()

    def _path(self, name: str, key: str) -> Path:
        return self.folder / f"{name}-{key}.npz"
