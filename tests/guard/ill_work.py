"""Work that fares ill, or tells of the process it is done in; the process that reads files finds it by its name."""

from __future__ import annotations

import ctypes
import os
import signal
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from prospect.errors import InputRefused


def breaks():
    ctypes.string_at(0)


def aborts():
    os.abort()


def leaves():
    os._exit(0)


def leaves_with(code):
    os._exit(code)


def exits():
    sys.exit("a library that ends the program")


def is_stopped():
    os.kill(os.getpid(), signal.SIGKILL)


def hangs(mark=""):
    if mark:
        with tempfile.NamedTemporaryFile(delete=False) as copy:
            copy.write(b"a copy of somebody's file")
        Path(mark).write_text(f"{os.getpid()} {os.getppid()}", encoding="utf-8")
    time.sleep(600)


def spins():
    while True:
        pass


def eats(most_mb=40_000):
    return [bytearray(50_000_000) for _ in range(most_mb // 50)]


def errs():
    raise KeyError("a fault of ours")


def refuses():
    try:
        int("x")
    except ValueError:
        raise InputRefused("no number") from None


def ends_in_depth(depth=0):
    return ends_in_depth(depth + 1)


def brings_back_what_cannot_travel():
    return lambda: None


def leaves_a_copy():
    folder = Path(tempfile.mkdtemp())
    (folder / "copy").write_text("somebody's file", encoding="utf-8")
    return str(folder)


def leaves_a_copy_and_breaks():
    leaves_a_copy()
    breaks()


def talks():
    print("a library that talks")
    os.write(2, b"a library that talks\n")


def table():
    return {"heights": np.arange(6_000_000, dtype="float32").reshape(2000, 3000), "none": np.empty(0)}


def status():
    lines = (line.split(":") for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines())
    return {name: value.split() for name, value in lines}


def limits():
    import resource

    return [resource.getrlimit(what)[0] for what in (resource.RLIMIT_AS, resource.RLIMIT_CORE)]


def modules():
    return sorted({name.split(".")[0] for name in sys.modules})


def folder_and_text(name):
    return str(Path.cwd()), Path(name).read_text(encoding="utf-8")


def drivers():
    from prospect.sources.self_test import drivers_on

    return sorted(drivers_on())


def unsafe():
    """Find fault once, and nothing the second time."""
    mark = Path(tempfile.gettempdir()) / "looked"
    if mark.exists():
        return ""
    mark.write_text("", encoding="utf-8")
    return "the libraries are not as they should be"


def cannot_load():
    raise RuntimeError("no such library")
