"""Learns from holes: a chance with its error, from the expert's score, what the holes hold, and where they lie."""

from prospect.evidence.posterior import Chance, HoleResults, Posterior, Residual, alike, fit_posterior
from prospect.evidence.prior import Anchors, Prior, weight_directions
from prospect.evidence.tuning import can_choose, fit_tuned

__all__ = [
    "Anchors",
    "Chance",
    "HoleResults",
    "Posterior",
    "Prior",
    "Residual",
    "alike",
    "can_choose",
    "fit_posterior",
    "fit_tuned",
    "weight_directions",
]
