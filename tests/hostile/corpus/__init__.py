"""The hostile and unlucky inputs, one module for each sort; every one says what must happen to it."""

from corpus import names, shapes, tables, waypoints
from corpus.case import Case

CASES: list[Case] = [*names.CASES, *shapes.CASES, *tables.CASES, *waypoints.CASES]
