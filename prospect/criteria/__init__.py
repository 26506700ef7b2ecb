"""A deposit model from its file, and each criterion of it as a membership 0..1."""

from prospect.criteria.definition import (
    Adjustment,
    Bonus,
    Caution,
    Condition,
    Criterion,
    DepositModel,
    Evidence,
    Gate,
    Membership,
)
from prospect.criteria.evaluate import Judged, combine, criterion_reader, judge_rows, rule_reader
from prospect.criteria.factors import ClassLayer, Factors, FactorSpec, factor_list, place_of
from prospect.criteria.memberships import (
    classes,
    down,
    identity,
    large,
    phrases,
    piecewise_linear,
    small,
    steps,
    trapezoid,
    up,
)
from prospect.criteria.purposes import PurposeRules, for_purpose, purpose_list
from prospect.criteria.reading import MODEL_KEYS, deposit_model, load_deposit_model, shipped_models

__all__ = [
    "MODEL_KEYS",
    "Adjustment",
    "Bonus",
    "Caution",
    "ClassLayer",
    "Condition",
    "Criterion",
    "DepositModel",
    "Evidence",
    "FactorSpec",
    "Factors",
    "Gate",
    "Judged",
    "Membership",
    "PurposeRules",
    "classes",
    "combine",
    "criterion_reader",
    "deposit_model",
    "down",
    "factor_list",
    "for_purpose",
    "identity",
    "judge_rows",
    "large",
    "load_deposit_model",
    "phrases",
    "piecewise_linear",
    "place_of",
    "purpose_list",
    "rule_reader",
    "shipped_models",
    "small",
    "steps",
    "trapezoid",
    "up",
]
