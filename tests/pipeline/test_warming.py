"""What is warmed up is what a ground needs: afterwards no loop is compiled any more."""

from __future__ import annotations

import subprocess
import sys

import pytest

_COUNT = """
import numba.core.dispatcher as dispatcher
compiled = []
once = dispatcher.Dispatcher.compile
def counted(self, signature):
    if compiled is not None and not self.overloads.get(tuple(signature) if isinstance(signature, tuple) else signature):
        compiled.append((self.py_func.__name__, str(signature)))
    return once(self, signature)
dispatcher.Dispatcher.compile = counted
from prospect.pipeline.warming import warm_up
warm_up()
first, compiled[:] = len(compiled), []
import sys
from pathlib import Path
from prospect.pipeline import Wording, add_layer, build_landscape, choose, score
from prospect.records import GroundSettings
from prospect.store import Ground
ground = Ground.create(Path(sys.argv[1]), GroundSettings())
for kind, path in (("elevation", sys.argv[2]), ("geology", sys.argv[3])):
    add_layer(ground, kind, Path(path), Wording(), today="2026-11-26")
score(ground, choose(ground))
print(first, compiled)
"""


@pytest.mark.slow
def test_a_ground_compiles_nothing_that_was_not_warmed(tmp_path, small_files):
    files = (tmp_path / "ground", small_files["elevation"], small_files["geology"])
    run = subprocess.run(
        [sys.executable, "-c", _COUNT, *map(str, files)],
        capture_output=True, text=True, timeout=300, check=True,
    )  # fmt: skip
    first, rest = run.stdout.strip().splitlines()[-1].split(" ", 1)
    assert int(first) > 8
    assert rest == "[]"
