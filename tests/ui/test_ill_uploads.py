"""An upload that brings its reader down is a message on the Layers screen; the session and the ground go on."""

import importlib
import shutil
import sys
from functools import partial

import pytest
from streamlit.testing.v1 import AppTest

from prospect.guard.worker import Limits
from prospect.pipeline import read_file_guarded
from prospect.store import Ground
from prospect.ui import workspace as workspace_module
from prospect.ui.open_ground import GROUND_VARIABLE, workspace

ILL_READERS = """
import ctypes, time

def breaks(kind, path, wording):
    ctypes.string_at(0)

def hangs(kind, path, wording):
    time.sleep(600)

def eats(kind, path, wording):
    return [bytearray(200_000_000) for _ in range(200)]
"""
SAMPLES = b"sample_id,lon,lat,usable\nB1,-128.993,-47.511,yes\n"


def layers_screen():
    from prospect.ui.screens import layers

    layers.screen()


@pytest.fixture
def ill(tmp_path, monkeypatch):
    """Return a module of readers that fare ill; children find it by its name."""
    (tmp_path / "ill_upload_readers.py").write_text(ILL_READERS, encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    yield importlib.import_module("ill_upload_readers")
    sys.modules.pop("ill_upload_readers", None)


@pytest.fixture
def folder(small_ground, tmp_path, monkeypatch):
    folder = tmp_path / "ground"
    shutil.copytree(small_ground, folder)
    monkeypatch.setenv(GROUND_VARIABLE, str(folder))
    workspace.cache_clear()
    yield folder
    workspace.cache_clear()


def shown(app):
    return " ".join(element.proto.body for element in app.get("html"))


def sent(app):
    app.selectbox[0].set_value("samples")
    app.file_uploader[0].set_value([("dug.csv", SAMPLES, "text/csv")])
    return app.button[0].click().run()


@pytest.mark.parametrize(
    ("fate", "words"), [("breaks", "crashed"), ("eats", "memory"), ("hangs", "longer than")]
)
def test_the_session_outlives_it_and_the_next_file_is_read(ill, folder, monkeypatch, fate, words):
    app = AppTest.from_function(layers_screen, default_timeout=120).run()
    with monkeypatch.context() as patched:
        limit = 2 if fate == "hangs" else 60
        unlucky = partial(read_file_guarded, read=getattr(ill, fate), limits=Limits(seconds=limit))
        patched.setattr(workspace_module, "read_file_guarded", unlucky)
        app = sent(app)
    assert not app.exception
    assert words in shown(app)
    assert "dug.csv" in shown(app)
    assert "claywalk-" not in shown(app), "the message shows where the file lay"
    assert len(Ground.open(folder).samples()) == 2
    app = sent(app)
    assert not app.exception
    assert "Accepted" in shown(app)
    assert len(Ground.open(folder).samples()) == 3
