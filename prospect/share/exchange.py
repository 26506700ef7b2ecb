"""Writes sites, samples and parcels in open exchange formats, for an audience."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyogrio
import shapely
from shapely.geometry.base import BaseGeometry

from prospect.errors import WrongUsage
from prospect.grid import write_geotiff
from prospect.records import Sample, Site
from prospect.share.atomic import whole_file, write_whole
from prospect.share.audience import Audience, for_audience
from prospect.share.content import FieldMapContent
from prospect.text import csv_cell, plain, xml_text

_DECIMALS = 7
_MOST = 2000
"""Longest text in a file for other programs, characters; the longest that is read from one (own judgement)."""
_ZIP_DATE = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True, slots=True)
class _Shared:
    """What is written: sites with their outline in WGS 84, samples, parcels, and who it is for."""

    content: FieldMapContent
    audience: Audience
    outlines: dict[int, BaseGeometry]

    def heading(self) -> str:
        return plain(f"{self.content.name}: where is it worth a look? {self.audience.title()}", 200)


def write_exchange(path: Path, content: FieldMapContent, audience: Audience) -> tuple[str, ...]:
    """Write a ground's sites to a file and return a sentence for each thing that was left out.

    Parameters
    ----------
    path
        Target; its suffix decides: `.csv` (a row per site), `.geojson` (RFC 7946), `.gpx` (1.1, a waypoint per
        site and sample), `.kml` and `.kmz` (2.2), `.gpkg` (layers `sites`, `samples`, `parcels`), `.tif`
        (favourability of the best model). Replaced only when the new file is whole.
    content
        Everything; what the audience may not see is taken out here.
    audience
        Who it is for.

    Raises
    ------
    WrongUsage
        For any other suffix.
    """
    writer = _WRITERS.get(path.suffix.lower())
    if writer is None:
        known = ", ".join(suffix[1:] for suffix in EXCHANGE_SUFFIXES)
        raise WrongUsage(f"{path.name} has no ending that can be written; the endings are {known}.")
    allowed, left_out = for_audience(content, audience)
    in_degrees = allowed.outlines.to_crs("EPSG:4326") if len(allowed.outlines) else allowed.outlines
    outlines = {
        int(rank): _tidy(shape) for rank, shape in zip(in_degrees["site"], in_degrees.geometry, strict=True)
    }
    writer(path, _Shared(allowed, audience, outlines))
    return left_out


def site_row(site: Site, content: FieldMapContent) -> dict[str, object]:
    """Return a site's columns under the names of the `sites` command; None where nothing is known."""
    return {
        "site": site.site,
        "deposit": plain(site.deposit, _MOST),
        "deposit_title": plain(content.titles.get(site.deposit, site.deposit), _MOST),
        "favourability": round(site.favourability, 4),
        "completeness": round(site.completeness, 4),
        "area_ha": round(site.area_ha, 3),
        "lon": round(site.lon, _DECIMALS),
        "lat": round(site.lat, _DECIMALS),
        "rock": plain(site.rock, _MOST),
        "slope_pct": None if site.slope_pct is None else round(site.slope_pct, 2),
        "height_above_drainage_m": (
            None if site.height_above_drainage_m is None else round(site.height_above_drainage_m, 2)
        ),
        "parcels": "; ".join(plain(parcel, _MOST) for parcel in site.parcels),
        "permission": plain(site.permission, _MOST),
        "land": _verdict(site, content),
        "cautions": " ".join(plain(caution, _MOST) for caution in site.cautions),
    }


def _verdict(site: Site, content: FieldMapContent) -> str:
    """Return whether one may go to a site's best spot with an auger; empty where the audience is not told."""
    report = content.readings.get(site.site)
    return report.land.verdict if report is not None and report.land.reasons else ""


def sample_row(sample: Sample) -> dict[str, object]:
    """Return a sample's columns; None where nothing is known."""
    return {
        "sample_id": plain(sample.sample_id, _MOST),
        "hole_id": plain(sample.hole_id, _MOST),
        "lon": round(sample.lon, _DECIMALS),
        "lat": round(sample.lat, _DECIMALS),
        "position_error_m": sample.position_error_m,
        "top_cm": sample.top_cm,
        "bottom_cm": sample.bottom_cm,
        "date": plain(sample.date, _MOST),
        "usable": sample.usable,
        "quality": sample.quality,
        "note": plain(sample.note, _MOST),
    }


def _write_csv(path: Path, shared: _Shared) -> None:
    out = io.StringIO(newline="")
    rows = [site_row(site, shared.content) for site in shared.content.sites]
    columns = list(rows[0]) if rows else list(site_row(_NO_SITE, shared.content))
    table = csv.writer(out, lineterminator="\r\n")
    table.writerow(columns)
    for row in rows:
        table.writerow(["" if value is None else csv_cell(value) for value in row.values()])
    write_whole(path, out.getvalue().encode("utf-8"))


def _write_geojson(path: Path, shared: _Shared) -> None:
    features = [
        _feature(shared.outlines.get(site.site) or shapely.Point(site.lon, site.lat), "site", row)
        for site, row in _site_rows(shared)
    ]
    features += [
        _feature(shapely.Point(sample.lon, sample.lat), "sample", sample_row(sample))
        for sample in shared.content.samples
    ]
    collection = {"type": "FeatureCollection", "name": shared.heading(), "features": features}
    text = json.dumps(collection, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    write_whole(path, text.encode("utf-8"))


def _feature(shape: BaseGeometry, kind: str, row: dict[str, object]) -> dict[str, object]:
    return {
        "type": "Feature",
        "geometry": json.loads(shapely.to_geojson(shape)),
        "properties": {"kind": kind, **row},
    }


def _write_gpx(path: Path, shared: _Shared) -> None:
    points = [
        _waypoint(site.lon, site.lat, f"Site {site.site}{_mark(row)}", str(row["deposit_title"]), _words(row))
        for site, row in _site_rows(shared)
    ]
    points += [
        _waypoint(sample.lon, sample.lat, sample.sample_id, f"sample, {sample.usable}", sample.note)
        for sample in shared.content.samples
    ]
    text = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<gpx version="1.1" creator="Claywalk" xmlns="http://www.topografix.com/GPX/1/1">\n'
        f"<metadata><name>{xml_text(shared.heading())}</name></metadata>\n{''.join(points)}</gpx>\n"
    )
    write_whole(path, text.encode("utf-8"))


def _waypoint(lon: float, lat: float, name: str, kind: str, note: str) -> str:
    return (
        f'<wpt lat="{lat:.{_DECIMALS}f}" lon="{lon:.{_DECIMALS}f}"><name>{_xml(name)}</name>'
        f"<desc>{_xml(note)}</desc><type>{_xml(kind)}</type></wpt>\n"
    )


def _write_kml(path: Path, shared: _Shared) -> None:
    write_whole(path, _kml(shared).encode("utf-8"))


def _write_kmz(path: Path, shared: _Shared) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        entry = zipfile.ZipInfo("doc.kml", _ZIP_DATE)
        entry.compress_type = zipfile.ZIP_DEFLATED
        archive.writestr(entry, _kml(shared))
    write_whole(path, out.getvalue())


def _kml(shared: _Shared) -> str:
    sites = [
        _placemark(
            f"Site {site.site}: {row['deposit_title']}",
            _words(row),
            _kml_shape(shared.outlines.get(site.site), site.lon, site.lat),
        )
        for site, row in _site_rows(shared)
    ]
    samples = [
        _placemark(
            f"Sample {sample.sample_id}", sample.note or sample.usable, _kml_point(sample.lon, sample.lat)
        )
        for sample in shared.content.samples
    ]
    folders = _folder("Sites", sites) + (_folder("Samples", samples) if samples else "")
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
        f"<name>{xml_text(shared.heading())}</name>"
        # KML colours run alpha, blue, green, red.
        '<Style id="site"><LineStyle><color>ff1d3f9a</color><width>2</width></LineStyle>'
        f"<PolyStyle><fill>0</fill></PolyStyle></Style>{folders}</Document></kml>\n"
    )


def _folder(name: str, placemarks: Iterable[str]) -> str:
    return f"<Folder><name>{name}</name>{''.join(placemarks)}</Folder>"


def _placemark(name: str, note: str, geometry: str) -> str:
    # A description is read as HTML by most viewers: it is encoded for HTML first and for XML around it.
    described = xml_text(xml_text(plain(note, _MOST)))
    return (
        f"<Placemark><name>{_xml(name)}</name><description>{described}</description>"
        f"<styleUrl>#site</styleUrl>{geometry}</Placemark>"
    )


def _kml_shape(shape: BaseGeometry | None, lon: float, lat: float) -> str:
    point = _kml_point(lon, lat)
    if shape is None:
        return point
    polygons = "".join(
        "<Polygon><outerBoundaryIs>"
        + _kml_ring(polygon.exterior.coords)
        + "</outerBoundaryIs>"
        + "".join(
            f"<innerBoundaryIs>{_kml_ring(ring.coords)}</innerBoundaryIs>" for ring in polygon.interiors
        )
        + "</Polygon>"
        for polygon in shapely.get_parts(shape)
    )
    return f"<MultiGeometry>{point}{polygons}</MultiGeometry>"


def _kml_point(lon: float, lat: float) -> str:
    return f"<Point><coordinates>{lon:.{_DECIMALS}f},{lat:.{_DECIMALS}f}</coordinates></Point>"


def _kml_ring(corners: Iterable[Sequence[float]]) -> str:
    text = " ".join(f"{corner[0]:.{_DECIMALS}f},{corner[1]:.{_DECIMALS}f}" for corner in corners)
    return f"<LinearRing><coordinates>{text}</coordinates></LinearRing>"


def _write_gpkg(path: Path, shared: _Shared) -> None:
    content = shared.content
    frames = {"sites": _sites_frame(shared)}
    if content.samples:
        frames["samples"] = gpd.GeoDataFrame(
            pd.DataFrame([sample_row(sample) for sample in content.samples]),
            geometry=[shapely.Point(sample.lon, sample.lat) for sample in content.samples],
            crs="EPSG:4326",
        )
    if content.parcels is not None and len(content.parcels):
        wanted = ["parcel_id", "owner"] if shared.audience.sees_names else ["parcel_id"]
        columns = [name for name in wanted if name in content.parcels.columns]
        frames["parcels"] = _parcels_frame(content.parcels, columns)
    with whole_file(path) as part:
        for name, frame in frames.items():
            pyogrio.write_dataframe(frame, part, layer=name, driver="GPKG", append=name != "sites")


def _parcels_frame(parcels: gpd.GeoDataFrame, columns: Sequence[str]) -> gpd.GeoDataFrame:
    words = {
        name: [None if pd.isna(text) else plain(text, _MOST) for text in parcels[name]] for name in columns
    }
    return gpd.GeoDataFrame(words, geometry=parcels.geometry.to_numpy(), crs=parcels.crs).to_crs("EPSG:4326")


def _sites_frame(shared: _Shared) -> gpd.GeoDataFrame:
    rows = [row for _, row in _site_rows(shared)]
    shapes = [
        shared.outlines.get(site.site) or shapely.Point(site.lon, site.lat).buffer(1e-5)
        for site in shared.content.sites
    ]
    polygons = [shapely.MultiPolygon(list(shapely.get_parts(shape))) for shape in shapes]
    table = pd.DataFrame(rows, columns=list(site_row(_NO_SITE, shared.content)))
    return gpd.GeoDataFrame(table, geometry=polygons, crs="EPSG:4326")


def _write_tif(path: Path, shared: _Shared) -> None:
    with whole_file(path) as part:
        # Where the numbers came from is for those who may see names.
        told = plain(shared.content.best.source, _MOST) if shared.audience.sees_names else ""
        write_geotiff(replace(shared.content.best, source=told), part)


def _site_rows(shared: _Shared) -> list[tuple[Site, dict[str, object]]]:
    return [(site, site_row(site, shared.content)) for site in shared.content.sites]


def _mark(row: dict[str, object]) -> str:
    """Return what a device shows beside the name of a site that one may not simply go to."""
    return f" ({row['land']})" if row["land"] and row["land"] != "go" else ""


def _land_words(row: dict[str, object]) -> str:
    return f"land: {row['land']}" if row["land"] else ""


def _words(row: dict[str, object]) -> str:
    parts = [f"favourability {row['favourability']}", f"completeness {row['completeness']}"]
    parts += [
        f"{row['area_ha']} ha",
        str(row["rock"]),
        _land_words(row),
        str(row["permission"]),
        str(row["cautions"]),
    ]
    return "; ".join(part for part in parts if part)


def _tidy(shape: BaseGeometry) -> BaseGeometry:
    """Round to the decimals of a centimetre and turn rings the way RFC 7946 asks for."""
    parts = [part for part in shapely.get_parts(shapely.make_valid(shape)) if part.geom_type == "Polygon"]
    turned = [shapely.geometry.polygon.orient(part, sign=1.0) for part in parts]
    joined = turned[0] if len(turned) == 1 else shapely.MultiPolygon(turned)
    return shapely.transform(joined, lambda corners: corners.round(_DECIMALS))


def _xml(text: str) -> str:
    return xml_text(plain(text, _MOST))


_NO_SITE = Site(0, "", 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)

_WRITERS: dict[str, Callable[[Path, _Shared], None]] = {
    ".csv": _write_csv,
    ".geojson": _write_geojson,
    ".gpx": _write_gpx,
    ".kml": _write_kml,
    ".kmz": _write_kmz,
    ".gpkg": _write_gpkg,
    ".tif": _write_tif,
}

EXCHANGE_SUFFIXES: tuple[str, ...] = tuple(_WRITERS)
"""Endings of the files that `write_exchange` writes."""
