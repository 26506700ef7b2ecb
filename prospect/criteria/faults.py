"""What can be wrong in a deposit-model file beyond its shape: every fault with its key path."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from prospect.criteria.factors import factor_list
from prospect.definitions import shown
from prospect.issues import Issue

SUM_TOLERANCE = 1e-9
DEEPEST = 8

_NEEDS: dict[str, tuple[str, ...]] = {
    "up": ("a", "b"),
    "down": ("a", "b"),
    "trapezoid": ("a", "b", "c", "d"),
    "large": ("midpoint", "spread"),
    "small": ("midpoint", "spread"),
    "piecewise_linear": ("points",),
    "steps": ("points",),
    "classes": ("values",),
    "phrases": ("values",),
    "identity": (),
}
_ALLOWS: dict[str, tuple[str, ...]] = {
    "piecewise_linear": ("scale",),
    "classes": ("several", "nothing_found"),
    "phrases": ("several", "nothing_found"),
}

Fault = tuple[str, str, str]
"""Key path, what was found, what was expected."""


def model_faults(content: object, file: str) -> tuple[Issue, ...]:
    """Return what is wrong with the content of a deposit-model file, as far as plain data can tell.

    Parameters
    ----------
    content
        What the TOML reader gave; of any shape (wrong shapes are the business of the definition itself).
    file
        Name that the issues carry.

    Returns
    -------
    tuple of Issue
        Weights that do not sum to 1, unknown factors, leaves without a membership or a reference, memberships
        whose numbers are missing, superfluous or out of order, keys used twice.
    """
    if not isinstance(content, dict):
        return ()
    return tuple(
        Issue("error", file, path, "", found, expected, "Mend the key and try again.")
        for path, found, expected in _model(content)
    )


def _model(content: dict[str, object]) -> Iterator[Fault]:
    criteria = _tables(content.get("criteria"))
    yield from _weights(criteria, "criteria")
    yield from _repeated(criteria, "criteria")
    for place, criterion in enumerate(criteria):
        yield from _criterion(criterion, f"criteria[{place}]", 0)
    for name in ("gates", "bonuses", "defining", "cautions"):
        for place, rule in enumerate(_tables(content.get(name))):
            yield from _conditions(rule, f"{name}[{place}]")
    yield from _defining(content, criteria)


def _defining(content: dict[str, object], criteria: list[dict[str, object]]) -> Iterator[Fault]:
    keys = {str(criterion.get("key")) for criterion in criteria}
    named = content.get("defining_criteria")
    for place, key in enumerate(named if isinstance(named, list) else []):
        if str(key) not in keys:
            yield f"defining_criteria[{place}]", str(key), "the key of a criterion of this model"


def _criterion(node: dict[str, object], path: str, depth: int) -> Iterator[Fault]:
    if depth > DEEPEST:
        yield path, "", f"at most {DEEPEST} levels of parts"
        return
    yield from _beyond(node.get("beyond"), f"{path}.beyond")
    for place, change in enumerate(_tables(node.get("adjust"))):
        yield from _conditions(change, f"{path}.adjust[{place}]")
        if change.get("at_least") is None and change.get("at_most") is None:
            yield f"{path}.adjust[{place}]", "", "at_least or at_most"
    parts = _tables(node.get("parts"))
    if not parts:
        yield from _leaf(node, path)
        return
    for name in ("factor", "otherwise", "membership", "beyond"):
        if node.get(name):
            yield f"{path}.{name}", shown(node[name]), "parts or a factor, not both"
    how = node.get("combine")
    if how is None:
        yield f"{path}.combine", "", "a way to combine the parts"
    if how == "weighted":
        yield from _weights(parts, f"{path}.parts")
    yield from _repeated(parts, f"{path}.parts")
    for place, part in enumerate(parts):
        yield from _criterion(part, f"{path}.parts[{place}]", depth + 1)


def _leaf(node: dict[str, object], path: str) -> Iterator[Fault]:
    if not node.get("factor"):
        yield f"{path}.factor", "", "a factor, or parts"
    if not node.get("reference"):
        yield f"{path}.reference", "", "where the numbers come from, or 'own judgement'"
    if node.get("combine") is not None:
        yield f"{path}.combine", shown(node["combine"]), "parts to combine"
    for name in ("factor", "otherwise"):
        yield from _factor(node.get(name), f"{path}.{name}")
    membership = node.get("membership")
    if membership is None:
        yield f"{path}.membership", "", "a membership for the factor"
    elif isinstance(membership, dict):
        yield from membership_faults(membership, f"{path}.membership")
        for name in ("factor", "otherwise"):
            yield from _fits(node.get(name), membership, f"{path}.{name}")


def _fits(name: object, membership: dict[str, object], path: str) -> Iterator[Fault]:
    spec = factor_list().get(str(name)) if name else None
    if spec is None:
        return
    reads_words = membership.get("kind") in ("classes", "phrases")
    if spec.holds in ("words", "class") and not reads_words:
        yield path, str(name), "a factor that holds numbers for this kind of membership"
    if spec.holds in ("number", "yes_no") and reads_words:
        yield path, str(name), "a factor that holds words for this kind of membership"


def membership_faults(membership: dict[str, object], path: str) -> Iterator[Fault]:
    """Yield what is wrong with the numbers of one membership."""
    kind = str(membership.get("kind"))
    if kind not in _NEEDS:
        return
    for name in _NEEDS[kind]:
        if membership.get(name) in (None, [], {}):
            yield f"{path}.{name}", "", f"a value, needed by '{kind}'"
    for name in set(membership) - {"kind", *_NEEDS[kind], *_ALLOWS.get(kind, ())}:
        if any(name in needs for needs in (*_NEEDS.values(), *_ALLOWS.values())):
            yield f"{path}.{name}", shown(membership[name]), f"no such key with '{kind}'"
    yield from _order(membership, path, kind)
    values = membership.get("values")
    for word in values if isinstance(values, dict) else ():
        if word != word.lower().strip():
            yield f"{path}.values", word, "words in lower case"


def _order(membership: dict[str, object], path: str, kind: str) -> Iterator[Fault]:
    points = membership.get("points")
    nodes = (
        [point[0] for point in points if isinstance(point, (list, tuple)) and point]
        if isinstance(points, (list, tuple))
        else []
    )
    if not all(_is_number(node) for node in nodes):
        return
    if kind == "piecewise_linear" and len(nodes) == 1:
        yield f"{path}.points", shown(points), "at least two points"
    if any(later <= earlier for earlier, later in itertools.pairwise(nodes)):
        yield f"{path}.points", shown(nodes), "values in ascending order"
    if membership.get("scale") == "log10" and any(node <= 0 for node in nodes):
        yield f"{path}.points", shown(nodes), "values above 0 on a log10 scale"
    ends = [membership.get(name) for name in ("a", "b", "c", "d") if membership.get(name) is not None]
    if all(_is_number(end) for end in ends):
        least = itertools.pairwise(ends)
        if any(later <= earlier for earlier, later in least):  # type: ignore[operator]
            yield f"{path}.a", shown(ends), "a, b, c, d in ascending order"
    for name in ("midpoint", "spread"):
        value = membership.get(name)
        if _is_number(value) and value <= 0:  # type: ignore[operator]
            yield f"{path}.{name}", shown(value), "a number above 0"


def _weights(nodes: list[dict[str, object]], path: str) -> Iterator[Fault]:
    stated = [node.get("weight") for node in nodes]
    for place, weight in enumerate(stated):
        if weight is None:
            yield f"{path}[{place}].weight", "", "a weight; those of one level sum to 1"
        elif not _is_number(weight):
            yield f"{path}[{place}].weight", shown(weight), "a number"
    numbers = [float(weight) for weight in stated if _is_number(weight)]  # type: ignore[arg-type]
    total = math.fsum(numbers)
    whole = len(numbers) == len(nodes) and all(math.isfinite(weight) for weight in numbers)
    if nodes and whole and abs(total - 1) > SUM_TOLERANCE:
        yield f"{path}[].weight", f"{total:.10g}", "weights that sum to 1"


def _repeated(nodes: list[dict[str, object]], path: str) -> Iterator[Fault]:
    seen: set[object] = set()
    for place, node in enumerate(nodes):
        key = str(node.get("key"))
        if key in seen:
            yield f"{path}[{place}].key", key, "a key that is not used twice"
        seen.add(key)


def _conditions(rule: dict[str, object], path: str) -> Iterator[Fault]:
    for place, test in enumerate(_tables(rule.get("conditions"))):
        here = f"{path}.conditions[{place}]"
        yield from _factor(test.get("factor"), f"{here}.factor")
        spec = factor_list().get(str(test.get("factor")))
        bounds = [name for name in ("at_least", "at_most", "above", "below") if test.get(name) is not None]
        words = [name for name in ("words", "without") if test.get(name)]
        if spec is not None and spec.holds in ("words", "class") and bounds:
            yield f"{here}.{bounds[0]}", shown(test[bounds[0]]), "words to look for in this factor"
        if spec is not None and spec.holds in ("number", "yes_no") and words:
            yield f"{here}.{words[0]}", shown(test[words[0]]), "bounds for a factor that holds numbers"


def _beyond(beyond: object, path: str) -> Iterator[Fault]:
    if not isinstance(beyond, dict):
        return
    name = beyond.get("factor")
    spec = factor_list().get(str(name))
    if spec is None or not spec.constant:
        yield f"{path}.factor", shown(name), "a factor that is one number for the whole ground"


def _factor(name: object, path: str) -> Iterator[Fault]:
    if name and str(name) not in factor_list():
        yield path, shown(name), "a factor from the list of factors"


def _tables(value: object) -> list[dict[str, object]]:
    return [item for item in value if isinstance(item, dict)] if isinstance(value, (list, tuple)) else []


def _is_number(value: object) -> bool:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    return isinstance(value, float) or abs(value) < 10**18
