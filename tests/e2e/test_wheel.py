"""The wheel carries everything: installed outside the checkout it makes and scores the demo ground."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[2]


def _run(words: list[str], **options: object) -> subprocess.CompletedProcess[str]:
    done = subprocess.run(words, capture_output=True, text=True, timeout=600, check=False, **options)  # type: ignore[call-overload]
    assert done.returncode == 0, done.stderr[-2000:]
    return done


@pytest.mark.slow
def test_the_installed_wheel_runs_the_demo(tmp_path: Path) -> None:
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check"]
    _run([*pip, "wheel", "-q", "--no-deps", "--no-build-isolation", "-w", str(tmp_path), str(CHECKOUT)])
    (wheel,) = tmp_path.glob("claywalk-*.whl")
    site = tmp_path / "site"
    _run([*pip, "install", "-q", "--no-deps", "--target", str(site), str(wheel)])
    assert (site / "prospect" / "_layers" / "models" / "residual.toml").is_file()
    start = "import prospect, sys; print(prospect.__file__, file=sys.stderr); from prospect.cli import main; main()"
    done = _run(
        [sys.executable, "-c", start, "demo", str(tmp_path / "ground"), "--no-app", "--json"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(site)},
    )
    assert str(site) in done.stderr.splitlines()[0], "it is the wheel that runs, not the checkout"
    told = json.loads(done.stdout)
    assert len(told["sites"]) == 20
    assert Path(told["map"]).is_file()
