"""Good files of every form, small; all places and people are invented, most of it open ocean."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import rasterio
from affine import Affine
from PIL import Image
from PIL.TiffImagePlugin import IFDRational
from shapely.geometry import Point, box

from prospect.definitions import layers_folder
from prospect.sources.soil_survey_words import soil_words

FORMS: dict[str, str] = {
    "tif": "elevation",
    "hgt": "elevation",
    "gpkg": "geology",
    "shp": "geology",
    "geojson": "geology",
    "zip": "geology",
    "gdb.zip": "geology",
    "legend.csv": "geology",
    "parcels.zip": "parcels",
    "points.gpkg": "samples",
    "csv": "samples",
    "gpx": "samples",
    "kml": "samples",
    "kmz": "samples",
    "jpg": "photos",
    "png": "photos",
    "photos.zip": "photos",
    "log.txt": "log",
    "log.zip": "log",
    "soil.zip": "soil",
    "toml": "deposit",
}
"""Form → what it is a good file of; `legend.csv` goes beside a map."""
LOG = {
    "holes": "hole,lat,lon,dug with,date,depth\nH1,-47.45,-9.05,auger,2026-05-02,120 cm\n",
    "layers": "hole,depth (cm),texture,colour,ribbon,coil,clay?\nH1,0-30,loam,10YR 3/2,-,breaks,no\n",
    "samples": "sample,hole,lat,lon,from,to\nS1,H1,-47.45,-9.05,40 cm,60 cm\n",
    "bars": "bar,sample,plastic (mm),dry (mm),fired (mm),cone,faults\nB1,S1,100,93,90,6,none\n",
}
"""Tables of a good paper log."""


def make_control(form: str, folder: Path) -> Path:
    """Make the good file of a form in a folder and give its path."""
    path = folder / f"control.{form}"
    if form == "tif":
        _elevation(path)
    elif form == "hgt":
        path = folder / "S47W009.hgt"
        side = np.arange(1201, dtype=">i2")
        path.write_bytes((side[:, None] // 8 + side[None, :] // 16).astype(">i2").tobytes())
    elif form in ("gpkg", "shp", "geojson"):
        pyogrio.write_dataframe(_units(), path)
    elif form in ("zip", "parcels.zip"):
        _packed_shapes(path, _units() if form == "zip" else _parcels())
    elif form == "gdb.zip":
        _packed_geodatabase(path)
    elif form == "points.gpkg":
        frame = gpd.GeoDataFrame(
            {"sample_id": [f"S{i}" for i in range(20)], "usable": ["yes", "no"] * 10, "top_cm": range(20)},
            geometry=[Point(-9 + i / 100, -47) for i in range(20)],
            crs="EPSG:4326",
        )
        pyogrio.write_dataframe(frame, path)
    elif form == "legend.csv":
        lines = [f"unit {i},Name {i},Holocene,words of it,granite" for i in range(4)]
        path.write_text("unit,name,age,description,rocks\n" + "\n".join(lines) + "\n")
    elif form == "csv":
        lines = [
            f"S{i},{-9 + i / 100},{-47 + i / 100},{i},{i + 20},yes,2026-05-0{i % 9 + 1}" for i in range(20)
        ]
        path.write_text("sample_id,lon,lat,top_cm,bottom_cm,usable,date\n" + "\n".join(lines) + "\n")
    elif form == "gpx":
        points = "".join(f'<wpt lat="{-47 + i / 100}" lon="-9"><name>P{i}</name></wpt>' for i in range(20))
        path.write_text(f'<?xml version="1.0"?><gpx version="1.1" creator="t">{points}</gpx>')
    elif form == "kml":
        path.write_text(kml())
    elif form == "kmz":
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("doc.kml", kml())
    elif form in ("jpg", "png"):
        path.write_bytes(photo("JPEG" if form == "jpg" else "PNG"))
    elif form == "photos.zip":
        with zipfile.ZipFile(path, "w") as archive:
            for number in range(3):
                archive.writestr(f"walk/P{number}.jpg", photo("JPEG", seconds=number))
    elif form == "soil.zip":
        soil_export(folder / "export")
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for part in sorted((folder / "export").rglob("*")):
                if part.is_file():
                    archive.write(part, part.relative_to(folder / "export"))
    elif form == "log.txt":
        path.write_text("\n".join(f"{title}\n{table}" for title, table in LOG.items()), encoding="utf-8")
    elif form == "log.zip":
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for title, table in LOG.items():
                archive.writestr(f"{title}.csv", table)
    elif form == "toml":
        path.write_bytes((layers_folder() / "models" / "mudrock.toml").read_bytes())
    return path


def photo(
    form: str = "JPEG",
    latitude: object = (47.0, 27.0, 12.5),
    longitude: object = (9.0, 3.0, 0.0),
    sides: tuple[str, str] = ("S", "W"),
    *,
    seconds: int = 0,
    size: tuple[int, int] = (40, 30),
    **more: object,
) -> bytes:
    """Return a picture with a position (CIPA DC-008, tags of the GPS directory); `more` is tag number → value."""
    picture = Image.new("RGB", size, (120, 90, 60 + seconds))
    exif = Image.Exif()
    exif[0x0132] = f"2026:05:31 10:00:0{seconds}"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[3] = sides
    gps[2] = _rationals(latitude)
    gps[4] = _rationals(longitude)
    gps[16], gps[17], gps[31] = "T", IFDRational(2145, 10), IFDRational(5, 1)
    inner = exif.get_ifd(0x8769)
    inner[0x9003] = f"2026:05:31 10:00:0{seconds}"
    for name, value in more.items():
        tag = int(name.removeprefix("tag_"))
        target = inner if tag > 0x8000 else gps
        if value is None:
            target.pop(tag, None)
        else:
            target[tag] = value
    stream = io.BytesIO()
    picture.save(stream, form, exif=exif)
    return stream.getvalue()


def _rationals(values: object) -> object:
    if not isinstance(values, tuple):
        return values
    return tuple(v if isinstance(v, IFDRational) else IFDRational(round(v * 1000), 1000) for v in values)


def kml(points: int = 20) -> str:
    marks = "".join(
        f"<Placemark><name>K{i}</name><ExtendedData><Data name='usable'><value>no</value></Data></ExtendedData>"
        f"<Point><coordinates>{-9 + i / 100},-47,0</coordinates></Point></Placemark>"
        for i in range(points)
    )
    return (
        f'<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>{marks}</Document></kml>'
    )


def soil_export(folder: Path) -> None:
    """Write a small soil survey export in the published layout: two map units, three components, five horizons."""
    shapes = gpd.GeoDataFrame(
        {"AREASYMBOL": ["ZZ001"] * 2, "SPATIALVER": [1.0] * 2, "MUSYM": ["Aa", "Bb"], "MUKEY": ["11", "12"]},
        geometry=[box(-9, -47, -8.9, -46.9), box(-8.9, -47, -8.8, -46.9)],
        crs="EPSG:4326",
    )
    (folder / "spatial").mkdir(parents=True, exist_ok=True)
    pyogrio.write_dataframe(shapes, folder / "spatial" / "soilmu_a_zz001.shp")
    write_table(
        folder,
        "mapunit",
        [{"musym": "Aa", "muname": "Aye clay", "mukey": "11"}, {"musym": "Bb", "mukey": "12"}],
    )
    write_table(
        folder,
        "component",
        [
            {"comppct_r": 80, "compname": "Aye", "mukey": "11", "cokey": "101", "majcompflag": "Yes"},
            {"comppct_r": 20, "compname": "Bee", "mukey": "11", "cokey": "102", "majcompflag": "No"},
            {"comppct_r": 90, "compname": "Cee", "mukey": "12", "cokey": "103", "majcompflag": "Yes"},
        ],
    )
    write_table(
        folder,
        "chorizon",
        [
            {"hzname": "A", "hzdept_r": 0, "hzdepb_r": 20, "claytotal_r": 15, "cokey": "101", "chkey": "1"},
            {"hzname": "Bt", "hzdept_r": 20, "hzdepb_r": 90, "claytotal_r": 45, "cokey": "101", "chkey": "2"},
            {"hzname": "A", "hzdept_r": 0, "hzdepb_r": 30, "claytotal_r": 20, "cokey": "102", "chkey": "3"},
            {"hzname": "A", "hzdept_r": 0, "hzdepb_r": 10, "claytotal_r": 30, "cokey": "103", "chkey": "4"},
            {
                "hzname": "Bt",
                "hzdept_r": 10,
                "hzdepb_r": 150,
                "claytotal_r": 60,
                "cokey": "103",
                "chkey": "5",
            },
        ],
    )


def write_table(folder: Path, table: str, rows: list[dict[str, object]], more: str = "") -> Path:
    """Write one table of an export: text in double quotes, numbers bare, nothing for unknown."""
    layout = soil_words().tables[table]
    lines = []
    for row in rows:
        cells = (row.get(name, "") for name in layout.names())
        lines.append("|".join(f'"{cell}"' if isinstance(cell, str) and cell else f"{cell}" for cell in cells))
    path = folder / "tabular" / f"{layout.file}.txt"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\r\n".join(lines) + "\r\n" + more, encoding="utf-8")
    return path


def _elevation(path: Path) -> None:
    values = np.random.default_rng(1).random((60, 60), dtype="float32") + 500
    profile = {
        "driver": "GTiff",
        "height": 60,
        "width": 60,
        "count": 1,
        "dtype": "float32",
        "compress": "deflate",
    }
    transform = Affine(10, 0, 300_000, 0, -10, 4_730_000)
    with rasterio.open(path, "w", crs="EPSG:32729", transform=transform, **profile) as target:
        target.write(values, 1)


def _units() -> gpd.GeoDataFrame:
    shapes = [box(-9 + i / 100, -47, -8.99 + i / 100, -46.99) for i in range(20)]
    words = [f"unit {i % 4}" for i in range(20)]
    return gpd.GeoDataFrame({"unit": words, "rocks": ["granite"] * 20}, geometry=shapes, crs="EPSG:4326")


def _parcels() -> gpd.GeoDataFrame:
    names = pd.Series([f"{i:03d}" for i in range(20)])
    return gpd.GeoDataFrame(
        {"parcel_id": names, "owner": ["Mirel Ashdown"] * 20}, geometry=_units().geometry, crs="EPSG:4326"
    )


def _packed_geodatabase(path: Path) -> None:
    inner = path.parent / "inner.gdb"
    pyogrio.write_dataframe(
        _units(), inner, layer="units", driver="OpenFileGDB", geometry_type="MultiPolygon"
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for part in sorted(inner.iterdir()):
            archive.write(part, f"inner.gdb/{part.name}")


def _packed_shapes(path: Path, frame: gpd.GeoDataFrame) -> None:
    inner = path.parent / f"{path.name}-parts"
    inner.mkdir(exist_ok=True)
    pyogrio.write_dataframe(frame, inner / "inner.shp")
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for part in sorted(inner.glob("inner.*")):
            archive.write(part, part.name)
