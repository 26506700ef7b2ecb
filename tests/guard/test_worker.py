"""A reader that crashes, hangs or eats memory costs one message; nothing of it stays behind."""

from __future__ import annotations

import importlib
import os
import signal
import subprocess
import sys
import tempfile
import textwrap
import time
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from prospect.errors import GroundError, InputRefused, ReaderFault, WrongUsage, causes_of
from prospect.guard import worker
from prospect.guard.drivers import ALLOWED_DRIVERS
from prospect.guard.worker import Limits, get_ready, run_guarded, try_out
from prospect.issues import IssueLog
from prospect.sources.points import read_points

HERE = Path(__file__).parent
linux = pytest.mark.skipif(sys.platform != "linux", reason="as Linux does it")


@pytest.fixture(scope="module")
def ill():
    """Return the module of ill-faring work, importable by name here and in the process that reads files."""
    sys.path.insert(0, str(HERE))
    try:
        yield importlib.import_module("ill_work")
    finally:
        sys.path.remove(str(HERE))


@pytest.fixture
def scratch(tmp_path, monkeypatch):
    """Return the folder for what is temporary."""
    folder = tmp_path / "scratch"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    return folder


def log():
    return IssueLog("holes.csv", "samples")


def run(function, *args, **limits):
    return run_guarded(function, *args, log=log(), limits=Limits(**limits))


def alive(process):
    try:
        state = Path(f"/proc/{process}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def wait_until(condition, seconds=20.0):
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if condition():
            return True
        time.sleep(0.02)
    return False


def test_result_and_refusal_come_back(tmp_path):
    path = tmp_path / "holes.csv"
    path.write_text("id,lon,lat\na,-83,35\n", encoding="utf-8")
    samples, done, _ = run_guarded(read_points, path, log=log())
    assert samples[0].sample_id == "a"
    assert done.kept == 1
    path.write_text("a,b\n1,2\n", encoding="utf-8")
    with pytest.raises(InputRefused, match="longitude and latitude") as refused:
        run_guarded(read_points, path, log=log())
    assert refused.value.log.issues[0].file == "holes.csv"
    assert not isinstance(refused.value, ReaderFault)


@pytest.mark.parametrize(
    ("fate", "words"),
    [
        ("breaks", r"crashed \(SIGSEGV\)"),
        ("aborts", r"crashed \(SIGABRT\)"),
        ("leaves", "crashed"),
        ("exits", "crashed"),
        ("is_stopped", "more than fits into the memory"),
        ("eats", "more than fits into the memory"),
        ("errs", r"the program itself failed over this file \(KeyError\)"),
        ("ends_in_depth", r"the program itself failed over this file \(RecursionError\)"),
        ("brings_back_what_cannot_travel", "the program itself failed"),
    ],
)
def test_each_ill_fate_is_one_message_and_the_next_file_is_read(ill, scratch, fate, words, capfd):
    with pytest.raises(InputRefused, match=words) as refused:
        run(getattr(ill, fate))
    assert refused.value.exit_code == 3
    assert refused.value.log.verdict == "refused"
    (issue,) = refused.value.log.issues
    assert issue.file == "holes.csv"
    assert issue.expected
    assert issue.action
    assert "Traceback" not in str(refused.value)
    assert run(int, "7") == 7
    assert list(scratch.iterdir()) == []
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("fate", ["hangs", "spins"])
def test_what_takes_too_long_is_ended(ill, scratch, fate):
    began = time.perf_counter()
    with pytest.raises(InputRefused, match="longer than 1 s"):
        run(getattr(ill, fate), seconds=1.0)
    assert time.perf_counter() - began < 15
    assert run(int, "7") == 7
    assert list(scratch.iterdir()) == []


def test_an_error_that_nobody_expected_can_be_told_from_a_refusal(ill):
    with pytest.raises(ReaderFault) as fault:
        run(ill.errs)
    assert fault.value.fault == "KeyError"
    assert "in errs" in fault.value.trace
    assert "in errs" in str(fault.value.__cause__), "the traceback is there for those who ask for it"


def test_a_refusal_says_of_what_errors_it_was_made(ill):
    with pytest.raises(InputRefused, match="no number") as refused:
        run(ill.refuses)
    assert refused.value.causes == ("builtins.ValueError",)
    with pytest.raises(InputRefused) as direct:
        ill.refuses()
    assert causes_of(direct.value) == ("builtins.ValueError",)


def test_ours_is_passed_on_as_it_is(ill):
    with pytest.raises(WrongUsage, match="a word"):
        run(partial(_raise, "a word"))


def _raise(word):
    raise WrongUsage(word)


def test_what_a_library_prints_does_not_reach_the_user(ill, capfd):
    run(ill.talks)
    assert capfd.readouterr() == ("", "")


def test_nothing_temporary_stays_behind(ill, scratch):
    folder = run(ill.leaves_a_copy)
    assert Path(folder).is_relative_to(scratch)
    assert wait_until(lambda: not list(scratch.iterdir()))
    with pytest.raises(InputRefused):
        run(ill.leaves_a_copy_and_breaks)
    assert list(scratch.iterdir()) == []


@linux
def test_the_limits_hold(ill):
    space, core = run(ill.limits)
    assert space == 2_000_000_000
    assert core == 0
    assert run(ill.limits, memory_mb=8_000)[0] == 8_000_000_000
    # 1.9 GB of 2 GB cannot be had beside the libraries, half a GB can.
    with pytest.raises(InputRefused, match="2,000 MB of memory"):
        run(ill.eats, 1_900)
    assert len(run(ill.eats, 500)) == 10


@linux
def test_the_reading_process_is_light(ill, figures):
    status = run(ill.status)
    space_mb, resident_mb = (int(status[name][0]) / 1000 for name in ("VmSize", "VmRSS"))
    assert space_mb < 900
    assert resident_mb < 200
    assert not {"numba", "llvmlite", "streamlit", "matplotlib", "folium", "pytest"} & set(run(ill.modules))
    figures["the process that reads files"] = (
        f"{space_mb:.0f} MB of address space of 2,000, {resident_mb:.0f} MB resident before it reads"
    )


def test_only_our_drivers_are_on_there(ill):
    assert set(run(ill.drivers)) <= ALLOWED_DRIVERS


def test_large_arrays_come_back_whole_and_can_be_written_to(ill):
    table = run(ill.table)
    assert (table["heights"] == np.arange(6_000_000).reshape(2000, 3000)).all()
    table["heights"][0, 0] = 5.0
    assert table["none"].size == 0


def test_paths_are_those_of_the_program(ill, tmp_path, monkeypatch):
    run(int, "1")
    (tmp_path / "here.txt").write_text("here", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert run(ill.folder_and_text, "here.txt") == (str(tmp_path), "here")


def test_twenty_reads_in_a_row_start_at_once(tmp_path, figures):
    path = tmp_path / "holes.csv"
    path.write_text("id,lon,lat\na,-83,35\n", encoding="utf-8")
    run(int, "1")
    starts, reads = [], []
    for times, work in ((starts, partial(int, "1")), (reads, partial(read_points, path))):
        for _ in range(20):
            began = time.perf_counter()
            assert try_out(work, Limits()).how == "result"
            times.append(time.perf_counter() - began)
    figures["starting to read a file"] = (
        f"20 in a row, {1000 * sorted(starts)[10]:.0f} ms each (slowest {1000 * max(starts):.0f}); a small table of "
        f"samples {1000 * sorted(reads)[10]:.0f} ms"
    )
    assert sorted(starts)[10] < 0.2


def test_one_that_hangs_does_not_keep_others_waiting(ill):
    with ThreadPoolExecutor(6) as threads:
        slow = threads.submit(try_out, ill.hangs, Limits(seconds=6.0))
        time.sleep(0.2)
        began = time.perf_counter()
        others = [threads.submit(try_out, partial(int, str(n)), Limits()) for n in range(12)]
        broken = [threads.submit(try_out, ill.breaks, Limits()) for _ in range(3)]
        assert [other.result().content for other in others] == list(range(12))
        assert {one.result().how for one in broken} == {"crash"}
        assert time.perf_counter() - began < 5.0
        assert slow.result().how == "hang"


@linux
def test_when_the_process_with_the_readers_is_killed_its_copies_die_and_another_starts(
    ill, scratch, tmp_path
):
    mark = tmp_path / "mark"
    with ThreadPoolExecutor(1) as threads:
        reading = threads.submit(try_out, partial(ill.hangs, str(mark)), Limits(seconds=60))
        assert wait_until(lambda: mark.exists() and mark.read_text())
        child, parent = map(int, mark.read_text().split())
        assert parent != os.getpid()
        os.kill(parent, signal.SIGKILL)
        assert reading.result().how == "crash"
    assert wait_until(lambda: not alive(child))
    assert list(scratch.iterdir()) == []
    assert run(int, "7") == 7


PROGRAM = """
import sys
from functools import partial
sys.path.insert(0, {here!r})
import ill_work
from prospect.guard.worker import Limits, try_out
if __name__ == "__main__":
    try_out(partial(ill_work.hangs, {mark!r}), Limits(seconds=120))
"""


@linux
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_no_orphan_and_no_copy_is_left_when_the_program_is_killed(tmp_path, how):
    mark, scratch = tmp_path / "mark", tmp_path / "scratch"
    scratch.mkdir()
    script = tmp_path / "program.py"
    script.write_text(PROGRAM.format(here=str(HERE), mark=str(mark)), encoding="utf-8")
    program = subprocess.Popen(
        [sys.executable, str(script)],
        env={**os.environ, "TMPDIR": str(scratch)},
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        assert wait_until(lambda: mark.exists() and len(mark.read_text().split()) == 2, 60)
        child, parent = map(int, mark.read_text().split())
        assert alive(child)
        assert alive(parent)
        assert list(scratch.rglob("tmp*")), "the child had made a copy"
        # As a terminal does it: to the whole group.
        os.killpg(program.pid, how)
        program.wait(20)
    finally:
        program.kill()
    assert wait_until(lambda: not alive(child)), "the reader lives on"
    assert wait_until(lambda: not alive(parent)), "the process with the readers lives on"
    assert list(scratch.iterdir()) == []


COMMAND = """
import sys
from functools import partial
sys.path.insert(0, {here!r})
import ill_work
import prospect.cli
from prospect.cli import ground
from prospect.guard.worker import run_guarded
from prospect.issues import IssueLog

def hanging(kind, path, wording, *, limits):
    return run_guarded(ill_work.hangs, {mark!r}, log=IssueLog(path.name, kind), limits=limits)

if __name__ == "__main__":
    ground.read_file_guarded = hanging
    sys.exit(prospect.cli.run(["check", "samples", {mark!r}]))
"""


@linux
def test_stopping_a_command_stops_its_reader(tmp_path):
    mark = tmp_path / "mark"
    script = tmp_path / "program.py"
    script.write_text(COMMAND.format(here=str(HERE), mark=str(mark)), encoding="utf-8")
    program = subprocess.Popen(
        [sys.executable, str(script)], stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    try:
        assert wait_until(lambda: mark.exists() and len(mark.read_text().split()) == 2, 60)
        child, _ = map(int, mark.read_text().split())
        os.killpg(program.pid, signal.SIGINT)
        _, said = program.communicate(timeout=20)
    finally:
        program.kill()
    assert program.returncode == 130
    assert "Stopped" in said
    assert "Traceback" not in said
    assert wait_until(lambda: not alive(child))


def test_nothing_is_read_where_the_libraries_are_unsafe(ill, scratch, monkeypatch):
    monkeypatch.setenv("TMPDIR", str(scratch))
    with pytest.raises(
        GroundError, match=r"holes\.csv was not opened.*not as they should be.*claywalk doctor"
    ):
        run_guarded(ill.drivers, log=log(), prepare="ill_work:unsafe")
    # Mended in the meantime.
    assert run_guarded(ill.drivers, log=log(), prepare="ill_work:unsafe")
    with pytest.raises(GroundError, match="RuntimeError: no such library"):
        run_guarded(ill.drivers, log=log(), prepare="ill_work:cannot_load")


def test_where_no_process_can_be_started_nothing_is_read(ill, monkeypatch, tmp_path):
    with monkeypatch.context() as patched:
        patched.setattr(sys, "executable", str(tmp_path / "none"))
        with pytest.raises(GroundError, match="could not be started"):
            run_guarded(ill.drivers, log=log(), prepare="ill_work:status")
    assert run_guarded(ill.drivers, log=log(), prepare="")


def test_the_folder_one_is_in_is_no_place_for_modules(ill, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "path", ["", ".", *sys.path])
    (tmp_path / "prospect_planted.py").write_text("raise SystemExit", encoding="utf-8")
    with pytest.raises(ReaderFault, match="ModuleNotFoundError"):
        run(importlib.import_module, "prospect_planted")


def test_the_readers_can_be_loaded_before_the_first_file(tmp_path):
    script = textwrap.dedent(
        """
        import sys, time
        from functools import partial
        from prospect.guard.worker import Limits, get_ready, try_out
        get_ready()
        get_ready()
        print(try_out(partial(int, "7"), Limits()).content)
        """
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=120, check=False
    )
    assert done.stdout.strip() == "7", done.stderr
    assert done.stderr == ""
    get_ready()


@pytest.mark.slow
def test_where_processes_cannot_be_copied_each_file_starts_one(ill, monkeypatch):
    monkeypatch.delattr(worker.os, "fork")
    monkeypatch.syspath_prepend(HERE)
    assert run(int, "7") == 7
    with pytest.raises(InputRefused, match="crashed"):
        run(ill.breaks)
    with pytest.raises(InputRefused, match="longer than 1 s"):
        run(ill.hangs, seconds=1.0)
    with pytest.raises(ReaderFault, match="KeyError"):
        run(ill.errs)
