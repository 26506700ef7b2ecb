"""Tries whether the geo libraries here would open files that point to other files or addresses."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path

import pyogrio
import rasterio

import prospect.sources.reading  # noqa: F401 - loads every reader with this
from prospect.errors import GroundError, ProspectError
from prospect.guard.drivers import ALLOWED_DRIVERS, require_restricted

_ELSEWHERE = "127.0.0.1:9"
"""The discard port of this machine (RFC 863): nothing listens there, should a library reach for it."""

POINTERS: Mapping[str, bytes] = {
    "vrt": b'<VRTDataset rasterXSize="2" rasterYSize="2"><VRTRasterBand dataType="Byte" band="1"/></VRTDataset>',
    "gti": (
        b"<GDALTileIndexDataset><IndexDataset>INDEX</IndexDataset>"
        b"<LocationField>location</LocationField><ResX>0.5</ResX><ResY>0.5</ResY>"
        b'<Band band="1" dataType="Byte"/></GDALTileIndexDataset>'
    ),
    "wms": (
        b'<GDAL_WMS><Service name="TMS"><ServerUrl>http://' + _ELSEWHERE.encode() + b"/${z}/${x}/${y}.png"
        b"</ServerUrl></Service><DataWindow><UpperLeftX>-180</UpperLeftX><UpperLeftY>90</UpperLeftY>"
        b"<LowerRightX>180</LowerRightX><LowerRightY>-90</LowerRightY><TileLevel>2</TileLevel>"
        b"<TileCountX>1</TileCountX><TileCountY>1</TileCountY></DataWindow><BandsCount>1</BandsCount></GDAL_WMS>"
    ),
    "ogr": (
        b'<OGRVRTDataSource><OGRVRTLayer name="index"><SrcDataSource>INDEX</SrcDataSource>'
        b"</OGRVRTLayer></OGRVRTDataSource>"
    ),
}
"""Files that hold nothing but where to look (INDEX is a file beside them); each opens where its driver is on."""

ENDINGS: Mapping[str, tuple[str, ...]] = {
    "vrt": (".vrt", ".tif"),
    "gti": (".gti", ".tif"),
    "wms": (".xml", ".tif"),
    "ogr": (".vrt", ".geojson"),
}

_TILE = (
    '{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {"location": "vrt.vrt"}, '
    '"geometry": {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]]]}}]}'
)


def unsafe_here() -> str:
    """Return what makes opening foreign files unsafe in this process; '' when nothing does.

    Takes a few milliseconds. The drivers that are switched on must be exactly those that a reader or writer of ours
    names, and no crafted file that points elsewhere may open.
    """
    try:
        require_restricted()
    except ProspectError as error:
        return str(error).rstrip(".")
    extra = drivers_on() - ALLOWED_DRIVERS
    if extra:
        return f"drivers are on that should be off: {', '.join(sorted(extra)[:12])}"
    lacking = ALLOWED_DRIVERS - drivers_on() - {"Memory"}
    if lacking:
        return f"drivers are off that the readers need: {', '.join(sorted(lacking))}"
    opened = pointers_opened()
    return f"a file that only points elsewhere was opened: {', '.join(opened)}" if opened else ""


def require_safe() -> None:
    """Raise `GroundError` when foreign files cannot be opened safely in this process."""
    fault = unsafe_here()
    if fault:
        raise GroundError(f"Foreign files cannot be read safely here: {fault}.")


def drivers_on() -> frozenset[str]:
    """Return the drivers switched on in either library's copy of GDAL."""
    with rasterio.Env() as environment:
        return frozenset(environment.drivers()) | frozenset(pyogrio.list_drivers())


def pointers_opened() -> tuple[str, ...]:
    """Return which crafted files open, each as `name by library`."""
    found = []
    with tempfile.TemporaryDirectory(prefix="claywalk-") as name:
        folder = Path(name)
        index = folder / "index.geojson"
        index.write_text(_TILE, encoding="utf-8")
        for pointer, content in POINTERS.items():
            for ending in ENDINGS[pointer]:
                path = folder / f"{pointer}{ending}"
                path.write_bytes(content.replace(b"INDEX", str(index).encode()))
                found += [f"{path.name} by {library}" for library in _openers(path)]
    return tuple(found)


def _openers(path: Path) -> list[str]:
    opened = []
    for library, opens in (("rasterio", _raster_opens), ("pyogrio", _vector_opens)):
        try:
            opens(path)
        except Exception:  # noqa: S112 - any refusal is what is wanted
            continue
        opened.append(library)
    return opened


def _raster_opens(path: Path) -> None:
    # Any driver may try: that none succeeds is what is tested.
    with rasterio.open(path, driver=None):
        pass


def _vector_opens(path: Path) -> None:
    pyogrio.read_info(path)
