"""Whose ground a spot is, which side of the line it lies, what applies there, and whether leave is on record."""

from prospect.land.check import CAUTIONS, LandLayers, Ledger, Seen, Spot, check_spot
from prospect.land.constraints import ConstraintHit, constraints_at, unmapped_rules
from prospect.land.parcels import ParcelReading, parcels_at, parcels_touching, read_parcels_at
from prospect.land.permission import Standing, permission_word, standing
from prospect.land.position import (
    averaged_sigma,
    chance_inside,
    circular_radius,
    line_setback,
    sigma_of_radius,
)
from prospect.land.rules import KeepOutRule, load_rule, load_rules, shipped_rules

__all__ = [
    "CAUTIONS",
    "ConstraintHit",
    "KeepOutRule",
    "LandLayers",
    "Ledger",
    "ParcelReading",
    "Seen",
    "Spot",
    "Standing",
    "averaged_sigma",
    "chance_inside",
    "check_spot",
    "circular_radius",
    "constraints_at",
    "line_setback",
    "load_rule",
    "load_rules",
    "parcels_at",
    "parcels_touching",
    "permission_word",
    "read_parcels_at",
    "shipped_rules",
    "sigma_of_radius",
    "standing",
    "unmapped_rules",
]
