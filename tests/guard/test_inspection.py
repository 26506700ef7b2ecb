"""What a file is, by its first bytes and its name together."""

import pickle
import struct
import zipfile
from pathlib import Path

import pytest

from prospect.errors import InputRefused
from prospect.guard.inspection import POINT_FORMS, RASTER_FORMS, VECTOR_FORMS, inspect_file

# Magic numbers: TIFF 6.0 (II 42), SQLite file format 1.3, ESRI shapefile description (file code 9994),
# PKWARE APPNOTE 4.3.7, JPEG and PNG.
SHAPEFILE_HEAD = struct.pack(">i", 9994) + b"\0" * 96
GOOD = [
    ("dem.tif", b"II*\x00" + b"\0" * 100, RASTER_FORMS, "geotiff"),
    ("big.TIFF", b"MM\x00+" + b"\0" * 100, RASTER_FORMS, "geotiff"),
    ("a.gpkg", b"SQLite format 3\x00" + b"\0" * 100, VECTOR_FORMS, "geopackage"),
    ("a.shp", SHAPEFILE_HEAD, VECTOR_FORMS, "shapefile"),
    ("a.geojson", b"\xef\xbb\xbf \n{}", VECTOR_FORMS, "geojson"),
    ("a.csv", "lon;lat\n1;2\n".encode("utf-16"), POINT_FORMS, "table"),
    ("a.gpx", b"<?xml version='1.0'?><gpx/>", POINT_FORMS, "gpx"),
    ("N35W084.hgt", b"\0" * (2 * 1201 * 1201), RASTER_FORMS, "height tile"),
]


@pytest.mark.parametrize(("name", "content", "forms", "form"), GOOD)
def test_accepts_what_the_name_says(tmp_path, name, content, forms, form):
    (tmp_path / name).write_bytes(content)
    assert inspect_file(tmp_path / name, "layer", forms).form == form


VIRTUAL = (
    b'<VRTDataset rasterXSize="1" rasterYSize="1"><VRTRasterBand dataType="Byte" band="1"/></VRTDataset>'
)
BAD = [
    ("dem.tif", VIRTUAL, RASTER_FORMS, "points to other files"),
    ("geo.geojson", b"<OGRVRTDataSource></OGRVRTDataSource>", VECTOR_FORMS, "points to other files"),
    ("dem.tif", b"<GDAL_WMS><Service/></GDAL_WMS>", RASTER_FORMS, "points to other files"),
    ("dem.vrt", VIRTUAL, RASTER_FORMS, "points to other files"),
    ("dem.tif", b"", RASTER_FORMS, "empty file"),
    ("dem.tif", b"<!DOCTYPE html><html>log in</html>", RASTER_FORMS, "web page"),
    ("dem.tif", b"version https://git-lfs.github.com/spec/v1\noid", RASTER_FORMS, "not downloaded"),
    ("dem.tif", b"\x89PNG\r\n\x1a\n", RASTER_FORMS, "PNG picture"),
    ("dem.png", b"\x89PNG\r\n\x1a\n", RASTER_FORMS, "'.png'"),
    ("geo.gpkg", b"PK\x03\x04", VECTOR_FORMS, "zip archive"),
    ("geo.shp", b"SQLite format 3\x00", VECTOR_FORMS, "GeoPackage"),
    ("geo.geojson", b"not json", VECTOR_FORMS, "text"),
    ("pts.csv", b"lon,lat\n\x00\x01\x02", POINT_FORMS, "a table"),
    ("pts.csv", b"PK\x03\x04\x14\x00", POINT_FORMS, "zip archive"),
    ("pts.csv", pickle.dumps({"a": 1}), POINT_FORMS, "pickled"),
    ("pts.gpx", b"<?xml version='1.0'?><!DOCTYPE gpx [<!ENTITY a 'b'>]><gpx/>", POINT_FORMS, "entities"),
    ("renamed.hgt", b"\0" * (2 * 1201 * 1201), RASTER_FORMS, "N35W084.hgt"),
    ("N35W084.hgt", b"\0" * 1000, RASTER_FORMS, "height tile"),
    ("noending", b"II*\x00", RASTER_FORMS, "no ending"),
]


@pytest.mark.parametrize(("name", "content", "forms", "words"), BAD)
def test_refuses_with_the_reason(tmp_path, name, content, forms, words):
    (tmp_path / name).write_bytes(content)
    with pytest.raises(InputRefused, match=words) as refused:
        inspect_file(tmp_path / name, "layer", forms)
    assert refused.value.log.verdict == "refused"
    assert refused.value.log.issues[0].file == name
    assert refused.value.log.issues[0].action


@pytest.mark.parametrize(
    "name",
    ["/vsicurl/http://x/y.tif", "http://example.invalid/a.tif", "GPKG:a.gpkg:t", "<VRTDataset>", "a\x00.tif"],
)
def test_refuses_names_that_a_library_would_take_for_an_address(name):
    with pytest.raises(InputRefused):
        inspect_file(Path(name), "elevation", RASTER_FORMS)


def test_refuses_what_is_not_there(tmp_path):
    with pytest.raises(InputRefused, match="no such file"):
        inspect_file(tmp_path / "none.tif", "elevation", RASTER_FORMS)
    with pytest.raises(InputRefused, match="a folder"):
        inspect_file(tmp_path, "geology", VECTOR_FORMS)
    (tmp_path / "a.gdb").mkdir()
    with pytest.raises(InputRefused, match="without tables"):
        inspect_file(tmp_path / "a.gdb", "geology", VECTOR_FORMS)


def test_reads_only_the_head_of_a_huge_file(tmp_path):
    path = tmp_path / "huge.geojson"
    with path.open("wb") as handle:
        handle.write(b"{")
        handle.truncate(10_000_000_000)  # sparse: takes no room
    with pytest.raises(InputRefused, match="at most 400 MB"):
        inspect_file(path, "geology", VECTOR_FORMS)


def test_an_empty_zip_is_not_a_zip_of_data(tmp_path):
    with zipfile.ZipFile(tmp_path / "a.zip", "w"):
        pass
    with pytest.raises(InputRefused, match="empty zip"):
        inspect_file(tmp_path / "a.zip", "geology", VECTOR_FORMS)
