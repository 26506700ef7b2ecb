"""The libraries open nothing that points elsewhere, and the program notices where they would."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap

import pytest

from prospect.errors import GroundError
from prospect.guard.drivers import ALLOWED_DRIVERS
from prospect.sources import self_test


def answer(script):
    """Return what a program prints that starts without any GDAL variable set."""
    bare = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("GDAL", "OGR", "CPL", "PROJ"))
    }
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", textwrap.dedent(script)],
        env=bare,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_nothing_that_points_elsewhere_opens_here():
    assert self_test.unsafe_here() == ""
    assert self_test.pointers_opened() == ()
    self_test.require_safe()


def test_the_drivers_on_are_exactly_those_that_a_reader_or_writer_names():
    on = self_test.drivers_on()
    assert on <= ALLOWED_DRIVERS
    assert ALLOWED_DRIVERS - on <= {"Memory"}, "a driver is allowed that neither library has"


def test_each_crafted_file_does_open_where_its_driver_is_on():
    # So that not opening means something: the variables are taken away again before the libraries load.
    said = answer(
        """
        import os
        import prospect.guard.drivers as drivers
        for name in drivers._SETTINGS:
            os.environ.pop(name, None)
        from prospect.sources import self_test
        print(*self_test.pointers_opened(), sep=",")
        print(self_test.unsafe_here())
        """
    )
    opened, words = said.splitlines()
    assert set(opened.split(",")) == {
        "vrt.vrt by rasterio",
        "vrt.tif by rasterio",
        "gti.gti by rasterio",
        "gti.tif by rasterio",
        "wms.xml by rasterio",
        "wms.tif by rasterio",
        "ogr.vrt by pyogrio",
        "ogr.geojson by pyogrio",
    }
    assert words.startswith("drivers are on that should be off: AAIGrid")


@pytest.mark.parametrize("library", ["rasterio", "pyogrio"])
def test_a_library_that_was_loaded_too_early_stops_every_reading_in_that_process(library, small_files):
    said = answer(
        f"""
        import {library}
        from pathlib import Path
        from prospect.errors import InputRefused, ProspectError
        from prospect.pipeline import Wording, read_file, read_file_guarded
        from prospect.sources.self_test import unsafe_here
        path = Path({str(small_files["samples"])!r})
        try:
            read_file("samples", path, Wording())
        except ProspectError as error:
            print(type(error).__name__, error)
        print(unsafe_here())
        # The process that reads files is one of its own, where nothing was loaded early.
        print(read_file_guarded("samples", path, Wording()).log.kept)
        """
    )
    refused, unsafe, kept = said.splitlines()
    assert refused.startswith(f"ProspectError {library} was imported before prospect")
    assert "Import prospect first" in refused
    assert unsafe.startswith(f"{library} was imported before prospect")
    assert kept == "2"


def test_a_program_started_by_ours_is_not_too_early():
    said = answer(
        """
        import os, sys
        import prospect
        script = "import rasterio, prospect.sources.self_test as s; print(s.unsafe_here() or 'safe')"
        os.execve(sys.executable, [sys.executable, "-c", script], dict(os.environ))
        """
    )
    assert said == "safe"


def test_reading_is_refused_with_words_where_a_driver_is_on(monkeypatch):
    monkeypatch.setattr(self_test, "drivers_on", lambda: ALLOWED_DRIVERS | {"VRT"})
    with pytest.raises(GroundError, match="drivers are on that should be off: VRT"):
        self_test.require_safe()
    monkeypatch.setattr(self_test, "drivers_on", lambda: ALLOWED_DRIVERS)
    monkeypatch.setattr(self_test, "_vector_opens", lambda path: None)
    assert "ogr.geojson by pyogrio" in self_test.unsafe_here()
    monkeypatch.undo()
    monkeypatch.setattr(self_test, "drivers_on", lambda: ALLOWED_DRIVERS - {"GTiff"})
    assert self_test.unsafe_here() == "drivers are off that the readers need: GTiff"
