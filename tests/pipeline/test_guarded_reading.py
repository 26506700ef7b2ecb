"""A reader that crashes, hangs or eats memory costs one message; the program and the next file are well."""

import importlib
import shutil
import sys
import tempfile
import time
import types
from functools import partial

import pytest

from prospect.errors import InputRefused, WrongUsage
from prospect.guard.worker import Limits
from prospect.issues import IssueLog
from prospect.pipeline import Wording, read_file, read_file_guarded, read_for
from prospect.store import Ground
from prospect.ui.workspace import Workspace

ILL_READERS = """
import ctypes, os, time

def leaves(kind, path, wording):
    os._exit(0)

def breaks(kind, path, wording):
    ctypes.string_at(0)

def hangs(kind, path, wording):
    time.sleep(600)

def eats(kind, path, wording):
    return [bytearray(200_000_000) for _ in range(200)]

def errs(kind, path, wording):
    raise RuntimeError("a fault of the library")

def copies(kind, path, wording):
    import shutil, tempfile
    shutil.copy(path, tempfile.mkdtemp())
    os._exit(0)

def draws(kind, path, wording):
    import sys
    return getattr(sys.modules["__main__"], "DRAWN", "nothing")
"""


@pytest.fixture
def ill(tmp_path, monkeypatch):
    """Return a module of readers that fare ill; children find it by its name."""
    (tmp_path / "ill_readers.py").write_text(ILL_READERS, encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    sys.modules.pop("ill_readers", None)
    yield importlib.import_module("ill_readers")
    sys.modules.pop("ill_readers", None)


@pytest.mark.parametrize(
    ("fate", "words"),
    [
        ("leaves", "crashed"),
        ("breaks", "crashed"),
        ("errs", "the program itself failed over this file .RuntimeError."),
        ("eats", "memory"),
        ("hangs", "longer"),
    ],
)
def test_what_befalls_the_reader_is_a_message_and_the_next_file_is_read(ill, small_files, fate, words):
    path = small_files["geology"]
    began = time.perf_counter()
    limit = 2 if fate == "hangs" else 60
    with pytest.raises(InputRefused, match=words) as refused:
        read_file_guarded("geology", path, Wording(), read=getattr(ill, fate), limits=Limits(seconds=limit))
    assert time.perf_counter() - began < 30
    assert refused.value.log.verdict == "refused"
    assert path.name in str(refused.value)
    assert str(path.parent) not in str(refused.value)
    assert len(read_file_guarded("geology", path, Wording()).shapes) == 3


def test_a_reader_that_is_killed_leaves_no_copy_of_the_file_behind(ill, small_files, tmp_path, monkeypatch):
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(scratch))
    with pytest.raises(InputRefused, match="crashed"):
        read_file_guarded("parcels", small_files["parcels"], Wording(), read=ill.copies)
    assert list(scratch.iterdir()) == []


@pytest.mark.parametrize("kind", ["elevation", "geology", "parcels", "samples"])
def test_what_comes_back_is_what_was_read(small_files, kind):
    direct = read_file(kind, small_files[kind], Wording())
    guarded = read_file_guarded(kind, small_files[kind], Wording())
    assert guarded.log == direct.log
    assert guarded.source == direct.source
    assert guarded.samples == direct.samples
    if direct.shapes is not None:
        assert guarded.shapes.crs == direct.shapes.crs
        assert guarded.shapes.equals(direct.shapes)
    if direct.elevation is not None:
        assert (guarded.elevation.values == direct.elevation.values).all()


def test_refusals_and_wrong_words_come_back_as_they_are(tmp_path):
    path = tmp_path / "none.csv"
    path.write_text("a,b\n1,2\n", encoding="utf-8")
    with pytest.raises(InputRefused) as refused:
        read_file_guarded("samples", path, Wording())
    assert isinstance(refused.value.log, IssueLog)
    assert refused.value.log.issues
    with pytest.raises(WrongUsage, match="no kind"):
        read_file_guarded("moonlight", path, Wording())


def test_the_script_of_a_server_is_not_run_again_in_the_child(ill, tmp_path, small_files, monkeypatch):
    script = tmp_path / "screen.py"
    script.write_text(f"DRAWN = open({str(tmp_path / 'drawn')!r}, 'w')\n", encoding="utf-8")
    main = types.ModuleType("__main__")
    main.__file__ = str(script)
    monkeypatch.setitem(sys.modules, "__main__", main)
    assert read_file_guarded("geology", small_files["geology"], Wording(), read=ill.draws) == "nothing"
    assert not (tmp_path / "drawn").exists()
    assert sys.modules["__main__"] is main


def test_an_ill_fated_file_leaves_the_ground_as_it_was(ill, small_ground, small_files, tmp_path):
    folder = tmp_path / "ground"
    shutil.copytree(small_ground, folder)
    before = (folder / "layers" / "geology.gpkg").read_bytes()
    ground = Ground.open(folder)
    crashing = partial(read_file_guarded, read=ill.breaks)
    with pytest.raises(InputRefused, match="crashed"):
        read_for(ground, "geology", small_files["geology"], Wording(), read=crashing)
    assert (folder / "layers" / "geology.gpkg").read_bytes() == before
    intake = Workspace(folder).add(
        "geology", small_files["geology"], Wording(), today="2026-05-02", replace_layer=True
    )
    assert intake.log.kept == 3
    assert "geology" in ground.layers()
