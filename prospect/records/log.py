"""What was seen in the ground: samples, and the holes and faces that they come from, layer by layer."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Usable = Literal["yes", "no", "unknown"]


@dataclass(frozen=True, slots=True)
class Sample:
    """A spot where somebody looked at the clay; every field but the place may be unknown (None or '').

    Attributes
    ----------
    sample_id, hole_id
        Short names, unique within the ground.
    lon, lat
        WGS 84, degrees.
    position_error_m
        68 % radius of the position, m.
    top_cm, bottom_cm
        Depth range of the sample below the surface, cm.
    date
        ISO date.
    usable
        Whether the clay was worth having.
    quality
        0..1, when judged.
    fields
        Every other column as text, by name.
    """

    sample_id: str
    lon: float
    lat: float
    hole_id: str = ""
    position_error_m: float | None = None
    top_cm: float | None = None
    bottom_cm: float | None = None
    date: str = ""
    usable: Usable = "unknown"
    quality: float | None = None
    note: str = ""
    fields: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class HoleLayer:
    """One layer of a hole or a face; every field may be unknown (None or '').

    Attributes
    ----------
    top_cm, bottom_cm
        Depth range below the surface, or below the top of the face, cm.
    usable
        Whether the layer is clay worth having.
    texture
        Texture class by feel, in the words of the US texture triangle.
    moist_colour, dry_colour
        Munsell notation (`10YR 5/4`) or words.
    ribbon_cm
        Length at which a ribbon squeezed between finger and thumb breaks, cm.
    coil
        What a coil of pencil thickness does round a finger: `will not roll`, `breaks`, `cracks`, `bends`.
    stickiness
        `none`, `slight`, `moderate`, `very`.
    grit
        Between the fingers: `none`, `little`, `much`.
    fizz
        With a drop of acid: `none`, `very slight`, `slight`, `strong`, `violent`.
    fizz_with
        `acid` (1 M hydrochloric) or `vinegar`, which is the weaker evidence.
    roots
        `none`, `few`, `common`, `many`.
    stones_pct
        Stones above 2 mm, percent of the volume by eye.
    mottles, smell, note
        In words.
    fields
        Every other column as text, by name.
    """

    top_cm: float | None = None
    bottom_cm: float | None = None
    usable: Usable = "unknown"
    texture: str = ""
    moist_colour: str = ""
    dry_colour: str = ""
    ribbon_cm: float | None = None
    coil: str = ""
    stickiness: str = ""
    grit: str = ""
    fizz: str = ""
    fizz_with: str = ""
    roots: str = ""
    stones_pct: float | None = None
    mottles: str = ""
    smell: str = ""
    note: str = ""
    fields: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Hole:
    """A hole, or a face where the ground is open already, with its layers from the top down.

    Attributes
    ----------
    hole_id
        Short name, unique within the ground; samples name it.
    lon, lat
        WGS 84, degrees.
    kind
        `auger`, `spade`, `pit`, `face` (a bank, a cut, a trench) or '' when not said.
    position_error_m
        68 % radius of the position, m.
    date
        ISO date.
    depth_cm
        How deep it went, cm; None = not said, and the deepest layer is a lower bound.
    stopped_by
        Why it ended there: `as planned`, `reach`, `stone`, `rock`, `water`, `cave-in`, `roots`, `other` or ''.
    water_cm
        Depth at which water was met, cm; None = not met or not said.
    dry
        `yes` where it was looked for and no water was met.
    facing_deg
        Compass bearing that a face looks to, degrees.
    elevation_m
        Height of its top; None = from the elevation layer.
    layers
        From the top down; layers may leave gaps where nothing was noted.
    note
        In words.
    fields
        Every other column as text, by name.
    """

    hole_id: str
    lon: float
    lat: float
    kind: str = ""
    position_error_m: float | None = None
    date: str = ""
    depth_cm: float | None = None
    stopped_by: str = ""
    water_cm: float | None = None
    dry: Usable = "unknown"
    facing_deg: float | None = None
    elevation_m: float | None = None
    layers: tuple[HoleLayer, ...] = ()
    note: str = ""
    fields: dict[str, str] = field(default_factory=dict)
