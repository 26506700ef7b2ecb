"""A program like the app with several sessions: threads that read, copy, look through and save, for some seconds.

It listens to every file that is opened by Python, and to every path that is given to the libraries which bring an
SQLite of their own: none may be the records' ("How To Corrupt An SQLite Database File", 2.2).
"""

from __future__ import annotations

import functools
import json
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import pyogrio
import rasterio
from mixed_writer import act
from side_by_side_writer import after, nothing, own_actions

from prospect.store import Ground

_TOLD = ("audit", "changed outside")


class Opens:
    """Counts who opens the records otherwise than by `sqlite3`."""

    def __init__(self, records: Path) -> None:
        self.records = records.resolve()
        self.looks = 0
        self.direct: list[str] = []
        sys.addaudithook(self.heard)
        for library, names in (
            (pyogrio, ("read_dataframe", "read_info", "list_layers", "write_dataframe", "open_arrow")),
            (gpd, ("read_file",)),
            (rasterio, ("open",)),
        ):
            for name in names:
                setattr(library, name, self.listened(getattr(library, name)))

    def heard(self, event: str, given: tuple[Any, ...]) -> None:
        if event == "open" and isinstance(given[0], (str, Path)) and Path(given[0]) == self.records:
            frame = sys._getframe(1)
            names = []
            while frame is not None:
                names.append(frame.f_code.co_name)
                frame = frame.f_back  # type: ignore[assignment]
            if "read_header" in names:
                self.looks += 1
            else:
                self.direct.append(names[0])

    def listened(self, real: Callable[..., Any]) -> Callable[..., Any]:
        @functools.wraps(real)
        def listening(*given: Any, **named: Any) -> Any:
            if any(Path(str(item)) == self.records for item in (*given, *named.values())):
                self.direct.append(real.__name__)
            return real(*given, **named)

        return listening


class Session:
    """What the threads of an app do, until the time is over."""

    def __init__(self, folder: Path, seconds: float) -> None:
        self.folder = folder
        self.end = time.monotonic() + seconds
        self.faults: list[str] = []
        self.counts: Counter[str] = Counter()
        self.saved = nothing("app")

    def run(self) -> None:
        actions = own_actions("app", 5)
        ground = Ground.open(self.folder)
        work: dict[str, Callable[[int], None]] = {
            "save": lambda _: self._save(ground, next(actions)),
            "read": lambda _: self._read(Ground.open(self.folder)),
            "list": lambda _: self._list(ground),
            "copy": lambda number: self._copy(ground, number),
            "back up": lambda _: self._back_up(ground),
            "check up": lambda _: self._check_up(ground),
        }
        pauses = {"back up": 0.7, "check up": 0.1, "copy": 0.1}
        threads = [
            threading.Thread(target=self._until_the_end, args=(name, do, pauses.get(name, 0.01)))
            for name, do in (*work.items(), ("read", work["read"]))
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(300)

    def _until_the_end(self, name: str, work: Callable[[int], None], pause_s: float) -> None:
        number = 0
        try:
            while time.monotonic() < self.end:
                work(number)
                number += 1
                self.counts[name] += 1
                time.sleep(pause_s)
        except BaseException as fault:
            self.faults.append(f"{name}: {fault!r}")

    def _save(self, ground: Ground, action: dict[str, Any]) -> None:
        act(ground, action, self.folder.parent / "papers of the app")
        after(self.saved, action)

    def _read(self, ground: Ground) -> None:
        audit = ground.audit()
        assert [change.revision for change in audit] == list(range(1, len(audit) + 1))
        assert len(ground.samples()) >= 1

    def _list(self, ground: Ground) -> None:
        for entry in ground.permissions():
            if entry.document:
                assert (ground.documents_folder / entry.document).stat().st_size
        assert ground.settings.name
        ground.looked()

    def _copy(self, ground: Ground, number: int) -> None:
        path = ground.snapshot(self.folder.parent / f"copy {number}.gpkg")
        assert len(gpd.read_file(path, layer="samples")) >= 1
        path.unlink()

    def _back_up(self, ground: Ground) -> None:
        assert ground.back_up().path.exists()

    def _check_up(self, ground: Ground) -> None:
        # What the plain program changed is told, on record or not yet; nothing else may be ill.
        ill = [item for item in ground.check_up() if not item.well and item.name not in _TOLD]
        assert not ill, ill


def main() -> None:
    """Work on a ground for so many seconds and print what was done and seen."""
    folder, seconds = Path(sys.argv[1]), float(sys.argv[2])
    opens = Opens(folder / "records.gpkg")
    session = Session(folder, seconds)
    session.run()
    told = {"saved": session.saved, "counts": session.counts, "faults": session.faults}
    print(json.dumps({**told, "direct": opens.direct, "looks": opens.looks}))


if __name__ == "__main__":
    main()
