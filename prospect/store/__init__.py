"""One ground on disk: its folder, its layers, and its records in one GeoPackage."""

from prospect.store.backups import Backup
from prospect.store.changes import Change
from prospect.store.checkup import Finding
from prospect.store.drafts import Pending
from prospect.store.ground import Ground
from prospect.store.holding import Hold, Holder
from prospect.store.log import LogItem, LogKind, OnRecord
from prospect.store.place import Place, place_of
from prospect.store.records_file import RecordsDamaged
from prospect.store.samples import ChangedMeanwhile, Recorded
from prospect.store.schema import SCHEMA_VERSION
from prospect.store.sorting import sort_out

__all__ = [
    "SCHEMA_VERSION",
    "Backup",
    "Change",
    "ChangedMeanwhile",
    "Finding",
    "Ground",
    "Hold",
    "Holder",
    "LogItem",
    "LogKind",
    "OnRecord",
    "Pending",
    "Place",
    "Recorded",
    "RecordsDamaged",
    "place_of",
    "sort_out",
]
