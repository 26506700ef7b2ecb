"""Work on windows: done by threads or a cluster, watched, stopped, gone on with."""

from __future__ import annotations

import json
import signal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from prospect.errors import GroundError, InputRefused, ProspectError, Stopped, WrongUsage
from prospect.windows import (
    Engine,
    Tiling,
    Window,
    WorkFolder,
    create_array,
    open_array,
    raster_source,
    write_window,
)

SHAPE = (7, 9)
TILING = Tiling(SHAPE, 2, 3)


def number_cells(path: Path, window: Window, number: int, calls: Path) -> dict[str, Any]:
    with (calls / f"{number}").open("a") as handle:
        handle.write("x")
    write_window(path, window, np.full(window.shape, number))
    return {"sum": np.array([number])}


def fail_at_three(number: int) -> int:
    if number == 3:
        raise InputRefused("three is refused")
    return number


def numbered(folder: Path, calls: Path, engine: Engine, key: str = "k") -> tuple[Path, dict[int, int]]:
    calls.mkdir(exist_ok=True)
    work = WorkFolder(folder, key, engine)
    path = work.array("numbers", SHAPE, np.int32)
    jobs = {number: (path, TILING[number], number, calls) for number in range(len(TILING))}
    results = work.stage("number", number_cells, jobs)
    return path, {number: int(result["sum"][0]) for number, result in results.items()}


def expected() -> np.ndarray:
    out = np.empty(SHAPE, np.int32)
    for number in range(len(TILING)):
        out[TILING[number].slices] = number
    return out


@pytest.mark.parametrize("threads", [1, 2, 5])
def test_every_window_is_worked_on_once(tmp_path: Path, threads: int) -> None:
    path, results = numbered(tmp_path / "work", tmp_path / "calls", Engine(threads))
    np.testing.assert_array_equal(open_array(path), expected())
    assert results == {number: number for number in range(12)}
    assert all((tmp_path / "calls" / f"{number}").read_text() == "x" for number in range(12))


def test_the_watcher_sees_every_window(tmp_path: Path) -> None:
    seen: list[tuple[str, int, int]] = []
    numbered(tmp_path / "work", tmp_path / "calls", Engine(2, progress=lambda *told: seen.append(told)))
    assert seen == [("number", done, 12) for done in range(13)]


@pytest.mark.parametrize("after", [1, 4, 11])
def test_a_stopped_run_is_gone_on_with(tmp_path: Path, after: int) -> None:
    asked = iter(range(100))
    with pytest.raises(Stopped, match="goes on from there"):
        numbered(tmp_path / "work", tmp_path / "calls", Engine(1, stopped=lambda: next(asked) + 1 >= after))
    path, results = numbered(tmp_path / "work", tmp_path / "calls", Engine(1))
    np.testing.assert_array_equal(open_array(path), expected())
    assert results == {number: number for number in range(12)}
    calls = [(tmp_path / "calls" / f"{number}").read_text() for number in range(12)]
    assert sum(map(len, calls)) <= 12 + 1, "only a window under way may be done twice"


def test_interrupting_is_stopping(tmp_path: Path) -> None:
    def interrupt(stage: str, done: int, of: int) -> None:
        if done == 5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        numbered(tmp_path / "work", tmp_path / "calls", Engine(2, progress=interrupt))
    noted = json.loads((tmp_path / "work" / "manifest.json").read_text())
    assert len(noted["done"]["number"]) == 5
    path, _ = numbered(tmp_path / "work", tmp_path / "calls", Engine(2))
    np.testing.assert_array_equal(open_array(path), expected())


def test_another_key_begins_anew(tmp_path: Path) -> None:
    numbered(tmp_path / "work", tmp_path / "calls", Engine(2))
    numbered(tmp_path / "work", tmp_path / "calls", Engine(2))
    assert (tmp_path / "calls" / "0").read_text() == "x"
    numbered(tmp_path / "work", tmp_path / "calls", Engine(2), key="other")
    assert (tmp_path / "calls" / "0").read_text() == "xx"


@pytest.mark.parametrize("damage", ["gone", "cut", "manifest", "old manifest"])
def test_a_damaged_folder_begins_anew(tmp_path: Path, damage: str) -> None:
    path, _ = numbered(tmp_path / "work", tmp_path / "calls", Engine(2))
    if damage == "gone":
        path.unlink()
    elif damage == "cut":
        path.write_bytes(path.read_bytes()[:-8])
    else:
        (tmp_path / "work" / "manifest.json").write_text("{" if damage == "manifest" else "[1]")
    path, _ = numbered(tmp_path / "work", tmp_path / "calls", Engine(2))
    np.testing.assert_array_equal(open_array(path), expected())


def test_a_finished_folder_keeps_only_the_arrays(tmp_path: Path) -> None:
    numbered(tmp_path / "work", tmp_path / "calls", Engine())
    WorkFolder(tmp_path / "work", "k", Engine()).finish()
    assert {path.name for path in (tmp_path / "work").iterdir()} == {"numbers.npy", "manifest.json"}
    assert WorkFolder(tmp_path / "work", "k", Engine()).is_finished


def test_an_error_of_a_window_comes_through() -> None:
    done: list[int] = []
    with pytest.raises(InputRefused, match="three is refused"):
        Engine(1).run(fail_at_three, {n: (n,) for n in range(6)}, lambda n, _: done.append(n))
    assert 3 not in done


def test_no_threads_are_refused() -> None:
    with pytest.raises(WrongUsage, match="at least 1"):
        Engine(0)


def test_a_cluster_gives_the_same(tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed", reason="the package 'distributed' is not here")
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=2, processes=False, dashboard_address=None, protocol="inproc://"
    ) as cluster:
        path, results = numbered(
            tmp_path / "work", tmp_path / "calls", Engine(scheduler=cluster.scheduler_address)
        )
        np.testing.assert_array_equal(open_array(path), expected())
        assert results == {number: number for number in range(12)}
        with pytest.raises(InputRefused, match="three"):
            Engine(scheduler=cluster.scheduler_address).run(fail_at_three, {3: (3,)})


def test_without_the_package_a_cluster_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    with pytest.raises(ProspectError, match=r"pip install 'claywalk\[cluster\]'"):
        Engine(scheduler="tcp://127.0.0.1:1").run(fail_at_three, {1: (1,)})


def test_windows_side_by_side_do_not_undo_each_other(tmp_path: Path) -> None:
    tiling = Tiling((40, 60), 5, 3)
    for _ in range(5):
        create_array(tmp_path / "it.npy", tiling.shape, np.int16)
        Engine(8).run(
            write_window,
            {
                n: (tmp_path / "it.npy", tiling[n], np.full(tiling[n].shape, n + 1))
                for n in range(len(tiling))
            },
        )
        got = open_array(tmp_path / "it.npy")
        assert all((got[tiling[n].slices] == n + 1).all() for n in range(len(tiling)))


def test_a_window_that_cannot_be_written_says_so(tmp_path: Path) -> None:
    with pytest.raises(GroundError, match=r"gone\.npy could not be written: No such file"):
        write_window(tmp_path / "gone.npy", Window(0, 1, 0, 1), np.zeros((1, 1)))
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(GroundError, match="could not be written"):
        WorkFolder(tmp_path / "file", "k", Engine())


@pytest.mark.skipif(
    not hasattr(signal, "SIGXFSZ"), reason="limits of file size are told by POSIX systems only"
)
def test_a_full_disk_ends_the_run_with_a_word_and_it_is_gone_on_with(tmp_path: Path) -> None:
    """A limit of file size stands for the disk: it fails in the same call."""
    import resource

    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    kept = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        work = WorkFolder(tmp_path / "work", "k", Engine())
        path = work.array("numbers", (400, 400), np.float64)
        resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, before[1]))
        with pytest.raises(GroundError, match="could not be written"):
            write_window(path, Window(300, 400, 0, 400), np.ones((100, 400)))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, kept)
    write_window(path, Window(300, 400, 0, 400), np.ones((100, 400)))
    assert open_array(path)[300:].all()


def test_what_is_no_grid_is_refused(tmp_path: Path) -> None:
    np.save(tmp_path / "line.npy", np.zeros(5))
    (tmp_path / "text.npy").write_text("not an array")
    (tmp_path / "text.tif").write_text("not a raster")
    for name in ("line.npy", "text.npy", "text.tif", "nothing.npy"):
        with pytest.raises(InputRefused, match=name):
            raster_source(tmp_path / name)
