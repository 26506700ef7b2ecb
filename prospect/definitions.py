"""Reads a TOML file into a frozen dataclass; reports all its faults at once, with their path in the file."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import TypeVar

from pydantic import ConfigDict, TypeAdapter, ValidationError

from prospect.errors import DefinitionError
from prospect.issues import Issue

Definition = TypeVar("Definition")

STRICT = ConfigDict(extra="forbid", allow_inf_nan=False, arbitrary_types_allowed=False)
"""Configuration for `pydantic.dataclasses.dataclass`: unknown keys and NaN are faults."""

_LINE = re.compile(r"\(at line (\d+), column (\d+)\)")

_DOTTED = re.compile(r"(?:\.[ \t]*[\w\"'-]+[ \t]*){48,}")
MOST_TABLES = 5_000
MOST_BYTES = 2_000_000
_LONGEST_PATH = 160

OWN_JUDGEMENT = "own judgement"
"""What a number without an outside source says of itself."""


def layers_folder() -> Path:
    """Return the folder of the data that travels with the program, in a checkout and in a wheel alike."""
    return _travelling("layers")


def demo_folder() -> Path:
    """Return the folder of the demo ground's maker, in a checkout and in a wheel alike."""
    return _travelling("demo")


def read_toml(path: Path) -> dict[str, object]:
    """Return the content of a TOML file.

    Raises
    ------
    DefinitionError
        When the file cannot be read, is not UTF-8 or is not TOML; the message has the line.
    """
    place, text = "", ""
    try:
        _refuse_no_file(path)
        text = path.read_bytes().decode("utf-8-sig")
        place, found = _beyond_bounds(text)
        if not found:
            return tomllib.loads(text)
    except OSError as error:
        found = error.strerror or "cannot be read"
    except UnicodeDecodeError as error:
        place, found = f"byte {error.start + 1}", "bytes that are no UTF-8"
    except RecursionError:
        found = "tables or lists inside each other without end"
    except ValueError as error:
        # The library lets a number of thousands of figures through to Python, which refuses it.
        where = _LINE.search(str(error))
        place = f"line {where[1]}, column {where[2]}" if where else ""
        if "(at end of document)" in str(error):
            place = f"line {text.count(chr(10)) + 1}"
        found = _LINE.sub("", str(error)).replace("(at end of document)", "").strip()[:200]
    expected, action = "a readable TOML file in UTF-8", "Mend the file and try again."
    problem = Issue("error", path.name, place, "", found, expected, action)
    raise DefinitionError(problem.sentence(), (problem,))


def read_definition(path: Path, kind: type[Definition]) -> Definition:
    """Return the file's content as `kind`, a `pydantic` dataclass made with `STRICT`.

    Raises
    ------
    DefinitionError
        With one issue for every fault, each naming its key path (`criteria[2].weight`).
    """
    return as_definition(read_toml(path), kind, path.name)


def as_definition(content: object, kind: type[Definition], file: str) -> Definition:
    """Return plain data as `kind`; `file` is the name that faults are reported under."""
    try:
        return TypeAdapter(kind).validate_python(content)
    except ValidationError as error:
        issues = tuple(
            Issue(
                "error",
                file,
                _key_path(fault["loc"]),
                "",
                _found(fault["input"]),
                _lower_first(fault["msg"]),
                "Mend the key and try again.",
            )
            for fault in error.errors(include_url=False, include_context=False)
        )
        raise DefinitionError("\n".join(issue.sentence() for issue in issues), issues) from None


def _refuse_no_file(path: Path) -> None:
    """Raise for what would never end, such as a pipe, and for what is far too large."""
    if path.exists() and not path.is_file():
        raise OSError(0, "no plain file")
    if path.exists() and path.stat().st_size > MOST_BYTES:
        raise OSError(0, f"more than {MOST_BYTES / 1e6:.0f} MB")


def _beyond_bounds(text: str) -> tuple[str, str]:
    """Return the place and what is there, of keys and tables that the TOML reader would work on without end."""
    dotted = _DOTTED.search(text)
    if dotted:
        return f"line {text.count(chr(10), 0, dotted.start()) + 1}", "a key of very many parts"
    place = -1
    for _ in range(MOST_TABLES):
        place = text.find("[[", place + 1)
        if place < 0:
            return "", ""
    return f"line {text.count(chr(10), 0, place) + 1}", f"more than {MOST_TABLES:,} tables"


def shown(value: object, most: int = 80) -> str:
    """Return a value of a definition file as text for a message, of bounded length whatever it is."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, (list, tuple)):
        flat = all(isinstance(item, (str, int, float, bool)) for item in value)
        return ", ".join(shown(item) for item in value[:20])[:most] if flat else "a list"
    if isinstance(value, int) and abs(value) >= 10**most:
        return f"a number of more than {most} figures"
    return str(value)[:most]


def _travelling(name: str) -> Path:
    inside = Path(__file__).parent / f"_{name}"
    return inside if inside.is_dir() else Path(__file__).parent.parent / name


def _key_path(parts: tuple[int | str, ...]) -> str:
    path = ""
    for part in parts:
        path += f"[{part}]" if isinstance(part, int) else f".{part}" if path else str(part)
    return path if len(path) <= _LONGEST_PATH else f"{path[: _LONGEST_PATH - 40]}…{path[-39:]}"


def _found(value: object) -> str:
    return "" if isinstance(value, (dict, list)) else shown(value)


def _lower_first(text: str) -> str:
    return text[:1].lower() + text[1:]
