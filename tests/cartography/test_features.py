"""View-clipped layers against the GeoJSON standard (RFC 7946) and hostile text."""

import json

import geopandas as gpd
import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from prospect.cartography import clip_features, degrees_per_pixel
from prospect.types import Bounds

HOSTILE = (
    "{{7*191}}{% if %}</script><script>alert(1)</script><img src=x onerror=alert(1)>`${1}`\\'\"_abc123 é"
)
VIEW = Bounds(-86.2, 37.9, -86.0, 38.1)


def frame(shapes, **columns):
    return gpd.GeoDataFrame(columns, geometry=shapes, crs="EPSG:4326")


def test_only_what_the_view_shows():
    layer = frame([box(-86.15, 38.0, -86.14, 38.01), box(10, 50, 10.1, 50.1)], name=["here", "far away"])
    content = json.loads(clip_features(layer, VIEW, 13))
    assert content["type"] == "FeatureCollection"
    assert [f["properties"]["name"] for f in content["features"]] == ["here"]
    assert (content["shown"], content["left_out"]) == (1, 0)


def test_positions_are_longitude_latitude_with_six_decimals():
    # RFC 7946 §3.1.1 (longitude first) and §11.2 (six decimals are about 10 cm).
    layer = frame([Point(-86.123456789, 38.01)], name=["a"])
    feature = json.loads(clip_features(layer, VIEW, 16))["features"][0]
    assert feature["geometry"] == {"type": "Point", "coordinates": [-86.123457, 38.01]}


def test_hostile_text_comes_back_verbatim_and_is_inert_in_scripts_and_templates():
    text = clip_features(frame([Point(-86.1, 38.0)], owner=[HOSTILE]), VIEW, 14)
    assert json.loads(text)["features"][0]["properties"]["owner"] == HOSTILE
    for starts_something in ("{{", "}}", "{%", "${", "<", ">", "`"):
        assert starts_something not in text


def test_shapes_lose_less_than_a_pixel():
    angle = np.linspace(0, 2 * np.pi, 5000)
    round_field = Polygon(np.c_[-86.1 + 0.02 * np.cos(angle), 38.0 + 0.02 * np.sin(angle)])
    content = json.loads(clip_features(frame([round_field], name=["a"]), VIEW, 12))
    drawn = shapely.from_geojson(json.dumps(content["features"][0]["geometry"]))
    assert shapely.get_num_coordinates(drawn) < 300
    assert shapely.hausdorff_distance(drawn, round_field) < degrees_per_pixel(12)


def test_a_shape_much_larger_than_the_view_is_cut():
    content = json.loads(clip_features(frame([box(-120, 20, -60, 60)], name=["wide"]), VIEW, 12))
    drawn = shapely.from_geojson(json.dumps(content["features"][0]["geometry"]))
    assert box(*VIEW).within(drawn)
    assert drawn.area < 2 * box(*VIEW).area


def test_too_many_keeps_the_largest_and_says_how_many_are_left_out():
    sizes = np.linspace(0.0001, 0.001, 50)
    layer = frame([box(-86.1, 38.0, -86.1 + s, 38.0 + s) for s in sizes], size=sizes)
    content = json.loads(clip_features(layer, VIEW, 16, most=10))
    assert content["left_out"] == 40
    assert min(f["properties"]["size"] for f in content["features"]) == pytest.approx(sizes[40])


def test_gaps_become_null_and_chosen_columns_only():
    layer = frame([Point(-86.1, 38.0)], depth=[np.nan], owner=["somebody"], whole=[np.int64(3)])
    properties = json.loads(clip_features(layer, VIEW, 14, columns=["depth", "whole"]))["features"][0][
        "properties"
    ]
    assert properties == {"depth": None, "whole": 3}


def test_empty_and_crooked_layers():
    assert json.loads(clip_features(frame([]), VIEW, 12))["features"] == []
    bow_tie = Polygon([(-90, 30), (-80, 45), (-80, 30), (-90, 45)])
    assert (
        json.loads(clip_features(frame([bow_tie, None], a=[1, 2]), VIEW, 12))["type"] == "FeatureCollection"
    )
    line = frame([LineString([(-87, 38), (-85, 38)])], a=["creek"])
    assert json.loads(clip_features(line, VIEW, 12))["features"][0]["geometry"]["type"] == "LineString"


def test_another_crs_is_refused():
    with pytest.raises(ValueError, match="EPSG:4326"):
        clip_features(frame([Point(-86.1, 38)], a=[1]).to_crs("EPSG:32616"), VIEW, 12)
