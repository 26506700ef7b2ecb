"""The form by which a sample is noted or changed, and the choice when it was changed elsewhere meanwhile."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import streamlit as st

from prospect.errors import ProspectError
from prospect.pipeline import ground_grid
from prospect.records import Sample
from prospect.store import Change, ChangedMeanwhile, Ground, Pending, Recorded
from prospect.ui.entry import (
    BLANK,
    WAS,
    Entry,
    bring_into_sight,
    choice,
    clock,
    close,
    collect,
    keep,
    line,
    new_key,
    note,
    offer_to_save,
    opened,
    put,
    put_away,
    ready_to_save,
    say_faults,
    say_state,
)
from prospect.ui.open_ground import workspace
from prospect.ui.reading import words
from prospect.ui.sample_reading import (
    EXTRAS,
    FIZZ,
    LABELS,
    USABLE,
    SampleReading,
    content_of,
    depth_unit,
    depths_in_words,
    next_name,
    place_as_numbers,
    read_sample,
)

KIND = "sample"
_OF, _REVISION, _CLASH = "of", "revision", "clash"
_PICK = "pick "
_BLANK_KEPT = timedelta(days=1)
_SIDES = {"theirs": "on record now", "mine": "yours"}


def begin_new(ground: Ground, spot: tuple[float, float] | None) -> str:
    """Open a form for a new sample, with a free name, today and the spot that is being read; return its key."""
    pending = [draft for draft in ground.pending() if draft.key.startswith(f"{KIND} ")]
    for draft in pending:
        if is_blank(draft) and _age(draft) > _BLANK_KEPT:
            ground.drop_draft(draft.key)
    names = [sample.sample_id for sample in reversed(ground.samples())]
    promised = {draft.content.get("name", "") for draft in pending}
    content = {
        BLANK: "yes",
        "name": next_name({*names, *promised}, names),
        "day": date.today().isoformat(),
        "usable": "unknown",
    }
    if spot is not None:
        content["place"] = place_as_numbers(*spot)
    key = new_key(KIND)
    ground.keep_draft(key, content)
    return key


def begin_change(ground: Ground, recorded: Recorded) -> str:
    """Open a form for a sample on record, which keeps the revision that it began from; return its key."""
    content = content_of(recorded.sample, ground.settings.units)
    key = new_key(KIND)
    ground.keep_draft(
        key,
        {
            BLANK: "yes",
            _OF: recorded.sample.sample_id,
            _REVISION: str(recorded.revision),
            **content,
            **{WAS + name: text for name, text in content.items()},
        },
    )
    return key


def is_blank(draft: Pending) -> bool:
    """Whether nobody has typed into a draft yet."""
    return BLANK in draft.content


def what_became(ground: Ground, key: str) -> str:
    """Return what became of a form whose draft is gone."""
    for change in reversed(ground.audit()):
        if change.action == "add samples" and key in change.detail:
            return f"Saved: {_first_name(change)}, {_time_of(change)}. That was before this page was loaded anew."
    return "Nothing is being typed there any more: it was saved or put away."


@st.fragment
def sample_form(key: str) -> None:
    """Draw the form until it is saved or put away."""
    ground = workspace().ground
    entry = opened(ground, key)
    if entry.done is not None:
        st.rerun()
    recorded = ground.recorded(entry.text_of(_OF)) if _OF in entry.content else None
    with st.container(key="entry"):
        if _CLASH in entry.content:
            _clash(ground, entry, recorded)
        else:
            _fields(ground, entry)


def _fields(ground: Ground, entry: Entry) -> None:
    units = ground.settings.units
    of = entry.text_of(_OF)
    reading = _read(ground, entry)
    faults = reading.wrong | (reading.missing if entry.tried else {})
    st.html(f"<h1>{words(of) if of else 'A new sample'}</h1>")
    if of:
        st.html('<p class="cw-note">It keeps its name, so that bag and record go on belonging together.</p>')
    else:
        line(ground, entry, "name", LABELS["name"], faults, most=80)
    with st.container(key="entry-where"):
        st.html("<h2>Where was it?</h2>")
        line(
            ground, entry, "place", "Latitude and longitude", faults, placeholder="47.48 S, 122.93 W", most=60
        )
        with st.container(horizontal=True):
            line(ground, entry, "error", "Give or take (m)", faults, placeholder="5", most=20)
            line(ground, entry, "hole", "Hole", faults, most=80)
    with st.container(key="entry-depth"):
        st.html("<h2>How far below the surface?</h2>")
        unit = depth_unit(units)
        with st.container(horizontal=True):
            line(ground, entry, "top", f"From ({unit})", faults, most=20)
            line(ground, entry, "bottom", f"To ({unit})", faults, most=20)
    with st.container(key="entry-clay"):
        st.html("<h2>What was it like?</h2>")
        choice(ground, entry, "usable", "Clay worth having?", USABLE, faults)
        line(
            ground,
            entry,
            "feel",
            EXTRAS["feel"],
            faults,
            placeholder="sticky, rolls out thin as a pencil lead",
        )
        line(
            ground, entry, "moist colour", EXTRAS["moist colour"], faults, placeholder="grey with rust spots"
        )
        choice(ground, entry, "fizz", EXTRAS["fizz"], FIZZ, faults)
        line(
            ground,
            entry,
            "roots and stones",
            EXTRAS["roots and stones"],
            faults,
            placeholder="few, up to a pea",
        )
        line(ground, entry, "smell", EXTRAS["smell"], faults, placeholder="none, earthy, rotten eggs")
    with st.container(key="entry-rest"):
        st.html("<h2>Anything else?</h2>")
        line(ground, entry, "day", "Day", faults, placeholder="2026-05-31", most=20)
        note(ground, entry, "note", LABELS["note"], faults)
    _end(ground, entry, reading, faults)


def _end(ground: Ground, entry: Entry, reading: SampleReading, faults: Mapping[str, str]) -> None:
    with st.container():  # what comes and goes here moves no button under a finger
        if reading.sample is not None:
            st.html(f'<p class="cw-reads">{_in_words(reading.sample, ground.settings.units)}</p>')
            if _is_off_the_ground(ground, reading.sample):
                st.html(
                    '<p class="cw-caution">▲ That place lies outside of this ground. Look at the figures and at north '
                    "or south, east or west. It can be saved as it is.</p>"
                )
        if entry.tried:
            say_faults(faults)
        say_state(entry)
    offer_to_save(ground, entry, _save, (ground, entry))


def _clash(ground: Ground, entry: Entry, recorded: Recorded | None) -> None:
    """Show what is on record now beside what was typed, and let the person choose."""
    of = entry.text_of(_OF)
    st.html(f"<h1>{words(of)}</h1>")
    bring_into_sight(f"{entry.key} {recorded.revision if recorded else 0}")
    if recorded is None:
        st.html(
            "<h2>It was taken out meanwhile</h2><p>Somebody took this sample out while you were changing it. "
            "What you typed is still here: note it again as a sample of its own, or put it away.</p>"
        )
        say_state(entry)
        with st.container(horizontal=True, key="entry-end"):
            st.button(
                "Note it again",
                type="primary",
                key=f"{entry.key} again",
                on_click=_as_new,
                args=(ground, entry),
            )
            st.button("Put it away", key=f"{entry.key} away", on_click=put_away, args=(ground, entry))
        return
    st.html(
        "<h2>It was changed meanwhile</h2><p>Somebody else saved a change of this sample while you were typing. "
        "Nothing of either is lost. Which is right?</p>"
    )
    differing = _differing(ground, entry, recorded)
    unanswered = [field.name for field in differing if field.pick(entry) not in _SIDES]
    faults = {_PICK + name: "Choose one of the two." for name in unanswered} if entry.tried else {}
    with st.container(horizontal=True, key="entry-all"):
        for side, label in (("mine", "All of mine"), ("theirs", "All on record")):
            st.button(
                label,
                key=f"{entry.key} all {side}",
                on_click=_pick_all,
                args=(ground, entry, differing, side),
            )
    for field in differing:
        with st.container(key=f"clash-{field.name.replace(' ', '-')}"):
            st.html(
                f'<div class="cw-both"><h3>{words(LABELS[field.name])}</h3><dl>'
                f"<div><dt>on record now</dt><dd>{_shown(field.name, field.theirs)}</dd></div>"
                f"<div><dt>yours</dt><dd>{_shown(field.name, field.mine)}</dd></div></dl></div>"
            )
            if _PICK + field.name not in entry.content and field.offered:
                entry.content[_PICK + field.name] = field.offered
            choice(ground, entry, _PICK + field.name, "Keep", _SIDES, faults)
    say_faults(faults)
    say_state(entry)
    with st.container(horizontal=True, key="entry-end"):
        st.button(
            "Save this choice", type="primary", key=f"{entry.key} settle", on_click=_settle,
            args=(ground, entry, recorded), disabled=bool(ground.read_only),
        )  # fmt: skip
        st.button("Put mine away", key=f"{entry.key} away", on_click=put_away, args=(ground, entry))


@dataclass(frozen=True, slots=True)
class _Field:
    """A field in which what was typed and what is on record differ."""

    name: str
    theirs: str
    mine: str
    offered: str

    def pick(self, entry: Entry) -> str:
        return entry.text_of(_PICK + self.name) or self.offered


def _differing(ground: Ground, entry: Entry, recorded: Recorded) -> list[_Field]:
    theirs = content_of(recorded.sample, ground.settings.units)
    found = []
    for name in LABELS:
        now, mine, was = theirs.get(name, ""), entry.text_of(name), entry.text_of(WAS + name)
        if now != mine:
            # A field that only one of the two touched is that one's; where both did, nobody decides but the person.
            found.append(_Field(name, now, mine, "mine" if now == was else "theirs" if mine == was else ""))
    return found


def _shown(name: str, text: str) -> str:
    return words(USABLE.get(text, text) if name == "usable" else text) or "–"


def _pick_all(ground: Ground, entry: Entry, differing: list[_Field], side: str) -> None:
    put(entry, {_PICK + field.name: side for field in differing})
    keep(ground, entry)


def _settle(ground: Ground, entry: Entry, recorded: Recorded) -> None:
    """Save what was chosen over what was on record when the choice was shown."""
    if not ready_to_save(ground, entry):
        return
    differing = _differing(ground, entry, recorded)
    if any(field.pick(entry) not in _SIDES for field in differing):
        return
    units = ground.settings.units
    theirs = content_of(recorded.sample, units)
    mine = {field.name: field.mine for field in differing if field.pick(entry) == "mine"}
    chosen = {name: text for name, text in (theirs | mine).items() if text}
    reading = read_sample(chosen, units, date.today().isoformat(), recorded.sample)
    if reading.sample is None:
        entry.trouble = "Not saved: " + " ".join((reading.wrong | reading.missing).values())
        return
    _edit(ground, entry, reading.sample, recorded.revision)


def _save(ground: Ground, entry: Entry) -> None:
    if not ready_to_save(ground, entry):
        return
    sample = _read(ground, entry).sample
    if sample is None:
        return
    if _OF in entry.content:
        _edit(ground, entry, sample, int(entry.text_of(_REVISION)))
        return
    try:
        taken = ground.add_samples([sample], origin=f"the app ({entry.key})")
    except ProspectError as error:
        entry.trouble = f"Not saved: {error}"
        return
    if not taken:
        close(ground, entry, f"Saved: {sample.sample_id}, {clock()}.")


def _edit(ground: Ground, entry: Entry, sample: Sample, revision: int) -> None:
    try:
        ground.edit_sample(sample, revision)
    except ChangedMeanwhile:
        entry.content[_CLASH] = "yes"
        entry.tried = False
        keep(ground, entry)
    except ProspectError as error:
        entry.trouble = f"Not saved: {error}"
    else:
        close(ground, entry, f"Saved: {sample.sample_id}, {clock()}.")


def _as_new(ground: Ground, entry: Entry) -> None:
    """Turn a change of a sample that is gone into a new sample of its name."""
    collect(entry)
    own = (_OF, _REVISION, _CLASH)
    entry.content = {
        name: text
        for name, text in entry.content.items()
        if name not in own and not name.startswith((WAS, _PICK))
    }
    entry.names = {name for name in entry.names if name in LABELS}
    keep(ground, entry)


def _read(ground: Ground, entry: Entry) -> SampleReading:
    """Read the form, and look whether the name of a new sample is free."""
    of = entry.text_of(_OF)
    recorded = ground.recorded(of) if of else None
    reading = read_sample(
        entry.content, ground.settings.units, date.today().isoformat(), recorded.sample if recorded else None
    )
    other = None if of else ground.recorded(entry.text_of("name"))
    if other is None or other.sample == reading.sample:
        return reading
    names = [sample.sample_id for sample in reversed(ground.samples())]
    fault = (
        f"There is a sample of that name already, and it is never written over. {next_name(set(names), names)} "
        "is free."
    )
    return SampleReading(None, {**reading.wrong, "name": fault}, reading.missing)


def _in_words(sample: Sample, units: str) -> str:
    parts = (
        f"<b>{words(sample.sample_id)}</b>",
        words(depths_in_words(sample, units) or "depth not known"),
        words(place_as_numbers(sample.lon, sample.lat)),
        words(sample.date or "day not known"),
        words(USABLE[sample.usable]),
    )
    return "Reads as: " + " · ".join(parts)


def _is_off_the_ground(ground: Ground, sample: Sample) -> bool:
    try:
        box = ground_grid(ground).lonlat_bounds()
    except ProspectError:
        return False
    return not (box.west <= sample.lon <= box.east and box.south <= sample.lat <= box.north)


def _age(draft: Pending) -> timedelta:
    try:
        return datetime.now(UTC) - datetime.fromisoformat(draft.at)
    except (ValueError, TypeError):
        return timedelta(0)


def _first_name(change: Change) -> str:
    try:
        return str(json.loads(change.detail)["samples"][0])
    except (ValueError, KeyError, IndexError, TypeError):
        return "the sample"


def _time_of(change: Change) -> str:
    try:
        return datetime.fromisoformat(change.at).astimezone().strftime("%H:%M:%S")
    except ValueError:
        return change.at
