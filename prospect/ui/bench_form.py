"""The form of a bench test: which test, how it is done, and what came of it."""

from __future__ import annotations

from collections.abc import Mapping

import streamlit as st

from prospect.clay.settling import jar_times_s
from prospect.clay.vocabulary import TestKind, test_kind, test_kinds
from prospect.records import BenchTest
from prospect.store import Ground
from prospect.ui.bench_book import book_of, preparations, specimens
from prospect.ui.bench_clash import clash_page
from prospect.ui.bench_dropping import offer_to_drop
from prospect.ui.bench_reading import (
    COMMON,
    MEASURED,
    BenchReading,
    content_of_test,
    label_of,
    name_for_test,
    read_test,
)
from prospect.ui.bench_saving import CLASH, OF, BenchForm, Item, begin, begin_change, read_form, save
from prospect.ui.entry import (
    Entry,
    choice,
    line,
    note,
    offer_to_save,
    opened,
    pick,
    say_faults,
    say_state,
)
from prospect.ui.open_ground import workspace
from prospect.ui.reading import words

KIND = "test"


def begin_test(ground: Ground, specimen: str, kind: str, today: str, preparation: str = "raw") -> str:
    """Open a form for a new test of a specimen; return its key."""
    content = {"specimen": specimen, "kind": kind, "day": today, "preparation": preparation}
    return begin(ground, TEST, {name: text for name, text in content.items() if text})


def begin_test_change(ground: Ground, name: str) -> str:
    """Open a form for a test on record; return its key."""
    return begin_change(ground, TEST, [name])


@st.fragment
def test_form(key: str) -> None:
    """Draw the form until it is saved or put away."""
    ground = workspace().ground
    entry = opened(ground, key)
    if entry.done is not None:
        st.rerun()
    with st.container(key="entry"):
        if CLASH in entry.content:
            clash_page(ground, TEST, entry)
        else:
            _fields(ground, entry)


test_form.__test__ = False  # type: ignore[attr-defined]


def how_it_is_done(kind: TestKind) -> str:
    """Return how a test is done, with its cautions at that step."""
    how = "".join(f"<li>{words(sentence)}</li>" for sentence in kind.how)
    cautions = "".join(f'<p class="cw-caution">▲ {words(caution)}</p>' for caution in kind.cautions)
    return f'<div class="cw-how"><ol>{how}</ol>{cautions}</div>'


def _when(kind: TestKind, reading: BenchReading) -> str:
    """Return when a jar is to be measured at the warmth of its water; empty for another test."""
    if kind.key != "jar":
        return ""
    item = reading.items[0] if reading.items else None
    warmth = item.values.get("water_c") if isinstance(item, BenchTest) else None
    at = 20.0 if warmth is None else min(max(warmth, 10.0), 30.0)
    sand, silt = jar_times_s(at)
    return (
        f'<p class="cw-reads">At {at:.0f} °C, through 10 cm of water: sand after {sand:.0f} seconds, silt after '
        f"{silt / 3600:.1f} hours.</p>"
    )


def _fields(ground: Ground, entry: Entry) -> None:
    system = ground.settings.units
    reading = read_form(ground, TEST, entry)
    faults = reading.wrong | (reading.missing if entry.tried else {})
    book = book_of(ground)
    of, specimen = entry.text_of(OF), entry.text_of("specimen")
    kind = test_kind(entry.text_of("kind"))
    st.html(f"<h1>{words(of) if of else words(f'A test of {specimen}') if specimen else 'A test'}</h1>")
    pick(
        ground, entry, "specimen", COMMON["specimen"], specimens(book), faults,
        placeholder="choose, or type its name",
    )  # fmt: skip
    if not of:
        options = {one.key: one.title for one in test_kinds()}
        choice(ground, entry, "kind", "Which test? In the order of work", options, faults)
    with st.container(key="entry-what"):
        if kind is not None:
            st.html(f"<h2>{words(kind.title)}</h2>{how_it_is_done(kind)}{_when(kind, reading)}")
            for one in kind.fields:
                name = MEASURED + one.key
                if one.choices:
                    choice(
                        ground, entry, name, one.title, {word.key: word.title for word in one.choices}, faults
                    )
                else:
                    line(ground, entry, name, label_of(one, system), faults, most=300)
    with st.container(key="entry-rest"):
        st.html("<h2>Anything else?</h2>")
        pick(
            ground, entry, "preparation", COMMON["preparation"], preparations(book), faults,
            placeholder="raw, screened, washed, blended",
        )  # fmt: skip
        line(ground, entry, "day", COMMON["day"], faults, placeholder="2026-05-31", most=20)
        if not of:
            proposed = name_for_test(specimen, kind.key, _names(ground)) if kind and specimen else ""
            line(ground, entry, "name", COMMON["name"], faults, placeholder=proposed, most=80)
        note(ground, entry, "note", COMMON["note"], faults)
    _end(ground, entry, reading, faults)


def _end(ground: Ground, entry: Entry, reading: BenchReading, faults: Mapping[str, str]) -> None:
    with st.container():  # what comes and goes here moves no button under a finger
        for doubt in reading.doubts:
            st.html(f'<p class="cw-caution">▲ {words(doubt)}</p>')
        if entry.tried:
            say_faults(faults)
        say_state(entry)
    offer_to_save(ground, entry, save, (ground, TEST, entry))
    offer_to_drop(ground, TEST, entry)


def _read(content: Mapping[str, str], system: str, today: str, onto: Mapping[str, Item]) -> BenchReading:
    """Read a test; one without a name of its own goes by its specimen and kind."""
    held = onto.get("")
    named = dict(content)
    if "name" not in named and content.get("specimen") and content.get("kind"):
        named["name"] = name_for_test(content["specimen"], content["kind"], _names(workspace().ground))
    return read_test(named, system, today, held if isinstance(held, BenchTest) else None)


def _names(ground: Ground) -> set[str]:
    return {test.test_id for test in book_of(ground).tests}


def _title(name: str) -> str:
    """Return what a field is called, whichever test it belongs to; empty for what is no field."""
    if name in COMMON:
        return COMMON[name]
    key = name.removeprefix(MEASURED)
    if key == name:
        return ""
    return next((one.title for kind in test_kinds() for one in kind.fields if one.key == key), key)


def _shown(name: str, text: str) -> str:
    key = name.removeprefix(MEASURED)
    words_of = (
        word for kind in test_kinds() for one in kind.fields if one.key == key for word in one.choices
    )
    return next((word.title for word in words_of if word.key == text), text)


def _content(item: Item, system: str) -> dict[str, str]:
    return content_of_test(item, system) if isinstance(item, BenchTest) else {}


TEST = BenchForm(KIND, "test", "test", "tests", _read, _content, lambda _content: [""], _title, _shown)
