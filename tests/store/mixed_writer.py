"""A program that forks a writer a line read; the writer saves without end and says what it tries and has done."""

from __future__ import annotations

import json
import os
import random
import sys
from pathlib import Path
from typing import Any

from prospect.records import Sample
from prospect.store import Ground


def act(ground: Ground, action: dict[str, Any]) -> None:
    """Do one action of a user."""
    kind = action["kind"]
    if kind == "samples":
        ground.add_samples(made(name) for name in action["names"])
    elif kind == "set":
        ground.change_settings(mean_annual_rain_mm=action["rain"], name=action["name"])
    elif kind == "rock":
        ground.correct_rock(action["unit"], action["rocks"])
    elif kind == "backup":
        ground.back_up()
    else:
        ground.note_action("note", action["text"])


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


def _actions(seed: int) -> Any:
    chance = random.Random(seed)
    count = 0
    while True:
        count += 1
        kind = chance.choice(("samples", "samples", "samples", "set", "rock", "note", "backup"))
        if kind == "samples":
            size = chance.choice((1, 1, 5, 60))
            yield {"kind": kind, "names": [f"s{seed}.{count}.{item}" for item in range(size)]}
        elif kind == "set":
            rain = chance.randrange(200, 3000)
            yield {"kind": kind, "rain": float(rain), "name": f"ground {seed}.{count}"}
        elif kind == "rock":
            unit = chance.choice("ABCDEFG")
            yield {"kind": kind, "unit": unit, "rocks": chance.choice(("clay:1", "sand:0.5,clay:0.5", ""))}
        elif kind == "backup":
            yield {"kind": kind}
        else:
            yield {"kind": kind, "text": f"{seed}.{count}"}


def _say(word: str, what: object) -> None:
    os.write(1, f"{word} {json.dumps(what)}\n".encode())


def _write_without_end(folder: Path, seed: int) -> None:
    ground = Ground.open(folder)
    for action in _actions(seed):
        _say("try", action)
        act(ground, action)
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
