"""GDAL's own terrain functions, memory to memory, through the C interface of the library that pyogrio brings along.

An independent reference for tests and benchmarks: no file is written and no program started.
"""

from __future__ import annotations

import ctypes
from functools import lru_cache
from pathlib import Path

import numpy as np
import pyogrio  # loads the library and what it depends on

_FLOAT32, _WRITE, _READ = 6, 1, 0


@lru_cache(maxsize=1)
def library() -> ctypes.CDLL | None:
    """Return the library; None where pyogrio does not bring one of its own."""
    folder = Path(pyogrio.__file__).parents[1] / "pyogrio.libs"
    found = sorted(folder.glob("libgdal*.so*")) if folder.is_dir() else []
    if not found:
        return None
    gdal = ctypes.CDLL(str(found[0]))
    pointer, text, whole, real = ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int, ctypes.c_double
    for name, result, arguments in (
        ("GDALVersionInfo", text, [text]),
        ("GDALGetDriverByName", pointer, [text]),
        ("GDALCreate", pointer, [pointer, text, whole, whole, whole, whole, pointer]),
        ("GDALSetGeoTransform", whole, [pointer, ctypes.POINTER(real)]),
        ("GDALGetRasterBand", pointer, [pointer, whole]),
        ("GDALSetRasterNoDataValue", whole, [pointer, real]),
        ("GDALRasterIO", whole, [pointer, *[whole] * 5, pointer, *[whole] * 5]),
        ("GDALClose", None, [pointer]),
        ("GDALDEMProcessingOptionsNew", pointer, [ctypes.POINTER(text), pointer]),
        ("GDALDEMProcessingOptionsFree", None, [pointer]),
        ("GDALDEMProcessing", pointer, [text, pointer, text, text, pointer, ctypes.POINTER(whole)]),
    ):
        function = getattr(gdal, name)
        function.restype, function.argtypes = result, arguments
    return gdal


def version() -> str:
    """Return the release of the library."""
    gdal = library()
    return "" if gdal is None else gdal.GDALVersionInfo(b"RELEASE_NAME").decode()


class InMemory:
    """An elevation grid held by the library, to run its functions on."""

    def __init__(self, elevation: np.ndarray, cell_m: float) -> None:
        self.gdal = library()
        assert self.gdal is not None
        self.rows, self.cols = elevation.shape
        self.data = np.ascontiguousarray(np.where(np.isfinite(elevation), elevation, -9999), np.float32)
        driver = self.gdal.GDALGetDriverByName(b"MEM")
        self.dataset = self.gdal.GDALCreate(driver, b"", self.cols, self.rows, 1, _FLOAT32, None)
        place = (ctypes.c_double * 6)(0.0, cell_m, 0.0, self.rows * cell_m, 0.0, -cell_m)
        self.gdal.GDALSetGeoTransform(self.dataset, place)
        band = self.gdal.GDALGetRasterBand(self.dataset, 1)
        self.gdal.GDALSetRasterNoDataValue(band, -9999.0)
        self._copy(band, _WRITE, self.data)

    def run(self, what: str, *options: str) -> int:
        """Run `slope`, `aspect`, `hillshade`, `TPI` … into memory; return the result's handle."""
        words = [b"-of", b"MEM", *[option.encode() for option in options]]
        argv = (ctypes.c_char_p * (len(words) + 1))(*words, None)
        chosen = self.gdal.GDALDEMProcessingOptionsNew(argv, None)
        fault = ctypes.c_int(0)
        made = self.gdal.GDALDEMProcessing(
            b"", self.dataset, what.encode(), None, chosen, ctypes.byref(fault)
        )
        self.gdal.GDALDEMProcessingOptionsFree(chosen)
        assert made, f"GDAL made no {what} ({fault.value})"
        return made

    def array(self, what: str, *options: str) -> np.ndarray:
        """Return a result as float32, NaN where the library knows none."""
        made = self.run(what, *options)
        out = np.empty((self.rows, self.cols), np.float32)
        self._copy(self.gdal.GDALGetRasterBand(made, 1), _READ, out)
        self.gdal.GDALClose(made)
        return np.where(out == -9999, np.nan, out)

    def spend(self, what: str, *options: str) -> None:
        """Run one and throw the result away."""
        self.gdal.GDALClose(self.run(what, *options))

    def close(self) -> None:
        """Give the memory back."""
        self.gdal.GDALClose(self.dataset)

    def _copy(self, band: int, way: int, array: np.ndarray) -> None:
        fault = self.gdal.GDALRasterIO(
            band, way, 0, 0, self.cols, self.rows, array.ctypes.data_as(ctypes.c_void_p),
            self.cols, self.rows, _FLOAT32, 0, 0,
        )  # fmt: skip
        assert fault == 0
