"""The choice between two changes of one bar, test or batch that were made at the same time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import streamlit as st

from prospect.records import Bar, Batch, BenchTest
from prospect.store import Ground, OnRecord
from prospect.ui.bench_saving import (
    CLASH,
    OF,
    REVISION,
    BenchForm,
    name_of,
    of_mark,
    on_record,
    origins,
    own_content,
    save,
)
from prospect.ui.entry import (
    WAS,
    Entry,
    bring_into_sight,
    choice,
    collect,
    keep,
    put,
    put_away,
    say_state,
)
from prospect.ui.reading import words

_PICK = "pick "
_SIDES = {"theirs": "on record now", "mine": "yours"}
_OWN = (OF, REVISION)


@dataclass(frozen=True, slots=True)
class Difference:
    """A field in which what was typed and what is on record differ.

    Attributes
    ----------
    mark, name
        Which field of which item.
    theirs, mine
        What is on record now, and what was typed.
    offered
        The side that alone touched it; empty when both did, and nobody decides but the person.
    """

    mark: str
    name: str
    theirs: str
    mine: str
    offered: str

    @property
    def pick(self) -> str:
        """Field that holds which side was chosen."""
        return _PICK + of_mark(self.mark, self.name)


def differences(
    form: BenchForm, content: Mapping[str, str], held: Mapping[str, OnRecord], system: str
) -> list[Difference]:
    """Return every field in which what was typed and what is on record now differ."""
    found = []
    for mark, one in held.items():
        if not isinstance(one.item, Bar | BenchTest | Batch):
            continue
        theirs, mine = form.content_of(one.item, system), own_content(content, mark)
        was = own_content(
            {name.removeprefix(WAS): text for name, text in content.items() if name.startswith(WAS)}, mark
        )
        for name in dict.fromkeys((*theirs, *was, *mine)):
            if form.called(name) and theirs.get(name, "") != mine.get(name, ""):
                now, typed, before = theirs.get(name, ""), mine.get(name, ""), was.get(name, "")
                offered = "mine" if now == before else "theirs" if typed == before else ""
                found.append(Difference(mark, name, now, typed, offered))
    return found


def clash_page(ground: Ground, form: BenchForm, entry: Entry) -> None:
    """Show what is on record now beside what was typed, and let the person choose."""
    held = on_record(ground, form, entry)
    gone = [
        mark for mark in form.marks(entry.content) if of_mark(mark, OF) in entry.content and mark not in held
    ]
    bring_into_sight(f"{entry.key} {sorted(one.revision for one in held.values())}")
    st.html("<h1>It was changed meanwhile</h1>")
    if gone:
        names = ", ".join(entry.text_of(of_mark(mark, OF)) for mark in gone)
        st.html(
            f"<p>Somebody took out {words(names)} while you were typing. What you typed is still here: saving this "
            "choice notes it again.</p>"
        )
    found = differences(form, entry.content, held, ground.settings.units)
    if found:
        st.html(
            "<p>Somebody else saved a change while you were typing. Nothing of either is lost. Which is right?</p>"
        )
        with st.container(horizontal=True, key="entry-all"):
            for side, label in (("mine", "All of mine"), ("theirs", "All on record")):
                st.button(
                    label,
                    key=f"{entry.key} all {side}",
                    on_click=_pick_all,
                    args=(ground, entry, found, side),
                )
    unanswered = [one.pick for one in found if _picked(entry, one) not in _SIDES]
    faults = dict.fromkeys(unanswered, "Choose one of the two.") if entry.tried else {}
    for number, one in enumerate(found):
        with st.container(key=f"clash-{number}"):
            item = held[one.mark].item
            whose = f"{name_of(item)}: " if one.mark and isinstance(item, Bar | BenchTest | Batch) else ""
            st.html(
                f'<div class="cw-both"><h3>{words(whose + form.called(one.name))}</h3><dl>'
                f"<div><dt>on record now</dt><dd>{_shown(form, one.name, one.theirs)}</dd></div>"
                f"<div><dt>yours</dt><dd>{_shown(form, one.name, one.mine)}</dd></div></dl></div>"
            )
            if one.pick not in entry.content and one.offered:
                entry.content[one.pick] = one.offered
            choice(ground, entry, one.pick, "Keep", _SIDES, faults)
    say_state(entry)
    with st.container(horizontal=True, key="entry-end"):
        st.button(
            "Save this choice",
            type="primary",
            key=f"{entry.key} settle",
            on_click=_settle,
            args=(ground, form, entry, held),
            disabled=bool(ground.read_only),
        )
        st.button("Put mine away", key=f"{entry.key} away", on_click=put_away, args=(ground, entry))


def _shown(form: BenchForm, name: str, text: str) -> str:
    return words(form.shown(name, text)) if text else "–"


def _picked(entry: Entry, one: Difference) -> str:
    return entry.text_of(one.pick) or one.offered


def _pick_all(ground: Ground, entry: Entry, found: list[Difference], side: str) -> None:
    put(entry, {one.pick: side for one in found})
    keep(ground, entry)


def _settle(ground: Ground, form: BenchForm, entry: Entry, held: Mapping[str, OnRecord]) -> None:
    """Save what was chosen over what was on record when the choice was shown."""
    collect(entry)
    entry.tried = True
    system = ground.settings.units
    found = differences(form, entry.content, held, system)
    if any(_picked(entry, one) not in _SIDES for one in found):
        return
    for one in found:
        if _picked(entry, one) == "theirs":
            put(entry, {of_mark(one.mark, one.name): one.theirs})
    for name in [name for name in entry.content if name.startswith((WAS, _PICK))]:
        del entry.content[name]
    entry.names = {name for name in entry.names if not name.startswith(_PICK)}
    for mark in form.marks(entry.content):
        for own in _OWN:
            entry.content.pop(of_mark(mark, own), None)
        if mark in held:
            entry.content |= origins(form, mark, held[mark], system)
    entry.content = {name: text for name, text in entry.content.items() if text and name != CLASH}
    save(ground, form, entry)
