"""A disk that may lose what it was not told to keep: the folders that a recording can leave after a power loss.

What a disk promises here is what POSIX says of `fsync` and no more: the content of a file is there as of its last
sync; a name that was made, changed or removed is so for good once its folder was synced. Whatever came later is there
or not, sector by sector and name by name. A rename is done or not done, never half.
"""

from __future__ import annotations

import base64
import hashlib
import random
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

SECTOR = 512
"""Bytes of a sector: the smallest piece that a disk writes (the customary size of a disk's logical block)."""

FOLDER = -1
"""Stands for a folder where a name stands for a file by its number."""

Names = dict[str, int]


@dataclass(slots=True)
class _File:
    kept: bytes = b""
    waiting: list[tuple[int, bytes | None]] = field(default_factory=list)

    def all_there(self) -> bytes:
        content = bytearray(self.kept)
        for offset, piece in self.waiting:
            _put(content, offset, piece)
        return bytes(content)

    def sync(self) -> None:
        if self.waiting:
            self.kept = self.all_there()
            self.waiting.clear()


@dataclass(frozen=True, slots=True)
class Luck:
    """How a power loss turns out.

    Attributes
    ----------
    name
        What it is called.
    written
        Chance that a sector which was not synced is on the disk.
    scrambled
        Chance that a sector which did not make it holds something else instead.
    in_order
        Whether names change on the disk in the order they were changed (as file systems with a journal do), or each
        for itself.
    """

    name: str
    written: float
    scrambled: float
    in_order: bool


LUCK = (
    Luck("nothing but what was synced", 0.0, 0.0, True),
    Luck("everything", 1.0, 0.0, True),
    Luck("all content, no names", 1.0, 0.0, False),
    Luck("half of it, names in order", 0.5, 0.0, True),
    Luck("half of it, names in any order", 0.5, 0.0, False),
    Luck("most of it, the rest scrambled", 0.8, 1.0, False),
    Luck("little of it", 0.1, 0.2, False),
)


class Disk:
    """What is on the disk for good, and what waits to be there."""

    def __init__(self) -> None:
        self.files: dict[int, _File] = {}
        self.kept: Names = {}
        self.waiting: dict[str, list[Mapping[str, int | None]]] = {}

    def take(self, step: Mapping[str, Any]) -> None:
        """Do one step of a recording."""
        kind = step["step"]
        if kind == "create":
            self.files[step["file"]] = _File()
            self._name({step["path"]: step["file"]})
        elif kind == "write":
            self.files[step["file"]].waiting.append((step["offset"], base64.b85decode(step["content"])))
        elif kind == "truncate":
            self.files[step["file"]].waiting.append((step["size"], None))
        elif kind == "sync":
            self.files[step["file"]].sync()
        elif kind == "make folder":
            self._name({step["path"]: FOLDER})
        elif kind == "remove":
            self._name({step["path"]: None})
        elif kind == "rename":
            self._name({step["path"]: None, step["to"]: self.names()[step["path"]]})
        elif kind == "link":
            self._name({step["to"]: self.names()[step["path"]]})
        elif kind == "sync names":
            for change in self.waiting.pop(step["path"], []):
                _change(self.kept, change)
        elif kind == "all synced":
            for file in self.files.values():
                file.sync()
            self.kept = self.names()
            self.waiting.clear()
        else:
            raise ValueError(f"no such step: {kind}")

    def _name(self, change: Mapping[str, int | None]) -> None:
        folders = {PurePosixPath(path).parent.as_posix() for path in change}
        for folder in folders:
            part = {
                path: to for path, to in change.items() if PurePosixPath(path).parent.as_posix() == folder
            }
            self.waiting.setdefault(folder, []).append(part)

    def names(self) -> Names:
        """Return the names as a program sees them while the power is on."""
        names = dict(self.kept)
        for change in (change for changes in self.waiting.values() for change in changes):
            _change(names, change)
        return names

    def digests(self) -> dict[str, str]:
        """Return what every file holds while the power is on, as SHA-256."""
        return {
            path: hashlib.sha256(self.files[number].all_there()).hexdigest()
            for path, number in self.names().items()
            if number != FOLDER
        }

    def after_power_loss(self, chance: random.Random, luck: Luck) -> dict[str, bytes | None]:
        """Return one way in which the disk can be found: the content of every file, None for a folder."""
        names = dict(self.kept)
        for changes in self.waiting.values():
            for change in _lucky(changes, chance, luck):
                _change(names, change)
        found: dict[str, bytes | None] = {}
        contents: dict[int, bytes] = {}
        for path in sorted(names, key=lambda path: path.count("/")):
            folder = PurePosixPath(path).parent.as_posix()
            if folder != "." and folder not in found:
                continue
            number = names[path]
            if number == FOLDER:
                found[path] = None
                continue
            if number not in contents:
                contents[number] = _found_content(self.files[number], chance, luck)
            found[path] = contents[number]
        return found


def write_out(found: Mapping[str, bytes | None], root: Path) -> None:
    """Make the folder as it was found."""
    root.mkdir(parents=True)
    for path, content in found.items():
        if content is None:
            (root / path).mkdir()
        else:
            (root / path).write_bytes(content)


def _lucky(
    changes: list[Mapping[str, int | None]], chance: random.Random, luck: Luck
) -> Iterable[Mapping[str, int | None]]:
    if luck.written == 0.0:
        return []
    if luck.written == 1.0:
        return changes if luck.in_order else []
    if luck.in_order:
        return changes[: chance.randint(0, len(changes))]
    return [change for change in changes if chance.random() < 0.5]


def _found_content(file: _File, chance: random.Random, luck: Luck) -> bytes:
    content = bytearray(file.kept)
    longest = len(content)
    for offset, piece in file.waiting:
        if piece is None:
            if chance.random() < luck.written:
                _put(content, offset, None)
            continue
        for start, sector in _sectors(offset, piece):
            longest = max(longest, start + len(sector))
            if chance.random() < luck.written:
                _put(content, start, sector)
            elif luck.scrambled and chance.random() < luck.scrambled:
                _put(content, start, chance.randbytes(len(sector)))
    if 0.0 < luck.written < 1.0 and chance.random() < 0.5:
        # The new length may be on the disk before what is in it.
        content.extend(bytes(max(0, longest - len(content))))
    return bytes(content)


def _sectors(offset: int, piece: bytes) -> Iterator[tuple[int, bytes]]:
    at = 0
    while at < len(piece):
        size = SECTOR - (offset + at) % SECTOR
        yield offset + at, piece[at : at + size]
        at += size


def _put(content: bytearray, offset: int, piece: bytes | None) -> None:
    if piece is None:
        del content[offset:]
        content.extend(bytes(offset - len(content)))
        return
    if len(content) < offset:
        content.extend(bytes(offset - len(content)))
    content[offset : offset + len(piece)] = piece


def _change(names: Names, change: Mapping[str, int | None]) -> None:
    for path, to in change.items():
        if to is None:
            names.pop(path, None)
        else:
            names[path] = to
