"""What was tried on the bench and in the kiln, and what was dug to work with."""

from __future__ import annotations

from dataclasses import dataclass, field

from prospect.records.log import Hole, Sample


@dataclass(frozen=True, slots=True)
class Bar:
    """One test bar on its way from plastic to fired and boiled; half-filled is welcome, None is never zero.

    Attributes
    ----------
    bar_id
        Short name, unique within the ground, as scratched into the bar.
    specimen
        Name of the sample or batch that it is made of.
    preparation
        What the clay went through before: `raw`, `screened 60 mesh`, `washed`, `blended 20 % sand` …
    date
        ISO date on which it was made.
    plastic_mm, dry_mm, fired_mm
        Distance between its marks when made, bone-dry and fired, mm.
    plastic_g, dry_g, fired_g
        Weight when made, bone-dry and fired, g.
    saturated_g, suspended_g
        Weight after boiling, in air and hung in water, g (ASTM C373).
    cone
        Pyrometric cone that went down (`06`, `6`, `10`); empty when not fired or not known.
    fired_c
        Highest temperature, °C; None = not known.
    atmosphere
        `oxidation`, `reduction` or ''.
    colour
        Fired colour, Munsell notation or words.
    faults
        What went wrong, in the words of the log: `lime pops`, `scum`, `bloat`, `cracks`, `slump`, `warp`,
        `black core`. An empty tuple says nothing unless `looked_for_faults`.
    looked_for_faults
        Whether the bar was looked at for faults: a sound bar is evidence, an unread one is not.
    waited_days
        Days between firing and the last look for lime pops.
    photo
        Name of a photo in the ground's `photos` folder.
    note
        In words.
    fields
        Every other column as text, by name.
    """

    bar_id: str
    specimen: str
    preparation: str = "raw"
    date: str = ""
    plastic_mm: float | None = None
    dry_mm: float | None = None
    fired_mm: float | None = None
    plastic_g: float | None = None
    dry_g: float | None = None
    fired_g: float | None = None
    saturated_g: float | None = None
    suspended_g: float | None = None
    cone: str = ""
    fired_c: float | None = None
    atmosphere: str = ""
    colour: str = ""
    faults: tuple[str, ...] = ()
    looked_for_faults: bool = False
    waited_days: float | None = None
    photo: str = ""
    note: str = ""
    fields: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class BenchTest:
    """One bench test of another kind than a bar: what was measured and what was seen.

    Attributes
    ----------
    test_id
        Short name, unique within the ground.
    specimen
        Name of the sample or batch.
    kind
        Key of the test in `layers/clay/tests.toml`: `slaking`, `sieve`, `jar`, `limits`, `strength` …
    preparation
        As for `Bar`.
    date
        ISO date.
    values
        Measured numbers by the key of the test's field, in the unit that the key names (`liquid_limit_pct`).
    words
        What was chosen or described, by the key of the test's field.
    note
        In words.
    """

    test_id: str
    specimen: str
    kind: str
    preparation: str = "raw"
    date: str = ""
    values: dict[str, float] = field(default_factory=dict)
    words: dict[str, str] = field(default_factory=dict)
    note: str = ""


@dataclass(frozen=True, slots=True)
class Batch:
    """What was dug to work with: from the hole over buckets, screen and body to pots; all but the name may be unknown.

    Attributes
    ----------
    batch_id
        Short name, unique within the ground, as on the bucket.
    hole_id
        The hole that it came from.
    date
        ISO date on which it was dug.
    buckets
        How many.
    wet_kg
        Weight as dug.
    dry_kg
        Dry weight before screening.
    mesh
        Screen, meshes per inch.
    sieved_kg
        Dry weight that went through.
    body
        What it was made into, in words (`80 % this, 20 % sand`).
    body_kg
        Plastic weight of the body.
    pots
        How many came out sound.
    note
        In words.
    fields
        Every other column as text, by name.
    """

    batch_id: str
    hole_id: str = ""
    date: str = ""
    buckets: float | None = None
    wet_kg: float | None = None
    dry_kg: float | None = None
    mesh: float | None = None
    sieved_kg: float | None = None
    body: str = ""
    body_kg: float | None = None
    pots: float | None = None
    note: str = ""
    fields: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class LogBook:
    """Everything that people wrote down about the clay of a ground, or a part of it."""

    holes: tuple[Hole, ...] = ()
    samples: tuple[Sample, ...] = ()
    bars: tuple[Bar, ...] = ()
    tests: tuple[BenchTest, ...] = ()
    batches: tuple[Batch, ...] = ()

    def __bool__(self) -> bool:
        """Whether there is anything in it."""
        return bool(self.holes or self.samples or self.bars or self.tests or self.batches)
