"""Combines membership arrays into scores; knows no map."""

from prospect.scoring.bands import RankBands, rank_bands
from prospect.scoring.combine import (
    FLOOR,
    apply_gates,
    completeness,
    fuzzy_gamma,
    weighted_geometric_mean,
    weighted_linear_combination,
    weighted_sum,
)
from prospect.scoring.pairwise import PairwiseWeights, pairwise_weights

__all__ = [
    "FLOOR",
    "PairwiseWeights",
    "RankBands",
    "apply_gates",
    "completeness",
    "fuzzy_gamma",
    "pairwise_weights",
    "rank_bands",
    "weighted_geometric_mean",
    "weighted_linear_combination",
    "weighted_sum",
]
