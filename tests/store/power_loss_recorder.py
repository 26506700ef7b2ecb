"""Records all that the store asks of the disk, in its order: what SQLite writes and syncs, and what Python does.

SQLite is listened to on its way to the disk; Python's own files are watched by an audit hook (PEP 578) and around
`os.fsync`. Nothing of the program is changed, and the program does not know.
"""

from __future__ import annotations

import base64
import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TextIO

from watched_sqlite import CannotRecord, Listener, Watch


class Recording(Listener):
    """Every step that was asked of the disk under one folder, a line of JSON each.

    The steps: `create`, `write` and `truncate` of a file by its number, `sync` of a file, `sync names` of a folder,
    `make folder`, `remove`, `rename`, `link`; and what the one who records says between them.
    """

    def __init__(self, root: Path, log: TextIO) -> None:
        super().__init__()
        self.root = root.resolve()
        self.log = log
        self._numbers: dict[str, int] = {}
        self._next = 0
        self._plain: dict[str, bytes] = {}
        self._of_sqlite: set[str] = set()

    def say(self, step: str, **what: Any) -> None:
        self.log.write(json.dumps({"step": step, **what}) + "\n")

    def inside(self, path: str) -> str:
        """Return a path as it is below the root; empty when it is not below it."""
        place = Path(path).parent.resolve() / Path(path).name
        return place.relative_to(self.root).as_posix() if place.is_relative_to(self.root) else ""

    def look(self) -> None:
        """Note what Python wrote to its own files since the last look: what a step waits for comes before it."""
        for name, before in list(self._plain.items()):
            try:
                now = (self.root / name).read_bytes()
            except FileNotFoundError:  # it was about to be made
                continue
            if now == before:
                continue
            if len(now) < len(before):
                self.say("truncate", file=self._numbers[name], size=len(now))
            kept = len(before) if now.startswith(before) else 0
            if now[kept:]:
                self.write(name, kept, now[kept:])
            self._plain[name] = now

    def write(self, name: str, offset: int, content: bytes) -> None:
        text = base64.b85encode(content).decode()
        self.say("write", file=self._numbers[name], offset=offset, content=text)

    def create(self, name: str) -> int:
        self._numbers[name] = self._next
        self.say("create", path=name, file=self._next)
        self._next += 1
        return self._numbers[name]

    def number(self, name: str) -> int:
        """Return the number of a file."""
        if name not in self._numbers:
            raise AssertionError(f"{name} is not on record")
        return self._numbers[name]

    def already_there(self) -> None:
        """Take what is in the folder as on the disk for good."""
        for path in sorted(self.root.rglob("*")):
            name = path.relative_to(self.root).as_posix()
            if path.is_dir():
                self.say("make folder", path=name)
            else:
                self.create(name)
                self.write(name, 0, path.read_bytes())
        self.say("all synced")

    # What SQLite does.

    def opened(self, path: str, was_there: bool) -> int | None:
        name = self.inside(path)
        if not name or not Path(path).exists():
            return None
        self.look()
        self._of_sqlite.add(name)
        self._plain.pop(name, None)
        if not was_there:
            return self.create(name)
        return self.number(name)

    def wrote(self, file: int, offset: int, content: bytes) -> None:
        self.look()
        self.say("write", file=file, offset=offset, content=base64.b85encode(content).decode())

    def truncated(self, file: int, size: int) -> None:
        self.look()
        self.say("truncate", file=file, size=size)

    def synced(self, file: int) -> None:
        self.look()
        self.say("sync", file=file)

    def removed(self, path: str) -> None:
        name = self.inside(path)
        if name:
            self.look()
            self.say("remove", path=name)
            self._forget(name)

    def names_synced(self, folder: str) -> None:
        place = Path(folder).resolve()
        if place.is_relative_to(self.root):
            self.look()
            self.say("sync names", path=place.relative_to(self.root).as_posix())

    def _forget(self, name: str) -> None:
        self._numbers.pop(name, None)
        self._plain.pop(name, None)
        self._of_sqlite.discard(name)

    # What Python does.

    def heard(self, event: str, given: tuple[Any, ...]) -> None:
        """Note an audit event of Python's; it comes just before what it tells of."""
        if self.noting or event not in _HEARD:
            return
        self.noting = True
        try:
            _HEARD[event](self, *given)
        except BaseException as error:
            self.faults.append(f"{event} {given}: {error!r}")
        finally:
            self.noting = False

    def _heard_open(self, path: Any, _mode: Any, flags: int) -> None:
        if not isinstance(path, (str, bytes, os.PathLike)) or not flags & (os.O_WRONLY | os.O_RDWR):
            return
        name = self.inside(os.fsdecode(path))
        if not name or (name in self._of_sqlite and not flags & (os.O_CREAT | os.O_TRUNC)):
            return
        self.look()
        there = os.path.lexists(path)
        if not there and flags & os.O_CREAT:
            self.create(name)
            self._plain[name] = b""
        elif there:
            self._plain.setdefault(name, (self.root / name).read_bytes())

    def _heard_mkdir(self, path: Any, *_: Any) -> None:
        name = self.inside(os.fsdecode(path))
        if name and not (self.root / name).exists():
            self.look()
            self.say("make folder", path=name)

    def _heard_remove(self, path: Any, *_: Any) -> None:
        if os.path.lexists(path):
            self.removed(os.fsdecode(path))

    def _heard_rename(self, old: Any, new: Any, *_: Any) -> None:
        before, after = self.inside(os.fsdecode(old)), self.inside(os.fsdecode(new))
        if not before and not after:
            return
        self.look()
        self.say("rename", path=before, to=after)
        number, plain = self.number(before), self._plain.get(before)
        of_sqlite = before in self._of_sqlite
        self._forget(before)
        self._forget(after)
        self._numbers[after] = number
        if plain is not None:
            self._plain[after] = plain
        if of_sqlite:
            self._of_sqlite.add(after)

    def _heard_link(self, old: Any, new: Any, *_: Any) -> None:
        before, after = self.inside(os.fsdecode(old)), self.inside(os.fsdecode(new))
        if before or after:
            self.look()
            self.say("link", path=before, to=after)
            self._numbers[after] = self.number(before)
            self._of_sqlite.update({after} if before in self._of_sqlite else ())

    def _heard_unknown(self, *given: Any) -> None:
        if any(
            isinstance(item, (str, bytes, os.PathLike)) and self.inside(os.fsdecode(item)) for item in given
        ):
            raise AssertionError("a step that this recording knows nothing of")

    def fsync(self, real: Callable[[int], None]) -> Callable[[int], None]:
        """Return `os.fsync` that notes what it was asked."""

        def noting(handle: Any) -> None:
            number = handle if isinstance(handle, int) else handle.fileno()
            path = Path(f"/proc/self/fd/{number}").readlink()
            real(handle)
            if path.is_dir():
                self.names_synced(str(path))
            elif self.inside(str(path)):
                self.synced(self.number(self.inside(str(path))))

        return noting


_HEARD: dict[str, Callable[..., None]] = {
    "open": Recording._heard_open,
    "os.mkdir": Recording._heard_mkdir,
    "os.remove": Recording._heard_remove,
    "os.rename": Recording._heard_rename,
    "os.link": Recording._heard_link,
    "os.rmdir": Recording._heard_unknown,
    "os.symlink": Recording._heard_unknown,
    "os.truncate": Recording._heard_unknown,
}


def watch(root: Path, log: TextIO) -> Recording:
    """Begin to record what happens below a folder; for the rest of this process.

    Raises
    ------
    CannotRecord
        When this build does not allow it.
    """
    if not Path("/proc/self/fd").is_dir():
        raise CannotRecord("this system does not say which file a handle is of")
    recording = Recording(root, log)
    recording._watch = Watch(recording)  # type: ignore[attr-defined]  # must live as long as SQLite may call it
    recording.already_there()
    sys.addaudithook(recording.heard)
    os.fsync = recording.fsync(os.fsync)
    return recording
