"""Whose ground a spot is, which side of the line it lies, what applies there, and whether leave is on record."""

from prospect.land.cautions import CAUTIONS
from prospect.land.check import LandChecks, check_spot, check_spots
from prospect.land.constraints import ConstraintHit, constraints_at, read_constraints, unmapped_rules
from prospect.land.on_site import LOOKED_AND_CLEAR, NOBODY_LOOKED, Seen, ends_on, why_not_clear
from prospect.land.parcels import (
    ParcelReading,
    nameless_touching,
    owners_of,
    parcel_names,
    parcels_at,
    parcels_touching,
    read_parcels,
    read_parcels_at,
)
from prospect.land.permission import Intent, Standing, permission_word, standing
from prospect.land.position import (
    averaged_sigma,
    chance_inside,
    circular_radius,
    line_setback,
    sigma_of_radius,
)
from prospect.land.question import LandLayers, Ledger, Spot, Terms
from prospect.land.reminders import reminders, unmatched_permissions
from prospect.land.rules import (
    LAYER_TITLES,
    OWN_RULES_FOLDER,
    KeepOutRule,
    ground_rules,
    load_rule,
    load_rules,
    shipped_rules,
)
from prospect.land.setback import setback, uncertain_band

__all__ = [
    "CAUTIONS",
    "LAYER_TITLES",
    "LOOKED_AND_CLEAR",
    "NOBODY_LOOKED",
    "OWN_RULES_FOLDER",
    "ConstraintHit",
    "Intent",
    "KeepOutRule",
    "LandChecks",
    "LandLayers",
    "Ledger",
    "ParcelReading",
    "Seen",
    "Spot",
    "Standing",
    "Terms",
    "averaged_sigma",
    "chance_inside",
    "check_spot",
    "check_spots",
    "circular_radius",
    "constraints_at",
    "ends_on",
    "ground_rules",
    "line_setback",
    "load_rule",
    "load_rules",
    "nameless_touching",
    "owners_of",
    "parcel_names",
    "parcels_at",
    "parcels_touching",
    "permission_word",
    "read_constraints",
    "read_parcels",
    "read_parcels_at",
    "reminders",
    "setback",
    "shipped_rules",
    "sigma_of_radius",
    "standing",
    "uncertain_band",
    "unmapped_rules",
    "unmatched_permissions",
    "why_not_clear",
]
