"""Runs deposit models over a ground, and takes every score apart again."""

from prospect.favourability.assess import Favourability, ModelScore, assess_model, score_window
from prospect.favourability.explain import explain
from prospect.favourability.headline import Headline, best_model
from prospect.favourability.on_disk import AssessedOnDisk, assess_on_disk, assessed_on_disk

__all__ = [
    "AssessedOnDisk",
    "Favourability",
    "Headline",
    "ModelScore",
    "assess_model",
    "assess_on_disk",
    "assessed_on_disk",
    "best_model",
    "explain",
    "score_window",
]
