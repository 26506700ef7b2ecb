"""What the clay is wanted for: a purpose replaces, multiplies or adjusts parts of the models."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Annotated

from pydantic import Field
from pydantic.dataclasses import dataclass

from prospect.criteria.definition import Adjustment, Criterion, DepositModel, Gate, Key, Membership, Text
from prospect.criteria.faults import membership_faults
from prospect.definitions import STRICT, as_definition, layers_folder, read_toml
from prospect.errors import DefinitionError, WrongUsage
from prospect.issues import Issue
from prospect.records import PURPOSES


@dataclass(config=STRICT, frozen=True)
class Factored:
    """A further part that a criterion is multiplied by."""

    key: Key
    title: Text
    factor: Key
    membership: Membership
    reference: Text
    otherwise: str = ""


@dataclass(config=STRICT, frozen=True)
class Change:
    """What a purpose does to every criterion of one key.

    Attributes
    ----------
    criterion
        Key of the criterion, at any depth of a model.
    reference
        Where the numbers come from.
    models
        Keys of the models it applies to; empty = all.
    membership
        Replaces that of the criterion.
    multiply_by
        A part that the criterion is multiplied by.
    adjust
        Lifts and limits that are added.
    """

    criterion: Key
    reference: Text
    models: tuple[Key, ...] = ()
    membership: Membership | None = None
    multiply_by: Factored | None = None
    adjust: tuple[Adjustment, ...] = ()


@dataclass(config=STRICT, frozen=True)
class PurposeGate:
    """A gate that only this purpose has, for some models (none named = all)."""

    gate: Gate
    models: tuple[Key, ...] = ()


@dataclass(config=STRICT, frozen=True)
class PurposeRules:
    """What the clay is wanted for, and how that changes what is good.

    `lifts` names the gates of the models that this purpose does away with.
    """

    key: Key
    title: Text
    doc: Text
    changes: tuple[Change, ...] = ()
    gates: tuple[PurposeGate, ...] = ()
    lifts: tuple[Key, ...] = ()


@dataclass(config=STRICT, frozen=True)
class _PurposeFile:
    purposes: Annotated[tuple[PurposeRules, ...], Field(min_length=1)]


@lru_cache(maxsize=1)
def purpose_list() -> Mapping[str, PurposeRules]:
    """Return the purposes of `purposes.toml` by key.

    Raises
    ------
    DefinitionError
        When the file has faults or lacks a purpose.
    """
    path = layers_folder() / "purposes.toml"
    content = read_toml(path)
    purposes = {rules.key: rules for rules in as_definition(content, _PurposeFile, path.name).purposes}
    found = [
        fault
        for key, rules in purposes.items()
        for place, change in enumerate(rules.changes)
        for fault in _change_faults(change, f"{key}.changes[{place}]")
    ]
    found += [(key, "", "rules for this purpose") for key in PURPOSES if key not in purposes]
    if found:
        issues = tuple(
            Issue("error", path.name, key_path, "", value, expected, "Mend the key and try again.")
            for key_path, value, expected in found
        )
        raise DefinitionError("\n".join(issue.sentence() for issue in issues), issues)
    return purposes


def for_purpose(model: DepositModel, purpose: str) -> DepositModel:
    """Return the model as the purpose has it; an ordinary model, so that its reasons can be read like any other.

    Raises
    ------
    WrongUsage
        When there is no such purpose.
    """
    rules = purpose_list().get(purpose)
    if rules is None:
        raise WrongUsage(f"There is no purpose '{purpose}'; the purposes are {', '.join(purpose_list())}.")
    changes = [change for change in rules.changes if not change.models or model.key in change.models]
    gates = [added.gate for added in rules.gates if not added.models or model.key in added.models]
    kept = [gate for gate in model.gates if gate.key not in rules.lifts]
    return replace(
        model,
        criteria=tuple(_changed(criterion, changes) for criterion in model.criteria),
        gates=(*kept, *gates),
    )


def _changed(criterion: Criterion, changes: Sequence[Change]) -> Criterion:
    parts = tuple(_changed(part, changes) for part in criterion.parts)
    result = replace(criterion, parts=parts) if parts else criterion
    for change in changes:
        if change.criterion == criterion.key:
            result = _apply(result, change)
    return result


def _apply(criterion: Criterion, change: Change) -> Criterion:
    result = criterion
    if change.membership is not None and not criterion.parts:
        result = replace(result, membership=change.membership, reference=change.reference)
    if change.adjust:
        result = replace(result, adjust=(*result.adjust, *change.adjust))
    if change.multiply_by is None:
        return result
    added = change.multiply_by
    factor = Criterion(
        key=added.key,
        title=added.title,
        factor=added.factor,
        otherwise=added.otherwise,
        membership=added.membership,
        reference=added.reference,
    )
    return Criterion(
        key=criterion.key,
        title=criterion.title,
        weight=criterion.weight,
        parts=(replace(result, key=f"{criterion.key}_itself", weight=1.0), factor),
        combine="product",
        note=criterion.note,
    )


def _change_faults(change: Change, path: str) -> list[tuple[str, str, str]]:
    found = []
    for name, membership in (
        ("membership", change.membership),
        ("multiply_by.membership", change.multiply_by.membership if change.multiply_by else None),
    ):
        if membership is not None:
            given = {
                key: value
                for key, value in vars(membership).items()
                if not key.startswith("_") and value not in (None, (), {}, "linear", "max")
            }
            found += list(membership_faults(given, f"{path}.{name}"))
    return found
