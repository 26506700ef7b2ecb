"""Turns what was noted into measurements: each with its spread, its preparation and the records that it came from."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from prospect.clay.cones import cone_name, nearest_cone
from prospect.clay.feel import clay_from_ribbon, lime_from_fizz
from prospect.clay.firing import (
    absorption,
    boiled_bar,
    linear_shrinkage,
    loss_on_ignition,
    water_of_plasticity,
)
from prospect.clay.plasticity import activity, plasticity_class, plasticity_index
from prospect.clay.preparation import read_preparation
from prospect.clay.settling import jar_shares
from prospect.clay.specimen import Specimen
from prospect.clay.spread import Spread, spread_of
from prospect.clay.texture import texture_class
from prospect.records import Bar, BenchTest

ANY = ""
"""The preparation of what holds for a clay however it is prepared: what was seen at the hole."""


@dataclass(frozen=True, slots=True)
class Measurement:
    """One thing that is known of a clay.

    Attributes
    ----------
    key, title
        Its name in the files and in words.
    value
        A number (the mean of several) or a word.
    unit
        Of the number.
    spread
        Of several readings; None for a word and for what was computed from other measurements.
    preparation
        What the clay went through, as written; '' = it holds however it is prepared.
    cone
        Where it was fired, on record (`06`); empty when not fired or not known.
    sources
        Names of the bars, tests, samples and holes behind it.
    questioned
        Names of those whose reading looks unlike the others; they count all the same.
    error
        How far it may be off, in its own unit; None when not known.
    note
        What else is worth saying.
    """

    key: str
    title: str
    value: float | str
    unit: str = ""
    spread: Spread | None = None
    preparation: str = ANY
    cone: str = ""
    sources: tuple[str, ...] = ()
    questioned: tuple[str, ...] = ()
    error: float | None = None
    note: str = ""

    @property
    def number(self) -> float | None:
        """The value where it is a number."""
        return self.value if isinstance(self.value, float) else None

    def sentence(self) -> str:
        """Return it in words: what, how much, of how many, from what."""
        said = f"{self.value:.3g}" if isinstance(self.value, float) else self.value
        unit = f" {self.unit}" if self.unit else ""
        fired = f" at cone {self.cone}" if self.cone else ""
        many = self.spread
        spread = f" ({many.n} readings, {many.low:.3g} to {many.high:.3g})" if many and many.n > 1 else ""
        doubt = f"; {', '.join(self.questioned)} unlike the others" if self.questioned else ""
        return f"{self.title}{fired}: {said}{unit}{spread}{doubt}"


def measurements_of(specimen: Specimen) -> tuple[Measurement, ...]:
    """Return everything that was measured or noted of a clay; what is not known is not there.

    A bar or test whose figures cannot be (a soaked piece lighter than dry) gives nothing for that measure; see
    `impossible_in` for the word to say.
    """
    return (*_at_the_hole(specimen), *_of_bars(specimen.bars), *_of_tests(specimen.tests))


def impossible_in(specimen: Specimen) -> tuple[str, ...]:
    """Return a sentence for each bar or test whose figures cannot be right."""
    found = []
    for bar in specimen.bars:
        for _, _, _, compute in _BAR_MEASURES:
            try:
                compute(bar)
            except ValueError as error:
                found.append(f"Bar {bar.bar_id}: {error}.")
    for test in specimen.tests:
        try:
            tuple(_of_test(test))
        except ValueError as error:
            found.append(f"Test {test.test_id}: {error}.")
    return tuple(dict.fromkeys(found))


def cone_of(bar: Bar) -> str:
    """Return the cone that a bar was fired to, by its temperature where no cone is noted; empty when not known."""
    named = cone_name(bar.cone) if bar.cone else None
    if named is None and bar.fired_c is not None:
        named = nearest_cone(bar.fired_c)
    return named or ""


def _at_the_hole(specimen: Specimen) -> Iterator[Measurement]:
    layer, sample = specimen.layer, specimen.sample
    where = (specimen.hole.hole_id,) if specimen.hole else ()
    if layer is not None:
        for key, title in (
            ("coil", "Coil round a finger"),
            ("stickiness", "Sticky"),
            ("grit", "Grit between the fingers"),
            ("roots", "Roots"),
            ("texture", "Texture by feel"),
            ("moist_colour", "Colour, moist"),
            ("dry_colour", "Colour, dry"),
            ("fizz", "Fizz"),
        ):
            word = getattr(layer, key)
            if word:
                note = (
                    "with vinegar, which is the weaker evidence"
                    if key == "fizz" and layer.fizz_with == "vinegar"
                    else ""
                )
                yield Measurement(key, title, word, sources=where, note=note)
        if layer.ribbon_cm is not None:
            low, high = clay_from_ribbon(layer.ribbon_cm)
            note = f"goes with {low:g} to {high:g} % clay"
            yield Measurement("ribbon_cm", "Ribbon", float(layer.ribbon_cm), "cm", sources=where, note=note)
        if layer.stones_pct is not None:
            yield Measurement("stones_pct", "Stones", float(layer.stones_pct), "%", sources=where)
        lime = lime_from_fizz(layer.fizz, layer.fizz_with or "acid") if layer.fizz else None
        if lime is not None:
            told = f"{lime[0]:g} to {lime[1]:g} %"
            yield Measurement("lime_range", "Lime, from the fizz", told, sources=where)
    if sample is not None:
        simple = {"fizz": {"weak": "slight"}, "moist_colour": {}}
        for key, title in (("fizz", "Fizz"), ("moist_colour", "Colour, moist")):
            word = sample.fields.get(key, "")
            if word and not (layer is not None and getattr(layer, key)):
                told = simple[key].get(word, word)
                note = "with a drop of vinegar, which is the weaker evidence" if key == "fizz" else ""
                yield Measurement(key, title, told, sources=(sample.sample_id,), note=note)


_BAR_MEASURES: tuple[tuple[str, str, str, Callable[[Bar], float | None]], ...] = (
    (
        "water_pct",
        "Water of plasticity",
        "%",
        lambda bar: _if_known(water_of_plasticity, bar.plastic_g, bar.dry_g),
    ),
    (
        "drying_shrinkage_pct",
        "Drying shrinkage",
        "%",
        lambda bar: _if_known(linear_shrinkage, bar.plastic_mm, bar.dry_mm),
    ),
    (
        "firing_shrinkage_pct",
        "Firing shrinkage",
        "%",
        lambda bar: _if_known(linear_shrinkage, bar.dry_mm, bar.fired_mm),
    ),
    (
        "total_shrinkage_pct",
        "Total shrinkage",
        "%",
        lambda bar: _if_known(linear_shrinkage, bar.plastic_mm, bar.fired_mm),
    ),
    (
        "firing_loss_pct",
        "Loss of weight in firing",
        "%",
        lambda bar: _if_known(loss_on_ignition, bar.dry_g, bar.fired_g),
    ),
    (
        "absorption_pct",
        "Absorption",
        "%",
        lambda bar: _if_known(absorption, bar.fired_g, bar.saturated_g),
    ),
    ("porosity_pct", "Apparent porosity", "%", lambda bar: _boiled(bar, "apparent_porosity_pct")),
    ("density_g_cm3", "Bulk density", "g/cm³", lambda bar: _boiled(bar, "bulk_density_g_cm3")),
)
_FIRED = (
    "firing_shrinkage_pct",
    "total_shrinkage_pct",
    "firing_loss_pct",
    "absorption_pct",
    "porosity_pct",
    "density_g_cm3",
)
_LEAST_STEP = {
    "drying_shrinkage_pct": 0.7,
    "firing_shrinkage_pct": 0.7,
    "total_shrinkage_pct": 0.7,
    "absorption_pct": 0.5,
}
"""What reading a bar to half a millimetre, or wiping it more or less, may do (own judgement)."""


def _of_bars(bars: Iterable[Bar]) -> Iterator[Measurement]:
    groups: dict[tuple[str, str, str], list[tuple[Bar, float]]] = {}
    for key, _, _, compute in _BAR_MEASURES:
        for bar in bars:
            try:
                value = compute(bar)
            except ValueError:
                continue
            if value is not None and math.isfinite(value):
                cone = cone_of(bar) if key in _FIRED else ""
                groups.setdefault((key, bar.preparation, cone), []).append((bar, value))
    titles = {key: (title, unit) for key, title, unit, _ in _BAR_MEASURES}
    for (key, preparation, cone), read in groups.items():
        spread = spread_of([value for _, value in read], _LEAST_STEP.get(key, 0.0))
        names = tuple(bar.bar_id for bar, _ in read)
        yield Measurement(
            key,
            titles[key][0],
            spread.mean,
            titles[key][1],
            spread,
            preparation,
            cone,
            names,
            tuple(names[place] for place in spread.questioned),
            note="" if cone or key not in _FIRED else "the cone is not noted",
        )
    for bar in bars:
        if bar.faults or bar.looked_for_faults:
            for fault in bar.faults or ("none",):
                yield Measurement(
                    "faults",
                    "Faults",
                    fault,
                    preparation=bar.preparation,
                    cone=cone_of(bar),
                    sources=(bar.bar_id,),
                )
        if bar.looked_for_faults and bar.waited_days is not None:
            pops = "few" if "lime pops" in bar.faults else "none"
            yield Measurement(
                "pops",
                "Lime pops",
                pops,
                preparation=bar.preparation,
                cone=cone_of(bar),
                sources=(bar.bar_id,),
                note=f"after {bar.waited_days:g} days",
            )
        if bar.colour:
            yield Measurement(
                "fired_colour",
                "Fired colour",
                bar.colour,
                preparation=bar.preparation,
                cone=cone_of(bar),
                sources=(bar.bar_id,),
                note=f"in {bar.atmosphere}" if bar.atmosphere else "",
            )


def _of_tests(tests: Iterable[BenchTest]) -> Iterator[Measurement]:
    for test in tests:
        try:
            yield from tuple(_of_test(test))
        except ValueError:
            continue


def _of_test(test: BenchTest) -> Iterator[Measurement]:
    value, word = test.values.get, test.words.get

    def found(key: str, title: str, what: float | str, unit: str = "", **more: object) -> Measurement:
        return Measurement(
            key,
            title,
            what,
            unit,
            preparation=test.preparation,
            sources=(test.test_id,),
            **more,  # type: ignore[arg-type]
        )

    liquid, plastic = value("liquid_limit_pct"), value("plastic_limit_pct")
    if liquid is not None:
        yield found("liquid_limit_pct", "Liquid limit", liquid, "%")
    if plastic is not None:
        yield found("plastic_limit_pct", "Plastic limit", plastic, "%")
    if liquid is not None and plastic is not None:
        index = plasticity_index(liquid, plastic)
        yield found("plasticity_index_pct", "Plasticity index", index, "%")
        group = plasticity_class(liquid, plastic, value("dried_liquid_limit_pct"))
        yield found("soil_class", "Class of fine soil", group)
    sand, silt, clay = value("sand_pct"), value("silt_pct"), value("clay_pct")
    if sand is not None and silt is not None and clay is not None:
        yield found("texture_class", "Texture class", texture_class(sand, silt, clay))
    for key, title, share in (
        ("sand_pct", "Sand", sand),
        ("silt_pct", "Silt", silt),
        ("clay_pct", "Clay", clay),
    ):
        if share is not None:
            yield found(key, title, share, "%")
    if liquid is not None and plastic is not None and clay:
        yield found("activity", "Activity", activity(plasticity_index(liquid, plastic), clay))
    layers = value("sand_mm"), value("sand_and_silt_mm"), value("all_mm")
    if all(layer is not None for layer in layers):
        shares = jar_shares(*(float(layer) for layer in layers if layer is not None))
        note = "" if word("cleared") != "within minutes" else "flocculated: do it again with more dispersant"
        for key, title, share in (
            ("sand_pct", "Sand", shares.sand_pct),
            ("silt_pct", "Silt", shares.silt_pct),
            ("clay_pct", "Clay", shares.clay_pct),
        ):
            yield found(key, f"{title}, by the jar", share, "%", error=shares.error_pct, note=note)
    kept, dry = value("kept_g"), value("dry_g")
    if test.kind == "sieve" and kept is not None and dry:
        if kept > dry:
            raise ValueError(f"more stayed on the screen than was weighed, {kept:g} g of {dry:g} g")
        note = f"on {value('mesh'):g} mesh" if value("mesh") else ""
        yield found("coarse_pct", "Stayed on the screen", 100 * kept / dry, "%", note=note)
    if test.kind == "water" and value("plastic_g") is not None and dry:
        yield found(
            "water_pct", "Water of plasticity", water_of_plasticity(value("plastic_g") or 0.0, dry), "%"
        )
    dried, fired = value("dried_g"), value("fired_g")
    if dried and fired:
        yield found("loss_on_ignition_pct", "Loss on ignition", loss_on_ignition(dried, fired), "%")
    for key, title, unit in (
        ("slaked_min", "Slaked after", "min"),
        ("fe2o3_pct", "Iron oxide", "%"),
        ("cao_pct", "Lime (CaO)", "%"),
        ("lead_mg_kg", "Lead", "mg/kg"),
        ("arsenic_mg_kg", "Arsenic", "mg/kg"),
    ):
        number = value(key)
        if number is not None:
            yield found(key, title, number, unit)
    for key, title in (
        ("slaked_to", "Slaked to"),
        ("dry_strength", "Dry strength"),
        ("throws", "On the wheel"),
        ("handle", "A pulled handle"),
        ("drying", "While drying"),
        ("white_line", "White line of salts"),
        ("pops", "Lime pops"),
        ("came_out", "First firing came out"),
    ):
        said = word(key)
        if said:
            fired_at = cone_name(word("cone") or "") or ""
            days = value("days")
            note = f"after {days:g} days" if days is not None else ""
            yield found(key, title, said, cone=fired_at if key == "came_out" else "", note=note)


def preparations_in(measurements: Iterable[Measurement]) -> tuple[str, ...]:
    """Return the preparations that something was measured of, raw first."""
    found = dict.fromkeys(item.preparation for item in measurements if item.preparation != ANY)
    return tuple(sorted(found, key=lambda text: read_preparation(text).kind != "raw"))


def _if_known(
    compute: Callable[[float, float], float], one: float | None, other: float | None
) -> float | None:
    return None if one is None or other is None else compute(one, other)


def _boiled(bar: Bar, what: str) -> float | None:
    if bar.fired_g is None or bar.suspended_g is None or bar.saturated_g is None:
        return None
    return float(getattr(boiled_bar(bar.fired_g, bar.suspended_g, bar.saturated_g), what))
