"""Nobody but the store opens the records: other readers get a snapshot."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import prospect
from prospect.records import GroundSettings
from prospect.store import Ground

PACKAGE = Path(prospect.__file__).parent

WATCH = """
import json, sys
from pathlib import Path
seen = []
def watch(event, given):
    if event == "open" and str(given[0]).endswith("records.gpkg"):
        frame = sys._getframe(1)
        names = []
        while frame is not None:
            names.append(frame.f_code.co_name)
            frame = frame.f_back
        seen.append(names)
sys.addaudithook(watch)
from prospect.cli import run
for command in (["show"], ["doctor"], ["add", "geology", sys.argv[2]], ["score"]):
    run([command[0], sys.argv[1], *command[1:]])
print("SEEN", json.dumps(seen))
"""


def test_other_rooms_only_ask_whether_and_when_the_file_is() -> None:
    """A read and close drops the locks of this process ("How To Corrupt An SQLite Database File", 2.2)."""
    for path in PACKAGE.rglob("*.py"):
        if path.is_relative_to(PACKAGE / "store"):
            continue
        text = path.read_text(encoding="utf-8")
        assert ".records_path" not in text, path
        for match in re.finditer(r'"records\.gpkg"', text):
            after = text[match.start() :].split("\n\n")[0]
            assert "stat()" in after, path
            assert not re.search(r"open\(|read|copy|sqlite", after), path


def test_the_command_opens_the_file_only_to_look_at_its_header(
    tmp_path: Path, small_files: dict[str, Path]
) -> None:
    ground = Ground.create(tmp_path / "ground", GroundSettings(crs="EPSG:32709", cell_m=20.0))
    done = subprocess.run(
        [sys.executable, "-c", WATCH, str(ground.folder), str(small_files["geology"])],
        capture_output=True,
        text=True,
        timeout=300,
    )
    line = next(line for line in done.stdout.splitlines() if line.startswith("SEEN "))
    seen = json.loads(line.removeprefix("SEEN "))
    assert seen
    assert all("read_header" in names for names in seen)
