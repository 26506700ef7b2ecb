"""Stands between Python's SQLite and the disk: tells a listener of every step, and may refuse it.

It is a virtual file system of its own kind set before the usual one ("The SQLite OS Interface or VFS",
sqlite.org/vfs.html), put into the very SQLite that `sqlite3` uses; nothing of the program is changed.
"""

from __future__ import annotations

import ctypes
import sqlite3
from pathlib import Path
from types import TracebackType

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


class Listener:
    """Hears of every step that SQLite takes on the disk; what goes wrong in hearing is kept in `faults`.

    Files go by the numbers that `opened` gives them; a file that it gives none is not listened to.
    """

    def __init__(self) -> None:
        self.faults: list[str] = []
        self.noting = False

    def refuse(self, step: str) -> int:
        """Return an error of SQLite's (`SQLITE_FULL` …) instead of a step; 0 to let it be done."""
        return _OK

    def opened(self, path: str, was_there: bool) -> int | None:
        return None

    def wrote(self, file: int, offset: int, content: bytes) -> None: ...

    def truncated(self, file: int, size: int) -> None: ...

    def synced(self, file: int) -> None: ...

    def removed(self, path: str) -> None: ...

    def names_synced(self, folder: str) -> None: ...


class Watch:
    """A virtual file system before SQLite's usual one; it lives as long as the process."""

    def __init__(self, listener: Listener) -> None:
        self.listener = listener
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
            ("write", _WRITE(self._write)),
            ("truncate", _TRUNCATE(self._truncate)),
            ("sync", _SYNC(self._sync)),
            ("close", _CLOSE(self._close)),
        )
        if library.sqlite3_vfs_register(ctypes.addressof(self.own), 1) != _OK:
            raise CannotRecord("SQLite does not take another way to the disk")

    def _open(self, _vfs: int, name: int | None, file: int, flags: int, out: int | None) -> int:
        path = ctypes.string_at(name).decode() if name else ""
        there = bool(path) and Path(path).exists()
        refused = self._refused("open")
        if refused:
            _P.from_address(file).value = None
            return refused
        result = _OPEN(self.usual.open)(self.usual_at, name, file, flags, out)
        with _Noting(self.listener):
            number = self.listener.opened(path, there) if path and result == _OK else None
            if number is not None:
                at = _P.from_address(file)
                usual = _Methods.from_address(at.value or 0)
                self.files[file] = (number, usual)
                if at.value not in self.tables:
                    table = _Methods.from_buffer_copy(usual)
                    for method, call in self.methods:
                        setattr(table, method, ctypes.cast(call, _P))
                    self.tables[at.value or 0] = table
                at.value = ctypes.addressof(self.tables[at.value or 0])
        return int(result)

    def _delete(self, _vfs: int, name: bytes, sync_folder: int) -> int:
        path = name.decode()
        there = Path(path).exists()
        refused = self._refused("delete")
        if refused:
            return refused
        self.directory = ""
        refused = self._refused("sync names") if sync_folder else _OK
        result = _DELETE(self.usual.delete)(self.usual_at, name, 0 if refused else sync_folder)
        with _Noting(self.listener):
            if result == _OK and there:
                self.listener.removed(path)
            self._note_directory()
        return int(result) or refused

    def _write(self, file: int, content: int, size: int, offset: int) -> int:
        number, usual = self.files[file]
        with _Noting(self.listener):
            self.listener.wrote(number, offset, ctypes.string_at(content, size))
        return self._refused("write") or int(_WRITE(usual.write)(file, content, size, offset))

    def _truncate(self, file: int, size: int) -> int:
        number, usual = self.files[file]
        with _Noting(self.listener):
            self.listener.truncated(number, size)
        return self._refused("truncate") or int(_TRUNCATE(usual.truncate)(file, size))

    def _sync(self, file: int, flags: int) -> int:
        number, usual = self.files[file]
        refused = self._refused("sync")
        if refused:
            return refused
        self.directory = ""
        result = _SYNC(usual.sync)(file, flags)
        with _Noting(self.listener):
            self.listener.synced(number)
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
            self.listener.names_synced(self.directory)

    def _refused(self, step: str) -> int:
        with _Noting(self.listener):
            return self.listener.refuse(step)
        return _OK


class _Noting:
    """What goes wrong while noting is kept: SQLite cannot be told of it."""

    def __init__(self, listener: Listener) -> None:
        self.listener = listener
        self.outer = False

    def __enter__(self) -> None:
        self.outer, self.listener.noting = self.listener.noting, True

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> bool:
        self.listener.noting = self.outer
        if error is not None:
            self.listener.faults.append(repr(error))
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
