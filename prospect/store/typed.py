"""Takes rows for what they say they are: a value that another program left in a wrong type is named, not passed on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from prospect.errors import GroundError

Kind = TypeVar("Kind")
_ADAPTERS: dict[Any, TypeAdapter[Any]] = {}


def typed(kind: type[Kind], values: Mapping[str, Any], what: str) -> Kind:
    """Return a dataclass of these values.

    Parameters
    ----------
    kind
        The dataclass.
    values
        Its fields as they are on record.
    what
        What they belong to, for the message.

    Raises
    ------
    GroundError
        When a value is not what the field holds.
    """
    try:
        if kind not in _ADAPTERS:
            _ADAPTERS[kind] = TypeAdapter(kind)
        made: Kind = _ADAPTERS[kind].validate_python(dict(values))
    except ValidationError as error:
        fault = error.errors()[0]
        field = ".".join(str(part) for part in fault["loc"]) or "a field"
        raise GroundError(
            f"Another program left {what} with {field} = {str(fault['input'])[:60]!r}, which it cannot be. Mend it "
            "there, or bring a backup back with: claywalk doctor DIR --back-to BACKUP"
        ) from error
    return made
