"""One ground on disk: its folder, its layers, and its records in one GeoPackage."""

from prospect.store.backups import Backup
from prospect.store.checkup import Finding
from prospect.store.ground import Ground
from prospect.store.holding import Hold, Holder
from prospect.store.records_file import Change, RecordsDamaged
from prospect.store.schema import SCHEMA_VERSION

__all__ = ["SCHEMA_VERSION", "Backup", "Change", "Finding", "Ground", "Hold", "Holder", "RecordsDamaged"]
