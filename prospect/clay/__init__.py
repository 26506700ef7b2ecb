"""What a clay's measurements say: texture, plasticity, shrinkage, firing, colour, faults, and what it is fit for."""

from prospect.clay.evidence import HoleEvidence, hole_evidence
from prospect.clay.report import FLAGS, ClayReport, assess
from prospect.clay.specimen import Specimen, layer_at, specimen_of

__all__ = [
    "FLAGS",
    "ClayReport",
    "HoleEvidence",
    "Specimen",
    "assess",
    "hole_evidence",
    "layer_at",
    "specimen_of",
]
