"""Land on open ocean with invented owners, and everything on record that `go` needs."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace

import geopandas as gpd
import pytest
from shapely.geometry import LineString, Point, box

from prospect.land import LandLayers, Seen, shipped_rules, unmapped_rules
from prospect.records import Looked, Permission

CRS = "EPSG:32709"


def _keepouts(*rows: tuple) -> gpd.GeoDataFrame:
    kinds, names, shapes = zip(*rows, strict=True)
    return gpd.GeoDataFrame({"kind": kinds, "name": names}, geometry=list(shapes), crs=CRS)


def _grant(parcel: str = "008", **changes: object) -> Permission:
    return Permission(
        **{"parcel_id": parcel, "status": "granted", "scope": "dig", "recorded": "2026-01-01", **changes}
    )


def _seen(keepout: str, easting: float = 150.0, northing: float = 50.0, **changes: object) -> Seen:
    record = {"clear": True, "seen": "nothing", "seen_on": "2026-05-18", "ticket": "4471", **changes}
    return Seen(Looked(keepout, 0.0, 0.0, **record), easting, northing)


def _all_seen(
    easting: float = 150.0, northing: float = 50.0, scope: str = "take", **changes: object
) -> list[Seen]:
    return [_seen(rule.key, easting, northing, **changes) for rule in unmapped_rules(scope)]


def _one_of_each() -> list[tuple]:
    """One keep-out, far away, of every kind that a shipped rule is about."""
    rules = (rule for rule in shipped_rules() if rule.layer == "keepouts" and rule.kinds)
    return [(rule.kinds[0], "", Point(5000, 5000)) for rule in rules]


@pytest.fixture
def make() -> SimpleNamespace:
    """Makers of keep-outs, grants and on-site records."""
    return SimpleNamespace(keepouts=_keepouts, grant=_grant, seen=_seen, all_seen=_all_seen, crs=CRS)


@pytest.fixture
def parcels() -> gpd.GeoDataFrame:
    """007 of two owners, 008 of one beside it, a gap, and a parcel without identifier."""
    return gpd.GeoDataFrame(
        {"parcel_id": ["007", "007", "008", ""], "owner": ["Wenna Marl", "Tobit Marl", "Ilsa Quern", ""]},
        geometry=[box(0, 0, 100, 100), box(0, 0, 100, 100), box(100, 0, 200, 100), box(300, 0, 400, 100)],
        crs=CRS,
    )


@pytest.fixture
def mapped() -> Callable[..., LandLayers]:
    """Return layers in which everything is mapped and lies far away, some of them changed."""

    def build(parcels: gpd.GeoDataFrame | None, **changes: object) -> LandLayers:
        far = {
            "water": gpd.GeoDataFrame(
                {"kind": ["stream"]}, geometry=[LineString([(0, 900), (900, 900)])], crs=CRS
            ),
            "wetlands": gpd.GeoDataFrame({"kind": ["marsh"]}, geometry=[box(800, 800, 900, 900)], crs=CRS),
            "roads": gpd.GeoDataFrame(
                {"kind": ["lane"]}, geometry=[LineString([(0, -500), (900, -500)])], crs=CRS
            ),
            "keepouts": _keepouts(*_one_of_each()),
        }
        return LandLayers(parcels, **{**far, **changes})

    return build
