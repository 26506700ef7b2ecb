"""One ground on disk: its folder, its layers, and its records in one GeoPackage."""

from prospect.store.ground import Ground
from prospect.store.records_file import SCHEMA_VERSION, Change

__all__ = ["SCHEMA_VERSION", "Change", "Ground"]
