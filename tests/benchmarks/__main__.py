"""Run every benchmark one after the other, each in a process of its own.

Run ``python tests/benchmarks [all]``; with `all`, what takes minutes and much memory (64 million cells) as well.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
LARGE = {"bench_surface.py": ["1000", "4000", "8000"], "bench_water.py": ["1000", "4000", "8000"]}
ONLY_LARGE = ("bench_scores.py", "bench_tiles.py")


def main(everything: bool) -> int:
    """Run them and return 1 when one failed."""
    failed = 0
    for path in sorted(HERE.glob("bench_*.py")):
        if path.name in ONLY_LARGE and not everything:
            continue
        print(f"== {path.name}", flush=True)
        sizes = LARGE.get(path.name, []) if everything else []
        failed |= subprocess.run([sys.executable, str(path), *sizes], check=False).returncode != 0
    return int(failed)


if __name__ == "__main__":
    sys.exit(main("all" in sys.argv[1:]))
