"""Learns from holes: a chance with its error, from the expert's score, what the holes hold, and where they lie."""

from prospect.evidence.posterior import Chance, HoleEvidence, Posterior, Residual, alike, fit_posterior
from prospect.evidence.prior import Anchors, Prior, weight_directions

__all__ = [
    "Anchors",
    "Chance",
    "HoleEvidence",
    "Posterior",
    "Prior",
    "Residual",
    "alike",
    "fit_posterior",
    "weight_directions",
]
