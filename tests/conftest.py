"""What every test shares: where the open data lies, and a fresh folder for the records."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest


def _open_data_folder() -> Path:
    given = os.environ.get("CLAYWALK_REAL_DATA")
    return Path(given) if given else Path(__file__).resolve().parents[2] / "shared" / "real"


@pytest.fixture(scope="session")
def real_data() -> Callable[[str], Path]:
    """Return a function from a name to a path inside the folder of real open data; skips when it is not here."""

    def find(name: str) -> Path:
        path = _open_data_folder() / name
        if not path.exists():
            pytest.skip(f"open data '{name}' is not on this machine (set CLAYWALK_REAL_DATA)")
        return path

    return find
