"""The form of a set of bars, a card for each, stage by stage from the making to the last look."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import streamlit as st

from prospect.clay.vocabulary import log_words, test_kind
from prospect.records import Bar
from prospect.store import Ground
from prospect.ui.bars_doubts import in_words, together
from prospect.ui.bars_reading import (
    FAULT,
    FIELDS,
    FOUND_NONE,
    LABELS,
    MARKS,
    STAGES,
    as_planned,
    bar_content,
    bar_names,
    fault_words,
    marks,
    new_set,
    of_bar,
    one_more,
    read_bars,
    unit_of,
)
from prospect.ui.bench_book import book_of, preparations, specimens
from prospect.ui.bench_clash import clash_page
from prospect.ui.bench_dropping import offer_to_drop
from prospect.ui.bench_measures import asked_in, heat_in_words
from prospect.ui.bench_reading import BenchReading
from prospect.ui.bench_saving import CLASH, OF, BenchForm, Item, begin, begin_change, read_form, save
from prospect.ui.entry import (
    Entry,
    choice,
    collect,
    draw_part,
    keep,
    line,
    offer_to_save,
    opened,
    pick,
    put,
    say_faults,
    say_state,
)
from prospect.ui.hole_cards import colour_shown
from prospect.ui.open_ground import workspace
from prospect.ui.reading import words

KIND = "bars"
PART = "part"
"""Name of the argument in the page's address that holds which stage is open."""
CONES = "06, 02, 4, 6"
"""Cones that a first set is made for: one low, one at the end of earthenware, two of stoneware (common practice)."""
_NAMED_FOR = "named for"
_MOST_BARS = 24
_TOLD: dict[str, tuple[str, ...]] = {
    "made": (
        "Roll a slab of one thickness, cut bars of about 12 by 2 cm, scratch the name in, and press two fine marks "
        "10 cm apart.",
    ),
    "dry": ("Measure between the same two marks when the bars no longer feel cold, and weigh them.",),
    "fired": ("Measure between the marks and weigh before any of it gets wet.",),
    "boiled": (
        "Weigh the fired bar dry, boil it five hours, leave it in the water overnight, wipe it and weigh it at once "
        "(ASTM C373). Hung in water on a thread it tells the density too.",
    ),
    "looked": (
        "Keep low-fired bars in a damp place for two weeks: lime takes up water and pushes flakes off. Then look at "
        "each, also where there is nothing to see.",
    ),
}
_CARE: dict[str, tuple[str, ...]] = {
    "dry": ("Dry clay makes dust that harms the lungs: work damp and wipe up wet.",),
    "boiled": ("Lift the bars with tongs, and top the water up so that the pot never boils dry.",),
}


def begin_bars(ground: Ground, specimen: str, today: str, preparation: str = "raw") -> str:
    """Open a form for a new set of bars, its names and cones proposed; return its key."""
    taken = {bar.bar_id for bar in book_of(ground).bars}
    content = new_set(specimen, preparation, CONES, 4, taken, today)
    return begin(ground, BARS, {**content, _NAMED_FOR: specimen})


def begin_bars_again(ground: Ground, names: Sequence[str]) -> str:
    """Open a form for bars on record; return its key."""
    order = " ".join(str(number) for number in range(1, len(names) + 1))
    return begin_change(ground, BARS, names, {MARKS: order})


@st.fragment
def bars_form(key: str) -> None:
    """Draw the stage that the page's address names, until the form is saved or put away."""
    ground = workspace().ground
    entry = opened(ground, key)
    if entry.done is not None:
        st.rerun()
    with st.container(key="entry"):
        if CLASH in entry.content:
            clash_page(ground, BARS, entry)
        else:
            _stage(ground, entry)


def _stage(ground: Ground, entry: Entry) -> None:
    _name_anew(ground, entry)
    reading = read_form(ground, BARS, entry)
    faults = reading.wrong | (reading.missing if entry.tried else {})
    part = st.query_params.get(PART, "made")
    part = part if part in STAGES else "made"
    draw_part(entry, part)
    st.html(f'<p class="cw-place">{words(_whose(entry))}</p><h1>{words(STAGES[part])}</h1>')
    with st.container(horizontal=True, key="entry-parts"):
        for stage, label in STAGES.items():
            st.button(
                label, key=f"{entry.key} to {stage}", on_click=_turn_to, args=(ground, entry, stage),
                disabled=stage == part,
            )  # fmt: skip
    st.html("".join(f"<p>{words(sentence)}</p>" for sentence in _TOLD[part]) + _cautions(part))
    if part == "made" and not _is_change(entry):
        _head(ground, entry, faults)
    if part == "fired" and as_planned(entry.content):
        st.button(
            "Each at the cone it was made for", key=f"{entry.key} planned", on_click=_take_planned,
            args=(ground, entry),
        )  # fmt: skip
    with st.container(key="bars"):
        for number, mark in enumerate(marks(entry.content), 1):
            with st.container(key=f"bar-card-{number}"):
                _bar(ground, entry, mark, part, faults)
    if part == "made" and not _is_change(entry) and len(marks(entry.content)) < _MOST_BARS:
        st.button("One more bar", key=f"{entry.key} more", on_click=_more, args=(ground, entry))
    _end(ground, entry, reading, faults)


def _head(ground: Ground, entry: Entry, faults: Mapping[str, str]) -> None:
    book = book_of(ground)
    with st.container(key="entry-who"):
        pick(
            ground, entry, "specimen", LABELS["specimen"], specimens(book), faults,
            placeholder="choose, or type its name",
        )  # fmt: skip
        pick(
            ground, entry, "preparation", LABELS["preparation"], preparations(book), faults,
            placeholder="raw, screened, washed, blended",
        )  # fmt: skip
        line(ground, entry, "day", LABELS["day"], faults, placeholder="2026-05-31", most=20)


def _bar(ground: Ground, entry: Entry, mark: str, part: str, faults: Mapping[str, str]) -> None:
    """Draw one bar: its name, what is known of its heat, and the fields of the stage."""
    system = ground.settings.units
    name = entry.text_of(of_bar(mark, OF)) or entry.text_of(of_bar(mark, "name"))
    st.html(f'<p class="cw-bar-name"><b>{words(name or "a bar")}</b> {words(_heat(entry, mark, part))}</p>')
    with st.container(horizontal=True, key=f"bar-fields-{mark}"):
        for field in FIELDS[part]:
            if field == "name" and of_bar(mark, OF) in entry.content:
                continue
            _field(ground, entry, mark, field, faults, system)
    if part == "looked":
        with st.container():
            if shown := colour_shown(entry.text_of(of_bar(mark, "colour"))):
                st.html(shown)
        with st.container(horizontal=True, key=f"bar-faults-{mark}"):
            for fault, title in fault_words().items():
                choice(ground, entry, of_bar(mark, FAULT + fault), title, {"yes": title}, faults)
            choice(
                ground,
                entry,
                of_bar(mark, FOUND_NONE),
                LABELS[FOUND_NONE],
                {"yes": "looked, found none"},
                faults,
            )
    if part == "made":
        offer_to_drop(ground, BARS, entry, mark)
    if part == "made" and of_bar(mark, OF) not in entry.content and len(marks(entry.content)) > 1:
        st.button(
            "Without this one", key=f"{entry.key} {mark} out", on_click=_without, args=(ground, entry, mark)
        )


def _field(
    ground: Ground, entry: Entry, mark: str, field: str, faults: Mapping[str, str], system: str
) -> None:
    name = of_bar(mark, field)
    if field == "atmosphere":
        options = {word.key: word.key for word in log_words()["atmosphere"]}
        choice(ground, entry, name, LABELS[field], options, faults)
        return
    unit = asked_in(unit_of(field), system)
    line(
        ground, entry, name, f"{LABELS[field]} ({unit})" if unit else LABELS[field], faults,
        placeholder={"colour": "2.5YR 5/6, or words", "heat": "1060"}.get(field, ""), most=300,
    )  # fmt: skip


def _end(ground: Ground, entry: Entry, reading: BenchReading, faults: Mapping[str, str]) -> None:
    with st.container():  # what comes and goes here moves no button under a finger
        told = together(item for item in reading.items if isinstance(item, Bar))
        if told:
            sentences = "".join(f"<li>{words(in_words(one))}</li>" for one in told)
            st.html(f'<ul class="cw-reads cw-told">{sentences}</ul>')
        for doubt in reading.doubts:
            st.html(f'<p class="cw-caution">▲ {words(doubt)}</p>')
        if entry.tried:
            say_faults(faults)
        say_state(entry)
    offer_to_save(ground, entry, save, (ground, BARS, entry))


def _cautions(part: str) -> str:
    kiln = test_kind("first firing")
    said = (*_CARE.get(part, ()), *(kiln.cautions if part == "fired" and kiln else ()))
    return "".join(f'<p class="cw-caution">▲ {words(caution)}</p>' for caution in said)


def _whose(entry: Entry) -> str:
    """Return of what the bars are, in a few words."""
    shared = {
        field: {entry.text_of(of_bar(mark, field)) for mark in marks(entry.content)} - {""}
        for field in ("specimen", "preparation")
    }
    told = [
        entry.text_of(field) or (next(iter(found)) if len(found) == 1 else "")
        for field, found in shared.items()
    ]
    return " · ".join(["Bars", *filter(None, told)])


def _heat(entry: Entry, mark: str, part: str) -> str:
    if part == "fired" or part == "made":
        return ""
    cone = entry.text_of(of_bar(mark, "cone"))
    planned = entry.text_of(of_bar(mark, "for cone"))
    if cone:
        return f"· {heat_in_words(cone, None)}"
    return f"· for cone {planned}" if planned else ""


def _is_change(entry: Entry) -> bool:
    return any(of_bar(mark, OF) in entry.content for mark in marks(entry.content))


def _name_anew(ground: Ground, entry: Entry) -> None:
    """Name new bars after their specimen as long as nobody gave them names of their own."""
    if _is_change(entry):
        return
    before, now = entry.text_of(_NAMED_FOR), entry.text_of("specimen")
    if before == now:
        return
    taken = {bar.bar_id for bar in book_of(ground).bars}
    order = marks(entry.content)
    if [entry.text_of(of_bar(mark, "name")) for mark in order] == bar_names(before, len(order), taken):
        names = bar_names(now, len(order), taken)
        put(entry, {of_bar(mark, "name"): name for mark, name in zip(order, names, strict=True)})
    entry.content[_NAMED_FOR] = now


def _turn_to(ground: Ground, entry: Entry, stage: str) -> None:
    keep(ground, entry)
    entry.tried = False
    st.query_params[PART] = stage


def _take_planned(ground: Ground, entry: Entry) -> None:
    collect(entry)
    put(entry, as_planned(entry.content))
    keep(ground, entry, "cone")


def _more(ground: Ground, entry: Entry) -> None:
    collect(entry)
    put(entry, one_more(entry.content, {bar.bar_id for bar in book_of(ground).bars}))
    keep(ground, entry, MARKS)


def _without(ground: Ground, entry: Entry, mark: str) -> None:
    collect(entry)
    order = [one for one in marks(entry.content) if one != mark]
    for name in [name for name in entry.content if name.startswith(f"{mark} ")]:
        del entry.content[name]
        st.session_state.pop(entry.widget(name), None)
    entry.names = {name for name in entry.names if not name.startswith(f"{mark} ")}
    put(entry, {MARKS: " ".join(order)})
    keep(ground, entry, MARKS)


def _read(content: Mapping[str, str], system: str, today: str, onto: Mapping[str, Item]) -> BenchReading:
    bars = {mark: item for mark, item in onto.items() if isinstance(item, Bar)}
    return read_bars(content, system, today, bars)


def _content(item: Item, system: str) -> dict[str, str]:
    return bar_content(item, system) if isinstance(item, Bar) else {}


def _title(name: str) -> str:
    if name.startswith(FAULT):
        key = name.removeprefix(FAULT)
        return fault_words().get(key, key).capitalize()
    return LABELS.get(name, "")


BARS = BenchForm(KIND, "bar", "bar", "bars", _read, _content, marks, _title, lambda _name, text: text)
