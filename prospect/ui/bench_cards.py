"""Bars, tests and batches as rows of a list and as pages."""

from __future__ import annotations

from pathlib import Path

from prospect.clay.vocabulary import test_kind
from prospect.records import Bar, Batch, BenchTest
from prospect.ui.bars_doubts import in_words, together
from prospect.ui.batch_reading import way_in_words, yield_in_words
from prospect.ui.bench_measures import heat_in_words
from prospect.ui.bench_reading import told_by_test
from prospect.ui.bench_waiting import WAITS, BarSet, Waiting, next_stage
from prospect.ui.hole_cards import colour_shown
from prospect.ui.photo_cards import photo_swatch
from prospect.ui.reading import words


def waiting_row(one: Waiting) -> str:
    """Return the bars of a set that wait for the same, in a line."""
    count = len(one.names)
    return (
        f'<div class="cw-row cw-waits"><span><b>{words(one.of.specimen)}</b></span>'
        f"<span>{words(one.of.preparation)}</span><span>{count} bar{'' if count == 1 else 's'}: "
        f"{words(', '.join(one.names))}</span><span>{words(_made(one.of))}</span></div>"
    )


def set_row(one: BarSet) -> str:
    """Return a set of bars in a line: what it says together, and what it waits for."""
    told = " ".join(in_words(found) for found in together(one.bars)) or "Nothing measured yet."
    stages = [stage for stage in WAITS if any(next_stage(bar) == stage for bar in one.bars)]
    waits = f"waits for {WAITS[stages[0]]}" if stages else "gone through all"
    return (
        f'<div class="cw-row cw-waits"><span><b>{words(", ".join(one.names))}</b></span>'
        f"<span>{words(one.preparation)}</span><span>{words(told)}</span><span>{words(waits)}</span></div>"
    )


def fired_colours(bars: tuple[Bar, ...], photos: Path) -> str:
    """Return the fired colours of bars, with their heat, by name and by photo; empty where none was noted."""
    cells = "".join(
        f"<li>{photo_swatch(photos, bar)}{colour_shown(bar.colour)}<span>{words(bar.colour or bar.bar_id)}</span>"
        f'<span class="cw-small">{words(heat_in_words(bar.cone, bar.fired_c) or "heat not noted")}</span></li>'
        for bar in bars
        if bar.colour or bar.photo
    )
    return f'<ul class="cw-colours">{cells}</ul>' if cells else ""


def told_test_row(test: BenchTest, system: str, *, named: bool) -> str:
    """Return a test in a line, with the name of its specimen where asked for."""
    kind = test_kind(test.kind)
    title = kind.title if kind else test.kind or "a test"
    first = f"{test.specimen} · {title}" if named else title
    return (
        f'<div class="cw-row cw-waits"><span><b>{words(first)}</b></span><span>{words(test.preparation)}</span>'
        f"<span>{words(told_by_test(test, system))}</span><span>{words(test.date or 'day not known')}</span></div>"
    )


def batch_row(batch: Batch, system: str) -> str:
    """Return a batch in a line: the way from the hole to the pots."""
    steps = " → ".join(text for _, text in way_in_words(batch, system) if text)
    return (
        f'<div class="cw-row cw-waits"><span><b>{words(batch.batch_id)}</b></span>'
        f"<span>{words(batch.date or 'day not known')}</span><span>{words(steps or 'nothing noted yet')}</span>"
        f"<span>{words(yield_in_words(batch))}</span></div>"
    )


def batch_page(batch: Batch, system: str) -> str:
    """Return everything on record about one batch."""
    facts = (
        *((label.capitalize(), text) for label, text in way_in_words(batch, system)),
        ("Yield", yield_in_words(batch)),
        ("Day dug", batch.date),
        *((label, text) for label, text in batch.fields.items()),
        ("Note", batch.note),
    )
    rows = "".join(
        f"<div><dt>{words(label)}</dt><dd>{words(text)}</dd></div>" for label, text in facts if text
    )
    return (
        f'<article class="cw-page"><h1>{words(batch.batch_id)}</h1><dl class="cw-facts">{rows}</dl></article>'
    )


def _made(one: BarSet) -> str:
    return f"made {one.date}" if one.date else "day not known"
