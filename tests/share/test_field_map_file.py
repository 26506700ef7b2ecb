from __future__ import annotations

import base64
import hashlib
import io
import json
import re
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from pyproj import Transformer

from prospect.grid import Grid, Raster
from prospect.palette import ramp
from prospect.share import Audience, write_field_map
from prospect.share.pictures import completeness_picture, favourability_picture, in_mercator, relief_picture


def page_of(tmp_path, content, audience) -> str:
    path = tmp_path / "map.html"
    write_field_map(path, content, audience)
    return path.read_text("utf-8")


def data_of(page: str) -> dict:
    return json.loads(
        re.search(r'<script type="application/json" id="ground">(.*?)</script>', page, re.DOTALL)[1]
    )


@pytest.mark.parametrize("audience", [Audience(), Audience("owner", "A-01")])
def test_no_owner_and_no_sample_in_the_bytes(tmp_path, ground, owner_names, audience):
    page = page_of(tmp_path, ground, audience)
    for secret in (*owner_names, "S-77", "ash tree", "15.0041", "45.1482", "B-02"):
        assert secret not in page, secret


def test_the_public_page_has_no_parcel_and_no_exact_site(tmp_path, ground):
    page = page_of(tmp_path, ground, Audience())
    data = data_of(page)
    assert "A-01" not in page
    assert data["parcels"] is None
    assert data["samples"] == []
    assert data["exact"] is False
    for site in ground.sites:
        assert f"{site.lon:.4f}" not in page
        assert f"{site.lat:.4f}" not in page


def test_a_helper_gets_the_names(tmp_path, ground, owner_names):
    data = data_of(page_of(tmp_path, ground, Audience("helper")))
    assert {f["properties"]["owner"] for f in data["parcels"]["features"]} == set(owner_names)
    assert data["samples"][0]["name"] == "S-77"


def test_what_was_left_out_is_returned_and_printed(tmp_path, ground):
    left_out = write_field_map(tmp_path / "map.html", ground, Audience())
    page = (tmp_path / "map.html").read_text("utf-8")
    assert len(left_out) == 5
    for sentence in left_out:
        assert sentence.replace("'", "&#39;") in page


def test_reasons_cautions_and_sources_are_words_in_the_page(tmp_path, ground):
    page = page_of(tmp_path, ground, Audience("self"))
    for words in (
        "Good ground for residual clay.",
        "Parent rock",
        "not known",
        "utility-location",
        "No wetland map.",
        "Map of Hollin, 2001, open licence.",
        "BSD 2-clause",
        "2026-05-02",
        "ask first",
    ):
        assert words in page, words


def test_the_page_allows_only_its_own_scripts(tmp_path, ground):
    # Content Security Policy level 3: a script runs only when its SHA-256 is named.
    page = page_of(tmp_path, ground, Audience("self"))
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)[1]
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    scripts = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    styles = re.findall(r"<style>(.*?)</style>", page, re.DOTALL)
    assert len(scripts) == 2
    for text in (*scripts, *styles):
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in policy
    assert " style=" not in page.split("<script")[0]
    assert not re.search(r"\son[a-z]+=", page.split("<script")[0])


def test_the_page_names_nothing_to_fetch(tmp_path, ground):
    page = page_of(tmp_path, ground, Audience("self"))
    markup = re.sub(r"<script>.*?</script>", "", page, flags=re.DOTALL)
    assert not re.search(r'(?:src|href|url)\s*[=(]\s*["\']?(?:https?:)?//', markup)
    assert "@import" not in markup
    assert "sourceMappingURL" not in page


def test_hostile_text_is_encoded_everywhere(tmp_path, make_ground):
    hostile = "</script><script>bad()</script><img src=x onerror=bad()>{{7*7}}${bad()}`'\""
    page = page_of(tmp_path, make_ground(hostile), Audience("self"))
    assert page.count("<script") == 3
    assert "<img src=x" not in page
    assert "{{7*7}}" not in page
    assert "${bad" not in page
    assert data_of(page)["sites"][0]["title"] == hostile


def test_a_large_rough_ground_stays_small(tmp_path, ground):
    # 1,200 × 1,000 cells of pure noise: nothing can be packed worse.
    grid = Grid(1000, 1200, 500_000.0, 5_000_000.0, 10.0, "EPSG:32633")
    rng = np.random.default_rng(5)
    noise = [Raster.of(rng.random(grid.shape), grid, "1", "noise") for _ in range(3)]
    shade = Raster.of(noise[0].values * 255, grid, "1", "noise")
    big = replace(
        ground,
        grid=grid,
        best=noise[0],
        hillshade=shade,
        completeness=noise[1],
        favourability={f"model{k}": noise[k % 3] for k in range(7)},
    )
    left_out = write_field_map(tmp_path / "big.html", big, Audience("self"))
    assert (tmp_path / "big.html").stat().st_size < 3_000_000
    assert any("detail" in sentence for sentence in left_out)


def test_a_ground_with_hardly_anything(tmp_path, ground):
    bare = replace(
        ground,
        sites=(),
        outlines=ground.outlines.iloc[:0],
        readings={},
        hillshade=None,
        completeness=None,
        parcels=None,
        samples=(),
        favourability={},
        attributions=(),
        missing=(),
    )
    page = page_of(tmp_path, bare, Audience())
    assert "No ground here stands out" in page
    assert data_of(page)["pictures"]["relief"] is None


def test_us_units(tmp_path, ground):
    page = page_of(tmp_path, replace(ground, units="us"), Audience("self"))
    assert "8.01 acres" in page  # 3.24 ha / 0.40468564224 (international acre)
    assert "41 ft above the stream" in page


# ---- pictures ----


def test_a_picture_lies_where_the_ground_lies():
    # Each pixel is held against the cell under it, found through PROJ directly.
    grid = Grid(50, 70, 430_000.0, 5_100_000.0, 30.0, "EPSG:32633")
    rows, cols = np.mgrid[:50, :70]
    raster = Raster.of((rows * 70 + cols).astype(float), grid, "1", "")
    values, (south, west, north, east) = in_mercator(raster, 500)
    to_m = Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    to_grid = Transformer.from_crs("EPSG:3857", grid.crs, always_xy=True)
    (left, right), (bottom, top) = to_m.transform([west, east], [south, north])
    height, width = values.shape
    agree = checked = 0
    for row in range(0, height, 3):
        for col in range(0, width, 3):
            x = left + (col + 0.5) * (right - left) / width
            y = top - (row + 0.5) * (top - bottom) / height
            place = grid.rowcol(*to_grid.transform(x, y))
            found = values[row, col]
            if place is None:
                continue
            checked += 1
            agree += int(found == raster.values[place])
    assert checked > 300
    assert agree / checked > 0.98  # the rest lie within the warper's eighth of a cell of a cell's edge


def test_favourability_reads_back_from_its_colours():
    grid = Grid(20, 20, 430_000.0, 5_100_000.0, 30.0, "EPSG:32633")
    value = np.linspace(0, 1, 400).reshape(20, 20)
    value[0, 0] = np.nan
    raster = Raster.of(value, grid, "1", "")
    picture = favourability_picture(raster, 20, 500)
    values, _ = in_mercator(raster, 500)
    pixels = np.asarray(Image.open(io.BytesIO(picture.png)).convert("RGBA")).astype(int)
    by_colour = dict(zip(picture.colours, picture.values, strict=True))
    assert len(by_colour) == 20
    for row in range(pixels.shape[0]):
        for col in range(pixels.shape[1]):
            if np.isnan(values[row, col]):
                assert pixels[row, col, 3] == 0
            else:
                middle = by_colour[tuple(pixels[row, col, :3])]
                assert abs(middle - values[row, col]) <= 0.0251
    assert picture.colours[-1] == ramp().rgb(0.975)


def test_level_ground_is_clear_in_the_relief():
    grid = Grid(20, 20, 430_000.0, 5_100_000.0, 30.0, "EPSG:32633")
    level = relief_picture(Raster.of(np.full(grid.shape, 255 * np.sqrt(0.5)), grid, "1", ""), 500)
    dark = relief_picture(Raster.of(np.full(grid.shape, 40.0), grid, "1", ""), 500)
    alpha = [np.asarray(Image.open(io.BytesIO(p.png)).convert("RGBA"))[8, 8, 3] for p in (level, dark)]
    assert alpha[0] == 0
    assert alpha[1] > 60


def test_strokes_grow_as_less_is_known():
    grid = Grid(4, 5, 430_000.0, 5_100_000.0, 30.0, "EPSG:32633")
    raster = Raster.of(np.tile([0.95, 0.75, 0.6, 0.4, 0.1], (4, 1)), grid, "1", "")
    picture = completeness_picture(raster, 500)
    pixels = np.asarray(Image.open(io.BytesIO(picture.png)).convert("RGBA")).astype(int)
    row = pixels[pixels.shape[0] // 2]
    strokes = [picture.values[picture.colours.index(tuple(p[:3]))] for p in row if p[3] > 0]
    assert strokes == sorted(strokes)
    assert set(strokes) == {0, 1, 2, 3}
