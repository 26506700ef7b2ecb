"""Samples as rows of a list and as a page of one sample, and what is being typed besides."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from prospect.cartography import place_in_words
from prospect.records import Sample
from prospect.store import Pending
from prospect.ui.reading import words
from prospect.ui.sample_reading import EXTRAS, USABLE, depths_in_words

_MARKS = {"yes": "cw-reed", "no": "cw-iron", "unknown": ""}


def sample_head() -> str:
    """Return the words above the columns of the list; a narrow screen shows none."""
    cells = "".join(
        f"<span>{word}</span>" for word in ("sample", "day", "depth", "hole", "worth having", "note")
    )
    return f'<div class="cw-row cw-row-head" aria-hidden="true">{cells}</div>'


def sample_row(sample: Sample, units: str) -> str:
    """Return one sample in a line, or as a card on a narrow screen."""
    depth = depths_in_words(sample, units)
    cells = (
        f"<b>{words(sample.sample_id)}</b>",
        words(sample.date or "day not known"),
        words(depth or "depth not known"),
        f'<span class="cw-narrow">hole </span>{words(sample.hole_id)}' if sample.hole_id else "",
        f'<i class="{_MARKS[sample.usable]}">{words(USABLE[sample.usable])}</i>',
        words(sample.note),
    )
    return '<div class="cw-row">' + "".join(f"<span>{cell}</span>" for cell in cells) + "</div>"


def sample_page(sample: Sample, units: str) -> str:
    """Return everything on record about one sample."""
    # Pairs, so that a column of somebody's file does not stand in the place of what is on record.
    facts = (
        ("Clay worth having", USABLE[sample.usable]),
        ("Depth", depths_in_words(sample, units) or "not known"),
        ("Day", sample.date or "not known"),
        ("Place", _place(sample)),
        ("Hole", sample.hole_id),
        ("Quality, 0 to 1", "" if sample.quality is None else f"{sample.quality:g}"),
        *_others(sample.fields).items(),
        ("Note", sample.note),
    )
    rows = "".join(
        f"<div><dt>{words(label)}</dt><dd>{words(text)}</dd></div>" for label, text in facts if text
    )
    return f'<article class="cw-page"><h1>{words(sample.sample_id)}</h1><dl class="cw-facts">{rows}</dl></article>'


def pending_card(draft: Pending) -> str:
    """Return what is being typed in a few words."""
    kind, content = draft.key.split(" ")[0], draft.content
    thing = {
        "sample": _of(content, "of", "a change of sample ", "name", "sample "),
        "hole": _of(content, "of", "a change of hole ", "name", "hole "),
        "paste": "a log to bring in",
        "permission": f"an answer for parcel {content.get('parcel') or '(not named yet)'}",
        "test": _of(content, "of", "a change of test ", "specimen", "a test of "),
        "bars": f"bars of {content.get('specimen') or content.get('1 specimen', '')}",
        "batch": _of(content, "of", "a change of batch ", "name", "batch "),
        "looked": "what was seen on the spot",
    }.get(kind, "something")
    return (
        f'<div class="cw-card cw-absent"><p><b>Not saved yet:</b> {words(thing)}</p>'
        f'<p class="cw-small">last typed into {words(moment(draft.at))}</p></div>'
    )


def moment(iso: str) -> str:
    """Return an ISO time (UTC) as the day and time of this machine's clock."""
    try:
        return datetime.fromisoformat(iso).astimezone().strftime("%Y-%m-%d, %H:%M")
    except ValueError:
        return iso


def _of(content: Mapping[str, str], first: str, before: str, second: str, otherwise: str) -> str:
    return before + content[first] if first in content else otherwise + content.get(second, "")


def _place(sample: Sample) -> str:
    where = place_in_words(sample.lon, sample.lat)
    return (
        where if sample.position_error_m is None else f"{where}, give or take {sample.position_error_m:g} m"
    )


def _others(fields: Mapping[str, str]) -> dict[str, str]:
    titles = {name.replace(" ", "_"): title for name, title in EXTRAS.items()}
    own = {title: fields[column] for column, title in titles.items() if column in fields}
    return own | {name: text for name, text in fields.items() if name not in titles}
