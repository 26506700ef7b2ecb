"""An error at any step of any action: it is there whole or not at all, the fault is said, and the next try works."""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from prospect.errors import GroundError

HERE = Path(__file__).parent
SAVES = 31
"""The first of the actions save to records that are there; the others make, copy, replace, upgrade or hold them."""


@pytest.fixture(scope="module")
def every_action() -> Iterator[ModuleType]:
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(HERE))
        import every_action

        yield every_action


@pytest.fixture
def place() -> Iterator[Path]:
    """A folder on a disk in memory where there is one: a ground is copied for every step."""
    shared = Path("/dev/shm")
    roomy = os.access(shared, os.W_OK) and shutil.disk_usage(shared).free > 50_000_000
    with tempfile.TemporaryDirectory(dir=shared if roomy else None) as name:
        Path(name).chmod(0o755)
        yield Path(name)


class Fault:
    """Fails the n-th thing that is asked of it, before it is done or after."""

    def __init__(self, error: BaseException, *, afterwards: bool = False) -> None:
        self.error = error
        self.afterwards = afterwards
        self.at = self.seen = 0

    def around(self, real: Callable[..., Any], *given: Any, **named: Any) -> Any:
        self.seen += 1
        if self.seen == self.at and not self.afterwards:
            raise self.error
        done = real(*given, **named)
        if self.seen == self.at:
            raise self.error
        return done


def break_statements(patch: pytest.MonkeyPatch, fault: Fault) -> None:
    """Every statement, script and copy of SQLite, and every connection."""

    class Failing(sqlite3.Connection):
        def execute(self, *given: Any) -> sqlite3.Cursor:  # type: ignore[override]
            return fault.around(super().execute, *given)

        def executemany(self, *given: Any) -> sqlite3.Cursor:  # type: ignore[override]
            return fault.around(super().executemany, *given)

        def executescript(self, *given: Any) -> sqlite3.Cursor:  # type: ignore[override]
            return fault.around(super().executescript, *given)

        def backup(self, *given: Any, **named: Any) -> None:
            fault.around(super().backup, *given, **named)

    connect = sqlite3.connect
    patch.setattr(
        sqlite3,
        "connect",
        lambda *given, **named: fault.around(connect, *given, **{**named, "factory": Failing}),
    )


def refuse_operations(patch: pytest.MonkeyPatch, fault: Fault) -> None:
    """Every operation of SQLite's compiler, which refuses it by itself ("Compile-Time Authorization Callbacks")."""
    connect = sqlite3.connect

    def authorised(*_: Any) -> int:
        fault.seen += 1
        return sqlite3.SQLITE_DENY if fault.seen == fault.at else sqlite3.SQLITE_OK

    def open_refusing(*given: Any, **named: Any) -> sqlite3.Connection:
        connection = connect(*given, **named)
        connection.set_authorizer(authorised)
        return connection

    patch.setattr(sqlite3, "connect", open_refusing)


def break_disk(patch: pytest.MonkeyPatch, fault: Fault) -> None:
    """Everything that the store itself asks of the disk: names, folders, syncs, and files opened for writing."""
    for call in ("fsync", "replace", "rename", "link", "unlink", "mkdir"):
        real = getattr(os, call)
        patch.setattr(os, call, lambda *given, real=real, **named: fault.around(real, *given, **named))
    real_open = io.open

    def open_failing(file: Any, mode: str = "r", *given: Any, **named: Any) -> Any:
        writes = set(mode) & set("wax+")
        return (
            fault.around(real_open, file, mode, *given, **named)
            if writes
            else real_open(file, mode, *given, **named)
        )

    patch.setattr(io, "open", open_failing)


def _full() -> Fault:
    return Fault(OSError(28, "No space left on device"))


def _told() -> Fault:
    return Fault(sqlite3.OperationalError("disk I/O error"))


def _stopped_after() -> Fault:
    return Fault(KeyboardInterrupt(), afterwards=True)


KINDS: dict[str, tuple[Callable[[pytest.MonkeyPatch, Fault], None], Callable[[], Fault], int]] = {
    "an error at every statement": (break_statements, _told, 1),
    "a refusal at every operation": (refuse_operations, lambda: Fault(AssertionError()), 11),
    "a full disk at every step": (break_disk, _full, 1),
    "no memory at a statement": (break_statements, lambda: Fault(MemoryError()), 6),
    "no memory after a statement": (break_statements, lambda: Fault(MemoryError(), afterwards=True), 6),
    "stopped before a statement": (break_statements, lambda: Fault(KeyboardInterrupt()), 6),
    "stopped after a statement": (break_statements, _stopped_after, 6),
    "stopped before a step on the disk": (break_disk, lambda: Fault(KeyboardInterrupt()), 1),
    "stopped after a step on the disk": (break_disk, _stopped_after, 1),
}
"""What is broken, how, and how far apart the steps are; where that is more than 1, the first is chosen by chance."""


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_broken_at_every_step_an_action_is_whole_or_not_there(
    every_action: ModuleType, place: Path, figures: dict[str, str], kind: str
) -> None:
    """Goal of our own: 0 half-done actions, and a message whenever the program goes on."""
    breaking, begin, stride = KINDS[kind]
    seed = random.randrange(10**6)
    print(f"seed {seed}")
    chance = random.Random(seed)
    bad: list[str] = []
    steps = tried = 0
    for name, action in every_action.ACTIONS.items():
        if action.takes_less and breaking is not break_disk:
            continue
        tried += 1
        copies = every_action.Copies(action, place / name)
        for step in range(chance.randint(1, stride), 5000, stride):
            folder, fault = copies.copy(), begin()
            fault.at = step
            message, stopped = None, False
            with pytest.MonkeyPatch.context() as patch:
                breaking(patch, fault)
                try:
                    action.do(folder)
                except GroundError as error:
                    message = str(error)
                except (KeyboardInterrupt, MemoryError) as error:
                    message, stopped = repr(error), error is fault.error
                    error.__traceback__ = (
                        None  # its frames hold cursors, which no program does that has ended
                    )
            if message is not None and not stopped and not _says_where(message, folder):
                bad.append(f"{name}, step {step}: does not say where: {message}")
            found = copies.faults(folder, message, cut_short=stopped, try_again=steps % 5 == 0)
            bad += [f"{name}, step {step}: {what}" for what in found]
            if fault.seen < step:
                break
            steps += 1
        else:
            raise AssertionError(f"{name} never worked")
    assert not bad, "\n".join([f"{len(bad)} faults, among them:", *bad[:: len(bad) // 30 + 1]])
    figures[f"actions broken: {kind}"] = f"{steps:,} steps of {tried} actions, 0 half done"


def _says_where(message: str, folder: Path) -> bool:
    return any(word in message for word in (".gpkg", str(folder), "records.lock", "letter ", "picture "))


@pytest.mark.slow
def test_sqlite_failing_at_every_step_on_the_disk_leaves_no_half_done_action(
    place: Path, figures: dict[str, str]
) -> None:
    """Errors where SQLite meets the disk, as SQLite's own tests make them ("How SQLite Is Tested", 3.2)."""
    done = subprocess.run(
        [sys.executable, str(HERE / "failing_disk.py"), str(place)],
        capture_output=True,
        text=True,
        timeout=600,
    )
    if done.stdout.startswith("cannot watch"):
        pytest.skip(done.stdout)
    assert done.returncode == 0, done.stderr
    told = [json.loads(line) for line in done.stdout.splitlines()]
    assert [fault for action in told for fault in action["faults"]] == []
    steps, refused = (
        sum(count) for count in zip(*((a["steps"], len(a["messages"])) for a in told), strict=True)
    )
    assert refused > 500
    figures["actions broken: SQLite's own writes and syncs"] = (
        f"{steps:,} steps, {refused:,} refused in words, 0 half done"
    )


@contextlib.contextmanager
def no_file_larger_than(size: int) -> Iterator[None]:
    old = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, old[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, old)
        signal.signal(signal.SIGXFSZ, handler)


@pytest.mark.slow
def test_a_disk_that_is_full_at_any_byte_leaves_no_half_done_action(
    every_action: ModuleType, place: Path, figures: dict[str, str]
) -> None:
    """Every size from nothing to enough, set by the system itself: the write that goes beyond it fails, or is cut."""
    bad: list[str] = []
    refused = 0
    for name in (
        "sixty samples",
        "permission with a paper",
        "first save of the day",
        *list(every_action.ACTIONS)[SAVES:],
    ):
        action = every_action.ACTIONS[name]
        copies = every_action.Copies(action, place / name)
        for size in range(100, 1_000_000, 4096 + 1300):
            folder = copies.copy()
            message = None
            with no_file_larger_than(size):
                try:
                    action.do(folder)
                except GroundError as error:
                    message = str(error)
                    refused += 1
            bad += [f"{name}, {size} bytes: {what}" for what in copies.faults(folder, message)]
            if message is None and size > 200_000:
                break
    assert not bad, "\n".join([f"{len(bad)} faults, among them:", *bad[:: len(bad) // 30 + 1]])
    assert refused > 100
    figures["actions on a full disk"] = f"{refused:,} refused in words, 0 half done"


@contextlib.contextmanager
def nobody() -> Iterator[None]:
    """Work as a user for whom permissions hold (root passes them all)."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


def test_in_a_folder_that_cannot_be_written_every_action_is_refused_in_words(
    every_action: ModuleType, place: Path
) -> None:
    for number, (name, action) in enumerate(every_action.ACTIONS.items()):
        copies = every_action.Copies(action, place / name)
        folder = copies.copy()
        for path in (*folder.parent.rglob("*"), folder.parent):
            path.chmod(0o555 if path.is_dir() else 0o444)
        with nobody(), pytest.raises(GroundError) as refusal:
            action.do(folder)
        assert _says_where(str(refusal.value), folder), name
        with nobody():
            if number < SAVES:
                assert action.state(folder) == copies.before, name
        for path in (folder.parent, *folder.parent.rglob("*")):
            path.chmod(0o755 if path.is_dir() else 0o644)
        assert list(copies.faults(folder, str(refusal.value))) == [], name


ON_A_DISK = """
import json, sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from every_action import ACTIONS, state
from prospect.errors import GroundError
folder = Path(sys.argv[1]) / "ground"
told = []
for name, action in list(ACTIONS.items()):
    if name in ("new", "upgrade") or name.startswith("mend"):
        continue
    before = state(folder)
    try:
        action.do(folder)
        message = None
    except GroundError as error:
        message = str(error)
    told.append([name, message, state(folder) == before])
print(json.dumps(told))
"""


def on_a_mount(mount: str, place: Path, *command: str) -> subprocess.CompletedProcess[str]:
    """Run a command on a disk that is mounted for it alone; skip where the system does not let us."""
    user = [] if os.geteuid() == 0 else ["--map-root-user"]
    start = ["unshare", "--mount", *user, "sh", "-c", f'{mount} && shift && exec "$@"', "sh", str(place)]
    if shutil.which("unshare") is None or subprocess.run([*start, "true"], capture_output=True).returncode:
        pytest.skip("this system does not let us mount a disk")
    return subprocess.run([*start, *command], capture_output=True, text=True, timeout=200)


@pytest.mark.slow
def test_on_a_disk_that_is_mounted_for_reading_every_action_is_refused_in_words(
    every_action: ModuleType, place: Path
) -> None:
    import mixed_writer

    every_action.season(place / "ground").back_up()
    for text in every_action.PAPERS:
        mixed_writer.paper_of(text, place / "papers")
    mixed_writer.picture_of(every_action.PICTURE, place / "papers")
    done = on_a_mount(
        'mount --bind "$1" "$1" && mount -o remount,ro,bind "$1"',
        place,
        *(sys.executable, "-c", ON_A_DISK, str(place), str(HERE)),
    )
    assert done.returncode == 0, done.stderr
    for name, message, same in json.loads(done.stdout):
        assert same, name
        assert message, name
        assert "read-only" in message.lower(), f"{name}: {message}"


FILL = """
import json, random, sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
import mixed_writer
from prospect.errors import GroundError, NothingToWorkWith
from prospect.records import GroundSettings
from prospect.store import Ground
ground = Ground.create(Path(sys.argv[1]) / "ground", GroundSettings())
papers = Path(sys.argv[3])
done, refused, half = 0, [], []
before = mixed_writer.content(ground)
for action in mixed_writer.actions(ground, int(sys.argv[4])):
    message = None
    try:
        mixed_writer.act(ground, action, papers)
        done += 1
    except NothingToWorkWith as error:
        # What would have been taken back was refused by the disk, and an action before it cannot be.
        assert action["kind"] == "undo", action
        message = str(error)
    except GroundError as error:
        message = str(error)
        refused.append(message)
    now = mixed_writer.content(Ground.open(ground.folder))
    if action["kind"] != "backup" and action["kind"] != "drop draft" and (message is None) == (now == before):
        half.append([action, message])
    before = now
    if len(refused) > 30 or done > 2000:
        break
well = [item.found for item in ground.check_up() if not item.well and item.name != "backups"]
print(json.dumps([done, refused, half, well]))
"""


@pytest.mark.slow
@pytest.mark.parametrize("kilobytes", [400, 700])
def test_mixed_actions_on_a_disk_that_is_really_full(place: Path, tmp_path: Path, kilobytes: int) -> None:
    done = on_a_mount(
        f'mount -t tmpfs -o size={kilobytes}k none "$1"',
        place,
        *(sys.executable, "-c", FILL, str(place), str(HERE), str(tmp_path / "papers"), str(kilobytes)),
    )
    assert done.returncode == 0, done.stderr
    saved, refused, half, ill = json.loads(done.stdout)
    assert half == []
    assert ill == []
    assert saved > 5
    assert len(refused) > 30
    assert all("full" in message or "No space" in message for message in refused)
