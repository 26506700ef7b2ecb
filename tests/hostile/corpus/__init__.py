"""The hostile and unlucky inputs, one module for each sort; every one says what must happen to it."""

from corpus import (
    archives,
    definitions,
    geopackages,
    logs,
    names,
    photos,
    pretenders,
    rasters,
    shapes,
    soils,
    tables,
    waypoints,
)
from corpus.case import Case

CASES: list[Case] = [
    *archives.CASES,
    *definitions.CASES,
    *geopackages.CASES,
    *logs.CASES,
    *names.CASES,
    *photos.CASES,
    *pretenders.CASES,
    *rasters.CASES,
    *shapes.CASES,
    *soils.CASES,
    *tables.CASES,
    *waypoints.CASES,
]
