"""A reading and a string that holds every kind of payload."""

import shutil
import sys
from pathlib import Path

import pytest

from prospect.records import (
    CriterionReading,
    Fact,
    GateReading,
    GroundReport,
    LandCheck,
    ModelReading,
    ParcelHit,
    Site,
)
from prospect.store import Ground
from prospect.ui.open_ground import GROUND_VARIABLE, workspace

sys.path.insert(0, str(Path(__file__).parent))  # for entering.py

HOSTILE = (
    "{{7*191}}{% for x in y %}</script><script>window.ran=1</script><img src=x onerror=window.ran=1>"
    "`${window.ran=1}`\\'\" _abc123 ![x](http://evil.example/x.png) é"
)


@pytest.fixture
def hostile():
    return HOSTILE


def model(deposit="residual", title="residual (primary) clay", *, known=True, words="granite"):
    criteria = (
        CriterionReading("rock", "Parent rock", words, 0.9, 0.4, 0.55, "rock map, 1998", defining=True),
        CriterionReading("texture", "Grain size", "coarse", 0.8, 0.5, 0.2, "rock map, 1998", level=1),
        CriterionReading("depth", "Depth to rock", "not known", None, 0.2, None, "", note="no soil survey"),
        CriterionReading("slope", "Slope", "6 %", 0.0, 1 / 3, 0.45, "elevation, 2019"),
    )
    return ModelReading(
        deposit,
        title,
        0.68 if known else None,
        0.71 if known else None,
        0.8 if known else 0.1,
        known,
        "" if known else "The rock map is missing here.",
        criteria,
        (GateReading("ice", "Ice-scoured ground", 0.5, "The ground lay under ice.", "ground settings"),),
        ("Expect it to be short.",),
    )


def report(words="granite"):
    models = (model(words=words), model("lake_bed", "lake clay", known=False))
    return GroundReport(
        lon=-86.25,
        lat=-38.05,
        easting=0,
        northing=0,
        sentence="Good ground for residual (primary) clay: granite weathered in place.",
        lead=models[0],
        models=models,
        facts=(Fact("Slope", "6.2 %", "elevation, 2019"), Fact("Rock", words, "rock map")),
        land=LandCheck(
            "ask first",
            ("Nobody has given leave yet.", f"Says the map: {words}"),
            (ParcelHit("12-03", words, 0.97, 38.0),),
            ("Have cables marked.",),
        ),
        cautions=("Green rock near by.",),
        missing=("No soil survey: depth cannot be said.",),
    )


def site(words="granite", **changes):
    given = {
        "site": 3,
        "deposit": "residual",
        "favourability": 0.81,
        "completeness": 0.9,
        "area_ha": 2.5,
        "lon": -86.25,
        "lat": -38.05,
        "easting": 0.0,
        "northing": 0.0,
        "rock": words,
        "slope_pct": 6.2,
        "height_above_drainage_m": None,
        "parcels": ("1", "2", "3", "4"),
        "permission": "not asked",
        "cautions": ("Steep bank.",),
    }
    return Site(**{**given, **changes})


@pytest.fixture
def make_report():
    return report


@pytest.fixture
def make_site():
    return site


@pytest.fixture
def ground(small_ground, tmp_path, monkeypatch):
    """A ground that a test may change, open in the app."""
    folder = tmp_path / "own"
    shutil.copytree(small_ground, folder, ignore=shutil.ignore_patterns("derived", "records.lock"))
    monkeypatch.setenv(GROUND_VARIABLE, str(folder))
    workspace.cache_clear()
    yield Ground.open(folder)
    workspace().let_go()
    workspace.cache_clear()
