"""Every action of a user by its name, what is on record afterwards, and a program that forks writers to be killed."""

from __future__ import annotations

import hashlib
import json
import os
import random
import sys
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from prospect.records import (
    Bar,
    Batch,
    BenchTest,
    Hole,
    HoleLayer,
    LogBook,
    Looked,
    Permission,
    Sample,
)
from prospect.store import Ground

FORMS = ("sample", "permission")
"""The forms that drafts are kept of."""


def act(ground: Ground, action: dict[str, Any], papers: Path) -> None:
    """Do one action of a user; papers to go with a permission are laid into a folder first."""
    kind = action["kind"]
    if kind == "samples":
        ground.add_samples(made(name) for name in action["names"])
    elif kind == "edit":
        held = ground.recorded(action["name"])
        assert held is not None
        ground.edit_sample(replace(held.sample, note=action["note"]), held.revision)
    elif kind == "drop":
        held = ground.recorded(action["name"])
        assert held is not None
        ground.drop_sample(action["name"], held.revision)
    elif kind == "log":
        ground.add_log(made_book(action["name"]))
    elif kind == "complete log":
        book = made_book(action["name"])
        more = replace(book.holes[0], layers=(), water_cm=70.0), replace(book.bars[0], fired_mm=88.0)
        ground.add_log(LogBook(holes=more[:1], bars=(more[1], Bar(f"{action['name']}+", "A1"))))
    elif kind == "edit log":
        held_hole = ground.on_record("hole", action["name"])
        assert held_hole is not None
        changed = replace(held_hole.item, note=action["note"], layers=held_hole.item.layers[1:])
        ground.edit_log(changed, held_hole.revision)
    elif kind == "photo":
        held_hole = ground.on_record("hole", action["name"])
        assert held_hole is not None
        kept = ground.keep_photo(picture_of(action["text"], papers))
        ground.edit_log(replace(held_hole.item, fields={"photos": kept}), held_hole.revision)
    elif kind == "drop log":
        held_bar = ground.on_record("bar", action["name"])
        assert held_bar is not None
        ground.drop_log("bar", action["name"], held_bar.revision)
    elif kind == "set":
        ground.change_settings(mean_annual_rain_mm=action["rain"], name=action["name"])
    elif kind == "rock":
        ground.correct_rock(action["unit"], action["rocks"])
    elif kind == "permit":
        entry = Permission(action["parcel"], "granted", "dig", person="Mirel Ashdown", note=action["note"])
        ground.permit(entry, paper_of(action["paper"], papers) if action["paper"] else None)
    elif kind == "look":
        ground.note_looked(Looked("utility_lines", -126.0, -47.5, clear=True, seen=action["seen"]))
    elif kind == "draft":
        ground.keep_draft(action["form"], action["content"])
    elif kind == "drop draft":
        ground.drop_draft(action["form"])
    elif kind == "undo":
        ground.undo()
    elif kind == "backup":
        ground.back_up()
    elif kind == "note":
        ground.note_action("note", action["text"])
    else:
        raise ValueError(kind)


def made(name: str) -> Sample:
    """Return the one sample that goes by a name."""
    number = sum(name.encode())
    return Sample(
        sample_id=name,
        lon=-126.0 + number / 1e5,
        lat=-47.5,
        note=f"note of {name} " * 20,
        fields={"feel": "sticky", "n": str(number)},
    )


def made_book(name: str) -> LogBook:
    """Return the one hole, with its layers, bar, test and batch, that go by a name."""
    number = sum(name.encode())
    layers = tuple(
        HoleLayer(20.0 * place, 20.0 * place + 20.0, "yes", "clay", ribbon_cm=5.5) for place in range(4)
    )
    return LogBook(
        holes=(Hole(name, -126.0 + number / 1e5, -47.5, "auger", layers=layers, note=f"hole {name} " * 10),),
        bars=(
            Bar(name, "A1", plastic_mm=100.0, faults=("scum",), looked_for_faults=True, note=f"bar {name}"),
        ),
        tests=(BenchTest(name, "A1", "limits", values={"liquid_limit_pct": 45.0}, note=f"test {name}"),),
        batches=(Batch(name, name, buckets=3.0, note=f"batch {name}"),),
    )


def log_notes(book: LogBook) -> dict[str, str]:
    """Return the notes of everything in a log book, by kind and name."""
    return {
        **{f"hole {hole.hole_id}": f"{hole.note}{len(hole.layers)}" for hole in book.holes},
        **{f"bar {bar.bar_id}": bar.note for bar in book.bars},
        **{f"test {test.test_id}": test.note for test in book.tests},
        **{f"batch {batch.batch_id}": batch.note for batch in book.batches},
    }


def paper_of(text: str, papers: Path) -> Path:
    """Lay a paper of some thousand bytes into a folder, unless it lies there, and return its path."""
    path = papers / f"letter {hashlib.sha256(text.encode()).hexdigest()[:8]}.pdf"
    if not path.exists():
        papers.mkdir(exist_ok=True)
        part = path.with_suffix(".part")
        part.write_bytes(f"%PDF-1.7 {text} ".encode() * 400)
        part.replace(path)
    return path


def picture_of(text: str, papers: Path) -> Path:
    """Lay a picture of a few bytes into a folder, unless it lies there, and return its path."""
    path = papers / f"picture {hashlib.sha256(text.encode()).hexdigest()[:8]}.jpg"
    if not path.exists():
        papers.mkdir(exist_ok=True)
        part = path.with_suffix(".part")
        part.write_bytes(b"\xff\xd8\xff" + text.encode() * 400)
        part.replace(path)
    return path


def content(ground: Ground) -> dict[str, Any]:
    """Return all that is on record, in a form that can be written and compared."""
    permissions, samples = ground.permissions(), ground.samples()
    return json.loads(
        json.dumps(
            {
                "settings": asdict(ground.settings),
                "samples": [asdict(sample) for sample in samples],
                "revisions": [
                    getattr(ground.recorded(sample.sample_id), "revision", None)
                    for sample in (*samples[:2], *samples[-2:])
                ],
                "log": asdict(replace(ground.log_book(), samples=())),
                "rocks": dict(ground.rock_corrections()),
                "permissions": [asdict(entry) for entry in permissions],
                "papers": {
                    entry.document: digest(ground.documents_folder / entry.document)
                    for entry in permissions
                    if entry.document
                },
                "looked": [asdict(entry) for entry in ground.looked()],
                "drafts": {form: ground.draft(form) for form in FORMS},
                "audit": [[change.revision, change.action] for change in ground.audit()],
            }
        )
    )


def digest(path: Path) -> str:
    """Return the SHA-256 of a file; a word when there is none."""
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "missing"


def actions(ground: Ground, seed: int) -> Iterator[dict[str, Any]]:
    """Yield actions by chance, without end; an undo only where there is something to take back."""
    chance = random.Random(seed)
    count = undoable = 0
    kinds = (
        *("samples", "samples", "samples", "edit", "edit", "drop", "set", "rock", "permit", "permit", "look"),
        *("log", "log", "edit log", "drop log"),
        *("draft", "draft", "drop draft", "undo", "undo", "note", "backup"),
    )
    while True:
        count += 1
        kind = chance.choice(kinds)
        text = f"{seed}.{count}"
        action: dict[str, Any] = {"kind": kind}
        if kind == "samples":
            action["names"] = [f"s{text}.{item}" for item in range(chance.choice((1, 1, 5, 60)))]
        elif kind in ("edit", "drop"):
            names = [sample.sample_id for sample in ground.samples()]
            if not names:
                continue
            action.update(name=chance.choice(names), note=f"edited {text}")
        elif kind == "log":
            action["name"] = f"h{text}"
        elif kind in ("edit log", "drop log"):
            log = ground.log_book()
            names = (
                [hole.hole_id for hole in log.holes]
                if kind == "edit log"
                else [bar.bar_id for bar in log.bars]
            )
            if not names:
                continue
            action.update(name=chance.choice(names), note=f"edited {text}")
        elif kind == "set":
            action.update(rain=float(chance.randrange(200, 3000)), name=f"ground {text}")
        elif kind == "rock":
            rocks = chance.choice(("clay:1", "sand:0.5,clay:0.5", ""))
            action.update(unit=chance.choice("ABCDEFG"), rocks=rocks)
        elif kind == "permit":
            action.update(parcel=f"P {text}", note=text, paper=chance.choice(("", text, "the same paper")))
        elif kind == "look":
            action["seen"] = text
        elif kind in ("draft", "drop draft"):
            action.update(form=chance.choice(FORMS), content={"note": text, "lon": "-126"})
        elif kind == "note":
            action["text"] = text
        elif kind == "undo" and not undoable:
            continue
        undoable += {"note": -undoable, "undo": -1, "draft": 0, "drop draft": 0, "backup": 0}.get(kind, 1)
        yield action


def _say(word: str, what: object) -> None:
    os.write(1, f"{word} {json.dumps(what)}\n".encode())


def _write_without_end(folder: Path, seed: int) -> None:
    ground = Ground.open(folder)
    for action in actions(ground, seed):
        _say("try", action)
        act(ground, action, folder.parent / "papers")
        _say("done", action)


def _restore_without_end(folder: Path, backups: list[str]) -> None:
    while True:
        for name in backups:
            Ground.restore(folder, Path(name))
            _say("done", name)


def main() -> None:
    """Fork a writer for every line `{"folder": …, "seed": …}`; say its number, and when it is gone."""
    _say("ready", None)
    for line in sys.stdin:
        task = json.loads(line)
        child = os.fork()
        if child == 0:
            try:
                if task.get("restore"):
                    _restore_without_end(Path(task["folder"]), task["restore"])
                _write_without_end(Path(task["folder"]), task["seed"])
            except BaseException as error:
                _say("fault", repr(error))
            os._exit(1)
        _say("pid", child)
        os.waitpid(child, 0)
        _say("gone", None)


if __name__ == "__main__":
    main()
