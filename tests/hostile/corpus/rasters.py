"""Elevation: GeoTIFF whose tags lie, positions that are none, numbers of every sort, bombs, pretenders."""

from __future__ import annotations

import struct
from collections.abc import Callable
from pathlib import Path

import numpy as np
import rasterio
from affine import Affine
from controls import make_control

from corpus.case import Build, Case, Verdict, data

PLACE = Affine(10, 0, 3e5, 0, -10, 4.73e6)
# TIFF 6.0, section 8: tag numbers.
WIDTH, HEIGHT, BITS, PACKING, OFFSETS, SAMPLES, ROWS_PER_STRIP, BYTE_COUNTS = (
    256,
    257,
    258,
    259,
    273,
    277,
    278,
    279,
)
PREDICTOR, TILE_WIDTH, TILE_HEIGHT, TILE_OFFSETS, TILE_BYTES, FORMAT, SCALE, TIE, KEYS, NODATA = (
    317,
    322,
    323,
    324,
    325,
    339,
    33550,
    33922,
    34735,
    42113,
)


def hills(rows: int = 60, cols: int = 60, dtype: str = "float32") -> np.ndarray:
    return (np.add.outer(np.arange(rows), np.arange(cols)) % 200 + 20).astype(dtype)


def tiff(values: np.ndarray | None = None, **given: object) -> Build:
    def build(folder: Path) -> Path:
        shown = hills() if values is None else values
        bands = shown if shown.ndim == 3 else shown[None]
        settings: dict[str, object] = {
            "driver": "GTiff",
            "height": bands.shape[1],
            "width": bands.shape[2],
            "count": bands.shape[0],
            "dtype": bands.dtype,
            "crs": "EPSG:32729",
            "transform": PLACE,
        }
        with rasterio.open(folder / "dem.tif", "w", **(settings | given)) as target:
            target.write(bands)
        return folder / "dem.tif"

    return build


def entry(whole: bytearray, tag: int) -> int:
    """Return where the twelve bytes of a tag's entry are in a little-endian TIFF."""
    start = struct.unpack("<I", whole[4:8])[0]
    count = struct.unpack("<H", whole[start : start + 2])[0]
    for number in range(count):
        place = start + 2 + 12 * number
        if struct.unpack("<H", whole[place : place + 2])[0] == tag:
            return place
    raise AssertionError(f"no tag {tag}")


def lied(tag: int, value: int, count: int | None = None, **given: object) -> Build:
    """Return a TIFF in which a tag's value, and its count when given, are replaced."""

    def change(whole: bytearray) -> None:
        place = entry(whole, tag)
        kind, old = struct.unpack("<HI", whole[place + 2 : place + 8])
        letter = "<H" if kind == 3 and (count or old) == 1 else "<I"
        whole[place + 8 : place + 12] = struct.pack(letter, value).ljust(4, b"\0")
        if count is not None:
            whole[place + 4 : place + 8] = struct.pack("<I", count)

    return patched(change, **given)


def patched(change: Callable[[bytearray], None], values: np.ndarray | None = None, **given: object) -> Build:
    def build(folder: Path) -> Path:
        path = tiff(values, **given)(folder)
        whole = bytearray(path.read_bytes())
        change(whole)
        path.write_bytes(whole)
        return path

    return build


def _loop(whole: bytearray) -> None:
    start = struct.unpack("<I", whole[4:8])[0]
    count = struct.unpack("<H", whole[start : start + 2])[0]
    whole[start + 2 + 12 * count : start + 6 + 12 * count] = struct.pack("<I", start)


def _offsets_beyond(whole: bytearray) -> None:
    place = entry(whole, OFFSETS)
    whole[place + 8 : place + 12] = struct.pack("<I", 2**31)


def _doubles(tag: int, at: int, value: float) -> Callable[[bytearray], None]:
    def change(whole: bytearray) -> None:
        start = struct.unpack("<I", whole[entry(whole, tag) + 8 : entry(whole, tag) + 12])[0]
        whole[start + 8 * at : start + 8 * at + 8] = struct.pack("<d", value)

    return change


def _noise(start: float, end: float) -> Callable[[bytearray], None]:
    def change(whole: bytearray) -> None:
        low, high = int(len(whole) * start), int(len(whole) * end)
        whole[low:high] = np.random.default_rng(5).bytes(high - low)

    return change


def sparse(rows: int, cols: int, **given: object) -> Build:
    def build(folder: Path) -> Path:
        with rasterio.open(
            folder / "dem.tif",
            "w",
            driver="GTiff",
            height=rows,
            width=cols,
            count=1,
            dtype="float32",
            crs="EPSG:32729",
            transform=Affine(1, 0, 3e5, 0, -1, 4.73e6),
            SPARSE_OK="YES",
            tiled=True,
            **given,
        ):
            pass
        return folder / "dem.tif"

    return build


def zeros(rows: int, cols: int, dtype: str = "uint8", **given: object) -> Build:
    """Return a TIFF of zeros, written strip by strip, that is a thousandth of what it unpacks to."""

    def build(folder: Path) -> Path:
        settings = {"compress": "deflate", "zlevel": 9} | given
        with rasterio.open(
            folder / "dem.tif",
            "w",
            driver="GTiff",
            height=rows,
            width=cols,
            count=1,
            dtype=dtype,
            crs="EPSG:32729",
            transform=Affine(1, 0, 3e5, 0, -1, 4.73e6),
            **settings,
        ) as target:
            step = 512
            for row in range(0, rows, step):
                high = min(step, rows - row)
                target.write(np.zeros((high, cols), dtype), 1, window=((row, row + high), (0, cols)))
        return folder / "dem.tif"

    return build


def overviews(folder: Path) -> Path:
    path = tiff(hills(600, 600))(folder)
    with rasterio.open(path, "r+") as target:
        target.build_overviews([2, 4, 8])
    return path


def masked(folder: Path) -> Path:
    path = tiff()(folder)
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True), rasterio.open(path, "r+") as target:
        mask = np.full((60, 60), 255, "uint8")
        mask[:10] = 0
        target.write_mask(mask)
    return path


def palette(folder: Path) -> Path:
    path = tiff(hills(dtype="uint8"))(folder)
    with rasterio.open(path, "r+") as target:
        target.write_colormap(1, {i: (i, i, i, 255) for i in range(256)})
    return path


def beside(name: str, content: bytes) -> Build:
    def build(folder: Path) -> Path:
        path = tiff()(folder)
        (folder / name).write_bytes(content)
        return path

    return build


def tile(name: str, content: bytes) -> Build:
    return data(name, content)


def tiles(**members: Build) -> Build:
    """Return a folder of tiles."""

    def build(folder: Path) -> Path:
        (folder / "work").mkdir()
        (folder / "tiles").mkdir()
        for name, make in members.items():
            make(folder / "work").rename(folder / "tiles" / f"{name}.tif")
        return folder / "tiles"

    return build


def _case(name: str, build: Build, verdict: Verdict, **more: object) -> Case:
    return Case("elevation", name, build, verdict, **more)  # type: ignore[arg-type]


VRT = b'<VRTDataset rasterXSize="9" rasterYSize="9"><VRTRasterBand dataType="Byte" band="1" subClass="VRTRawRasterBand"><SourceFilename>/etc/passwd</SourceFilename></VRTRasterBand></VRTDataset>'  # noqa: E501
PRETENDERS: dict[str, bytes] = {
    "raster vrt": VRT,
    "late vrt": b"<?xml version='1.0'?>\n<!-- " + b"x" * 2000 + b" -->\n" + VRT,
    "map service": b"<GDAL_WMS><Service name='TMS'><ServerUrl>http://127.0.0.1:9/</ServerUrl></Service></GDAL_WMS>",
    "tile index": b"<GDALTileIndexDataset><IndexDataset>/etc/passwd</IndexDataset></GDALTileIndexDataset>",
    "coverage service": b"<WCS_GDAL><ServiceURL>http://127.0.0.1:9/</ServiceURL></WCS_GDAL>",
    "text grid": b"ncols 4\nnrows 4\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2 3 4\n",
    "envi head": b"ENVI\nsamples = 3\nlines = 3\nbands = 1\n",
    "netcdf": b"CDF\x01" + b"\0" * 200,
    "hdf5": b"\x89HDF\r\n\x1a\n" + b"\0" * 200,
    "jpeg 2000": b"\0\0\0\x0cjP  \r\n\x87\n" + b"\0" * 60,
    "bmp": b"BM" + b"\0" * 100,
    "png": b"\x89PNG\r\n\x1a\n" + b"\0" * 60,
    "pdf": b"%PDF-1.7\n",
    "program": b"\x7fELF" + b"\0" * 200,
    "pickle": b"\x80\x04\x95\x00",
    "not downloaded": b"version https://git-lfs.github.com/spec/v1\noid sha256:00\nsize 1\n",
    "zeros": b"\0" * 4096,
    "head": b"II*\0\x08\0\0\0",
    "big head": b"II+\0\x08\0\0\0" + b"\xff" * 8,
    "head the other way round": b"MM\0*\0\0\0\x08",
}
CASES = [
    *(
        _case(f"pretends: {name}", data("dem.tif", content), "refused", whole=True)
        for name, content in PRETENDERS.items()
    ),
    _case("good", tiff(), "accepted"),
    _case("good, the other way round", tiff(ENDIANNESS="BIG"), "accepted"),
    _case("good, 64-bit offsets", tiff(BIGTIFF="YES"), "accepted"),
    _case("good, tiled", tiff(hills(300, 300), tiled=True, blockxsize=128, blockysize=128), "accepted"),
    _case("good, upside down", tiff(transform=Affine(10, 0, 3e5, 0, 10, 4.72e6)), "accepted"),
    *(
        _case(f"packed by {how}", tiff(compress=how), "accepted")
        for how in ("lzw", "deflate", "packbits", "zstd", "lerc")
    ),
    *(
        _case(
            f"numbers of {kind}",
            tiff(hills(dtype=kind)),
            verdict,
            place="bands" if verdict == "refused" else "",
        )
        for kind, verdict in (
            ("uint8", "accepted"),
            ("int8", "accepted"),
            ("uint16", "accepted"),
            ("int16", "accepted"),
            ("uint32", "accepted"),
            ("int32", "accepted"),
            ("int64", "accepted"),
            ("uint64", "accepted"),
            ("float64", "accepted"),
            ("complex64", "refused"),
            ("complex128", "refused"),
        )
    ),
    _case("numbers of 16-bit float", tiff(hills(), dtype="float32", NBITS=16), "accepted"),
    _case("numbers of one bit", tiff(hills(dtype="uint8") % 2, NBITS=1), "refused", place="bands"),
    _case("five bands", tiff(np.stack([hills()] * 5)), "repaired", place="bands"),
    _case(
        "a picture", tiff(np.stack([hills(dtype="uint8")] * 3), photometric="rgb"), "refused", place="bands"
    ),
    _case("a palette", palette, "refused", place="bands"),
    _case("a mask of its own", masked, "accepted"),
    _case("smaller copies of itself", overviews, "accepted"),
    _case("no system", tiff(crs=None), "refused", place="crs"),
    _case("an engineering system", tiff(crs='LOCAL_CS["site grid",UNIT["metre",1]]'), "refused", place="crs"),
    _case("a vertical system", tiff(crs="EPSG:5703"), "refused", place="crs"),
    _case("degrees said to be metres", tiff(crs="EPSG:4326"), "refused", place="crs"),
    _case(
        "metres said to be degrees",
        tiff(transform=Affine(0.001, 0, -9, 0, -0.001, -47)),
        "refused",
        place="crs",
    ),
    _case("no position", tiff(transform=Affine.identity()), "refused", place="position"),
    _case(
        "cells of no width", tiff(transform=Affine(0, 0, 3e5, 0, -10, 4.73e6)), "refused", place="position"
    ),
    _case(
        "cells of a billionth",
        tiff(transform=Affine(1e-9, 0, 3e5, 0, -1e-9, 4.73e6)),
        "refused",
        place="position",
    ),
    _case(
        "cells of a million km",
        tiff(transform=Affine(1e9, 0, 3e5, 0, -1e9, 4.73e6)),
        "refused",
        place="position",
    ),
    _case("sheared flat", tiff(transform=Affine(10, 10, 3e5, 10, 10, 4.73e6)), "refused", place="position"),
    _case("turned", tiff(transform=Affine(7, 7, 3e5, 7, -7, 4.73e6)), "accepted"),
    _case("position of 1e300", tiff(transform=Affine(10, 0, 1e300, 0, -10, 4.73e6)), "refused", place="crs"),
    *(
        _case(f"position NaN, {name}", patched(_doubles(tag, at, float("nan"))), "refused", place="position")
        for name, tag, at in (("scale", SCALE, 0), ("tie point", TIE, 3))
    ),
    _case("position infinite", patched(_doubles(TIE, 4, float("inf"))), "refused", place="position"),
    _case("all NaN", tiff(np.full((60, 60), np.nan, "float32")), "refused", place="values"),
    _case("all no data", tiff(np.full((60, 60), -9999, "float32"), nodata=-9999), "refused", place="values"),
    _case("all one height", tiff(np.full((60, 60), 5, "float32")), "repaired", place="values"),
    _case(
        "infinite heights",
        tiff(np.where(hills() > 100, np.inf, hills()).astype("float32")),
        "repaired",
        place="values",
    ),
    _case(
        "heights of 1e30",
        tiff(np.where(hills() > 100, 1e30, hills()).astype("float32")),
        "repaired",
        place="values",
    ),
    _case(
        "no-data not said",
        tiff(np.where(hills() > 100, -32768, hills()).astype("int16")),
        "repaired",
        place="values",
    ),
    _case("no-data NaN", tiff(nodata=float("nan")), "accepted"),
    _case("no-data of another type", tiff(hills(dtype="uint8"), nodata=200), "accepted"),
    _case("scale and offset said", tiff(), "accepted"),
    # Tags that lie.
    *(
        _case(f"lies: {name}", build, verdict, **more)
        for name, build, verdict, more in (
            ("width of 65,000", lied(WIDTH, 65_000), "refused", {"whole": True}),
            ("height of 65,535", lied(HEIGHT, 65_535), "refused", {"whole": True}),
            ("no width", lied(WIDTH, 0), "refused", {"whole": True}),
            ("65,535 bits", lied(BITS, 65_535), "refused", {"whole": True}),
            ("packing that there is not", lied(PACKING, 65_000), "refused", {"whole": True}),
            ("packed otherwise", lied(PACKING, 5), "refused", {"whole": True}),
            ("65,535 bands", lied(SAMPLES, 65_535), "refused", {"whole": True}),
            ("no rows to a strip", lied(ROWS_PER_STRIP, 0), "refused", {"whole": True}),
            ("strips beyond the end", patched(_offsets_beyond), "repaired", {"place": "values"}),
            ("a thousand million strips", lied(OFFSETS, 8, 2**30), "refused", {"whole": True}),
            ("strips of no bytes", lied(BYTE_COUNTS, 0, 1), "repaired", {"place": "values"}),
            ("number format 9", lied(FORMAT, 9), "refused", {"whole": True}),
            (
                "tiles of 65,520",
                lied(TILE_WIDTH, 65_520, tiled=True, values=hills(300, 300)),
                "refused",
                {"whole": True},
            ),
            ("tiles of 7", lied(TILE_WIDTH, 7, tiled=True, values=hills(300, 300)), "accepted", {}),
            (
                "tiles of none",
                lied(TILE_HEIGHT, 0, tiled=True, values=hills(300, 300)),
                "refused",
                {"whole": True},
            ),
            ("directory in a circle", patched(_loop), "accepted", {}),
            (
                "directory beyond the end",
                patched(lambda w: w.__setitem__(slice(4, 8), b"\xff\xff\xff\x7f")),
                "refused",
                {"whole": True},
            ),
            (
                "noise in its pixels, deflate",
                patched(_noise(0.5, 0.6), compress="deflate"),
                "refused",
                {"whole": True},
            ),
            (
                "noise in its pixels, lzw",
                patched(_noise(0.5, 0.6), compress="lzw"),
                "refused",
                {"whole": True},
            ),
            (
                "noise in its pixels, packbits",
                patched(_noise(0.4, 0.8), compress="packbits"),
                "repaired",
                {"place": "values"},
            ),
            ("noise in its tags", patched(_noise(0.0, 0.02), compress="deflate"), "refused", {"whole": True}),
            (
                "keys of its system noise",
                patched(
                    lambda w: w.__setitem__(slice(entry(w, KEYS) + 4, entry(w, KEYS) + 8), b"\xff\xff\0\0")
                ),
                "refused",
                {"place": "crs"},
            ),
        )
    ),
    *(
        _case(
            f"cut at {keep}",
            patched(lambda w, k=keep: w.__delitem__(slice(int(len(w) * k), None)), compress="deflate"),
            "refused",
            whole=True,
        )
        for keep in (0.005, 0.02, 0.2, 0.5, 0.8, 0.99)
    ),
    # More than it seems.
    _case("sparse, 200,000 by 200,000", sparse(200_000, 200_000, BIGTIFF="YES"), "refused", place="cells"),
    _case("sparse, 12,000 by 12,000", sparse(12_000, 12_000), "refused", place="cells"),
    _case("bomb, 12,000 by 12,000", zeros(12_000, 12_000, tiled=True), "refused", place="cells"),
    _case("bomb, 4,000 by 4,000", zeros(4_000, 4_000), "repaired", place="values"),
    _case("bomb in one strip", zeros(6_000, 6_000, "float32", blockysize=6_000), "refused", place="blocks"),
    _case("bomb, lzw", zeros(12_000, 12_000, compress="lzw", tiled=True), "refused", place="cells"),
    _case(
        "bombs in a folder",
        tiles(
            a=zeros(4_900, 4_900),
            b=zeros(4_900, 4_900),
            c=zeros(4_900, 4_900),
            d=zeros(4_900, 4_900),
            e=zeros(4_900, 4_900),
        ),
        "refused",
        place="cells",
    ),
    # Beside it, and tiles.
    _case("side file that points elsewhere", beside("dem.tif.aux.xml", VRT), "accepted"),
    _case("side file of smaller copies, broken", beside("dem.tif.ovr", b"II*\0"), "accepted"),
    _case("side file of a mask, broken", beside("dem.tif.msk", b"II*\0\xff\xff\xff\xff"), "accepted"),
    _case("side file of its position, nonsense", beside("dem.tfw", b"nonsense"), "accepted"),
    _case("tiles of two systems", tiles(a=tiff(), b=tiff(crs="EPSG:32730")), "refused", place="crs"),
    _case(
        "tiles, one broken",
        tiles(a=tiff(), b=data("b.tif", b"II*\0" + b"\0" * 60)),
        "repaired",
        place="tile b.tif",
    ),
    _case(
        "tiles a continent apart",
        tiles(a=tiff(), b=tiff(transform=Affine(10, 0, 7e5, 0, -10, 9.73e6))),
        "refused",
        place="cells",
    ),
    _case("height tile", lambda folder: make_control("hgt", folder), "accepted"),
    _case("height tile, renamed", tile("hills.hgt", b"\0" * 2 * 1201 * 1201), "refused", whole=True),
    _case("height tile, cut", tile("S47W009.hgt", b"\0" * 1000), "refused", whole=True),
    _case("height tile, all gaps", tile("S47W009.hgt", b"\x80\0" * 1201 * 1201), "refused", place="values"),
    _case("height tile beyond the pole", tile("N99E999.hgt", b"\0\1" * 1201 * 1201), "refused", whole=True),
    _case(
        "height tile of heights that are none",
        tile("S47W009.hgt", np.where(np.arange(1201 * 1201) % 7, 20, 30000).astype(">i2").tobytes()),
        "repaired",
        place="values",
    ),
    Case(
        "elevation",
        "unit that there is not",
        tiff(),
        "refused",
        place="vertical unit",
        mapping={"vertical_unit": "furlong"},
    ),
    Case("elevation", "system that there is not", tiff(crs=None), "refused", place="crs", crs="EPSG:0"),
    Case("geology", "elevation as a map", tiff(), "refused", whole=True),
]
