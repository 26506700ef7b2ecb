"""A program that does a season's actions on a ground while everything that it asks of the disk is recorded."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from mixed_writer import act, content, digest
from power_loss_recorder import CannotRecord, watch

from prospect.records import GroundSettings
from prospect.store import Ground, entering
from prospect.store import ground as ground_module
from prospect.store.place import Place

Step = tuple[str, Callable[[], object]]


def new_ground(folder: Path, papers: Path) -> Iterator[Step]:
    """Yield the actions of a season on a new ground."""
    yield "new", lambda: Ground.create(folder, GroundSettings(name="first", cell_m=5.0))
    ground = Ground(folder)

    def step(kind: str, **what: object) -> Step:
        return kind, lambda: act(ground, {"kind": kind, **what}, papers)

    yield step("samples", names=["A1"])
    yield step("samples", names=[f"B{number}" for number in range(80)])
    yield step("draft", form="sample", content={"note": "half a sen"})
    yield step("draft", form="sample", content={"note": "half a sentence"})
    yield step("set", rain=900.0, name="second")
    yield step("rock", unit="Qal", rocks="clay:1")
    yield step("rock", unit="Kg", rocks="granite:1")
    yield step("permit", parcel="001", note="by letter", paper="you may dig")
    yield step("permit", parcel="002", note="by word", paper="")
    yield step("look", seen="no marks within 15 m")
    yield step("edit", name="B7", note="stickier than it seemed")
    yield step("drop", name="B8")
    yield step("undo")
    yield step("undo")
    yield step("drop draft", form="sample")
    yield step("permit", parcel="003", note="the same letter", paper="you may dig")
    yield step("undo")
    yield step("permit", parcel="004", note="another letter", paper="you may look")
    yield step("backup")
    yield step("samples", names=["C1", "C2"])
    yield "snapshot", lambda: ground.snapshot(ground.shared_folder / "copy.gpkg")
    yield "open and hold", lambda: _hold(ground)
    yield "bring back", lambda: Ground.restore(folder, ground.backups()[0].path)
    yield step("samples", names=[f"D{number}" for number in range(30)])
    yield step("rock", unit="Kg", rocks="")
    yield step("undo")
    yield step("edit", name="A1", note="x" * 9000)
    yield step("drop", name="A1")
    yield "bring back", lambda: Ground.restore(folder, ground.backups()[-1].path)
    yield step("note", text="add layer")


def older_records(folder: Path, papers: Path) -> Iterator[Step]:
    """Yield actions on records of an earlier version that are there already."""
    yield "open", lambda: Ground.open(folder)
    ground = Ground(folder)
    yield "samples", lambda: act(ground, {"kind": "samples", "names": ["A5"]}, papers)
    yield "bring back", lambda: Ground.restore(folder, ground.backups()[-1].path)
    yield "look", lambda: act(ground, {"kind": "look", "seen": "a well"}, papers)


def damaged_records(folder: Path, _papers: Path) -> Iterator[Step]:
    """Yield what the doctor does with records that are damaged."""
    yield "mend", lambda: Ground.mend(folder)


def copied_folder(folder: Path, papers: Path) -> Iterator[Step]:
    """Yield actions on a ground in a folder that another program copies, so that it is worked on elsewhere."""
    as_copied(folder.parents[1])
    yield "new", lambda: Ground.create(folder, GroundSettings(name="first", cell_m=5.0))
    ground = Ground.open(folder)
    for action in (
        {"kind": "samples", "names": ["A1", "A2"]},
        {"kind": "permit", "parcel": "001", "note": "by letter", "paper": "you may dig"},
        {"kind": "edit", "name": "A1", "note": "stickier"},
        {"kind": "draft", "form": "sample", "content": {"note": "half a sen"}},
        {"kind": "backup"},
        {"kind": "drop", "name": "A2"},
        {"kind": "undo"},
    ):
        yield str(action["kind"]), partial(act, ground, action, papers)
    yield "bring back", lambda: Ground.restore(folder, ground.backups()[0].path)
    yield "note", lambda: act(ground, {"kind": "note", "text": "add layer"}, papers)


def as_copied(root: Path) -> None:
    """Let every folder be one that another program copies, with this machine's own data below a root."""
    for module in (entering, ground_module):
        module.place_of = lambda folder: Place("copied", "for this test")
    entering.data_home = lambda: root / "home"


SESSIONS = {
    "new ground": new_ground,
    "older records": older_records,
    "damaged records": damaged_records,
    "copied folder": copied_folder,
}


def _hold(ground: Ground) -> None:
    with ground.held():
        act(ground, {"kind": "samples", "names": ["held"]}, ground.folder)


def main() -> None:
    """Record a session: its kind, the folder that it is in, and where to write down what was recorded."""
    kind, root, log = sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3])
    folder = root / "grounds" / "one"
    with log.open("w", encoding="utf-8") as lines:
        recording = watch(root, lines)
        for name, do in SESSIONS[kind](folder, log.parent / "papers"):
            recording.say("begin", name=name)
            do()
            ground = Ground.open(folder)
            recording.say(
                "done",
                name=name,
                content=content(ground),
                backups=[backup.path.name for backup in ground.backups()],
                files={
                    Path(at, file).relative_to(root).as_posix(): digest(Path(at, file))
                    for at, _, files in os.walk(root)
                    for file in files
                },
            )
    sys.exit("\n".join(recording.faults) or 0)


if __name__ == "__main__":
    try:
        main()
    except CannotRecord as error:
        print(f"cannot record: {error}")
