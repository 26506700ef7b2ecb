"""What people note down and what the parts hand each other, as frozen dataclasses."""

from prospect.records.bench import Bar, Batch, BenchTest, LogBook
from prospect.records.completing import completed, contradictions
from prospect.records.land import (
    SCOPES,
    STATUSES,
    LandCheck,
    Looked,
    ParcelHit,
    Permission,
    PermissionStatus,
    Scope,
    Setback,
    Verdict,
)
from prospect.records.log import Hole, HoleLayer, Sample, Usable
from prospect.records.reports import (
    CriterionReading,
    Fact,
    GateReading,
    GroundReport,
    ModelReading,
    Site,
)
from prospect.records.settings import PURPOSES, GroundSettings, Purpose, YesNoUnknown

__all__ = [
    "PURPOSES",
    "SCOPES",
    "STATUSES",
    "Bar",
    "Batch",
    "BenchTest",
    "CriterionReading",
    "Fact",
    "GateReading",
    "GroundReport",
    "GroundSettings",
    "Hole",
    "HoleLayer",
    "LandCheck",
    "LogBook",
    "Looked",
    "ModelReading",
    "ParcelHit",
    "Permission",
    "PermissionStatus",
    "Purpose",
    "Sample",
    "Scope",
    "Setback",
    "Site",
    "Usable",
    "Verdict",
    "YesNoUnknown",
    "completed",
    "contradictions",
]
