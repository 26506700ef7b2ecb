"""Good files of every form, changed at random: whatever comes of it, it is read or refused, nothing else.

`CLAYWALK_MUTATIONS` says how many files in all (500 where nothing is said), `CLAYWALK_MUTATION_SEED` which ones.
"""

from __future__ import annotations

import os
import tempfile
import zlib
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from controls import FORMS, make_control
from mutate import mutated, scattered
from reading_as import TODAY, check_log, read_as
from watch import watched

from prospect.sources.reading import Wording

MUTATIONS = int(os.environ.get("CLAYWALK_MUTATIONS", "500"))
SEED = int(os.environ.get("CLAYWALK_MUTATION_SEED", "20260531"))
ROUNDS = -(-MUTATIONS // len(FORMS))
PARTS = (".shp", ".shx", ".dbf", ".prj", ".cpg")


@pytest.fixture(scope="module")
def verdicts(figures: dict[str, str]):
    counted: Counter[str] = Counter()
    yield counted
    shown = ", ".join(f"{count} {verdict}" for verdict, count in sorted(counted.items()))
    figures["mutated files"] = f"{sum(counted.values())} (seed {SEED}): {shown}"


@pytest.mark.slow
@pytest.mark.parametrize("form", FORMS)
def test_mutations(form: str, tmp_path: Path, verdicts: Counter[str], monkeypatch):
    folder = tmp_path / "given"
    folder.mkdir()
    (tmp_path / "temporary").mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "temporary"))
    path = make_control(form, folder)
    map_path = make_control("gpkg", folder) if form == "legend.csv" else path
    good = {part: part.read_bytes() for part in _parts(path)}
    random = np.random.default_rng([SEED, zlib.crc32(form.encode())])
    for number in range(ROUNDS):
        part = list(good)[int(random.integers(0, len(good)))]
        whole = good[part]
        changed = scattered(whole, random) if len(good) > 1 else mutated(whole, form, random)
        part.write_bytes(changed)
        wording = Wording(legend=path if form == "legend.csv" else None, today=TODAY)
        try:
            with watched(tmp_path) as seen:
                log, message = read_as(FORMS[form], map_path, wording)
            check_log(log, message, map_path)
            assert not seen.asked
            assert not seen.started
            assert not seen.written
            assert not seen.left
        except BaseException:
            kept = Path(os.environ.get("CLAYWALK_MUTATION_KEEP", tmp_path)) / f"{number}.{form}{part.suffix}"
            kept.write_bytes(changed)
            print(f"seed {SEED}, form {form}, round {number}, kept as {kept}")
            raise
        verdicts[log.verdict] += 1
        part.write_bytes(whole)


def _parts(path: Path) -> list[Path]:
    if path.suffix != ".shp":
        return [path]
    return [path.with_suffix(suffix) for suffix in PARTS if path.with_suffix(suffix).exists()]
