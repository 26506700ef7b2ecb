"""Readers, savers, snapshots and an outside program at once, in one process and two: nothing lost, nothing damaged."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from prospect.records import GroundSettings, Sample
from prospect.store import Ground

SECONDS = 12.0
OUTSIDE = """
import sys, time
from pathlib import Path
from prospect.records import Sample
from prospect.store import Ground
ground = Ground.open(Path(sys.argv[1]))
end = time.monotonic() + float(sys.argv[2])
number = 0
while time.monotonic() < end:
    ground.add_samples((Sample(sample_id=f"out{number}", lon=-126.0, lat=-47.5),))
    number += 1
    time.sleep(0.01)
print(number)
"""


@pytest.mark.slow
def test_sessions_and_an_outside_program_at_once(tmp_path: Path) -> None:
    """As an app with several sessions does it; the goal of our own is 0 lost and 0 damaged."""
    ground = Ground.create(tmp_path / "ground", GroundSettings())
    faults: list[BaseException] = []
    saved: list[str] = []
    outside = subprocess.Popen(
        [sys.executable, "-c", OUTSIDE, str(ground.folder), str(SECONDS)], stdout=subprocess.PIPE, text=True
    )
    end = time.monotonic() + SECONDS + 3

    def until_the_end(work: Callable[[int], None]) -> Callable[[], None]:
        def run() -> None:
            number = 0
            try:
                while time.monotonic() < end:
                    work(number)
                    number += 1
                    time.sleep(0.01)
            except BaseException as fault:
                faults.append(fault)

        return run

    def save(number: int) -> None:
        ground.add_samples((Sample(sample_id=f"in{number}", lon=-126.0, lat=-47.5),))
        saved.append(f"in{number}")

    def look(_: int) -> None:
        opened = Ground.open(ground.folder)
        samples, audited = len(opened.samples()), len(opened.audit())
        assert audited >= samples + 1

    def copy(number: int) -> None:
        ground.snapshot(tmp_path / f"copy {number}.gpkg")

    threads = [threading.Thread(target=until_the_end(work)) for work in (save, look, look, copy)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)
    said, _ = outside.communicate(timeout=120)
    assert faults == []
    names = {item.sample_id for item in ground.samples()}
    assert names == {*saved, *(f"out{number}" for number in range(int(said)))}
    assert all(item.well for item in ground.check_up())
    print(f"{len(saved)} saves here, {said.strip()} outside")
    assert saved
    assert int(said)
