"""The pictures of one clay: triangle, plasticity chart and firing curve, where there is something to show."""

from __future__ import annotations

from typing import Literal, cast

from prospect.charts.drawing import Drawing
from prospect.charts.firing import firing_curve
from prospect.charts.plasticity import LimitsPoint, plasticity_chart
from prospect.charts.texture import TexturePoint, texture_triangle
from prospect.clay import ClayReport
from prospect.clay.firing_curve import maturing_range
from prospect.clay.measuring import Measurement
from prospect.clay.report import PreparationReport
from prospect.clay.verdict import holding_for


def clay_pictures(report: ClayReport, chosen: PreparationReport, units: str) -> list[tuple[str, Drawing]]:
    """Return title and drawing of the pictures of one preparation of a clay that have something to show.

    Parameters
    ----------
    report
        Of the clay.
    chosen
        The preparation; its first verdict says which absorption is wanted.
    units
        `metric` or `us`.
    """
    known = holding_for(report.measurements, chosen.preparation)
    use = chosen.verdicts[0].use
    drawings: list[tuple[str, Drawing]] = []
    if texture := _shares(report.name, known):
        drawings.append(("Sand, silt and clay", texture_triangle(texture)))
    if limits := _limits(report.name, known):
        drawings.append(("How plastic", plasticity_chart(limits)))
    if any(step.absorption_pct or step.total_shrinkage_pct for step in chosen.steps):
        wanted = (use.absorption_pct[0], use.absorption_pct[1]) if use.absorption_pct else None
        within = (use.cones[0], use.cones[-1]) if use.cones else None
        mature = maturing_range(chosen.steps, wanted, within) if wanted else None
        system = cast("Literal['metric', 'us']", units)
        curve = firing_curve(chosen.steps, wanted=wanted, mature=mature, units=system)
        drawings.append((f"From cone to cone, for {use.title}", curve))
    return drawings


def _shares(name: str, known: tuple[Measurement, ...]) -> list[TexturePoint]:
    by_test: dict[tuple[str, ...], dict[str, Measurement]] = {}
    for item in known:
        if item.key in ("sand_pct", "clay_pct"):
            by_test.setdefault(item.sources, {})[item.key] = item
    return [
        TexturePoint(
            name,
            found["sand_pct"].number or 0.0,
            found["clay_pct"].number or 0.0,
            found["clay_pct"].error or 0.0,
        )
        for found in by_test.values()
        if len(found) == 2
    ]


def _limits(name: str, known: tuple[Measurement, ...]) -> list[LimitsPoint]:
    by_test: dict[tuple[str, ...], dict[str, float]] = {}
    for item in known:
        if item.key in ("liquid_limit_pct", "plastic_limit_pct") and item.number is not None:
            by_test.setdefault(item.sources, {})[item.key] = item.number
    return [
        LimitsPoint(name, found["liquid_limit_pct"], found["plastic_limit_pct"])
        for found in by_test.values()
        if len(found) == 2 and found["plastic_limit_pct"] <= found["liquid_limit_pct"]
    ]
