"""A child process that crashes, hangs or eats memory costs one message."""

import time

import pytest

from prospect.errors import InputRefused
from prospect.guard.worker import run_guarded
from prospect.issues import IssueLog
from prospect.sources.points import read_points


def log():
    return IssueLog("holes.csv", "samples")


def test_result_and_refusal_come_back(tmp_path):
    path = tmp_path / "holes.csv"
    path.write_text("id,lon,lat\na,-83,35\n")
    samples, done, _ = run_guarded(read_points, path, log=log())
    assert samples[0].sample_id == "a"
    assert done.kept == 1
    path.write_text("a,b\n1,2\n")
    with pytest.raises(InputRefused, match="longitude and latitude") as refused:
        run_guarded(read_points, path, log=log())
    assert refused.value.log.issues[0].file == "holes.csv"


def test_crash():
    import os

    with pytest.raises(InputRefused, match="crashed") as refused:
        run_guarded(os.abort, log=log())
    assert refused.value.log.verdict == "refused"


def test_hang():
    began = time.perf_counter()
    with pytest.raises(InputRefused, match="longer than 1 s"):
        run_guarded(time.sleep, 60, log=log(), seconds=1)
    assert time.perf_counter() - began < 15


def test_hunger():
    with pytest.raises(InputRefused, match="memory"):
        run_guarded(bytearray, 20_000_000_000, log=log())
