"""Elevation in every shape that it comes in, against a hill whose heights are known."""

import numpy as np
import pytest
import rasterio
from affine import Affine
from rasterio.crs import CRS

from prospect.errors import InputRefused
from prospect.sources.elevation import read_elevation
from prospect.types import Bounds

UTM = "EPSG:26917"


def hill(rows=40, cols=50):
    row, col = np.mgrid[:rows, :cols]
    return (500 + 100 * np.exp(-((row - rows / 2) ** 2 + (col - cols / 2) ** 2) / 200)).astype("float32")


def write(
    path, values, *, crs=UTM, transform=None, nodata=None, count=1, unit=None, description=None, **more
):
    profile = {
        "driver": "GTiff",
        "height": values.shape[-2],
        "width": values.shape[-1],
        "count": count,
        "dtype": values.dtype,
        "crs": crs,
        "transform": transform or Affine(10, 0, 300_000, 0, -10, 3_930_000),
        "nodata": nodata,
        **more,
    }
    with rasterio.open(path, "w", **profile) as target:
        for band in range(1, count + 1):
            target.write(values if values.ndim == 2 else values[band - 1], band)
        if unit:
            target.units = (unit,) * count
        if description:
            target.set_band_description(1, description)
    return path


def test_metres_come_through_unchanged(tmp_path):
    content, log, source = read_elevation(write(tmp_path / "dem.tif", hill()))
    np.testing.assert_array_equal(content.values, hill())
    assert content.values.dtype == np.float32
    assert (content.crs, content.unit) == (UTM, "m")
    assert content.transform == Affine(10, 0, 300_000, 0, -10, 3_930_000)
    assert (log.read, log.kept, log.verdict) == (1, 1, "accepted")
    assert source.imported == ""


def test_degrees(tmp_path):
    # Seamless 10 m elevation of the USGS comes in EPSG:4269, no data -999999
    values = hill()
    values[0, 0] = -999999
    path = write(
        tmp_path / "USGS_13_n36w084.tif",
        values,
        crs="EPSG:4269",
        nodata=-999999,
        transform=Affine(1e-4, 0, -83.5, 0, -1e-4, 35.5),
    )
    content, log, _ = read_elevation(path, bounds=Bounds(-83.5, 35.49, -83.49, 35.5))
    assert content.crs == "EPSG:4269"
    assert np.isnan(content.values[0, 0])
    assert log.verdict == "accepted"


@pytest.mark.parametrize(
    ("name", "crs", "unit", "description", "said", "factor"),
    [
        # International foot 0.3048 m, US survey foot 1200/3937 m (by definition)
        ("dem.tif", UTM, "ft", None, "", 0.3048),
        ("dem.tif", UTM, "US survey feet", None, "", 1200 / 3937),
        ("dem_ft.tif", UTM, None, None, "", 0.3048),
        ("dem.tif", UTM, None, "elevation, feet", "", 0.3048),
        ("dem.tif", UTM, None, None, "us-ft", 1200 / 3937),
        ("dem.tif", "EPSG:26917+8228", None, None, "", 0.3048),  # NAVD88 height (ft)
        ("dem.tif", "EPSG:26917+6360", None, None, "", 1200 / 3937),  # NAVD88 height (ftUS)
        ("dem.tif", "EPSG:26917+5703", None, None, "", 1.0),  # NAVD88 height
        ("daft.tif", UTM, None, None, "", 1.0),
    ],
)
def test_feet(tmp_path, name, crs, unit, description, said, factor):
    path = write(tmp_path / name, hill(), crs=CRS.from_user_input(crs), unit=unit, description=description)
    content, log, source = read_elevation(path, vertical_unit=said)
    np.testing.assert_allclose(content.values, hill() * factor, rtol=1e-6)
    if factor != 1:
        said_so = " ".join([*source.notes, *(issue.action for issue in log.issues)])
        assert "turned into metres" in said_so or "as you said" in said_so


def test_map_in_feet_with_heights_unsaid_is_noted(tmp_path):
    # EPSG:2264 = North Carolina in US survey feet
    path = write(tmp_path / "dem.tif", hill(), crs="EPSG:2264")
    content, log, _ = read_elevation(path)
    np.testing.assert_array_equal(content.values, hill())
    assert log.issues[0].field == "vertical unit"


@pytest.mark.parametrize("declared", [None, -32768, -9999])
@pytest.mark.parametrize("filler", [-32768, -9999])
def test_whole_numbers_with_gaps(tmp_path, declared, filler):
    values = hill().astype("int16")
    values[:5] = filler
    content, log, source = read_elevation(write(tmp_path / "dem.tif", values, nodata=declared))
    assert np.isnan(content.values[:5]).all()
    assert np.isfinite(content.values[5:]).all()
    assert log.repaired == (0 if declared == filler else 1)
    assert any("whole numbers" in note for note in source.notes)


@pytest.mark.parametrize("value", [-3.4028235e38, 1e20, 99999.0, np.inf, -np.inf, np.nan])
def test_absurd_values_are_no_data(tmp_path, value):
    values = hill()
    values[3, 4] = value
    content, log, _ = read_elevation(write(tmp_path / "dem.tif", values))
    assert np.isnan(content.values[3, 4])
    assert np.isfinite(content.values).sum() == values.size - 1
    assert log.repaired == (0 if np.isnan(value) else 1)


def test_all_no_data_is_refused(tmp_path):
    with pytest.raises(InputRefused, match="no data in any cell") as refused:
        read_elevation(write(tmp_path / "dem.tif", np.full((9, 9), -9999, "float32"), nodata=-9999))
    assert (refused.value.log.read, refused.value.log.refused) == (1, 1)


def test_crs_is_asked_for(tmp_path):
    path = write(tmp_path / "dem.tif", hill(), crs=None)
    with pytest.raises(InputRefused, match="--crs EPSG:n"):
        read_elevation(path)
    content, _, _ = read_elevation(path, crs=UTM)
    assert content.crs == UTM


def test_no_position_is_refused(tmp_path):
    path = write(tmp_path / "dem.tif", hill(), crs=UTM, transform=Affine.identity())
    with pytest.raises(InputRefused, match="without a position"):
        read_elevation(path)


def test_turned_raster_keeps_its_transform(tmp_path):
    turned = Affine.translation(300_000, 3_930_000) * Affine.rotation(20) * Affine.scale(10, -10)
    content, _, source = read_elevation(write(tmp_path / "dem.tif", hill(), transform=turned))
    assert content.transform.almost_equals(turned)
    assert any("turned" in note for note in source.notes)


def test_south_up_raster_is_turned_over(tmp_path):
    upside = Affine(10, 0, 300_000, 0, 10, 3_929_600)
    content, _, _ = read_elevation(write(tmp_path / "dem.tif", hill()[::-1], transform=upside))
    np.testing.assert_array_equal(content.values, hill())
    assert content.transform == Affine(10, 0, 300_000, 0, -10, 3_930_000)


def test_bands(tmp_path):
    two = np.stack([hill(), hill() * 0])
    content, log, _ = read_elevation(write(tmp_path / "dem.tif", two, count=2))
    np.testing.assert_array_equal(content.values, hill())
    assert log.repaired == 1
    picture = np.zeros((3, 20, 20), "uint8")
    with pytest.raises(InputRefused, match="a picture"):
        read_elevation(write(tmp_path / "photo.tif", picture, count=3))


def test_only_the_part_around_the_ground_is_read(tmp_path):
    values = hill(400, 500)
    path = write(tmp_path / "dem.tif", values, crs="EPSG:4326", transform=Affine(1e-3, 0, -84, 0, -1e-3, 36))
    content, _, _ = read_elevation(path, bounds=Bounds(-83.8, 35.8, -83.75, 35.85))
    rows, cols = content.values.shape
    assert (rows, cols) == (50 + 2 * 8, 50 + 2 * 8)
    row, col = round((36 - content.transform.f) / 1e-3), round((content.transform.c + 84) / 1e-3)
    np.testing.assert_array_equal(content.values, values[row : row + rows, col : col + cols])
    with pytest.raises(InputRefused, match="somewhere else"):
        read_elevation(path, bounds=Bounds(10, 50, 11, 51))


def test_sparse_giant_is_refused_before_it_is_read(tmp_path):
    path = tmp_path / "huge.tif"
    with rasterio.open(
        path, "w", driver="GTiff", height=100_000, width=100_000, count=1, dtype="float32", crs=UTM,
        transform=Affine(1, 0, 300_000, 0, -1, 3_930_000), tiled=True, SPARSE_OK="TRUE",
    ):  # fmt: skip
        pass
    assert path.stat().st_size < 20_000_000
    with pytest.raises(InputRefused, match="--bbox"):
        read_elevation(path)


def test_height_tile(tmp_path):
    # SRTM: big-endian int16, north-west first, one sample overlap, place in the name (south-west corner)
    values = np.full((1201, 1201), 250, dtype=">i2")
    values[0, 0], values[5, 5] = 900, -32768
    (tmp_path / "N35W084.hgt").write_bytes(values.tobytes())
    content, log, _ = read_elevation(tmp_path / "N35W084.hgt")
    assert content.values[0, 0] == 900
    assert np.isnan(content.values[5, 5])
    assert content.transform.c == pytest.approx(-84 - 0.5 / 1200)
    assert content.transform.f == pytest.approx(36 + 0.5 / 1200)
    assert content.crs == "EPSG:4326"
    assert log.verdict == "accepted"


def test_tiles_in_a_folder_are_joined(tmp_path):
    whole = hill(60, 80)
    folder = tmp_path / "tiles"
    folder.mkdir()
    for row in (0, 28):
        for col in (0, 38):
            part = whole[row : row + 32, col : col + 42]
            west, north = 300_000 + 10 * col, 3_930_000 - 10 * row
            write(folder / f"t{row}_{col}.tif", part, transform=Affine(10, 0, west, 0, -10, north))
    (folder / "broken.tif").write_bytes(b"II*\x00 and then nothing")
    (folder / "readme.txt").write_text("not a tile")
    content, log, source = read_elevation(folder)
    np.testing.assert_array_equal(content.values, whole)
    assert content.transform == Affine(10, 0, 300_000, 0, -10, 3_930_000)
    assert (log.read, log.kept, log.refused) == (5, 4, 1)
    assert any(issue.place == "tile broken.tif" for issue in log.issues)
    assert any("4 tiles" in note for note in source.notes)


def test_tiles_of_different_sets_are_not_mixed(tmp_path):
    write(tmp_path / "a.tif", hill())
    write(tmp_path / "b.tif", hill(), crs="EPSG:26918")
    with pytest.raises(InputRefused, match="different CRS"):
        read_elevation(tmp_path)


def test_zip_of_tiles(tmp_path):
    import zipfile

    write(tmp_path / "a.tif", hill())
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.write(tmp_path / "a.tif", "inner/a.tif")
    content, _, source = read_elevation(tmp_path / "a.zip")
    np.testing.assert_array_equal(content.values, hill())
    assert source.origin == "a.zip"


@pytest.mark.parametrize("keep", [0.5, 0.9, 0.99])
def test_truncated(tmp_path, keep):
    path = write(tmp_path / "dem.tif", hill(300, 300), compress="deflate")
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * keep)])
    with pytest.raises(InputRefused) as refused:
        read_elevation(path)
    assert str(tmp_path) not in str(refused.value)


# Real open data -----------------------------------------------------------------------------------------------


def test_hamersley(real_data):
    # 204 x 197 cells, heights 297 to 1175 m (read independently with rasterio)
    path = real_data("hamersley-map2loop/dtm_rp.tif")
    content, log, _ = read_elevation(path)
    assert content.values.shape == (204, 197)
    assert content.crs == "EPSG:28350"
    with rasterio.open(path) as source:
        values = source.read(1, masked=True)
    assert np.nanmax(content.values) == values.max()
    assert np.isfinite(content.values).sum() == values.count()
    assert log.verdict == "accepted"


def test_big_tujunga(real_data):
    content, _, source = read_elevation(real_data("dem-bigtujunga/srtm_bigtujunga30m_utm11.tif"))
    assert content.values.shape == (643, 1197)
    assert (np.nanmin(content.values), np.nanmax(content.values)) == (315, 2295)
    assert any("whole numbers" in note for note in source.notes)


def test_scale_and_offset_of_the_file_are_used(tmp_path):
    # GDAL raster data model: value = stored * scale + offset.
    stored = (hill() * 10 - 1000).astype("int16")
    stored[0, 0] = -9999
    path = write(tmp_path / "dem.tif", stored, nodata=-9999)
    with rasterio.open(path, "r+") as target:
        target.scales, target.offsets = [0.1], [100.0]
    content, _, source = read_elevation(path)
    assert np.isnan(content.values[0, 0])
    np.testing.assert_allclose(content.values.flat[1:], hill().flat[1:], atol=0.11)
    assert any("multiplied by 0.1 and 100 was added" in note for note in source.notes)


@pytest.mark.parametrize("unit", ["cm", "decimetres", "km", "degree", "%"])
def test_units_that_are_no_height_in_metres_or_feet_are_refused(tmp_path, unit):
    path = write(tmp_path / "dem.tif", hill(), unit=unit)
    with pytest.raises(InputRefused, match="vertical unit"):
        read_elevation(path)
    assert read_elevation(path, vertical_unit="m")[0].unit == "m"


def test_an_unknown_unit_is_said(tmp_path):
    _, log, _ = read_elevation(write(tmp_path / "dem.tif", hill(), unit="klafter"))
    assert [issue.field for issue in log.issues] == ["vertical unit"]


def test_a_mark_for_gaps_that_nobody_declared(tmp_path):
    values = hill()
    values[:3] = -999
    content, log, _ = read_elevation(write(tmp_path / "dem.tif", values))
    assert np.isnan(content.values[:3]).all()
    assert log.repaired == 1
    values[5, 5] = -700  # sea floor: -999 m may be one of its depths
    content, _, _ = read_elevation(write(tmp_path / "sea.tif", values))
    assert content.values.min() == -999


def test_zeros_far_below_all_else_are_said(tmp_path):
    values = hill() + 200
    values[:3] = 0
    content, log, _ = read_elevation(write(tmp_path / "dem.tif", values))
    assert content.values.min() == 0
    assert "0 m, then nothing below" in log.issues[0].value


def test_a_slope_is_said(tmp_path):
    _, log, _ = read_elevation(write(tmp_path / "slope_10m.tif", hill()))
    assert log.issues[0].value == "slope"
