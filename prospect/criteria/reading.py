"""Reads deposit models: the seven that travel with the program, and a user's own copy."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from prospect.criteria.definition import DepositModel
from prospect.criteria.faults import model_faults
from prospect.definitions import as_definition, layers_folder, read_toml
from prospect.errors import DefinitionError
from prospect.guard.inspection import inspect_file

MODEL_KEYS = (
    "residual",
    "valley_fill",
    "lake_bed",
    "altered_ash",
    "mudrock",
    "coastal_plain",
    "clay_subsoil",
)


def load_deposit_model(path: Path) -> DepositModel:
    """Read a deposit model from its TOML file.

    Raises
    ------
    DefinitionError
        With one issue per fault, each naming the file and the key path: unknown or missing keys, values of the wrong
        kind, NaN, negative weights, weights that do not sum to 1 (within 1e-9), unknown factors, memberships whose
        numbers do not fit.
    InputRefused
        When it is no plain file of TOML, or too large.
    """
    inspect_file(path, "deposit", ("toml",))
    return deposit_model(read_toml(path), path.name)


def deposit_model(content: object, file: str) -> DepositModel:
    """Return plain data as a deposit model; `file` is the name that faults are reported under.

    Raises
    ------
    DefinitionError
        As for `load_deposit_model`.
    """
    faults = list(model_faults(content, file))
    try:
        model = as_definition(content, DepositModel, file)
    except DefinitionError as error:
        named = {fault.place for fault in faults}
        faults += [issue for issue in error.issues if issue.place not in named]
    if faults:
        raise DefinitionError("\n".join(fault.sentence() for fault in faults), tuple(faults))
    return model


@lru_cache(maxsize=1)
def shipped_models() -> tuple[DepositModel, ...]:
    """Return the models that travel with the program, always in the same order."""
    folder = layers_folder() / "models"
    return tuple(load_deposit_model(folder / f"{key}.toml") for key in MODEL_KEYS)
