"""The choice between two changes of one hole that were made at the same time."""

from __future__ import annotations

from datetime import date

import streamlit as st

from prospect.errors import ProspectError
from prospect.store import ChangedMeanwhile, Ground
from prospect.ui.entry import (
    WAS,
    Entry,
    bring_into_sight,
    choice,
    clock,
    close,
    collect,
    keep,
    put,
    put_away,
    ready_to_save,
    say_state,
)
from prospect.ui.hole_cards import difference_card
from prospect.ui.hole_choice import MINE, THEIRS, Difference, differences, put_together
from prospect.ui.hole_reading import PLACE, read_hole
from prospect.ui.hole_saving import CLASH, HEAD, OF, PART, REVISION, HoleOnRecord, put_hole_away
from prospect.ui.reading import words
from prospect.ui.sample_reading import depth_unit

_PICK = "pick "
_SIDES = {THEIRS: "on record now", MINE: "yours"}


def clash_page(ground: Ground, entry: Entry, recorded: HoleOnRecord | None) -> None:
    """Show what is on record now beside what was typed, and let the person choose."""
    st.html(f"<h1>{words(entry.text_of(OF))}</h1>")
    bring_into_sight(f"{entry.key} {recorded.revision if recorded else 0}")
    if recorded is None:
        st.html(
            "<h2>It was taken out meanwhile</h2><p>Somebody took this hole out while you were changing it. What you "
            "typed is still here: note it again as a hole of its own, or put it away.</p>"
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
        "<h2>It was changed meanwhile</h2><p>Somebody else saved a change of this hole while you were typing. Nothing "
        "of either is lost: new layers of both are kept. Of what both changed, which is right?</p>"
    )
    units = ground.settings.units
    found = differences(entry.content, recorded.hole, units)
    with st.container(horizontal=True, key="entry-all"):
        st.button(
            "All of mine", key=f"{entry.key} all mine", on_click=_pick_all, args=(ground, entry, found, MINE)
        )
        st.button(
            "All on record",
            key=f"{entry.key} all theirs",
            on_click=_pick_all,
            args=(ground, entry, found, THEIRS),
        )
    unanswered = [one.name for one in found if _picked(entry, one) not in _SIDES]
    faults = {_PICK + name: "Choose one of the two." for name in unanswered} if entry.tried else {}
    for one in found:
        with st.container(key=f"clash-{one.name.replace(' ', '-')}"):
            st.html(difference_card(one, depth_unit(units)))
            if _PICK + one.name not in entry.content and one.offered:
                entry.content[_PICK + one.name] = one.offered
            choice(ground, entry, _PICK + one.name, "Keep", _SIDES, faults)
    say_state(entry)
    with st.container(horizontal=True, key="entry-end"):
        st.button(
            "Save this choice", type="primary", key=f"{entry.key} settle", on_click=_settle,
            args=(ground, entry, recorded), disabled=bool(ground.read_only),
        )  # fmt: skip
        st.button("Put mine away", key=f"{entry.key} away", on_click=put_hole_away, args=(ground, entry))


def _picked(entry: Entry, one: Difference) -> str:
    return entry.text_of(_PICK + one.name) or one.offered


def _pick_all(ground: Ground, entry: Entry, found: list[Difference], side: str) -> None:
    put(entry, {_PICK + one.name: side for one in found})
    keep(ground, entry)


def _settle(ground: Ground, entry: Entry, recorded: HoleOnRecord) -> None:
    """Save what was chosen over what was on record when the choice was shown."""
    if not ready_to_save(ground, entry):
        return
    units = ground.settings.units
    found = differences(entry.content, recorded.hole, units)
    chosen = {one.name: _picked(entry, one) for one in found}
    if any(side not in _SIDES for side in chosen.values()):
        return
    settled = put_together(entry.content, recorded.hole, units, chosen)
    reading = read_hole(settled, units, date.today().isoformat(), recorded.hole)
    if reading.hole is None:
        entry.trouble = "Not saved: " + " ".join((reading.wrong | reading.missing).values())
        return
    try:
        ground.edit_log(reading.hole, recorded.revision)
    except ChangedMeanwhile:
        keep(ground, entry)  # the choice is shown anew, against what is on record now
    except ProspectError as error:
        entry.trouble = f"Not saved: {error}"
    else:
        close(ground, entry, f"Saved: {reading.hole.hole_id}, {clock()}.")


def _as_new(ground: Ground, entry: Entry) -> None:
    """Turn a change of a hole that is gone into a new hole of its name."""
    collect(entry)
    own = (OF, REVISION, CLASH)
    entry.content = {
        name: text
        for name, text in entry.content.items()
        if name not in own and not name.startswith((WAS, _PICK)) and not name.endswith(f" {PLACE}")
    }
    entry.names = {name for name in entry.names if not name.startswith(_PICK)}
    keep(ground, entry)
    st.query_params[PART] = HEAD
