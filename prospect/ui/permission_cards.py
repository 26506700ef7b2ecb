"""What the permission ledger says, as rows, sentences and cautions; every decision has a word and a shape."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from prospect.land import Standing, standing
from prospect.land.permission import MINERAL, TENANT
from prospect.records import SCOPES, Permission
from prospect.ui.permission_reading import SCOPE_WORDS, STATUS_WORDS, days_in_words, limits_in_words
from prospect.ui.reading import words
from prospect.ui.sample_cards import moment

UNNAMED = "a person on record"
_MARKS: dict[str, tuple[str, str]] = {
    "granted": ("●", "reed"),
    "asked": ("◐", "glaze"),
    "refused": ("■", "iron"),
    "withdrawn": ("■", "iron"),
    "do not ask": ("■", "iron"),
    "do-not-ask": ("■", "iron"),
    "run out": ("◔", "glaze"),
    "not for this": ("◔", "glaze"),
    "not the owner": ("◔", "glaze"),
    "not all owners": ("◔", "glaze"),
    "not asked": ("○", "faded"),
}

CAUTIONS: tuple[tuple[str, str], ...] = (
    ("Tenants", TENANT),
    ("Rights to minerals", MINERAL),
    (
        "Public land",
        "Ground of a town, a state or a park has rules of its own, and taking anything away often needs a written "
        "permit. Ask the office that looks after it, not a passer-by.",
    ),
    (
        "Several owners",
        "Where several people own a parcel, each of them has a say, and one refusal is enough.",
    ),
)
"""Plain words about who else may have a say; common practice, no source, and no legal advice."""


@dataclass(frozen=True, slots=True)
class ParcelRow:
    """One parcel in the list: its identifier, where it stands, who spoke last and when."""

    parcel_id: str
    stands: Standing
    reach: str
    latest: Permission


def parcel_rows(
    ledger: Sequence[Permission], on: str, owners: Mapping[str, Sequence[str]] | None = None
) -> tuple[ParcelRow, ...]:
    """Return every parcel of the ledger, the one last written about first; `owners` as the map names them."""
    known = owners or {}
    latest: dict[str, Permission] = {}
    for entry in ledger:
        latest.pop(entry.parcel_id, None)
        latest[entry.parcel_id] = entry
    return tuple(
        ParcelRow(parcel_id, *stands_now(ledger, parcel_id, on, known.get(parcel_id, ())), entry)
        for parcel_id, entry in reversed(latest.items())
    )


def stands_now(
    ledger: Sequence[Permission], parcel_id: str, on: str, owners: Sequence[str] = ()
) -> tuple[Standing, str]:
    """Return where a parcel stands for the most that leave is given for, and what that is; else for walking."""
    for scope in reversed(SCOPES):
        found = standing(ledger, parcel_id, scope, on, owners)
        if found.may_go:
            return found, SCOPE_WORDS[scope]
    return standing(ledger, parcel_id, "walk", on, owners), ""


def parcel_row(row: ParcelRow, *, names_people: bool) -> str:
    """Return one parcel in a line, or as a card on a narrow screen."""
    until = f"until {row.stands.until}" if row.stands.until else ""
    cells = (
        f"<b>{words(row.parcel_id)}</b>",
        _mark(row.stands.word, f"leave to {row.reach}" if row.reach else row.stands.word),
        words(until),
        words(_person(row.latest, names_people)),
        words(moment(row.latest.recorded)),
    )
    return '<div class="cw-row cw-parcels">' + "".join(f"<span>{cell}</span>" for cell in cells) + "</div>"


def parcel_head() -> str:
    """Return the words above the columns of the list; a narrow screen shows none."""
    cells = "".join(
        f"<span>{word}</span>" for word in ("parcel", "now", "", "who spoke last", "written down")
    )
    return f'<div class="cw-row cw-parcels cw-row-head" aria-hidden="true">{cells}</div>'


def standing_card(ledger: Sequence[Permission], parcel_id: str, on: str, owners: Sequence[str] = ()) -> str:
    """Return what stands now for each thing one may want to do on a parcel."""
    found = {scope: standing(ledger, parcel_id, scope, on, owners) for scope in SCOPES}
    lines = "".join(
        f"<div><dt>{words(SCOPE_WORDS[scope].capitalize())}</dt><dd>{_mark(found[scope].word, _short(found[scope]))}"
        "</dd></div>"
        for scope in SCOPES
    )
    most = next((found[scope] for scope in reversed(SCOPES) if found[scope].may_go), found["walk"])
    shape, colour = _MARKS.get(most.word, ("○", "faded"))
    cautions = "".join(f'<p class="cw-caution">▲ {words(caution)}</p>' for caution in most.cautions)
    head = "Leave given" if most.may_go else most.word.capitalize()
    return (
        f'<section class="cw-land cw-{colour}"><h3><span aria-hidden="true">{shape}</span> {words(head)}</h3>'
        f"<p>{words(most.sentence)}</p>{cautions}</section>"
        f'<dl class="cw-facts cw-scopes">{lines}</dl>'
    )


def ledger_list(entries: Iterable[Permission], units: str, *, names_people: bool) -> str:
    """Return every entry of a parcel, the newest first."""
    items = "".join(_entry(entry, units, names_people) for entry in reversed(list(entries)))
    return f'<ol class="cw-deeds">{items}</ol>' if items else ""


def cautions_card() -> str:
    """Return who else may have a say."""
    items = "".join(f"<div><dt>{words(title)}</dt><dd>{words(text)}</dd></div>" for title, text in CAUTIONS)
    return (
        f'<section><h2>Who else may have a say</h2><dl class="cw-facts">{items}</dl>'
        '<p class="cw-note">Local law decides. When it matters, ask somebody who knows it.</p></section>'
    )


def caution_for(speaks_as: str) -> str:
    """Return the caution that goes with what a person speaks as; empty when there is none."""
    titles = {
        "tenant": "Tenants",
        "holder of the mineral right": "Rights to minerals",
        "agency": "Public land",
        "co-owner": "Several owners",
    }
    return dict(CAUTIONS).get(titles.get(speaks_as, ""), "")


def reminders_card(sentences: Sequence[str]) -> str:
    """Return which leave ends soon or has ended."""
    items = "".join(f"<li>{words(sentence)}</li>" for sentence in sentences)
    return (
        f'<section class="cw-land cw-glaze"><h3>◔ Mind the dates</h3><ul>{items}</ul></section>'
        if items
        else ""
    )


def _entry(entry: Permission, units: str, names_people: bool) -> str:
    shape, colour = _MARKS.get(entry.status, ("○", "faded"))
    status = STATUS_WORDS[entry.status].split(" ", 1)[1]
    reach = f": to {SCOPE_WORDS[entry.scope]}" if entry.scope and entry.status == "granted" else ""
    reach = f": to {SCOPE_WORDS[entry.scope]}" if entry.scope and entry.status == "asked" else reach
    who = _person(entry, names_people)
    speaks = f" ({entry.speaks_as})" if entry.speaks_as else ""
    details = (
        limits_in_words(entry, units),
        days_in_words(entry),
        f"Conditions: {entry.conditions}" if entry.conditions else "",
        entry.note if names_people else "",
        "a paper is kept with it" if entry.document else "",
    )
    lines = "".join(f'<p class="cw-small">{words(detail)}</p>' for detail in details if detail)
    how = f", {entry.how}" if entry.how else ""
    return (
        f'<li><i class="cw-ink-{colour}" aria-hidden="true">{shape}</i><div>'
        f"<p><b>{words(status.capitalize())}</b>{words(reach)}</p>"
        f'<p class="cw-small">{words(who + speaks + how)}</p>{lines}'
        f'<span class="cw-small">written down {words(moment(entry.recorded))}</span></div></li>'
    )


def _mark(word: str, told: str) -> str:
    shape, colour = _MARKS.get(word, ("○", "faded"))
    return f'<i class="cw-{colour}"><span aria-hidden="true">{shape}</span> {words(told)}</i>'


def _short(found: Standing) -> str:
    return "leave given" if found.may_go else found.word


def _person(entry: Permission, names_people: bool) -> str:
    if not entry.person:
        return "nobody named"
    return entry.person if names_people else UNNAMED
