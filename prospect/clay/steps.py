"""The order of work, as `layers/clay/steps.toml` gives it, and which step of it comes next for a clay."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache

from pydantic.dataclasses import dataclass

from prospect.clay.specimen import Specimen
from prospect.clay.vocabulary import test_kind
from prospect.definitions import STRICT, layers_folder, read_definition


@dataclass(config=STRICT, frozen=True)
class Step:
    """One step of the order of work.

    Attributes
    ----------
    key, title
        Its name in the files and in words.
    why
        What it tells.
    how
        How it is done, a sentence each.
    cautions
        What to look out for at this step.
    """

    key: str
    why: str
    title: str = ""
    how: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(config=STRICT, frozen=True)
class _Steps:
    reference: str
    steps: tuple[Step, ...]


@lru_cache(maxsize=1)
def order_of_work() -> tuple[Step, ...]:
    """Return the steps from the hole to the last look, each with its title, way and cautions."""
    given = read_definition(layers_folder() / "clay" / "steps.toml", _Steps).steps
    kinds = {step.key: test_kind(step.key) for step in given}
    return tuple(
        step if (kind := kinds[step.key]) is None
        else replace(step, title=kind.title, how=kind.how, cautions=kind.cautions)
        for step in given
    )  # fmt: skip


def next_step(specimen: Specimen) -> Step | None:
    """Return the first step of the order of work that was not done yet; None when all of them were."""
    done = _done(specimen)
    return next((step for step in order_of_work() if not done[step.key]), None)


def _done(specimen: Specimen) -> Mapping[str, bool]:
    tests = {test.kind for test in specimen.tests}
    layer = specimen.layer
    fired = [bar for bar in specimen.bars if bar.cone or bar.fired_c is not None]
    return {
        # Without a layer on record there is nothing to go back to.
        "hole": layer is None or bool(layer.coil and layer.fizz),
        "slaking": "slaking" in tests,
        "bars": any(bar.plastic_mm is not None and bar.dry_mm is not None for bar in specimen.bars),
        "forming": "forming" in tests,
        "first firing": "first firing" in tests or bool(fired),
        "boiling": any(bar.saturated_g is not None for bar in fired),
        "hotter": len({bar.cone or bar.fired_c for bar in fired}) >= 2,
        "lime wait": "lime wait" in tests or any(bar.waited_days is not None for bar in fired),
    }
