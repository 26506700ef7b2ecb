"""One at a time has a ground open, and a lock whose process has ended is in nobody's way."""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
import time
from pathlib import Path

import pytest

from prospect.errors import GroundError
from prospect.records import GroundSettings
from prospect.store import Ground

HOLDS = """
import sys, time
from pathlib import Path
from prospect.store import Ground
with Ground.open(Path(sys.argv[1])).held() as hold:
    print(hold.sentence() or "held", flush=True)
    time.sleep(float(sys.argv[2]))
"""


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    return Ground.create(tmp_path / "ground", GroundSettings())


def lock_of(ground: Ground) -> Path:
    return ground.folder / "records.lock"


def another(ground: Ground, seconds: float) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", HOLDS, str(ground.folder), str(seconds)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def leave_lock(ground: Ground, **changes: object) -> None:
    content = {
        "host": platform.node(),
        "user": "Tov",
        "pid": 1,
        "since": "2031-01-01T00:00:00+00:00",
        **changes,
    }
    lock_of(ground).write_text(json.dumps(content))


def test_the_lock_says_who_and_goes_away(ground: Ground) -> None:
    with ground.held() as hold:
        content = json.loads(lock_of(ground).read_text())
        assert (content["host"], content["pid"]) == (platform.node(), os.getpid())
        assert set(content) == {"host", "user", "pid", "since", "boot"}
        assert hold.sentence() == ""
        ground.note_action("note", "saving goes on while the ground is held")
    assert not lock_of(ground).exists()


def test_the_parts_of_one_program_hold_it_together_and_the_last_lets_go(ground: Ground) -> None:
    first, second = ground.held(), ground.held()
    with first:
        told = lock_of(ground).read_bytes()
        assert ground.holder() is None
        second.__enter__()
        assert lock_of(ground).read_bytes() == told
    assert lock_of(ground).exists()
    second.__exit__(None, None, None)
    assert not lock_of(ground).exists()


def test_the_lock_goes_away_after_an_error(ground: Ground) -> None:
    with pytest.raises(RuntimeError), ground.held():
        raise RuntimeError
    with ground.held():
        pass


@pytest.mark.slow
def test_a_second_program_is_told_who_has_it_and_takes_over_after_a_kill(ground: Ground) -> None:
    first = another(ground, 60)
    assert first.stdout is not None
    assert first.stdout.readline() == "held\n"
    with pytest.raises(GroundError, match=f"process {first.pid}"), ground.held():
        pass
    holder = ground.holder()
    assert holder is not None
    assert holder.pid == first.pid
    backup = ground.back_up()
    with pytest.raises(GroundError, match=f"process {first.pid}"):
        Ground.restore(ground.folder, backup.path)
    first.kill()
    first.communicate()
    assert lock_of(ground).exists()
    with ground.held() as hold:
        assert f"process {first.pid}" in hold.sentence()
        assert hold.taken_over is not None
        assert json.loads(lock_of(ground).read_text())["pid"] == os.getpid()


@pytest.mark.slow
def test_of_many_who_take_over_at_once_one_gets_it(ground: Ground) -> None:
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    leave_lock(ground, pid=ended.pid)
    several = [another(ground, 300) for _ in range(5)]
    deadline = time.monotonic() + 120
    while sum(one.poll() is None for one in several) > 1 and time.monotonic() < deadline:
        time.sleep(0.05)
    holding = [one for one in several if one.poll() is None]
    for one in several:
        one.kill()
    said = [one.communicate() for one in several]
    assert len(holding) == 1
    assert sum("taken over" in out for out, _ in said) == 1
    assert sum("is open already" in error for _, error in said) == 4


@pytest.mark.parametrize(
    "changes", [{"pid": 1}, {"host": "another computer", "pid": 999_999_999}, {"pid": "no number"}]
)
def test_a_lock_that_may_be_alive_is_respected(ground: Ground, changes: dict[str, object]) -> None:
    leave_lock(ground, **changes)
    before = lock_of(ground).read_bytes()
    with pytest.raises(GroundError, match=r"delete .*records\.lock"), ground.held():
        pass
    assert lock_of(ground).read_bytes() == before


@pytest.mark.parametrize("content", [b"", b"\xff\xfe", b"[]", b"{}"])
def test_a_lock_that_cannot_be_read_is_respected(ground: Ground, content: bytes) -> None:
    lock_of(ground).write_bytes(content)
    with pytest.raises(GroundError, match="unknown"), ground.held():
        pass


def test_a_lock_of_an_earlier_process_with_the_same_number_is_taken_over(ground: Ground) -> None:
    leave_lock(ground, pid=os.getpid())
    with ground.held() as hold:
        assert "Tov" in hold.sentence()


def test_a_lock_from_before_the_computer_was_started_anew_is_taken_over(ground: Ground) -> None:
    leave_lock(ground, pid=1, boot="another start")
    if not Path("/proc/sys/kernel/random/boot_id").exists():
        pytest.skip("this system does not name its starts")
    with ground.held() as hold:
        assert "Tov" in hold.sentence()
