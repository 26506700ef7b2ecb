"""Something else under the name of every form: other files' heads, pages, programs, and what only points elsewhere."""

from __future__ import annotations

import pickle
import struct
from pathlib import Path

from corpus.case import Build, Case, listening

# Files that only point elsewhere: GDAL virtual formats (gdal.org, "Security considerations").
POINTERS: dict[str, bytes] = {
    "raster vrt": b'<VRTDataset rasterXSize="9" rasterYSize="9"><VRTRasterBand dataType="Byte" band="1" subClass="VRTRawRasterBand"><SourceFilename>/etc/passwd</SourceFilename></VRTRasterBand></VRTDataset>',  # noqa: E501
    "vector vrt": b'<OGRVRTDataSource><OGRVRTLayer name="x"><SrcDataSource>/etc/passwd</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>',  # noqa: E501
    "map service": b"<GDAL_WMS><Service name='TMS'><ServerUrl>http://127.0.0.1:9/</ServerUrl></Service></GDAL_WMS>",
    "feature service": b"<OGRWFSDataSource><URL>http://127.0.0.1:9/</URL></OGRWFSDataSource>",
    "tile index": b"<GDALTileIndexDataset><IndexDataset>/etc/passwd</IndexDataset></GDALTileIndexDataset>",
    "coverage service": b"<WCS_GDAL><ServiceURL>http://127.0.0.1:9/</ServiceURL></WCS_GDAL>",
    "tile service": b"<GDAL_WMTS><GetCapabilitiesUrl>http://127.0.0.1:9/</GetCapabilitiesUrl></GDAL_WMTS>",
    "pipeline": b'{"type":"gdal_streamed_alg","command_line":"gdal vector pipeline ! read /etc/passwd"}',
    "late vrt": b"<?xml version='1.0'?>\n<!-- " + b"x" * 2000 + b" -->\n<VRTDataset rasterXSize='1'/>",
    "vrt in UTF-16": "<VRTDataset rasterXSize='1'/>".encode("utf-16"),
}
OTHERS: dict[str, bytes] = {
    "empty": b"",
    "one byte": b"\x00",
    "zeros": b"\0" * 4096,
    "noise": bytes((i * 7919) % 251 for i in range(9000)),
    "text": b"hello there\n",
    "web page": b"<!DOCTYPE html><html><body>Please log in</body></html>",
    "error of a service": b'{"error":{"code":400,"message":"Invalid"}}',
    "list": b"[1,2,3]",
    "pickle": pickle.dumps({"a": [1, 2]}),
    "program": b"\x7fELF" + b"\0" * 200,
    "other program": b"MZ" + b"\0" * 200,
    "zip": b"PK\x03\x04" + b"\0" * 60,
    "png": b"\x89PNG\r\n\x1a\n" + b"\0" * 60,
    "pdf": b"%PDF-1.7\n",
    "postscript": b"%!PS\n(/etc/passwd) run",
    "gzip": b"\x1f\x8b\x08" + b"\0" * 60,
    "not downloaded": b"version https://git-lfs.github.com/spec/v1\noid sha256:00\nsize 1\n",
    "tiff head": b"II*\x00\x08\x00\x00\x00",
    "big tiff head": b"II+\x00\x08\x00\x00\x00",
    "database head": b"SQLite format 3\x00" + b"\0" * 84,
    "shape head": struct.pack(">i", 9994) + b"\0" * 96,
    "numpy": b"\x93NUMPY\x01\x00" + b"\0" * 60,
    "parquet": b"PAR1" + b"\0" * 60 + b"PAR1",
    "flatgeobuf": b"fgb\x03fgb\x00" + b"\0" * 60,
    "doctype": b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/passwd">]><a>&b;</a>',
}
KINDS = {
    "elevation": (".hgt",),
    "geology": (".geojson", ".gpkg", ".shp", ".zip"),
    "samples": (".csv", ".gpx", ".kml", ".kmz"),
    "photos": (".jpg", ".png"),
    "soil": (".zip",),
    "parcels": (".json", ".shp"),
}


def named(suffix: str, content: bytes) -> Build:
    def build(folder: Path) -> Path:
        for ending in {suffix, *((".shx", ".dbf") if suffix == ".shp" else ())}:
            (folder / f"N35W084{ending}").write_bytes(listening(content))
        return folder / f"N35W084{suffix}"

    return build


CASES = [
    Case(kind, f"{name} as {suffix}", named(suffix, content), "refused", whole=True)
    for kind, suffixes in KINDS.items()
    for suffix in suffixes
    for name, content in (POINTERS | OTHERS).items()
]
