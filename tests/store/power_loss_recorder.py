"""Records all that the store asks of the disk, in its order: what SQLite writes and syncs, and what Python does.

SQLite is watched by a virtual file system of its own kind, set before the usual one ("The SQLite OS Interface or
VFS", sqlite.org/vfs.html): it passes everything on and notes it. Python's own files are watched by an audit hook
(PEP 578) and around `os.fsync`. Nothing of the program is changed, and the program does not know.
"""

from __future__ import annotations

import base64
import ctypes
import json
import os
import sqlite3
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TextIO

_P, _I, _L = ctypes.c_void_p, ctypes.c_int, ctypes.c_int64
_OK = 0

_OPEN = ctypes.CFUNCTYPE(_I, _P, _P, _P, _I, _P)
_DELETE = ctypes.CFUNCTYPE(_I, _P, ctypes.c_char_p, _I)
_WRITE = ctypes.CFUNCTYPE(_I, _P, _P, _I, _L)
_TRUNCATE = ctypes.CFUNCTYPE(_I, _P, _L)
_SYNC = ctypes.CFUNCTYPE(_I, _P, _I)
_CLOSE = ctypes.CFUNCTYPE(_I, _P)
_OPEN_DIRECTORY = ctypes.CFUNCTYPE(_I, ctypes.c_char_p, _P)
_SET_CALL = ctypes.CFUNCTYPE(_I, _P, ctypes.c_char_p, _P)
_GET_CALL = ctypes.CFUNCTYPE(_P, _P, ctypes.c_char_p)


class _Vfs(ctypes.Structure):
    """`struct sqlite3_vfs`, version 3."""

    _fields_ = [
        ("version", _I),
        ("file_size", _I),
        ("longest_path", _I),
        ("next", _P),
        ("name", ctypes.c_char_p),
        ("data", _P),
        ("open", _P),
        ("delete", _P),
        *(
            (name, _P)
            for name in [
                "access",
                "full_path",
                "dl_open",
                "dl_error",
                "dl_sym",
                "dl_close",
                "random",
                "sleep",
            ]
        ),
        *((name, _P) for name in ["time", "last_error", "time_64", "set_call", "get_call", "next_call"]),
    ]


class _Methods(ctypes.Structure):
    """`struct sqlite3_io_methods`, version 3."""

    _fields_ = [
        ("version", _I),
        *(
            (name, _P)
            for name in ["close", "read", "write", "truncate", "sync", "size", "lock", "unlock", "is_locked"]
        ),
        *(
            (name, _P)
            for name in ["control", "sector", "properties", "shm_map", "shm_lock", "shm_barrier", "shm_unmap"]
        ),
        *((name, _P) for name in ["fetch", "unfetch"]),
    ]


class CannotRecord(Exception):
    """This build of SQLite does not let itself be watched."""


class Recording:
    """Every step that was asked of the disk under one folder, a line of JSON each.

    Steps: `create`, `write` and `truncate` of a file by its number, `sync` of a file, `sync names` of a folder,
    `make folder`, `remove`, `rename`, `link`; and what the one who records says between them.
    """

    def __init__(self, root: Path, log: TextIO) -> None:
        self.root = root.resolve()
        self.log = log
        self.faults: list[str] = []
        self._numbers: dict[str, int] = {}
        self._next = 0
        self._plain: dict[str, bytes] = {}
        self._of_sqlite: set[str] = set()
        self._busy = False

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

    def opened_by_sqlite(self, path: str, was_there: bool) -> int | None:
        name = self.inside(path)
        if not name or not Path(path).exists():
            return None
        self.look()
        self._of_sqlite.add(name)
        self._plain.pop(name, None)
        if not was_there:
            return self.create(name)
        return self.number(name)

    def by_file(self, step: str, file: int, **what: Any) -> None:
        self.look()
        self.say(step, file=file, **what)

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
        if self._busy or event not in _HEARD:
            return
        self._busy = True
        try:
            _HEARD[event](self, *given)
        except BaseException as error:
            self.faults.append(f"{event} {given}: {error!r}")
        finally:
            self._busy = False

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
                self.by_file("sync", self.number(self.inside(str(path))))

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


class Watch:
    """A virtual file system before SQLite's usual one; it lives as long as the process."""

    def __init__(self, recording: Recording) -> None:
        self.recording = recording
        self.files: dict[int, tuple[int, _Methods]] = {}
        self.tables: dict[int, _Methods] = {}
        self.directory = ""
        library = _library()
        library.sqlite3_vfs_find.restype = _P
        library.sqlite3_vfs_find.argtypes = [ctypes.c_char_p]
        library.sqlite3_vfs_register.argtypes = [_P, _I]
        self.usual_at = library.sqlite3_vfs_find(None)
        self.usual = _Vfs.from_address(self.usual_at)
        if self.usual.version < 3 or self.usual.name != b"unix":
            raise CannotRecord("SQLite's usual way to the disk is not the one of version 3 for this system")
        self.own = _Vfs.from_buffer_copy(self.usual)
        self.own.name = b"watched"
        self.own.next = None
        self.calls = (_OPEN(self._open), _DELETE(self._delete), _OPEN_DIRECTORY(self._open_directory))
        self.own.open = ctypes.cast(self.calls[0], _P)
        self.own.delete = ctypes.cast(self.calls[1], _P)
        # SQLite syncs the names of a folder inside its sync of a file and inside its delete; it opens the folder first.
        self.usual_directory = _OPEN_DIRECTORY(
            _GET_CALL(self.usual.get_call)(self.usual_at, b"openDirectory")
        )
        _SET_CALL(self.usual.set_call)(self.usual_at, b"openDirectory", ctypes.cast(self.calls[2], _P))
        self.methods = (
            _WRITE(self._write),
            _TRUNCATE(self._truncate),
            _SYNC(self._sync),
            _CLOSE(self._close),
        )
        if library.sqlite3_vfs_register(ctypes.addressof(self.own), 1) != _OK:
            raise CannotRecord("SQLite does not take another way to the disk")

    def _open(self, _vfs: int, name: int | None, file: int, flags: int, out: int | None) -> int:
        path = ctypes.string_at(name).decode() if name else ""
        there = bool(path) and Path(path).exists()
        result = _OPEN(self.usual.open)(self.usual_at, name, file, flags, out)
        with self._noting():
            number = self.recording.opened_by_sqlite(path, there) if path and result == _OK else None
            if number is not None:
                at = _P.from_address(file)
                usual = _Methods.from_address(at.value or 0)
                self.files[file] = (number, usual)
                if at.value not in self.tables:
                    table = _Methods.from_buffer_copy(usual)
                    for method, call in zip(
                        ("write", "truncate", "sync", "close"), self.methods, strict=True
                    ):
                        setattr(table, method, ctypes.cast(call, _P))
                    self.tables[at.value or 0] = table
                at.value = ctypes.addressof(self.tables[at.value or 0])
        return int(result)

    def _delete(self, _vfs: int, name: bytes, sync_folder: int) -> int:
        path = name.decode()
        there = Path(path).exists()
        self.directory = ""
        result = _DELETE(self.usual.delete)(self.usual_at, name, sync_folder)
        with self._noting():
            if result == _OK and there:
                self.recording.removed(path)
            self._note_directory()
        return int(result)

    def _write(self, file: int, content: int, size: int, offset: int) -> int:
        number, usual = self.files[file]
        with self._noting():
            text = base64.b85encode(ctypes.string_at(content, size)).decode()
            self.recording.by_file("write", number, offset=offset, content=text)
        return int(_WRITE(usual.write)(file, content, size, offset))

    def _truncate(self, file: int, size: int) -> int:
        number, usual = self.files[file]
        with self._noting():
            self.recording.by_file("truncate", number, size=size)
        return int(_TRUNCATE(usual.truncate)(file, size))

    def _sync(self, file: int, flags: int) -> int:
        number, usual = self.files[file]
        self.directory = ""
        result = _SYNC(usual.sync)(file, flags)
        with self._noting():
            self.recording.by_file("sync", number)
            self._note_directory()
        return int(result)

    def _close(self, file: int) -> int:
        _, usual = self.files.pop(file)
        return int(_CLOSE(usual.close)(file))

    def _open_directory(self, name: bytes, handle: int) -> int:
        self.directory = str(Path(name.decode()).parent)
        return int(self.usual_directory(name, handle))

    def _note_directory(self) -> None:
        if self.directory:
            self.recording.names_synced(self.directory)

    def _noting(self) -> _Noting:
        return _Noting(self.recording)


class _Noting:
    """What goes wrong while noting is kept: SQLite cannot be told of it."""

    def __init__(self, recording: Recording) -> None:
        self.recording = recording
        self.outer = False

    def __enter__(self) -> None:
        self.outer, self.recording._busy = self.recording._busy, True

    def __exit__(self, kind: Any, error: BaseException | None, trace: Any) -> bool:
        self.recording._busy = self.outer
        if error is not None:
            self.recording.faults.append(repr(error))
        return True


def _library() -> ctypes.CDLL:
    """Return the very SQLite that Python's `sqlite3` uses: a symbol is looked for in what a library needs, too."""
    import _sqlite3

    library = ctypes.CDLL(getattr(_sqlite3, "__file__", None))
    try:
        library.sqlite3_vfs_register  # noqa: B018
        version = library.sqlite3_libversion
    except AttributeError as error:
        raise CannotRecord("SQLite is hidden inside Python here") from error
    version.restype = ctypes.c_char_p
    if version().decode() != sqlite3.sqlite_version:
        raise CannotRecord("another SQLite answers than the one that Python uses")
    return library


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
