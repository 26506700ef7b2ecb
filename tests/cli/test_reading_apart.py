"""Every command reads what a user gives in a process of its own: a reader that crashes is a message, exit code 3."""

from __future__ import annotations

import ctypes
import shutil
import subprocess
import sys
import time

import pytest

from prospect.cli import run
from prospect.cli.ahead import reads_a_file
from prospect.guard.worker import Limits, run_guarded
from prospect.pipeline import reading


def breaks():
    ctypes.string_at(0)


def errs():
    raise ZeroDivisionError("a fault of ours")


@pytest.fixture
def fated(monkeypatch):
    """Return a function that gives every file the same fate; returns the limits that were asked for."""

    def give(fate, **others):
        asked = []

        def unlucky(function, *args, log, limits):
            asked.append(limits)
            return run_guarded(fate, log=log, limits=Limits(**others) if others else limits, prepare="")

        monkeypatch.setattr(reading, "run_guarded", unlucky)
        return asked

    return give


@pytest.fixture
def ground(small_ground, tmp_path):
    folder = tmp_path / "ground"
    shutil.copytree(small_ground, folder)
    return folder


@pytest.fixture
def files(tmp_path):
    """Return a file of the user's for each word; none is ever read."""
    made = {}
    for word, name in (("samples", "dug.csv"), ("outline", "field.geojson"), ("points", "spots.csv")):
        made[word] = tmp_path / name
        made[word].write_text("x", encoding="utf-8")
    made["model"] = tmp_path / "mine.toml"
    made["model"].write_text("x", encoding="utf-8")
    return made


COMMANDS = {
    "add": ("add", "{ground}", "outline", "{outline}"),
    "add samples": ("add", "{ground}", "samples", "{samples}"),
    "log": ("log", "{ground}", "{samples}"),
    "check": ("check", "samples", "{samples}"),
    "check deposit": ("check", "deposit", "{model}"),
    "new": ("new", "{ground}-new", "--outline", "{outline}"),
    "probe": ("probe", "{ground}", "{points}", "--out", "{ground}-out.csv"),
    "score": ("score", "{ground}", "--model", "{model}"),
}


def words(command, ground, files):
    return [word.format(ground=ground, **files) for word in COMMANDS[command]]


def content(folder):
    return {
        path.relative_to(folder): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and "derived" not in path.parts
    }


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize(("fate", "said"), [(breaks, "crashed"), (errs, "the program itself failed")])
def test_each_command_outlives_its_reader(command, fate, said, fated, ground, files, capsys):
    fated(fate)
    before = content(ground)
    assert run(words(command, ground, files)) == 3
    out = capsys.readouterr()
    told = out.out + out.err
    assert said in told
    assert any(path.name in told for path in files.values())
    assert "Traceback" not in told
    assert content(ground) == before
    assert not ground.with_name("ground-new").exists()


def test_the_traceback_of_a_fault_is_there_for_those_who_ask(fated, files, capsys, monkeypatch, ground):
    fated(errs)
    monkeypatch.setenv("CLAYWALK_DEBUG", "1")
    assert run(["add", str(ground), "samples", str(files["samples"])]) == 3
    assert "ZeroDivisionError: a fault of ours" in capsys.readouterr().err


def test_a_hang_and_hunger_say_what_to_do(fated, files, capsys):
    fated(sleeps, seconds=0.5)
    assert run(["check", "samples", str(files["samples"])]) == 3
    told = capsys.readouterr()
    assert "longer than" in told.out + told.err
    assert "Cut out the part around your ground" in told.out + told.err


def sleeps():
    time.sleep(600)


def test_a_large_file_is_given_more_when_asked_for(fated, files, ground, capsys):
    asked = fated(breaks)
    for word in ("check", "add"):
        place = [str(ground)] if word == "add" else []
        for large in ([], ["--large"]):
            assert run([word, *place, "samples", str(files["samples"]), *large]) == 3
    assert [limits.memory_mb for limits in asked] == [2_000, 8_000, 2_000, 8_000]
    assert "`claywalk add` with --large" in asked[0].otherwise
    assert asked[1].otherwise == ""


def test_the_readers_are_loaded_ahead_for_the_commands_that_read(files, ground):
    assert all(reads_a_file(words(command, ground, files)) for command in COMMANDS)
    assert reads_a_file(["score", "here", "--model=mine.toml"])
    for other in (["demo"], ["sites", "here"], ["check", "--help"], ["new", "here"], [], ["app", "here"]):
        assert not reads_a_file(other)


@pytest.mark.slow
def test_the_time_of_a_check_is_told(small_files, figures):
    words = [sys.executable, "-c", "from prospect.cli import main; main()", "check", "samples"]
    seconds = []
    for _ in range(3):
        began = time.perf_counter()
        done = subprocess.run(
            [*words, str(small_files["samples"])], capture_output=True, text=True, check=False
        )
        seconds.append(time.perf_counter() - began)
        assert done.returncode == 0
        assert "Read 3, kept 2" in done.stdout
        assert "Traceback" not in done.stderr
    figures["checking a small table by command"] = (
        f"{min(seconds):.1f} s, start and end of the program included"
    )
