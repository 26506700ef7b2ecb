"""Runs deposit models over a ground, and takes every score apart again."""

from prospect.favourability.assess import Favourability, ModelScore, assess_model, score_window
from prospect.favourability.explain import explain
from prospect.favourability.headline import Headline, best_model

__all__ = [
    "Favourability",
    "Headline",
    "ModelScore",
    "assess_model",
    "best_model",
    "explain",
    "score_window",
]
