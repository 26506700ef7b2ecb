"""Switches off every GDAL driver that no reader or writer of ours names, before GDAL is loaded."""

from __future__ import annotations

import os
import sys

from prospect.errors import ProspectError

ALLOWED_DRIVERS = frozenset(
    {"COG", "ESRI Shapefile", "GPKG", "GTiff", "GeoJSON", "MEM", "Memory", "OpenFileGDB", "SRTMHGT"}
)

# Every other driver in the GDAL copies inside the rasterio and pyogrio wheels. GDAL_SKIP takes names only, so
# they must be listed; a test compares the list with the drivers that are really there.
_SKIPPED = (
    "AAIGrid,ACE2,ADBC,ADRG,AIG,AIVector,AVCBin,AVCE00,AirSAR,AmigoCloud,BAG,BIGGIF,BLX,BMP,BSB,BT,BYN,"
    "CALS,CEOS,COASP,COSAR,CPG,CSV,CSW,CTG,CTable2,Carto,DAAS,DERIVED,DGN,DIMAP,DIPEx,DOQ1,DOQ2,DTED,DXF,"
    "ECRGTOC,EDIGEO,EEDA,EEDAI,EHdr,EIR,ELAS,ENVI,ERS,ESAT,ESRIC,ESRIJSON,Elasticsearch,FAST,FIT,"
    "FlatGeobuf,GDALG,GFF,GIF,GML,GNMDatabase,GNMFile,GPSBabel,GPX,GRASSASCIIGrid,GRIB,GS7BG,GSAG,GSBG,"
    "GSC,GTFS,GTI,GTX,GXF,GenBin,GeoJSONSeq,GeoRSS,HDF5,HDF5Image,HF2,HFA,HTTP,ILWIS,IRIS,ISCE,ISG,ISIS2,"
    "ISIS3,Idrisi,JAXAPALSAR,JDEM,JML,JP2OpenJPEG,JPEG,JSONFG,KML,KMLSUPEROVERLAY,KRO,L1B,LAN,LCP,LIBKML,"
    "LOSLAS,LVBAG,Leveller,MAP,MBTiles,MFF,MFF2,MRF,MSGN,MVT,MapInfo File,MapML,MiraMonVector,NDF,"
    "NGSGEOID,NGW,NITF,NOAA_B,NSIDCbin,NTv2,NWT_GRC,NWT_GRD,OAPIF,ODS,OGCAPI,OGR_GMT,OGR_PDS,OGR_VRT,OSM,"
    "OZI,PAux,PCIDSK,PCRaster,PDF,PDS,PDS4,PGDUMP,PLMOSAIC,PLSCENES,PMTiles,PNG,PNM,PRF,R,RIK,RMF,"
    "ROI_PAC,RPFTOC,RRASTER,RS2,RST,Rasterlite,S102,S104,S111,S57,SAFE,SAGA,SAR_CEOS,SDTS,SENTINEL2,SGI,"
    "SIGDEM,SNAP_TIFF,SNODAS,SQLite,SRP,STACIT,STACTA,SXF,Selafin,TGA,TIL,TSX,Terragen,TopoJSON,USGSDEM,"
    "VDV,VFK,VICAR,VRT,WAsP,WCS,WEBP,WFS,WMS,WMTS,XLSX,XPM,XYZ,ZMap,Zarr,netCDF,"
)

_SETTINGS = {
    "GDAL_SKIP": _SKIPPED.rstrip(","),
    "GDAL_DRIVER_PATH": "disable",
    "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",
    "GDAL_VRT_ENABLE_PYTHON": "NO",
    "GDAL_VRT_ENABLE_RAWRASTERBAND": "NO",
    "GDAL_PAM_ENABLED": "NO",
    "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".nothing",
    "CPL_LOG": os.devnull,
    # MB of text of one feature, which grows sixfold in memory.
    "OGR_GEOJSON_MAX_OBJ_SIZE": "40",
    "PROJ_NETWORK": "OFF",
    # A way out that there is not: some readers fetch what a file names (a CRS given as a link), whatever the drivers.
    "GDAL_HTTP_PROXY": "nowhere://",
    "GDAL_HTTPS_PROXY": "nowhere://",
    "GDAL_HTTP_CONNECTTIMEOUT": "1",
    "GDAL_HTTP_TIMEOUT": "1",
    "GDAL_HTTP_MAX_RETRY": "0",
}


_FRUGAL = {
    # Threads reserve address space whether they work or not, and a reader needs none.
    "OPENBLAS_NUM_THREADS": "1",
    "OMP_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    "GDAL_NUM_THREADS": "1",
    "MALLOC_ARENA_MAX": "2",
    # Without it GDAL keeps what it has read in a twentieth of the machine's memory; a file is read once.
    "GDAL_CACHEMAX": "32",
}

_LIBRARIES = ("rasterio", "pyogrio", "fiona", "osgeo")

_too_early: list[str] = []


def restrict_drivers() -> None:
    """Set the GDAL variables in the environment; each library's own GDAL reads them as it loads.

    Notes
    -----
    `CPL_LOG` keeps GDAL from writing to the terminal about names that only the other copy has; the libraries
    raise what matters. Set before any import of rasterio or pyogrio: both read `GDAL_SKIP` once.
    """
    if any(os.environ.get(name) != value for name, value in _SETTINGS.items()):
        _too_early[:] = [library for library in _LIBRARIES if library in sys.modules]
    os.environ.update(_SETTINGS)


def require_restricted() -> None:
    """Raise when a library with a GDAL of its own was loaded before the variables were set.

    Raises
    ------
    ProspectError
        Naming the library; foreign files are not opened in such a process.
    """
    if _too_early:
        raise ProspectError(
            f"{' and '.join(_too_early)} was imported before prospect, so the drivers that open other files or "
            "addresses are still on. Import prospect first."
        )


def reading_environment() -> dict[str, str]:
    """Return the environment for a process that reads foreign files: drivers restricted, little memory."""
    return {**os.environ, **_SETTINGS, **_FRUGAL}
