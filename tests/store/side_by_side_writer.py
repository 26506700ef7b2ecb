"""A program that saves to a ground beside others, each only what is its own, and says what must be on record then."""

from __future__ import annotations

import json
import random
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from mixed_writer import act, made

from prospect.store import Ground


def own_actions(who: str, seed: int) -> Iterator[dict[str, Any]]:
    """Yield mixed actions without end that change nothing which another writer made."""
    chance = random.Random(seed)
    kinds = (
        "samples",
        "samples",
        "samples",
        "edit",
        "edit",
        "drop",
        "rock",
        "permit",
        "look",
        "note",
        "draft",
    )
    mine: list[str] = []
    count = 0
    while True:
        count += 1
        text = f"{who}.{count}"
        kind = chance.choice(kinds)
        action: dict[str, Any] = {"kind": kind}
        if kind == "samples":
            action["names"] = [f"{text}.{item}" for item in range(chance.choice((1, 1, 1, 4)))]
            mine += action["names"]
        elif kind in ("edit", "drop"):
            if not mine:
                continue
            action.update(name=mine.pop(chance.randrange(len(mine))), note=f"edited {text}")
            mine += [action["name"]] if kind == "edit" else []
        elif kind == "rock":
            action.update(unit=who, rocks=chance.choice(("clay:1", "sand:1")))
        elif kind == "permit":
            action.update(parcel=text, note=text, paper=chance.choice(("", "the same paper")))
        elif kind == "look":
            action["seen"] = text
        elif kind == "note":
            action["text"] = text
        else:
            action.update(form=f"form of {who}", content={"note": text})
        yield action


def after(state: dict[str, Any], action: dict[str, Any]) -> None:
    """Put an action that was acknowledged into what must be on record of its writer."""
    kind = action["kind"]
    if kind == "samples":
        state["samples"].update({name: made(name).note for name in action["names"]})
    elif kind == "edit":
        state["samples"][action["name"]] = action["note"]
    elif kind == "drop":
        del state["samples"][action["name"]]
    elif kind == "rock":
        state["rocks"] = action["rocks"]
    elif kind == "permit":
        state["permissions"].append(action["parcel"])
    elif kind == "look":
        state["looked"].append(action["seen"])
    elif kind == "draft":
        state["draft"] = action["content"]
    state["saves"] += 1
    state["audited"] += kind != "draft"


def nothing(who: str) -> dict[str, Any]:
    """Return what must be on record of a writer that has done nothing."""
    return {
        "who": who,
        "samples": {},
        "rocks": None,
        "permissions": [],
        "looked": [],
        "draft": {},
        "saves": 0,
        "audited": 0,
    }


def on_record(ground: Ground, who: str) -> dict[str, Any]:
    """Return what is on record of a writer, without the counts."""
    return {
        "who": who,
        "samples": {
            item.sample_id: item.note for item in ground.samples() if item.sample_id.startswith(f"{who}.")
        },
        "rocks": dict(ground.rock_corrections()).get(who),
        "permissions": [
            entry.parcel_id for entry in ground.permissions() if entry.parcel_id.startswith(f"{who}.")
        ],
        "looked": [entry.seen for entry in ground.looked() if entry.seen.startswith(f"{who}.")],
        "draft": ground.draft(f"form of {who}"),
    }


def main() -> None:
    """Save so many times, or for so many seconds, and print what must be on record."""
    folder, who, saves, seconds = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), float(sys.argv[4])
    ground, state = Ground.open(folder), nothing(who)
    papers = folder.parent / f"papers of {who}"
    end = time.monotonic() + seconds
    for action in own_actions(who, len(who)):
        if state["saves"] >= saves or time.monotonic() > end:
            break
        act(ground, action, papers)
        after(state, action)
        time.sleep(0.005)
    print(json.dumps(state))


if __name__ == "__main__":
    main()
