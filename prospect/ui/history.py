"""What was done to the records, in plain words, from their audit."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from prospect.land import LAYER_TITLES, shipped_rules
from prospect.settings import SETTING_TEXTS
from prospect.store import Change

_NAMED = 4
_NEVER_TAKEN_BACK = ("undo", "upgrade")
_TAKEN_BACK_HERE = (
    "set", "add samples", "edit sample", "drop sample", "add log", "edit log", "drop log", "correct rock", "permit",
    "looked",
)  # fmt: skip
_LOGGED = {
    "hole": ("hole_id", "hole", "holes"),
    "bar": ("bar_id", "bar", "bars"),
    "test": ("test_id", "bench test", "bench tests"),
    "batch": ("batch_id", "batch", "batches"),
}
_STATUS = {
    "asked": "asked",
    "granted": "leave given",
    "refused": "refused",
    "withdrawn": "leave withdrawn",
    "do-not-ask": "not to be asked again",
}


@dataclass(frozen=True, slots=True)
class Deed:
    """One action in words.

    Attributes
    ----------
    revision
        Its number in the audit.
    when
        Day and time of this machine's clock.
    words
        What was done.
    taken_back
        Whether it was taken back since.
    by_us
        Whether this program did it.
    """

    revision: int
    when: str
    words: str
    taken_back: bool
    by_us: bool = True


def last_deeds(audit: Sequence[Change], count: int, *, names_people: bool = True) -> tuple[Deed, ...]:
    """Return the last actions, the newest first.

    Parameters
    ----------
    audit
        Every change, oldest first.
    count
        How many at most.
    names_people
        Whether persons may be named.
    """
    by_revision = {change.revision: change for change in audit}
    undone = taken_back(audit)
    return tuple(
        Deed(
            change.revision,
            _when(change.at),
            in_words(change, by_revision, names_people=names_people),
            change.revision in undone,
            change.action != "changed outside",
        )
        for change in reversed(audit[-count:])
    )


def next_to_take_back(audit: Sequence[Change]) -> Change | None:
    """Return the last action that is not taken back yet; None when there is none that could be."""
    undone = taken_back(audit)
    for change in reversed(audit):
        if change.revision in undone or change.action in _NEVER_TAKEN_BACK:
            continue
        return change if change.action in _TAKEN_BACK_HERE else None
    return None


def taken_back(audit: Sequence[Change]) -> frozenset[int]:
    """Return the revisions of the actions that were taken back."""
    found = (_detail(change).get("revision") for change in audit if change.action == "undo")
    return frozenset(revision for revision in found if isinstance(revision, int))


def in_words(
    change: Change, by_revision: Mapping[int, Change] | None = None, *, names_people: bool = True
) -> str:
    """Return one action as a sentence.

    Parameters
    ----------
    change
        The action.
    by_revision
        The others by their number, to name the one that an action takes back.
    names_people
        Whether persons may be named.
    """
    detail = _detail(change)
    if change.action == "undo":
        other = (by_revision or {}).get(_number(detail.get("revision")))
        return (
            f"Taken back: {in_words(other, names_people=names_people)}"
            if other
            else "An action was taken back."
        )
    if change.action == "changed outside":
        return "Another program changed the records."
    return _sentence(change.action, detail, names_people)


def _sentence(action: str, detail: Mapping[str, Any], names_people: bool) -> str:
    kind = detail.get("kind", "a layer")
    sentences = {
        "new": "The ground was started.",
        "upgrade": "The records were brought up to date for this version of the program.",
        "restore": "A backup was brought back.",
        "add layer": f"Layer added: {kind}.",
        "replace layer": f"Layer put in place of the one before: {kind}.",
        "remove layer": f"Layer taken out: {kind}.",
        "correct rock": f"Reading of the map unit “{detail.get('unit', '')}” changed.",
    }
    if action in sentences:
        return sentences[action]
    if action == "set":
        told = (SETTING_TEXTS.get(key, key).split(";")[0].split(":")[0] for key in detail)
        return f"Settings changed: {'; '.join(told)}."
    if action == "add samples":
        return _added(detail)
    if action == "edit sample":
        return f"Sample {_name(detail.get('after'))} changed."
    if action == "drop sample":
        return f"Sample {_name(detail.get('sample'))} taken out."
    if action == "add log":
        return _logged(detail)
    if action in ("edit log", "drop log"):
        key, noun, _ = _LOGGED.get(str(detail.get("kind", "")), ("", "record", ""))
        record = detail.get("after" if action == "edit log" else "item")
        name = str(record.get(key, "")) if isinstance(record, Mapping) else ""
        return f"{noun.capitalize()} {name} {'changed' if action == 'edit log' else 'taken out'}."
    if action == "permit":
        person = detail.get("person", "")
        said_by = f", {person}" if person and names_people else ""
        status = _STATUS.get(str(detail.get("status", "")), "noted")
        return f"Parcel {detail.get('parcel_id', '')}: {status}{said_by}."
    if action == "looked":
        return f"Looked on the spot for {_looked_for(str(detail.get('keepout', '')))}."
    return f"{action[:1].upper()}{action[1:]}."


def _looked_for(key: str) -> str:
    titles = {rule.key: rule.title.lower() for rule in shipped_rules()} | dict(LAYER_TITLES)
    return titles.get(key, key.replace("_", " "))


def _logged(detail: Mapping[str, Any]) -> str:
    """Return what was added to the log and what was changed in it, each kind with its first few names."""
    told = []
    changed = detail.get("changed")
    for how, of_kind in (("added", detail), ("changed", changed if isinstance(changed, Mapping) else {})):
        parts = []
        for kind, (key, one, many) in {"samples": ("sample_id", "sample", "samples"), **_LOGGED}.items():
            given = of_kind.get(kind)
            items = given if isinstance(given, list) else []
            names = [
                str(item["after"].get(key)) if isinstance(item, Mapping) else str(item) for item in items
            ]
            if names:
                shown = ", ".join(names[:_NAMED]) + (" and more" if len(names) > _NAMED else "")
                parts.append(f"{one} {shown}" if len(names) == 1 else f"{len(names)} {many} ({shown})")
        if parts:
            told.append(f"{'; '.join(parts)} {how}")
    origin = str(detail.get("origin", ""))
    source = f" from {origin}" if origin and not origin.startswith("the app (") else ""
    said = "; ".join(told) or "nothing added"
    return f"{said[:1].upper()}{said[1:]}{source}."


def _added(detail: Mapping[str, Any]) -> str:
    given = detail.get("samples")
    names = [str(name) for name in given] if isinstance(given, list) else []
    if not names:
        return "Samples added."
    shown = ", ".join(names[:_NAMED]) + (" and more" if len(names) > _NAMED else "")
    origin = str(detail.get("origin", ""))
    source = f" from {origin}" if origin and not origin.startswith("the app (") else ""
    return (
        f"Sample {shown} added{source}."
        if len(names) == 1
        else f"{len(names)} samples added{source}: {shown}."
    )


def _detail(change: Change) -> dict[str, Any]:
    try:
        detail = json.loads(change.detail)
    except ValueError:
        return {}
    return detail if isinstance(detail, dict) else {}


def _name(sample: object) -> str:
    return str(sample.get("sample_id", "")) if isinstance(sample, Mapping) else ""


def _number(value: object) -> int:
    return value if isinstance(value, int) else -1


def _when(iso: str) -> str:
    try:
        return datetime.fromisoformat(iso).astimezone().strftime("%Y-%m-%d, %H:%M")
    except ValueError:
        return iso
