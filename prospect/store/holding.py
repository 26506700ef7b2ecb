"""Who has a ground open: a lock file beside the records, written and removed under SQLite's own lock."""

from __future__ import annotations

import contextlib
import getpass
import json
import os
import platform
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path

from prospect.errors import GroundError
from prospect.store.records_file import flush, open_records

_HERE: Counter[Path] = Counter()
"""How often this process holds each ground; the last to let go takes the lock away."""


@dataclass(frozen=True, slots=True)
class Holder:
    """Who holds a ground: the computer, the user, the process, since when (UTC), and which start of the computer."""

    host: str
    user: str
    pid: int
    since: str
    boot: str = ""

    def sentence(self) -> str:
        """Return the holder in a few words."""
        return f"{self.user} on {self.host} (process {self.pid}, since {_by_our_clock(self.since)})"


@dataclass(frozen=True, slots=True)
class Hold:
    """A ground held by this process.

    Attributes
    ----------
    holder
        What the lock file says.
    taken_over
        The holder whose process had ended without letting go; None when there was none.
    """

    holder: Holder
    taken_over: Holder | None

    def sentence(self) -> str:
        """Return what is worth saying of a lock that was taken over; empty when there was none."""
        if self.taken_over is None:
            return ""
        return f"The ground was still marked as open by {self.taken_over.sentence()}, which has ended; taken over."


def lock_path(records: Path) -> Path:
    """Return where the lock of a records file is."""
    return records.with_suffix(".lock")


def holder_of(records: Path, lock: Path | None = None) -> Holder | None:
    """Return who the lock file says has the ground open; None when there is no lock.

    A lock file that cannot be read counts as a holder of unknown name, never as none.
    """
    try:
        text = (lock or lock_path(records)).read_text(encoding="utf-8")
    except FileNotFoundError:
        return None
    except (OSError, ValueError):
        return Holder("unknown", "unknown", 0, "unknown")
    try:
        content = json.loads(text)
        return Holder(
            str(content["host"]),
            str(content["user"]),
            int(content["pid"]),
            str(content["since"]),
            str(content.get("boot", "")),
        )
    except (ValueError, TypeError, KeyError):
        return Holder("unknown", "unknown", 0, "unknown")


def is_here(records: Path, holder: Holder) -> bool:
    """Whether it is this process that holds the ground."""
    return (holder.host, holder.pid) == (platform.node(), os.getpid()) and _HERE[records.resolve()] > 0


def has_ended(records: Path, holder: Holder) -> bool:
    """Whether the holder's process is known to be gone: it ran on this computer and is there no more."""
    if holder.host != platform.node() or holder.pid <= 0:
        return False
    if holder.boot and _boot() and holder.boot != _boot():
        return True
    if holder.pid == os.getpid():
        # The number of a process that ended can come back, most of all in containers.
        return _HERE[records.resolve()] == 0
    if os.name == "nt":
        return False
    try:
        os.kill(holder.pid, 0)
    except ProcessLookupError:
        return True
    except OSError:
        return False
    return False


def other_holder(records: Path, lock: Path | None = None) -> Holder | None:
    """Return who else has a ground open: not this process, and not one that is known to have ended."""
    holder = holder_of(records, lock)
    if holder is None or is_here(records, holder) or has_ended(records, holder):
        return None
    return holder


@contextlib.contextmanager
def hold(records: Path, lock: Path | None = None) -> Iterator[Hold]:
    """Hold a ground as long as the context lasts; a lock whose process has ended is taken over.

    The parts of one process hold a ground together.

    Parameters
    ----------
    records
        The records as they are worked on.
    lock
        The lock file; by default beside them.

    Raises
    ------
    GroundError
        When somebody else has the ground open; the message says who.
    """
    lock, key = lock or lock_path(records), records.resolve()
    with _alone(records):
        held = _taken(records, lock)
        _HERE[key] += 1
    try:
        yield held
    finally:
        counted = True
        with contextlib.suppress(GroundError, OSError), _alone(records):
            counted = False
            _HERE[key] -= 1
            if not _HERE[key] and holder_of(records, lock) == held.holder:
                lock.unlink()
        _HERE[key] -= counted


def _taken(records: Path, lock: Path) -> Hold:
    other = holder_of(records, lock)
    if other is not None and is_here(records, other):
        return Hold(other, None)
    if other is not None and not has_ended(records, other):
        raise GroundError(
            f"{lock.parent} is open already: {other.sentence()}. Close it there. If that program has ended, "
            f"delete {lock}."
        )
    own = Holder(
        platform.node(), _user(), os.getpid(), datetime.now(UTC).isoformat(timespec="seconds"), _boot()
    )
    _write(lock, own)
    return Hold(own, other)


@contextlib.contextmanager
def _alone(records: Path) -> Iterator[None]:
    # SQLite's lock goes with its process, so nobody can die holding it, and two who take over take turns.
    with open_records(records) as connection:
        connection.execute("BEGIN IMMEDIATE")
        yield  # closing it lets go of the lock; nothing was written under it


def _write(lock: Path, holder: Holder) -> None:
    part = lock.with_name(f".{lock.name}.part")
    try:
        part.write_text(json.dumps(asdict(holder)), encoding="utf-8")
        # A lock that a power cut left empty would name nobody, and be in everybody's way.
        flush(part)
        part.replace(lock)
    except OSError as error:
        raise GroundError(f"{lock} cannot be written: {error}") from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


@lru_cache(maxsize=1)
def _boot() -> str:
    """Return the name of this start of the computer (random(4), Linux); empty where the system does not say."""
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except (OSError, ValueError):
        return ""


def _by_our_clock(iso: str) -> str:
    """Return a moment as the day and time of this machine's clock."""
    try:
        return datetime.fromisoformat(iso).astimezone().strftime("%Y-%m-%d, %H:%M")
    except ValueError:
        return iso


def _user() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "unknown"
