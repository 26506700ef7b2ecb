"""Good files with bytes changed at random (seeded): whatever comes of it, it is read or refused, nothing else."""

import os

import numpy as np
import pytest

ROUNDS = int(os.environ.get("CLAYWALK_MUTATIONS", "25"))
CASES = [
    ("elevation", "tif"),
    ("geology", "gpkg"),
    ("geology", "shp"),
    ("geology", "geojson"),
    ("geology", "zip"),
    ("samples", "csv"),
    ("samples", "gpx"),
]


def mutate(data: bytes, random: np.random.Generator) -> bytes:
    changed = bytearray(data)
    for _ in range(int(random.integers(1, 12))):
        place = int(random.integers(0, len(changed)))
        choice = int(random.integers(0, 4))
        if choice == 0:
            changed[place] = int(random.integers(0, 256))
        elif choice == 1:
            changed[place] ^= 1 << int(random.integers(0, 8))
        elif choice == 2:
            del changed[place : place + int(random.integers(1, 40))]
        else:
            changed[place:place] = random.bytes(int(random.integers(1, 20)))
        if not changed:
            return b"\0"
    return bytes(changed)


@pytest.mark.parametrize(("kind", "form"), CASES)
@pytest.mark.filterwarnings("ignore")
def test_mutations(control, outcome, kind, form):
    path = control(form)
    good = path.read_bytes()
    random = np.random.default_rng(20260531)
    for _ in range(ROUNDS):
        path.write_bytes(mutate(good, random))
        outcome(kind, path)
