"""Writers, readers, copies and an outside program at once, in one process and more: nothing lost, nothing damaged."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from prospect.records import GroundSettings, Sample
from prospect.store import Ground

HERE = Path(__file__).parent
SECONDS = 60.0
EACH = 300

PLAIN = """
import json, sqlite3, sys, time
end = time.monotonic() + float(sys.argv[2])
done = 0
while time.monotonic() < end:
    connection = sqlite3.connect(sys.argv[1], timeout=20, isolation_level=None)
    connection.execute("BEGIN IMMEDIATE")
    connection.execute("UPDATE samples SET note = ? WHERE sample_id = 'plain'", (f"edited {done + 1}",))
    connection.execute("COMMIT")
    connection.close()
    done += 1
    time.sleep(0.25)
print(json.dumps(done))
"""
"""A program that knows nothing of grounds and edits a row in a transaction of its own."""


@pytest.fixture(scope="module")
def writer() -> Iterator[ModuleType]:
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(HERE))
        import side_by_side_writer

        yield side_by_side_writer


def begin(program: str, *given: object) -> subprocess.Popen[str]:
    """Start a program of this folder, or one given as text."""
    what = [str(HERE / program)] if program.endswith(".py") else ["-c", program]
    return subprocess.Popen(
        [sys.executable, *what, *map(str, given)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def end(process: subprocess.Popen[str]) -> Any:
    """Wait for a program and return what it said."""
    out, error = process.communicate(timeout=300)
    assert process.returncode == 0, error
    return json.loads(out)


def differing(ground: Ground, writer: ModuleType, told: dict[str, Any]) -> list[str]:
    """Return in what a writer's records differ from what was acknowledged to it."""
    found = writer.on_record(ground, told["who"])
    return [f"{told['who']}: {key}" for key in found if found[key] != told[key]]


def sound(path: Path) -> bool:
    with closing(sqlite3.connect(path)) as connection:
        return bool(connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)])


@pytest.mark.slow
def test_two_programs_that_save_600_times_lose_nothing(
    tmp_path: Path, writer: ModuleType, figures: dict[str, str]
) -> None:
    """Goal of our own: 0 lost, 0 errors in 600 saves of every kind by two programs at once."""
    ground = Ground.create(tmp_path / "ground", GroundSettings())
    programs = [begin("side_by_side_writer.py", ground.folder, who, EACH, 300) for who in ("one", "other")]
    told = [end(program) for program in programs]
    assert [one["saves"] for one in told] == [EACH, EACH]
    assert [fault for one in told for fault in differing(ground, writer, one)] == []
    assert len(ground.audit()) == 1 + sum(one["audited"] for one in told)
    assert [item for item in ground.check_up() if not item.well] == []
    assert sound(ground.records_path)
    figures["two programs saving"] = f"{2 * EACH} saves of 8 kinds, 0 lost, 0 errors"


@pytest.mark.slow
def test_sessions_and_outside_programs_at_once_for_a_minute(
    tmp_path: Path, writer: ModuleType, figures: dict[str, str]
) -> None:
    """Goal of our own: 0 damage and 0 direct opens of the records in 60 s."""
    ground = Ground.create(tmp_path / "ground", GroundSettings(name="shared"))
    ground.add_samples((Sample(sample_id="plain", lon=-126.0, lat=-47.5, note="as it was"),))
    app = begin("many_threads.py", ground.folder, SECONDS)
    outside = begin("side_by_side_writer.py", ground.folder, "outside", 100_000, SECONDS)
    plain = begin(PLAIN, ground.records_path, SECONDS)
    start = time.monotonic()
    seen, told, edits = end(app), end(outside), end(plain)
    assert time.monotonic() - start >= SECONDS
    assert seen["faults"] == []
    assert seen["direct"] == []
    ground = Ground.open(ground.folder)
    assert [fault for one in (seen["saved"], told) for fault in differing(ground, writer, one)] == []
    noticed = sum(change.action == "changed outside" for change in ground.audit())
    assert len(ground.audit()) == 2 + seen["saved"]["audited"] + told["audited"] + noticed
    (row,) = (item for item in ground.samples() if item.sample_id == "plain")
    assert row.note == f"edited {edits}"
    assert {item.name for item in ground.check_up() if not item.well} <= {"changed outside"}
    assert all(sound(path) for path in (ground.records_path, *(backup.path for backup in ground.backups())))
    counts = seen["counts"]
    assert min(counts.values()) > 5
    assert edits > 5
    assert noticed > 5
    assert seen["looks"]
    figures["a minute of readers and writers"] = (
        f"{seen['saved']['saves']:,} saves here, {told['saves']:,} by another program, {edits} edits by a plain one "
        f"({noticed} noticed), {counts['read'] + counts['list']:,} readings, {counts['copy']} copies, "
        f"{counts['back up']} backups, {counts['check up']} check-ups; 0 lost, 0 damaged, 0 direct opens"
    )
