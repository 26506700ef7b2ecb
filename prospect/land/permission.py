"""What the permission ledger says about a parcel, for what is to be done there and on a day."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from prospect.errors import WrongUsage
from prospect.records import SCOPES, Permission, Scope

StandingWord = Literal[
    "granted",
    "asked",
    "refused",
    "withdrawn",
    "do not ask",
    "not asked",
    "run out",
    "not for this",
    "not the owner",
    "not all owners",
]

ORDER: tuple[StandingWord, ...] = (
    "do not ask",
    "refused",
    "withdrawn",
    "not asked",
    "run out",
    "not for this",
    "not the owner",
    "not all owners",
    "asked",
    "granted",
)
"""The standings, the one that decides first."""

TENANT = (
    "A tenant cannot give leave alone: the owner has to agree too, and crops, animals and fences there are the "
    "tenant's."
)
MINERAL = (
    "What lies in the ground can belong to somebody else than the surface: ask the owner whether the mineral "
    "rights were sold, and whether clay goes with them."
)
PUBLIC = (
    "This looks like public land: its office decides, often by written permit only, and digging or taking "
    "without one is an offence in most places."
)
SHARED = "Several owners share this parcel: each of them has a say, and one refusal is enough."
PUBLIC_OWNER_WORDS = (
    "county",
    "city of",
    "town of",
    "township",
    "village of",
    "state of",
    "commonwealth of",
    "united states",
    "usa",
    "us government",
    "u s a",
    "forest service",
    "department",
    "dept",
    "ministry",
    "council",
    "commune",
    "municipality",
    "municipal",
    "parish of",
    "district",
    "public",
    "crown",
    "school board",
    "tribe",
    "nation",
    "authority",
)
"""Words by which an owner's name looks like a public body's (own judgement; only a caution hangs on it)."""

_OWNER_LIKE = re.compile(
    r"(?:(?:the|an?|one of the|sole|joint|part|legal|land|co|for|all|all the|every)[ -]?)*"
    r"(?:owners?|agency|office|trustees?|executors?|executrix|guardian|heirs?)"
)
"""What a person may speak as and give leave; nothing said counts as owner, anything else is not enough alone."""
_ONE_OF_SEVERAL = re.compile(r"\b(?:co|joint|part)|\bone of the\b|(?<!sole )\bheir\b")
_FOR_ALL = re.compile(r"(?:for )?(?:all|all the|every) owners?")


@dataclass(frozen=True, slots=True)
class Intent:
    """What is to be done at a spot.

    Attributes
    ----------
    scope
        look, walk, auger, dig or take; each includes the ones before it.
    machine
        Whether a machine is to be used.
    depth_m, volume_m3
        Size of the hole; None = not said, and then the grant's own limits are told instead.
    amount_kg
        How much clay is to be carried away.
    sells
        Whether what is made of it is to be sold.
    """

    scope: Scope = "dig"
    machine: bool = False
    depth_m: float | None = None
    volume_m3: float | None = None
    amount_kg: float | None = None
    sells: bool = False

    def __post_init__(self) -> None:
        if self.scope not in SCOPES:
            raise WrongUsage(f"Invalid '{self.scope}': it must be one of {', '.join(SCOPES)}.")
        for value in (self.depth_m, self.volume_m3, self.amount_kg):
            if value is not None and not 0 <= value < float("inf"):
                raise WrongUsage(f"Invalid {value:g}: depth, volume and amount are zero or more.")


@dataclass(frozen=True, slots=True)
class Standing:
    """Where one parcel stands.

    Attributes
    ----------
    word, sentence
        A word for tables, and a sentence.
    may_go, keep_away
        Whether leave is on record for what is to be done, and whether somebody said no.
    until
        ISO date on which the leave ends; empty when it names none, or there is no leave.
    cautions
        What holds for this parcel beside it: tenants, mineral rights, public land, several owners.
    """

    word: StandingWord
    sentence: str
    may_go: bool = False
    keep_away: bool = False
    until: str = ""
    cautions: tuple[str, ...] = ()


def standing(
    ledger: Iterable[Permission],
    parcel_id: str,
    intent: Intent | Scope,
    on: str,
    owners: Sequence[str] = (),
) -> Standing:
    """Return what the ledger says about a parcel.

    Parameters
    ----------
    ledger
        Every entry, in any order of parcels; entries of one parcel with the same `recorded` count in order.
    parcel_id
        The parcel; entries match it exactly, but for blanks at either end. A refusal matches however the
        identifier was written.
    intent
        What is to be done there.
    on
        ISO date of the visit. Without one, a grant with dates cannot be held against them and does not count.
    owners
        The owners the parcel map names, one text each.

    Notes
    -----
    Each person's latest answer speaks for them. A question after an answer is about something else and changes
    nothing: a grant stands until it is refused, withdrawn or run out, a refusal until the same person agrees.

    One refusal, withdrawal or wish not to be asked keeps people off, whoever else agreed. A grant needs a scope,
    must be in date, and must come from somebody who speaks as an owner; as many such persons must have agreed as
    the map names owners, and two at least where one of them speaks as one of several, unless one of them speaks for
    all. A narrower grant of anybody narrows what may be done.
    A question to somebody who is named and has not answered stays open; one to nobody named is answered by any
    answer of anybody.
    """
    intent = intent if isinstance(intent, Intent) else Intent(intent)
    parcel_id = parcel_id.strip()
    entries = [entry for entry in ledger if is_about(entry, parcel_id)]
    said = _decide(entries, parcel_id, intent, on, owners)
    return Standing(
        said.word,
        said.sentence,
        said.word == "granted",
        said.word in ("refused", "withdrawn", "do not ask"),
        said.until,
        _cautions(entries, intent, owners),
    )


def permission_word(
    ledger: Sequence[Permission],
    parcel_ids: Sequence[str],
    intent: Intent | Scope,
    on: str,
    owners: Mapping[str, Sequence[str]] | None = None,
) -> StandingWord:
    """Return one word for several parcels together: the standing that decides; `owners` by parcel, where known."""
    known = owners or {}
    words = {standing(ledger, one, intent, on, known.get(one, ())).word for one in parcel_ids} or {
        "not asked"
    }
    return next(word for word in ORDER if word in words)


def is_about(entry: Permission, parcel_id: str) -> bool:
    """Whether an entry speaks for a parcel: leave only under its very identifier, a refusal under one like it."""
    return entry.parcel_id.strip() == parcel_id or (
        entry.status in ("refused", "withdrawn", "do-not-ask")
        and loosely(entry.parcel_id) == loosely(parcel_id)
    )


def loosely(parcel_id: str) -> str:
    """Return an identifier without capitals, needless blanks, marks that nobody sees and forms of one letter."""
    letters = unicodedata.normalize("NFKC", parcel_id).casefold()
    return " ".join("".join(one for one in letters if unicodedata.category(one) != "Cf").split())


def latest_answers(entries: Iterable[Permission]) -> dict[str, Permission]:
    """Return each person's latest answer, and their question where there is no answer yet.

    Who is not named is one person with everybody else who is not named and speaks as an owner, and somebody else
    than who is not named and speaks as a tenant.
    """
    ordered = [entry for _, entry in sorted(enumerate(entries), key=lambda pair: (pair[1].recorded, pair[0]))]
    answers: dict[str, Permission] = {}
    for entry in ordered:
        if entry.status != "asked" or _speaker(entry) not in answers:
            answers[_speaker(entry)] = entry
    for speaker, answer in list(answers.items()):
        if answer.status == "asked" and not _person(answer) and len(answers) > 1:
            del answers[speaker]
    return answers


def named_owners(owners: Iterable[str]) -> int:
    """Return how many owners a parcel map names: each text once, couples apart, "et al." as one more at least."""
    persons: set[str] = set()
    several = False
    for owner in owners:
        for line in _BETWEEN_LINES.split(unicodedata.normalize("NFKC", owner).casefold().strip()):
            text = " ".join(line.split())
            pieces = [text] if _COMPANY.search(text) else _BETWEEN_NAMES.split(text)
            persons.update(name for piece in pieces for name in _full_names(piece) if name)
            several = several or _SEVERAL.search(text) is not None
    return max(len(persons), 2 if several else 0)


def in_date(entry: Permission, on: str) -> tuple[bool, str]:
    """Return whether a grant holds on a day, and if not, why."""
    first, last = entry.valid_from.strip()[:10], entry.valid_until.strip()[:10]
    if not first and not last:
        return True, ""
    if not all(_is_date(day) for day in (first, last) if day):
        return False, "has a date that cannot be read"
    if not _is_date(on[:10]):
        return False, "has dates and no date of the visit was given"
    if last and on[:10] > last:
        return False, f"ended on {last}"
    if first and on[:10] < first:
        return False, f"begins on {first}"
    return True, ""


def _decide(
    entries: Sequence[Permission], parcel_id: str, intent: Intent, on: str, owners: Sequence[str]
) -> Standing:
    name = f"parcel {parcel_id}" if parcel_id else "a parcel without identifier"
    if not parcel_id or not entries:
        return Standing("not asked", f"No permission is on record for {name}: ask the owner first.")
    answers = list(latest_answers(entries).values())
    for status, word, sentence in _REFUSALS:
        if any(entry.status == status for entry in answers):
            lifted = any(entry.status == "granted" for entry in answers)
            return Standing(word, sentence.format(name=name) + (_STANDS if lifted else ""))
    if _ROUNDED.fullmatch(parcel_id):
        return Standing("not asked", f"{parcel_id} is a number that was cut short: {_CUT_SHORT}")
    grants = [entry for entry in answers if entry.status == "granted"]
    if not grants:
        return Standing("asked", f"The owner of {name} was asked; there is no answer on record yet.")
    current = [entry for entry in grants if in_date(entry, on)[0]]
    if not current:
        why = in_date(grants[-1], on)[1]
        return Standing("run out", f"The permission for {name} {why}: ask again.")
    for entry in current:
        short = _falls_short(entry, intent)
        if short:
            return Standing("not for this", f"The permission for {name} {short}: ask for it.")
    from_owners = [entry for entry in current if _may_grant(entry)]
    if not from_owners:
        return Standing(
            "not the owner", f"Leave for {name} was given, but not by its owner: ask the owner too."
        )
    least = 2 if any(_shares(entry) for entry in from_owners) else 1
    # A record without a name beside one with a name is somebody else's until it is known whose. Where the map
    # names nobody, everybody who once gave leave as an owner is known to have a say.
    blank = any(not owner.strip() for owner in owners)
    named = named_owners(owners)
    known = named + blank if named else _grantors([entry for entry in grants if _may_grant(entry)])
    needed, given = max(known, least), _grantors(from_owners)
    if given < needed and not any(_speaks_for_all(entry) for entry in from_owners):
        return Standing(
            "not all owners",
            f"{given} of {needed} owners of {name} gave leave on record: ask the others too.",
        )
    if any(entry.status == "asked" for entry in answers):
        return Standing("asked", f"Somebody else with a say in {name} was asked and has not answered yet.")
    return _granted(from_owners, name, intent)


_REFUSALS: tuple[tuple[str, StandingWord, str], ...] = (
    ("do-not-ask", "do not ask", "The owner of {name} does not want to be asked: stay off it."),
    ("refused", "refused", "Permission for {name} was refused: stay off it."),
    ("withdrawn", "withdrawn", "Permission for {name} was withdrawn: stay off it."),
)

_ROUNDED = re.compile(r"\d(?:[.,]\d+)?[eE]\+\d+")
_CUT_SHORT = (
    "several parcels can share it, and leave for one is no leave for another. Get the parcel map again from its "
    "publisher."
)
_STANDS = " Leave given by somebody else does not lift it."

_COMPANY = re.compile(r"\b(?:llc|inc|ltd|gmbh|corp|company|co|trust|estate|sons|bros|church)\b")
_BETWEEN_NAMES = re.compile(
    r"[\s(\[,]+(?:and|or|with|et|ou|und|oder|mit|y|en|och|og)[\s.]+|\s+u\.\s*"
    r"|[\s(\[,]+(?=et(?:al|ux|vir)\b)|\s*[&+]\s*|\s+[-–—]+\s+"
)
_BETWEEN_LINES = re.compile(r"\s*[;/\\|\n]\s*")
_SEVERAL = re.compile(r"\b(?:heirs|erben|erbengemeinschaft|jtwros|joint tenants|tenants in common)\b")
_PUBLIC = re.compile(rf"\b(?:{'|'.join(PUBLIC_OWNER_WORDS)})\b")


def _granted(grants: Sequence[Permission], name: str, intent: Intent) -> Standing:
    ends = sorted(end for entry in grants if (end := entry.valid_until.strip()[:10]))
    until = ends[0] if ends else ""
    limits = _limits(grants, intent)
    conditions = sorted(
        {entry.conditions.strip().rstrip(".") for entry in grants if entry.conditions.strip()}
    )
    sentence = f"Leave to {intent.scope} on {name} is on record"
    sentence += f" until {until}" if until else ""
    sentence += f", {', '.join(limits)}" if limits else ""
    sentence += f", on these terms: {'; '.join(conditions)}" if conditions else ""
    return Standing("granted", f"{sentence}.", until=until)


def _limits(grants: Sequence[Permission], intent: Intent) -> list[str]:
    """Return the narrowest limits of several grants in words."""
    words = []
    if intent.scope in ("auger", "dig", "take") and not all(entry.machine for entry in grants):
        words.append("hand tools only")
    for field, form in (
        ("depth_m", "no deeper than {:g} m"),
        ("volume_m3", "no more than {:g} m³"),
        ("amount_kg", "no more than {:g} kg to take"),
    ):
        named = [value for entry in grants if (value := getattr(entry, field)) is not None]
        relevant = (
            intent.scope == "take" if field == "amount_kg" else intent.scope in ("auger", "dig", "take")
        )
        if named and relevant:
            words.append(form.format(min(named)))
    if intent.scope == "take" and not all(entry.may_sell for entry in grants):
        words.append("not for sale")
    return words


def _falls_short(entry: Permission, intent: Intent) -> str:
    """Return in what a grant falls short of what is to be done; empty when it covers it."""
    if entry.scope is None or entry.scope not in SCOPES:
        return "does not say what for"
    if SCOPES.index(entry.scope) < SCOPES.index(intent.scope):
        return f"is to {entry.scope}, not to {intent.scope}"
    if intent.machine and not entry.machine:
        return "is for hand tools, not for a machine"
    for wanted, allowed, unit, thing in (
        (intent.depth_m, entry.depth_m, "m", "deep"),
        (intent.volume_m3, entry.volume_m3, "m³", "in all"),
        (intent.amount_kg, entry.amount_kg, "kg", "to take"),
    ):
        if wanted is not None and allowed is not None and not wanted <= allowed:
            return f"is for {allowed:g} {unit} {thing}, not for {wanted:g} {unit}"
    if intent.sells and not entry.may_sell:
        return "is not for making things to sell"
    return ""


def _cautions(entries: Sequence[Permission], intent: Intent, owners: Sequence[str]) -> tuple[str, ...]:
    roles = [entry.speaks_as.casefold() for entry in entries]
    said = []
    if any(word in role for role in roles for word in ("tenant", "lease", "lessee", "renter", "leaseholder")):
        said.append(TENANT)
    if intent.scope == "take" or any("mineral" in role for role in roles):
        said.append(MINERAL)
    if any("agency" in role for role in roles) or any(looks_public(owner) for owner in owners):
        said.append(PUBLIC)
    if named_owners(owners) > 1:
        said.append(SHARED)
    return tuple(said)


def looks_public(owner: str) -> bool:
    """Whether an owner's name looks like that of a public body."""
    text = " ".join(re.sub(r"[^\w]+", " ", owner.casefold()).split())
    return _PUBLIC.search(text) is not None


def _full_names(text: str) -> list[str]:
    """Take a list of full names apart; what stands before a comma alone is a family name."""
    names = [name.strip() for name in text.split(",")]
    full = all(len(name.split()) > 1 for name in names) and not looks_public(text)
    return names if full else [text]


def _may_grant(entry: Permission) -> bool:
    role = _role(entry)
    return not role or _OWNER_LIKE.fullmatch(role) is not None


def _speaks_for_all(entry: Permission) -> bool:
    return _FOR_ALL.fullmatch(_role(entry)) is not None


def _shares(entry: Permission) -> bool:
    return _ONE_OF_SEVERAL.search(_role(entry)) is not None


def _role(entry: Permission) -> str:
    return " ".join(entry.speaks_as.casefold().split())


def _grantors(grants: Sequence[Permission]) -> int:
    """How many different persons gave leave, at least; one who is not named could be any of those who are."""
    different: list[frozenset[str]] = []
    for words in sorted({_name_words(entry.person) for entry in grants}, key=lambda one: -sum(map(len, one))):
        if words and not any(_may_be(words, fuller) for fuller in different):
            different.append(words)
    return max(len(different), 1)


def _name_words(name: str) -> frozenset[str]:
    """Return a name's words in no order, without accents: one person is written in many ways."""
    letters = unicodedata.normalize("NFKD", name.casefold())
    return frozenset(re.findall(r"\w+", "".join(one for one in letters if not unicodedata.combining(one))))


def _may_be(words: frozenset[str], fuller: frozenset[str]) -> bool:
    """Whether a name may be a fuller one cut short: words left out, or initials."""
    return all(word in fuller or (len(word) == 1 and any(w[0] == word for w in fuller)) for word in words)


def _speaker(entry: Permission) -> str:
    """Return who speaks: a name, else the part in which they speak; '' for an owner who is not named."""
    return _person(entry) or ("" if _may_grant(entry) else f"\n{_role(entry)}")


def _person(entry: Permission) -> str:
    return " ".join(entry.person.casefold().split())


def _is_date(text: str) -> bool:
    try:
        # A day by its week, 2026-W21-3, is ISO 8601 too, but does not sort among the others.
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False
