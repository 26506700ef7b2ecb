"""What is asked of a landowner, as the person who asks wrote it down, and how it reads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, Field
from pydantic.dataclasses import dataclass

from prospect.definitions import STRICT, read_definition
from prospect.errors import WrongUsage
from prospect.records import Scope
from prospect.share.wording import Wording, filled
from prospect.text import plain

Units = Literal["metric", "us"]
SAFE_DEPTH_CM = 120.0
"""Nobody goes into a hole deeper than this (the US rule asks for protection from 5 ft, 29 CFR 1926.652(a)(1))."""
MOST_LINES, MOST_IN_LINE = 6, 90
_CM_PER_INCH = 2.54
_L_PER_US_GALLON = 3.785411784  # 231 cubic inches
_NO_BREAK = "\u00a0"
_GALLON = f"US{_NO_BREAK}gal"
_KEYS_OF_THE_GROUND_OPENED = ("auger", "dig", "take")

Line = Annotated[str, Field(max_length=MOST_IN_LINE), AfterValidator(lambda text: plain(text, MOST_IN_LINE))]
Lines = Annotated[tuple[Line, ...], Field(max_length=MOST_LINES)]
Said = Annotated[str, Field(max_length=300), AfterValidator(lambda text: plain(text, 300))]
Own = Annotated[str, Field(max_length=1500), AfterValidator(lambda text: plain(text, 1500))]


@dataclass(frozen=True, config=STRICT)
class Request:
    """What is asked; whatever is empty becomes a line to fill in by hand, nothing is made up.

    Attributes
    ----------
    writer
        Who asks: the name first, then address, telephone, e-mail, a line each.
    owner
        Whom it is to, in the same way; empty = the name in the parcel layer.
    place
        How the owner would call the place.
    scope
        look, walk, auger, dig or take.
    holes, width_cm, depth_cm
        How many holes, how wide, how deep at most.
    volume_l, buckets
        How much clay is taken away.
    tools, machine, vehicle
        With what; the vehicle with where it would stand. `machine = "none"` says so.
    days, days_from, days_until
        When, in words and as dates.
    people
        How many come.
    clay_use, sold
        What the clay is for, and whether what is made of it is sold.
    note
        A paragraph of one's own.
    """

    writer: Lines = ()
    owner: Lines = ()
    place: Line = ""
    scope: Scope | None = None
    holes: Annotated[int, Field(ge=1, le=500)] | None = None
    width_cm: Annotated[float, Field(gt=0, le=1000)] | None = None
    depth_cm: Annotated[float, Field(gt=0, le=600)] | None = None
    volume_l: Annotated[float, Field(gt=0, le=1_000_000)] | None = None
    buckets: Annotated[int, Field(ge=1, le=10_000)] | None = None
    tools: Said = ""
    machine: Said = ""
    vehicle: Said = ""
    days: Said = ""
    days_from: date | None = None
    days_until: date | None = None
    people: Annotated[int, Field(ge=1, le=100)] | None = None
    clay_use: Said = ""
    sold: bool | None = None
    note: Own = ""

    def __post_init__(self) -> None:
        if self.days_from and self.days_until and self.days_until < self.days_from:
            raise ValueError("days_until lies before days_from")

    @property
    def opens_ground(self) -> bool:
        """Whether holes are asked for; also when nothing was said."""
        return self.scope is None or self.scope in _KEYS_OF_THE_GROUND_OPENED

    def longest(self) -> list[tuple[str, int]]:
        """Return the keys with the most characters and how many, longest first."""
        texts = {name: getattr(self, name) for name in ("note", "tools", "machine", "vehicle", "days")}
        texts |= {"clay_use": self.clay_use, "writer": " ".join(self.writer), "owner": " ".join(self.owner)}
        return sorted(((name, len(text)) for name, text in texts.items()), key=lambda pair: -pair[1])


def read_request(path: Path) -> Request:
    """Return a request from its TOML file; raise `DefinitionError` with every fault and its key."""
    return read_definition(path, Request)


def signed_by(request: Request, text: str) -> Request:
    """Return a request with its writer read from one text.

    Parameters
    ----------
    request
        Without or with a writer.
    text
        `Name; address; telephone`; without a semicolon the first comma parts the name from the rest.

    Raises
    ------
    WrongUsage
        When there are too many parts or one is too long.
    """
    parts = text.split(";") if ";" in text else text.split(",", 1)
    lines = tuple(line for line in (plain(part, MOST_IN_LINE + 1) for part in parts) if line)
    if not lines or len(lines) > MOST_LINES or any(len(line) > MOST_IN_LINE for line in lines):
        raise WrongUsage(
            f"--from wants 'Name; address; telephone': up to {MOST_LINES} parts of {MOST_IN_LINE} characters."
        )
    return replace(request, writer=lines)


def rows(request: Request, spots: int, units: Units, words: Wording) -> list[tuple[str, str]]:
    """Return label and value of everything that is asked for; an empty value is to be filled in by hand."""
    label, value = words.letter.labels, words.letter.values
    said = [(label.scope, words.letter.scopes[request.scope] if request.scope else "")]
    where = value["spot"] if spots == 1 else filled(value["spots"], count=spots) if spots else ""
    said.append((label.where, ": ".join(part for part in (request.place, where) if part)))
    if request.opens_ground:
        said.append((label.holes, holes(request, units, words)))
        said.append((label.amount, amount(request, units, words)))
        said += [(label.tools, request.tools), (label.machine, request.machine)]
    said += [(label.vehicle, request.vehicle), (label.days, days(request, units, words))]
    said.append((label.people, _counted(request.people, value, "one_person", "people")))
    if request.opens_ground:
        said.append((label.clay_use, request.clay_use))
        said.append((label.sold, sold(request, words)))
    return said


def holes(request: Request, units: Units, words: Wording) -> str:
    """Return how many holes, how wide and how deep; empty when nothing was said."""
    value = words.letter.values
    parts = [
        _counted(request.holes, value, "one_hole", "holes"),
        ""
        if request.width_cm is None
        else filled(value["width"], length=length_text(request.width_cm, units)),
        ""
        if request.depth_cm is None
        else filled(value["depth"], length=length_text(request.depth_cm, units)),
    ]
    return ", ".join(part for part in parts if part)


def amount(request: Request, units: Units, words: Wording) -> str:
    """Return how much clay is taken, in litres and buckets; empty when neither was said."""
    parts = [] if request.volume_l is None else [volume_text(request.volume_l, units)]
    if request.buckets is not None:
        key = ("about_" if parts else "") + ("one_bucket" if request.buckets == 1 else "buckets")
        parts.append(filled(words.letter.values[key], count=request.buckets))
    return ", ".join(parts)


def sold(request: Request, words: Wording) -> str:
    """Return whether what is made of the clay is sold; empty when nothing was said."""
    value = words.letter.values
    return "" if request.sold is None else value["sold_yes"] if request.sold else value["sold_no"]


def days(request: Request, units: Units, words: Wording) -> str:
    """Return when, in words; empty when nothing was said."""
    value = words.letter.values
    first = day_text(request.days_from, units, words)
    last = day_text(request.days_until, units, words)
    if first and last:
        when = first if first == last else filled(value["between"], **{"from": first, "until": last})
    else:
        when = filled(value["from"], day=first) if first else filled(value["until"], day=last) if last else ""
    return ", ".join(part for part in (request.days, when) if part)


def day_text(day: date | None, units: Units, words: Wording) -> str:
    """Return a date as people write it; empty for None."""
    if day is None:
        return ""
    pattern = words.date_us if units == "us" else words.date
    return filled(pattern, day=day.day, month=words.months[day.month - 1], year=day.year)


def length_text(length_cm: float, units: Units) -> str:
    """Return a length in cm or m, with feet and inches after it for US units."""
    metric = _unbroken(length_cm, "cm") if length_cm < 100 else _unbroken(length_cm / 100, "m")
    if units == "metric":
        return metric
    feet, inches = divmod(round(length_cm / _CM_PER_INCH), 12)
    parts = [_unbroken(feet, "ft")] * bool(feet) + [_unbroken(inches, "in")] * bool(inches or not feet)
    return f"{metric} ({_NO_BREAK.join(parts)})"


def volume_text(volume_l: float, units: Units) -> str:
    """Return a volume in litres or cubic metres, with US gallons after it for US units."""
    metric = _unbroken(volume_l, "L") if volume_l < 1000 else _unbroken(volume_l / 1000, "m³")
    return metric if units == "metric" else f"{metric} ({_unbroken(volume_l / _L_PER_US_GALLON, _GALLON)})"


def _counted(count: int | None, value: Mapping[str, str], one: str, more: str) -> str:
    return "" if count is None else value[one] if count == 1 else filled(value[more], count=count)


def _unbroken(amount: float, unit: str) -> str:
    """Return a number to three figures, never with an exponent, on one line with its unit."""
    return f"{float(f'{amount:.3g}'):.6g}{_NO_BREAK}{unit}"
